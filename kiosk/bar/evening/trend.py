"""A straight line through a day's pulls: its slope, how sure it is, and what a few odd pulls would not change."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache, partial
from math import atan, cos, pi, sin, sqrt
from statistics import NormalDist, fmean, median

LEAST_PULLS = 5
LEAST_HOURS = 0.5
ALIKE_BY_CHANCE = 2.0   # standard errors of a first autocorrelation that chance alone may show
EVERY_PAIR = 400        # up to so many pulls every pair is looked at; past it only those half the day apart
Runs = Sequence[Sequence[tuple]]        # of (hours, seconds) or (hours, seconds, labels) each


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


def trend(runs: Runs) -> Trend | None:
    """One slope for several setting runs of (hours, seconds) or (hours, seconds, labels); None where they are too few.

    Ordinary least squares with an intercept for each setting run, so that a notch moved is not taken for drift, and one for
    each label (who pulled, which basket), so that a change of hands is not; its interval by Student's t, wider where
    the residuals resemble the one before (Bartlett, J. of the Royal Statistical Society 98, 1935).
    """
    runs = tuple(points for points in runs if len(points) >= 2)
    count = sum(map(len, runs))
    hours = sum(max(p[0] for p in points) - min(p[0] for p in points) for points in runs)
    if count < LEAST_PULLS or hours < LEAST_HOURS:
        return None
    labels = sorted({label for points in runs for p in points for label in _labels(p)})
    columns = [_centred(runs, lambda p: p[0]), _centred(runs, lambda p: p[1])]
    others = _independent([_centred(runs, partial(_labelled, label)) for label in labels])
    freedom = count - len(runs) - len(others) - 1
    x, y = (_without(column, others) for column in columns)
    spread = sum(each * each for each in x)
    if freedom < 1 or spread < 1e-9 * count:
        return None
    slope = sum(a * b for a, b in zip(x, y)) / spread
    rest = [b - slope * a for a, b in zip(x, y)]
    squares = sum(r * r for r in rest)
    alike = min(0.9, max(0.0, sum(a * b for a, b in zip(rest, rest[1:])) / squares)) if squares > 1e-12 else 0.0
    wider = (1 + alike) / (1 - alike) if alike > ALIKE_BY_CHANCE / sqrt(count) else 1.0
    within = t_quantile(0.975, freedom) * sqrt(squares / freedom / spread * wider)
    by_labels = [sum(a * b for a, b in zip(columns[1], other)) for other in others]
    leans = [sum(lean * other[n] for lean, other in zip(by_labels, others)) for n in range(count)]
    return Trend(slope, slope - within, slope + within, _median_slope(_less(runs, leans)), count, hours)


def _labels(point: tuple) -> tuple:
    return point[2] if len(point) > 2 else ()


def _labelled(label: str, point: tuple) -> float:
    return float(label in _labels(point))


def _centred(runs: Runs, value: Callable[[tuple], float]) -> list[float]:
    """A column of the regression, each setting run's mean taken out."""
    found = []
    for points in runs:
        values = [value(point) for point in points]
        mean = fmean(values)
        found += [each - mean for each in values]
    return found


def _independent(columns: list[list[float]]) -> list[list[float]]:
    """An orthonormal basis of what the columns span (Gram and Schmidt), without those that add nothing."""
    found: list[list[float]] = []
    for column in columns:
        left = _without(column, found)
        length = sqrt(sum(each * each for each in left))
        if length > 1e-6 * sqrt(len(column)):
            found.append([each / length for each in left])
    return found


def _without(column: list[float], others: list[list[float]]) -> list[float]:
    for other in others:
        share = sum(a * b for a, b in zip(column, other))
        column = [a - share * b for a, b in zip(column, other)]
    return column


def _less(runs: Runs, leans: list[float]) -> list[tuple[tuple[float, float], ...]]:
    """The setting runs with what each pull's labels explain taken out of its seconds."""
    left, found = iter(leans), []
    for points in runs:
        found.append(tuple((point[0], point[1] - next(left)) for point in points))
    return found


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


def _median_slope(runs: Runs) -> float:
    slopes, count = [], sum(map(len, runs))
    for points in runs:
        n = len(points)
        half = (n + 1) // 2
        pairs = (((i, j) for i in range(n) for j in range(i + 1, n)) if count <= EVERY_PAIR
                 else ((i, i + half) for i in range(n - half)))
        slopes += [(points[j][1] - points[i][1]) / (points[j][0] - points[i][0])
                   for i, j in pairs if points[j][0] > points[i][0]]
    return median(slopes)
