"""What a group's pulls teach is learned slowly enough to bear an odd one, and forgotten once the machine has changed."""

from dataclasses import replace
from random import Random

import pytest
from scipy import stats

from kiosk.bar.model import usual
from kiosk.bar.weighing import Habits, Poured, cue, habits_from, learn, unlearn

RECIPE = usual("house", "double")


def of_a_machine(seed: int, many: int, *, reaction_s: float, after_s: float, bend_s: float = 0.3) -> tuple[Poured, ...]:
    """Pulls of a machine that lets by `after_s` seconds of the flow, and whose barista answers after `reaction_s`."""
    chance = Random(seed)
    pulls = []
    for n in range(many):
        flow = chance.uniform(1.4, 3.0)
        pulls.append(Poured(reaction_s=reaction_s + chance.gauss(0, 0.03), flow_g_per_s=flow, bend_s=bend_s + chance.gauss(0, 0.02),
                            after_g=after_s * flow + 0.8 + chance.gauss(0, 0.1), pull_id=f"{seed}-{n}", first_drop_s=4.0))
    return tuple(pulls)


def taught(*pulls: Poured) -> Habits:
    habits = Habits()
    for each in pulls:
        habits = learn(habits, each)
    return habits


def after_g(habits: Habits, flow: float = 2.0) -> float:
    after_s, drip_g = habits.after()
    return after_s * flow + drip_g


def test_a_valve_that_was_cleaned_is_learned_anew_within_a_dozen_pulls():
    before = of_a_machine(1, 12, reaction_s=0.45, after_s=0.8)
    after = of_a_machine(2, 12, reaction_s=0.45, after_s=0.95)
    half_way = (after_g(taught(*before)) + after_g(taught(*after))) / 2
    assert after_g(taught(*before, *after)) > half_way + 0.02        # with nothing forgotten it lies half way
    assert after_g(taught(*after, *before)) < half_way - 0.02


def test_another_barista_is_learned_within_a_dozen_pulls():
    slow, quick = (of_a_machine(n, 12, reaction_s=s, after_s=0.8) for n, s in ((3, 0.6), (4, 0.5)))
    assert taught(*slow, *quick).reaction_s() < 0.545
    assert taught(*quick, *slow).reaction_s() > 0.555


def test_a_morning_is_remembered_and_no_more():
    old = of_a_machine(5, 40, reaction_s=1.2, after_s=2.0)
    new = of_a_machine(6, 24, reaction_s=0.3, after_s=0.7)
    assert taught(*old, *new) == taught(*new)
    assert taught(*old, *new[:23]).pulls == (old[-1], *new[:23])


def test_one_pull_moves_what_two_dozen_taught_by_next_to_nothing():
    pulls = of_a_machine(7, 23, reaction_s=0.45, after_s=0.8)
    last = of_a_machine(8, 1, reaction_s=0.45, after_s=0.8)[0]
    usual_s = taught(*pulls, last).reaction_s()
    later = replace(last, reaction_s=last.reaction_s + 0.15, after_g=last.after_g + 0.3)
    assert taught(*pulls, later).reaction_s() == pytest.approx(usual_s, abs=0.015)
    assert after_g(taught(*pulls, later)) == pytest.approx(after_g(taught(*pulls, last)), abs=0.05)


def test_nothing_told_leaves_what_is_usual_and_what_was_taken_back_teaches_nothing():
    silent = Poured(reaction_s=None, flow_g_per_s=None, after_g=None)
    assert taught(silent, silent).after() == Habits().after() and not taught(silent).taught
    assert taught(silent).reaction_s() == Habits().reaction_s() and taught(silent).delay_s() == Habits().delay_s()
    pulls = of_a_machine(9, 6, reaction_s=0.45, after_s=0.8)
    assert unlearn(taught(*pulls), pulls[2].pull_id) == taught(*pulls[:2], *pulls[3:])


def test_a_groups_first_drops_narrow_the_window_that_the_recipe_gives():
    low, high = RECIPE.first_drop_from_s, RECIPE.first_drop_to_s
    at_first_s, wide_s = Habits().first_drop(RECIPE)
    assert at_first_s == (low + high) / 2 and wide_s > (high - low) / 2
    told = [replace(each, first_drop_s=s) for each, s in zip(of_a_machine(10, 8, reaction_s=0.4, after_s=0.8),
                                                             (6.0, 6.2, 5.9, 6.1, 6.0, 6.2, 5.8, 6.1))]
    mean_s, within_s = taught(*told).first_drop(RECIPE)
    assert mean_s == pytest.approx(6.0, abs=0.2) and within_s < wide_s / 2
    odd_s, _ = taught(*told, replace(told[0], first_drop_s=19.0)).first_drop(RECIPE)
    assert odd_s == pytest.approx(mean_s, abs=0.01)         # more than 4 s off: something else was the matter


def test_the_first_drops_reach_is_students_t_of_the_pulls_that_told_it():
    assert cue.WIDE == tuple(round(float(stats.t.ppf(0.975, freedom)), 2) for freedom in range(4, 15))
    alike = [replace(each, first_drop_s=4.0) for each in of_a_machine(11, 14, reaction_s=0.4, after_s=0.8)]
    reaches = [taught(*alike[:n]).first_drop(RECIPE)[1] for n in range(1, 15)]
    assert reaches == sorted(reaches, reverse=True) and reaches[-1] > 0


def test_half_of_a_late_bend_is_the_scales():
    """Scale and valve are known to the same ± before any pull, so that they share what a bend is late by."""
    one, none = of_a_machine(12, 1, reaction_s=0.4, after_s=0.8, bend_s=0.7)[0], Poured(reaction_s=0.4, flow_g_per_s=2.0, after_g=2.0)
    assert taught(one, none).taught and taught(none, one).taught and not taught(none).taught
    late = taught(*of_a_machine(12, 24, reaction_s=0.4, after_s=0.8, bend_s=0.7))
    assert late.bend_s() == pytest.approx(0.7, abs=0.05)
    assert late.delay_s() == pytest.approx(0.2 + (late.bend_s() - 0.3) / 2) and Habits().delay_s() == pytest.approx(0.2)
    assert taught(*of_a_machine(13, 24, reaction_s=0.4, after_s=0.8, bend_s=-0.4)).delay_s() == 0.0


@pytest.mark.parametrize("kept", [{}, {"pulls": 3}, {"pulls": [{"flow": 2.0}]}, {"pulls": [7]}])
def test_what_is_no_memory_of_a_group_is_refused(kept):
    with pytest.raises(ValueError):
        habits_from(kept)
