"""A pour that nobody announced is told from the scale alone; a dose, a hand and hot water are not."""

from math import sin

import pytest

from kiosk.bar.weighing import Sample
from kiosk.bar.weighing.untold import PourSeen, UntoldPour
from tests.bench import rush


def fed(*spans, hz=10.0):
    """Each span is (seconds, grams as a function of the seconds in it); what was seen, and when each span began."""
    watch, seen, t_s, began = UntoldPour(), [], 0.0, []
    for seconds, grams in spans:
        began.append(t_s)
        for n in range(round(seconds * hz)):
            t_s += 1 / hz
            told = watch.observe(Sample(t_s, round(grams(n / hz), 1)))
            seen += [told] if told else []
    return seen, began


def level(grams):
    return lambda _s: grams


def test_a_pour_is_seen_within_three_seconds_and_its_first_drop_is_dated_back():
    seen, began = fed((3, level(0)), (6, level(120)), (15, lambda s: 120 + 2 * s))
    first, = seen
    assert first.drop_at_s == pytest.approx(began[2], abs=0.6)
    assert first.t_s - began[2] < 3.0


def test_a_dose_ground_into_a_portafilter_is_no_pour():
    seen, _ = fed((3, level(0)), (4, level(540)), (6, lambda s: 540 + 2.6 * s), (5, level(556)))
    assert seen == []


def test_hot_water_and_a_leaning_hand_are_no_pour():
    assert fed((4, level(200)), (6, lambda s: 200 + 25 * s), (4, level(350)))[0] == []
    assert fed((4, level(120)), (2, lambda s: 120 + 30 * abs(sin(s * 1.5))), (4, level(120)))[0] == []


def test_a_cup_set_down_under_a_stream_is_seen_too():
    seen, began = fed((4, level(0)), (12, lambda s: 110 + 2 * s))
    assert len(seen) == 1 and isinstance(seen[0], PourSeen)
    assert seen[0].drop_at_s <= began[1] + 4.0


def test_hands_that_forget_are_followed():
    # A slice of the campaign that `python -m tests.bench.rush` runs whole.
    made, extra = rush.shifts(2, 5, 1.0, seed=7, signal=True)
    assert extra == 0 and all(each.pull is not None for each in made)
    assert max(abs(each.pull.time_s - each.time_s) for each in made) <= 0.3
    made, extra = rush.shifts(1, 5, 1.0, seed=8, teach=4)
    assert extra == 0 and sum(each.pull is not None for each in made) == 5
