"""A cup lifted while the scale was silent: no reading of the last second before it, and nothing breaks."""

import pytest

from kiosk.bar.model import usual
from kiosk.bar.weighing import Habits, PourWatch, Sample


@pytest.mark.parametrize("silent_s", [0.5, 1.2, 2.0, 5.0])
@pytest.mark.parametrize("stopped", [False, True])
@pytest.mark.parametrize("pace", [0.6, 2.0])
def test_a_cup_lifted_in_a_gap_of_readings_breaks_nothing(silent_s, stopped, pace):
    watch = PourWatch(usual("house", "double"), Habits(), 0.0)
    t_s = 0.0

    def feed(grams: float, for_s: float, flow: float = 0.0):
        nonlocal t_s
        for _ in range(round(for_s * 10)):
            t_s += 0.1
            grams += flow * 0.1
            watch.observe(Sample(round(t_s, 1), round(grams, 1), None))
        return grams

    feed(120.0, 3.0)
    watch.pump_on(t_s)
    feed(120.0, 4.0)
    in_cup = feed(120.0, 20.0, flow=pace)
    if stopped:
        watch.pump_off(t_s)
        feed(in_cup, 0.5)
    t_s += silent_s
    feed(0.0, 6.0)
    if pace > 1:
        assert watch.over or watch.off_s is not None
