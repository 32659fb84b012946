"""Textbook control charts, as plain code: what the watch is measured against, and what anyone can check by hand."""

from collections.abc import Iterable, Iterator
from math import sqrt
from typing import NamedTuple


class Ewma(NamedTuple):
    """The exponentially weighted mean after a value, and the limits that are right for so short a run."""

    value: float
    low: float
    high: float


def ewma(values: Iterable[float], centre: float, sd: float, weight: float = 0.3, width: float = 3.0) -> Iterator[Ewma]:
    """Exponentially weighted moving average (Roberts, Technometrics 1, 1959), one point a value.

    `weight` is λ (0–1], `width` the limits' half-width in standard deviations of the chart. The limits are the exact
    ones (NIST/SEMATECH e-Handbook, 6.3.2.4): they widen from the first value on to `ewma_limits`.
    """
    mean, forgotten = centre, 1.0
    for value in values:
        mean += weight * (value - mean)
        forgotten *= (1 - weight) ** 2
        reach = width * sd * sqrt(weight / (2 - weight) * (1 - forgotten))
        yield Ewma(mean, centre - reach, centre + reach)


def ewma_limits(centre: float, sd: float, weight: float = 0.3, width: float = 3.0) -> tuple[float, float]:
    """The limits of a long run."""
    reach = width * sd * sqrt(weight / (2 - weight))
    return centre - reach, centre + reach


class Cusum(NamedTuple):
    """Both sums after a value, and whether either has passed h."""

    upper: float
    lower: float
    signal: bool


def cusum(values: Iterable[float], target: float, k: float, h: float) -> Iterator[Cusum]:
    """Two-sided tabular CUSUM (Page, Biometrika 41, 1954; NIST/SEMATECH e-Handbook, 6.3.2.3), one point a value.

    `k`, the slack, and `h`, the limit, are in the values' own units. The sums run on after a signal.
    """
    upper = lower = 0.0
    for value in values:
        upper = max(0.0, upper + value - target - k)
        lower = max(0.0, lower + target - k - value)
        yield Cusum(upper, lower, upper > h or lower > h)
