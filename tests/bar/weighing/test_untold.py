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
    made, extra, _ = rush.shifts(2, 5, 1.0, seed=7, signal=True)
    assert extra == 0 and all(each.pull is not None for each in made)
    assert max(abs(each.pull.time_s - each.time_s) for each in made) <= 0.3
    made, extra, _ = rush.shifts(1, 5, 1.0, seed=8, teach=4)
    assert extra == 0 and sum(each.pull is not None for each in made) == 5


# ---- each rule at its edge ------------------------------------------------------------------------------------------

def pours(flow, cup_g=120.0, seconds=8.0):
    """A cup of so many grams, and from 9 s on a stream."""
    seen, began = fed((3, level(0)), (6, level(cup_g)), (seconds, lambda s: cup_g + flow * s))
    return seen, began[2]


@pytest.mark.parametrize("flow, seen", [(0.15, 0), (2.0, 1), (7.5, 1), (8.5, 0)])
def test_no_espresso_runs_at_eight_grams_a_second_and_a_drip_is_none(flow, seen):
    assert len(pours(flow)[0]) == seen


@pytest.mark.parametrize("cup_g, seen", [(325.0, 1), (331.0, 0)])
def test_what_weighs_more_than_a_cup_is_a_portafilter_or_a_jug(cup_g, seen):
    assert len(pours(2.0, cup_g)[0]) == seen


def test_a_stream_that_was_believed_goes_on_for_half_a_second_before_it_is_told():
    watch, believed_s, seen = UntoldPour(), None, None
    for n in range(1, 200):
        seen = watch.observe(Sample(n / 10, 120.0 + max(0.0, 7.0 * (n / 10 - 9.0)) if n > 30 else 0.0))
        if seen:
            break
        believed_s = watch._since_s
    assert seen is not None and believed_s is not None and seen.t_s - believed_s == pytest.approx(0.5)


def test_it_is_sure_from_two_and_a_half_grams_and_half_a_second_on():
    (slow,), began_s = pours(0.8)
    assert 0.8 * (slow.t_s - began_s) >= 2.5 and slow.t_s - began_s < 3.5
    (quick,), began_s = pours(4.0)
    assert 0.5 <= quick.t_s - began_s < 2.6 and 4.0 * (quick.t_s - began_s) >= 2.5


@pytest.mark.parametrize("flow", [0.8, 2.0, 4.0, 6.0])
def test_its_first_drop_is_dated_back_to_within_half_a_second_at_any_pace(flow):
    (seen,), began_s = pours(flow)
    assert seen.drop_at_s == pytest.approx(began_s, abs=0.5) and seen.drop_at_s <= seen.t_s


def test_one_stream_is_told_once_and_the_next_one_again_once_the_first_has_rested():
    def then(rest_s): return fed((3, level(0)), (6, level(120)), (8, lambda s: 120 + 2 * s), (rest_s, level(136)),
                                 (8, lambda s: 136 + 2 * s))
    seen, began = then(6.0)
    assert len(seen) == 2 and seen[1].drop_at_s == pytest.approx(began[4], abs=0.6)
    assert len(then(1.0)[0]) == 1


def test_hot_water_and_then_an_espresso_into_it_is_a_pour_of_the_espresso_alone():
    seen, began = fed((3, level(0)), (6, level(120)), (6, lambda s: 120 + 12 * s), (6, level(192)), (8, lambda s: 192 + 2 * s))
    assert [each.drop_at_s for each in seen] == [pytest.approx(began[4], abs=0.6)]


def test_a_stream_into_what_stood_there_all_along_is_a_pour_too():
    seen, began = fed((9, level(0)), (8, lambda s: 2 * s))
    assert [(each.drop_at_s, each.earlier_s) for each in seen] == [(pytest.approx(began[1], abs=0.6), 0.0)]


def test_a_cup_changed_for_the_next_is_another_pour():
    seen, began = fed((3, level(0)), (6, level(120)), (8, lambda s: 120 + 2 * s), (3, level(0)), (5, level(90)),
                      (8, lambda s: 90 + 2 * s))
    assert len(seen) == 2 and seen[1].drop_at_s == pytest.approx(began[5], abs=0.6)


def test_readings_are_kept_for_a_pull_and_a_half_each_once_and_in_order():
    watch = UntoldPour()
    for n in range(1, 1200):
        assert watch.pass_by(Sample(n / 10, 0.0)) and not watch.pass_by(Sample(n / 10, 5.0))
        assert watch.observe(Sample(n / 10 - 0.05, 500.0)) is None
    times = [each.t_s for each in watch.readings]
    assert times == sorted(set(times)) and times[-1] - times[0] == pytest.approx(90.0)
    assert {each.grams for each in watch.readings} == {0.0}
    watch.lost()
    assert not watch.readings and watch.pass_by(Sample(200.0, 1.0))


def test_a_pour_given_to_a_pull_or_lost_with_its_scale_is_looked_for_anew():
    for leave in (UntoldPour.forget, UntoldPour.lost):
        watch, seen = UntoldPour(), []
        for n in range(1, 400):
            t_s = n / 10
            if n == 170:
                leave(watch)
            grams = 120.0 + (2 * (t_s - 9) if 9 < t_s < 17 else 16.0 + (2 * (t_s - 24) if t_s > 24 else 0.0) if t_s >= 17
                             else 0.0)
            told = watch.observe(Sample(t_s, grams if t_s > 3 else 0.0))
            seen += [told] if told else []
        assert [round(each.drop_at_s) for each in seen] == [9, 24]
        assert (len(watch.readings) < 250) is (leave is UntoldPour.lost)
