"""The service: orders, how long guests waited and pulls took, the busiest hour, which lanes were used."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from kiosk.bar.evening.figures import Figures, in_window, moment
from kiosk.bar.model import OrderEnded, OrderTaken, Pull


@dataclass(frozen=True, slots=True)
class Hour:
    """An hour by the wall clock. `label` is "08", or "02 (+02:00)" where the clocks made it come twice."""

    label: str
    pulls: tuple[str, ...]
    judged: int
    in_window: int

    @property
    def clock(self) -> str:
        """As it is read: "08:00", or "02 (+02:00)"."""
        return f"{self.label}:00" if len(self.label) == 2 else self.label


@dataclass(frozen=True, slots=True)
class Times:
    """Seconds: the middle one, and the one that nine in ten stayed within (nearest rank); and the pulls concerned."""

    median_s: float
    nine_in_ten_s: float
    count: int
    pulls: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Traffic:
    orders: int
    waited: Times | None            # from an order taken to its last cup served
    made: Times | None              # a pull's steps, from the first to the cup
    busiest: Hour | None
    lanes: tuple[tuple[int, tuple[str, ...]], ...]


def traffic(figures: Figures, taken: Iterable[OrderTaken], ended: Iterable[OrderEnded]) -> Traffic:
    orders = {order.id: order for order in taken}
    waits = {end.order_id: (moment(end.at) - moment(orders[end.order_id].at)).total_seconds()
             for end in ended if end.how == "served" and end.order_id in orders}
    making = {pull.id: sum(s for _, s in pull.step_s) for pull in figures.pulls if pull.step_s and pull.sink is None}
    groups = sorted({pull.group for pull in figures.pulls})
    return Traffic(
        orders=len(orders), waited=_times(waits, [pull.id for pull in figures.pulls if pull.order_id in waits]),
        made=_times(making, making),
        busiest=max(hours(figures.pulls, figures.first_day != figures.last_day), default=None,
                    key=lambda hour: len(hour.pulls)),
        lanes=tuple((group, tuple(p.id for p in figures.pulls if p.group == group)) for group in groups))


def hours(pulls: Sequence[Pull], several_days: bool) -> tuple[Hour, ...]:
    """The hours with a pull, in the order they passed; of several days together, by the hour of the day."""
    found: dict[tuple, list[Pull]] = {}
    for pull in sorted(pulls, key=lambda pull: moment(pull.at)):
        found.setdefault((pull.at[11:13],) if several_days else (pull.at[:13], pull.at[-6:]), []).append(pull)
    by_the_clock = [key[0] for key in found]

    def label(key: tuple) -> str:
        return f"{key[0][-2:]} ({key[1]})" if by_the_clock.count(key[0]) > 1 else key[0][-2:]

    made = [Hour(label(key), tuple(pull.id for pull in each), *_right(each)) for key, each in found.items()]
    return tuple(sorted(made, key=lambda hour: hour.label) if several_days else made)


def _right(pulls: list[Pull]) -> tuple[int, int]:
    verdicts = [verdict for pull in pulls if pull.sink is None and (verdict := in_window(pull)) is not None]
    return len(verdicts), sum(verdicts)


def _times(found: dict[str, float], pulls: Iterable[str]) -> Times | None:
    if not found:
        return None
    seconds = sorted(found.values())
    n = len(seconds)
    middle = (seconds[(n - 1) // 2] + seconds[n // 2]) / 2
    return Times(middle, seconds[max(0, -(-9 * n // 10) - 1)], n, tuple(pulls))
