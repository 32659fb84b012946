"""What a notch of one grinder is worth in seconds, and its drift in notches an hour, each with its 95 % interval."""

from dataclasses import dataclass
from math import sqrt

from kiosk.bar.daychart import DayChart, Point
from kiosk.bar.figures import GrinderFigures, moment
from kiosk.bar.trend import t_quantile

BESIDE = 12     # pulls before a move and after it that are compared
LEAST = 3       # on each side


@dataclass(frozen=True, slots=True)
class Within:
    """A figure and the ends of its 95 % interval."""

    value: float
    low: float
    high: float
    count: int

    @property
    def sd(self) -> float:
        """The standard error that the interval was made of, as if the value were normal."""
        return (self.high - self.low) / 2 / 1.959964


def notch_worth_s(each: GrinderFigures, chart: DayChart) -> Within | None:
    """Seconds that one notch finer adds, from the pulls on both sides of each move, weighted by how sure each is.

    The day's drift is taken out first. `count` is the moves; None where no move has three pulls on both sides.
    """
    by_id = {point.id: point for point in chart.points}
    stretches = [(stretch, [by_id[id] for id in stretch.told]) for stretch in each.stretches]
    slope = each.drift.s_per_hour if each.drift else 0.0
    freedom = sum(len(points) for _, points in stretches) - sum(bool(points) for _, points in stretches) - bool(slope)
    if freedom < 1 or not chart.points:
        return None
    begins = moment(chart.points[0].at)

    def level(point: Point) -> float:
        return point.off_s - slope * (moment(point.at) - begins).total_seconds() / 3600

    variance = sum(_squares([level(point) for point in points]) for _, points in stretches) / freedom
    found = []
    for (before, points), (after, next_points) in zip(stretches, stretches[1:]):
        last, first = points[-BESIDE:], next_points[:BESIDE]
        notches = after.setting - before.setting
        if not notches or after.day != before.day or min(len(last), len(first)) < LEAST:
            continue
        fall = _mean([level(point) for point in last]) - _mean([level(point) for point in first])
        found.append((fall / notches, notches ** 2 / (1 / len(last) + 1 / len(first))))
    if not found or variance == 0:
        return None
    weight = sum(w for _, w in found)
    value = sum(worth * w for worth, w in found) / weight
    reach = t_quantile(0.975, freedom) * sqrt(variance / weight)
    return Within(value, value - reach, value + reach, len(found))


def notches_per_hour(each: GrinderFigures, worth: Within | None) -> Within | None:
    """The drift in notches an hour, positive where the collar has to follow coarser.

    A ratio of two uncertain figures: its interval is Fieller's (Quarterly J. of the Royal Statistical Society B 16,
    1954), None where the worth of a notch is not sure enough for one.
    """
    if each.drift is None or worth is None:
        return None
    drift, z = each.drift, 1.959964
    drift_sd, ratio = (drift.high - drift.low) / 2 / z, drift.s_per_hour / worth.value if worth.value else 0.0
    doubt = (z * worth.sd / worth.value) ** 2 if worth.value else 1.0
    if doubt >= 1 or worth.value < 0:
        return None
    middle = ratio / (1 - doubt)
    reach = z / abs(worth.value) / (1 - doubt) * sqrt((1 - doubt) * drift_sd ** 2 + ratio ** 2 * worth.sd ** 2)
    return Within(ratio, middle - reach, middle + reach, worth.count)


def _mean(values: list[float]) -> float:
    return sum(values) / len(values)


def _squares(values: list[float]) -> float:
    if not values:
        return 0.0
    mean = _mean(values)
    return sum((value - mean) ** 2 for value in values)
