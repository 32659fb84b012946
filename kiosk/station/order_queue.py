"""The line: orders that wait for a lane. Each can be held back, put first or taken back, and all of it is kept."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from kiosk.bar.model import DOUBLE, SINGLE, OrderTaken, PlannedPull
from kiosk.station.lane import Waiting

HELD, RELEASED, FIRST, TAKEN_BACK = "order held", "order released", "order first", "order taken back"
AS_BEFORE = "order put back"            # in the place of the order that `of` names, which was taken back
CHANGED = "order changed"               # `dropped` pulls of it are not made, `pulls` come in their place
DEEDS = (HELD, RELEASED, FIRST, TAKEN_BACK, AS_BEFORE)
SAID_ANEW_S = 20.0
ENDED_LAST = 3          # that can be made again from the line


class OrderQueue:
    """`late_s()` is how long anybody should wait; `keep(what, facts)` keeps what hands did to the line, and `changed` is called once
    it stands. `waiting` are the pulls in the order in which lanes will take them, `ended` the
    orders that were served or taken back last, the latest last."""

    def __init__(self, now: Callable[[], datetime], late_s: Callable[[], float], keep: Callable[[str, dict[str, str]], object],
                 changed: Callable[[], None]):
        self._now, self._late_s, self._keep, self._changed = now, late_s, keep, changed
        self.waiting: list[Waiting] = []
        self.held: set[str] = set()
        self.taken_back: set[str] = set()
        self.ended: list[OrderTaken] = []
        self._taken: dict[str, OrderTaken] = {}

    def take(self, order: OrderTaken, waiting: Iterable[Waiting]) -> None:
        self._taken[order.id] = order
        self.waiting += waiting

    @property
    def taken_orders(self) -> tuple[OrderTaken, ...]:
        """Those that are not ended yet, in the order in which they came."""
        return tuple(self._taken.values())

    def label(self, order_id: str) -> str:
        """What the till calls the order, "" where it calls it nothing."""
        return self._taken[order_id].label if order_id in self._taken else ""

    def end(self, order_id: str) -> None:
        """Nothing of the order is to be made any more."""
        order = self._taken.pop(order_id, None)
        if order is not None and order.drinks:      # else nobody ordered it
            self.ended = [*self.ended, order][-ENDED_LAST:]

    def goes_on(self, order: OrderTaken) -> None:
        """An order that had ended has something to be made again."""
        self.ended = [each for each in self.ended if each.id != order.id]
        self._taken[order.id] = order

    def restore(self, waiting: list[Waiting], deeds: Iterable[tuple[str, str, Mapping[str, str]]], taken: Iterable[OrderTaken] = (),
                ended: Iterable[str] = ()) -> None:
        """After a restart: what was waiting, the (what, order id, facts) that hands did to it, in turn, the orders that were
        taken and the ids of those ended."""
        self.waiting = list(waiting)
        self._taken = {order.id: order for order in taken}
        for order_id in ended:
            self.end(order_id)
        for what, order_id, facts in deeds:
            self._do(what, order_id, facts)

    def next(self) -> Waiting | None:
        """The pull that a free lane should take, out of the line; None where there is none but held ones.

        A single that may share takes the next one waiting of another order with it, of the same coffee: two of one
        double. Nobody waits longer for that: a later drink comes earlier.
        """
        return self._out_of(self.waiting)

    def _out_of(self, waiting: list[Waiting]) -> Waiting | None:
        for place, each in enumerate(waiting):
            if each.order_id not in self.held:
                del waiting[place]
                return self._paired(each, waiting)
        return None

    def _paired(self, first: Waiting, waiting: list[Waiting]) -> Waiting:
        if not _shares(first):
            return first
        for place, other in enumerate(waiting):
            if _shares(other) and other.order_id not in (*self.held, first.order_id) \
                    and other.planned.coffee == first.planned.coffee:
                del waiting[place]
                drinks = (*first.planned.drinks, *other.planned.drinks)
                return Waiting(first.order_id, first.index,
                               PlannedPull(coffee=first.planned.coffee, basket=DOUBLE, drinks=drinks), (other.order_id, other.index))
        return first

    def change(self, order: OrderTaken, dropped: Iterable[int], new: Iterable[Waiting]) -> None:
        """`dropped` pulls of the order, which is now as given, are not made; the `new` ones come where they were."""
        order_id, dropped = order.id, set(dropped)
        self._taken[order_id] = replace(order, at=self._taken[order_id].at)
        place = next((n for n, each in enumerate(self.waiting) if each.order_id == order_id), len(self.waiting))
        self.waiting = [each for each in self.waiting if each.order_id != order_id or each.index not in dropped]
        place = min(place, len(self.waiting))
        self.waiting[place:place] = new

    def put_back(self, waiting: Waiting) -> None:
        """To the front; a pull for two orders is two again, so that each can be held, changed or taken back."""
        self.waiting[:0] = [left for own in waiting.places
                            if (left := waiting.less(place for place in waiting.places if place != own)) is not None]

    def made(self, places: Iterable[tuple[str, int]]) -> None:
        """A lane makes these after all: they wait no longer, and what shared a pull with one of them waits alone."""
        places = set(places)
        self.waiting = [left for each in self.waiting if (left := each.less(places)) is not None]

    def as_made(self, most: int) -> tuple[list[Waiting], int]:
        """What lanes will take next, in turn, as the line stands: two singles that will share a pull are one; at most `most`,
        and how many more wait."""
        waiting = list(self.waiting)
        made: list[Waiting] = []
        while len(made) < most and (each := self._out_of(waiting)) is not None:
            made.append(each)
        return made, sum(each.order_id not in self.held for each in waiting)

    @property
    def aged(self) -> int:
        """Another number three times a minute: what is said of how old the orders are is to be said anew."""
        return int(self._now().timestamp() // SAID_ANEW_S)

    def clock_set(self, by_s: float) -> None:
        """The wall clock was set: nobody has waited longer, or less long, for that."""
        for order_id, order in self._taken.items():
            try:
                at = datetime.fromisoformat(order.at) + timedelta(seconds=by_s)
                self._taken[order_id] = replace(order, at=at.isoformat(timespec="milliseconds"))
            except (TypeError, ValueError, OverflowError):
                pass                                # of a book edited by hand: it has no age either

    def age_s(self, order_id: str) -> float:
        """For how long the order has been asked for, by the clock on the wall."""
        order, now = self._taken.get(order_id), self._now()
        try:
            return max(0.0, (now - datetime.fromisoformat(order.at)).total_seconds()) if order is not None else 0.0
        except (TypeError, ValueError):
            return 0.0

    def late(self, order_id: str) -> bool:
        """Whether somebody has waited for it longer than the bar wants anybody to."""
        return self.age_s(order_id) > self._late_s()

    def orders(self) -> list[tuple[str, list[Waiting]]]:
        """The waiting pulls by order, in the line's order."""
        orders: dict[str, list[Waiting]] = {}
        for each in self.waiting:
            orders.setdefault(each.order_id, []).append(each)
        return list(orders.items())

    def hold(self, order_id: str) -> None:
        self._noted(HELD, order_id)

    def release(self, order_id: str) -> None:
        self._noted(RELEASED, order_id)

    def first(self, order_id: str) -> None:
        """To the front of the line, and not held any more."""
        self._noted(FIRST, order_id)

    def take_back(self, order_id: str) -> None:
        """What no lane has begun is not made."""
        self._noted(TAKEN_BACK, order_id)

    def as_before(self, order_id: str, of: str) -> None:
        """An order made again from one that was taken back by mistake: to the place that one had."""
        self._noted(AS_BEFORE, order_id, of=of)

    def _noted(self, what: str, order_id: str, **facts: str) -> None:
        self._keep(what, {"order_id": order_id, **facts})
        self._do(what, order_id, facts)
        self._changed()

    def _do(self, what: str, order_id: str, facts: Mapping[str, str]) -> None:
        if what == AS_BEFORE:
            own = [each for each in self.waiting if each.order_id == order_id]
            rest = [each for each in self.waiting if each.order_id != order_id]
            place = next((n for n, each in enumerate(rest) if each.order_id > facts.get("of", "")), len(rest))
            self.waiting = [*rest[:place], *own, *rest[place:]]
            return
        if what == HELD:
            self.held.add(order_id)
        else:
            self.held.discard(order_id)
        if what == TAKEN_BACK:
            self.taken_back.add(order_id)
            self.waiting = [each for each in self.waiting if each.order_id != order_id]
        if what == FIRST:
            self.waiting.sort(key=lambda each: each.order_id != order_id)


def _shares(waiting: Waiting) -> bool:
    """Whether it is one single that may come of a double with another."""
    planned = waiting.planned
    return planned.basket == SINGLE and len(planned.drinks) == 1 and planned.drinks[0].may_share and not planned.more


def as_changed(order: OrderTaken, facts: Mapping[str, Any]) -> OrderTaken:
    """The order, its drinks as a change of it left them; one that an earlier program kept does not say."""
    match facts.get("drinks"):
        case [*drinks] if all(isinstance(each, (list, tuple)) and len(each) == 2 for each in drinks):
            return replace(order, drinks=tuple((str(name), int(count)) for name, count in drinks))
    return order


def together(not_ground: list[Waiting]) -> list[Waiting]:
    """Of an order's pulls, those that can be changed: a double and the shot more that goes into its cup only both at once."""
    free = {place for each in not_ground for place in each.places}

    def has_its_other(each: Waiting) -> bool:
        if each.planned.more:
            return (each.order_id, each.index - 1) in free
        with_more = any(drink.extra and drink.shot == DOUBLE for drink in each.planned.drinks)
        return not with_more or (each.order_id, each.index + 1) in free

    return [each for each in not_ground if has_its_other(each)]
