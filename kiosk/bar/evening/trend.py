"""A straight line through a day's pulls: its slope, how sure it is, and what a few odd pulls would not change."""

from dataclasses import dataclass
from functools import lru_cache
from math import atan, cos, pi, sin, sqrt
from statistics import NormalDist, fmean, median

LEAST_PULLS = 5
LEAST_HOURS = 0.5
EVERY_PAIR = 400        # up to so many pulls every pair is looked at; past it only those half the day apart


@dataclass(frozen=True, slots=True)
class Trend:
    """Seconds an hour, positive where pulls get slower, with the ends of its 95 % interval.

    `robust_s_per_hour` is the median of the slopes between pulls (Theil, Proceedings of the Koninklijke Nederlandse
    Akademie van Wetenschappen 53, 1950; past 400 pulls his incomplete method, which pairs those half the day apart).
    """

    s_per_hour: float
    low: float
    high: float
    robust_s_per_hour: float
    pulls: int
    hours: float

    @property
    def in_all_s(self) -> float:
        """What it came to over the hours that were watched, slower or faster."""
        return abs(self.s_per_hour) * self.hours

    @property
    def sure(self) -> bool:
        """The interval leaves out zero, and the odd pulls are not what makes it do so."""
        return self.low * self.high > 0 and self.robust_s_per_hour * self.s_per_hour > 0 and \
            abs(self.robust_s_per_hour) > abs(self.s_per_hour) / 2


def trend(stretches: tuple[tuple[tuple[float, float], ...], ...]) -> Trend | None:
    """One slope for several stretches of (hours, seconds), each with a level of its own; None where they are too few.

    Ordinary least squares with an intercept for each stretch, so that a notch moved is not taken for drift; its
    interval by Student's t.
    """
    stretches = tuple(points for points in stretches if len(points) >= 2)
    count = sum(map(len, stretches))
    freedom = count - len(stretches) - 1
    hours = sum(max(x for x, _ in points) - min(x for x, _ in points) for points in stretches)
    if count < LEAST_PULLS or freedom < 1 or hours < LEAST_HOURS:
        return None
    centred = []
    for points in stretches:
        mean_x, mean_y = fmean(x for x, _ in points), fmean(y for _, y in points)
        centred += [(x - mean_x, y - mean_y) for x, y in points]
    spread = sum(x * x for x, _ in centred)
    slope = sum(x * y for x, y in centred) / spread
    left = sum((y - slope * x) ** 2 for x, y in centred)
    within = t_quantile(0.975, freedom) * sqrt(left / freedom / spread)
    return Trend(slope, slope - within, slope + within, _median_slope(stretches), count, hours)


def mean_within(values: list[float]) -> tuple[float, float | None]:
    """Their mean, and the half-width of its 95 % interval by Student's t (None for a single value)."""
    mean, n = fmean(values), len(values)
    if n < 2:
        return mean, None
    return mean, t_quantile(0.975, n - 1) * sqrt(sum((v - mean) ** 2 for v in values) / (n - 1) / n)


@lru_cache(maxsize=1024)
def t_quantile(probability: float, freedom: int) -> float:
    """Student's t with `freedom` (1, 2, 3 …) degrees of freedom below which `probability` (0.5 to 0.9999) lies.

    Up to 40 degrees by bisecting the distribution in its closed form, past that by expanding about the normal:
    Abramowitz and Stegun, Handbook of Mathematical Functions (1964), 26.7.3, 26.7.4 and 26.7.5. To six digits.
    """
    if not 0.5 <= probability <= 0.9999 or freedom < 1:
        raise ValueError("a probability from 0.5 to 0.9999, and at least one degree of freedom")
    if freedom > 40:
        z, v = NormalDist().inv_cdf(probability), freedom
        return z + (z**3 + z) / (4 * v) + (5 * z**5 + 16 * z**3 + 3 * z) / (96 * v**2) + (
            3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / (384 * v**3)
    low, high = 0.0, 4000.0
    for _ in range(60):
        middle = (low + high) / 2
        if 0.5 + _within(middle, freedom) / 2 < probability:
            low = middle
        else:
            high = middle
    return high


def _within(t: float, freedom: int) -> float:
    """The probability of lying between −t and t."""
    angle = atan(t / sqrt(freedom))
    c, s = cos(angle), sin(angle)
    if freedom == 1:
        return 2 * angle / pi
    term = total = c if freedom % 2 else 1.0
    for k in range(3 if freedom % 2 else 2, freedom - 1, 2):
        term *= c * c * (k - 1) / k
        total += term
    return 2 / pi * (angle + s * total) if freedom % 2 else s * total


def _median_slope(stretches) -> float:
    slopes, count = [], sum(map(len, stretches))
    for points in stretches:
        n = len(points)
        half = (n + 1) // 2
        pairs = (((i, j) for i in range(n) for j in range(i + 1, n)) if count <= EVERY_PAIR
                 else ((i, i + half) for i in range(n - half)))
        slopes += [(points[j][1] - points[i][1]) / (points[j][0] - points[i][0])
                   for i, j in pairs if points[j][0] > points[i][0]]
    return median(slopes)
