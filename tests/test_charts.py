"""The textbook charts against the worked examples and run lengths that are printed for them."""

from random import Random

import pytest

from tests.bench.drift import textbook_run_length
from tests.support.charts import cusum, ewma, ewma_limits

# NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4
EWMA_DATA = (52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4,
             53.6, 52.1)
EWMA_PRINTED = (50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05, 49.38,
                49.92, 50.73, 51.23, 51.94, 51.99)
# the same, 6.3.2.3
CUSUM_DATA = (324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600, 324.625, 325.150,
              328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350)


def test_the_ewma_chart_gives_the_figures_printed_in_the_handbook():
    assert [round(point.value, 2) for point in ewma(EWMA_DATA, 50, 2.0539, 0.3)] == list(EWMA_PRINTED)


def test_the_ewma_limits_of_a_long_run_are_those_printed_in_the_handbook():
    low, high = ewma_limits(50, 2.0539, 0.3)
    assert low == pytest.approx(47.4115, abs=1e-4) and high == pytest.approx(52.5884, abs=1e-4)


def test_the_ewma_limits_of_a_short_run_are_narrower_and_widen_to_those_of_a_long_one():
    points = list(ewma([50] * 40, 50, 2.0539, 0.3))
    assert points[0].high - 50 == pytest.approx(3 * 0.3 * 2.0539)     # one value: its own spread, times λ
    assert all(a.high < b.high for a, b in zip(points[:20], points[1:20]))
    assert points[-1].high == pytest.approx(52.5884, abs=1e-3)


def test_the_cusum_signals_at_the_group_printed_in_the_handbook():
    points = list(cusum(CUSUM_DATA, 325, 0.3175, 4.1959))
    assert [n for n, point in enumerate(points, 1) if point.signal][0] == 14
    assert [round(points[n - 1].upper, 2) for n in (13, 14, 20)] == [3.01, 4.94, 19.04]


@pytest.mark.parametrize("h, shift, printed", [(4, 0, 168), (4, 1, 8.38), (5, 1, 10.4)])
def test_the_cusum_runs_as_long_as_is_published(h, shift, printed):
    """NIST 6.3.2.3 and Montgomery. 600 or 6,000 runs here, within three standard errors; the bench has the 3 %."""
    mean, error = textbook_run_length(h, shift, runs=600 if shift == 0 else 6000, rng=Random(7))
    assert abs(mean - printed) < 3 * error + 0.005 * printed
