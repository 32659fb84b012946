"""What a group's pulls teach is learned slowly enough to bear an odd one, and forgotten once the machine has changed."""

import math
from dataclasses import replace
from random import Random

import pytest
from scipy import optimize, stats

from kiosk.bar.model import usual
from kiosk.bar.weighing import Habits, Poured, cue, habits_from, learn, unlearn

RECIPE = usual("house", "double")


def of_a_machine(seed: int, many: int, *, reaction_s: float, after_s: float, bend_s: float = 0.3) -> tuple[Poured, ...]:
    """Pulls of a machine that lets by `after_s` seconds of the flow, and whose barista answers after `reaction_s`."""
    chance = Random(seed)
    pulls = []
    for n in range(many):
        flow = chance.uniform(1.4, 3.0)
        pulls.append(Poured(reaction_s=reaction_s + chance.gauss(0, 0.03), flow_g_per_s=flow,
                            bend_s=bend_s + chance.gauss(0, 0.02),
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
    one, none = of_a_machine(12, 1, reaction_s=0.4, after_s=0.8, bend_s=0.7)[0], Poured(reaction_s=0.4, flow_g_per_s=2.0,
        after_g=2.0)
    assert taught(one, none).taught and taught(none, one).taught and not taught(none).taught
    late = taught(*of_a_machine(12, 24, reaction_s=0.4, after_s=0.8, bend_s=0.7))
    assert late.bend_s() == pytest.approx(0.7, abs=0.05)
    assert late.delay_s() == pytest.approx(0.2 + (late.bend_s() - 0.3) / 2) and Habits().delay_s() == pytest.approx(0.2)
    assert taught(*of_a_machine(13, 24, reaction_s=0.4, after_s=0.8, bend_s=-0.4)).delay_s() == 0.0


@pytest.mark.parametrize("kept", [{}, {"pulls": 3}, {"pulls": [{"flow": 2.0}]}, {"pulls": [7]}])
def test_what_is_no_memory_of_a_group_is_refused(kept):
    with pytest.raises(ValueError):
        habits_from(kept)


def seen(**told) -> Poured:
    return Poured(**{"reaction_s": None, "flow_g_per_s": None, "after_g": None} | told)


@pytest.mark.parametrize("told", [(), (0.9,), (0.3, 0.9), (0.3, 0.5, 0.4), (0.4, 0.42, 0.38, 3.0, 0.41, 0.39),
                                  tuple(0.3 + 0.02 * n for n in range(20))])
def test_a_reaction_is_the_likeliest_under_students_t_held_by_what_is_usual(told):
    """The penalty written out, normal prior and Student's t errors that fade with each pull since, minimised by scipy."""
    def penalty(mean):
        total = ((mean - 0.45) / 0.25)**2 / 2
        for age, value in enumerate(reversed(told)):
            total += cue.FADE**age * (cue.TAIL_DF + 1) / 2 * math.log(1 + ((value - mean) / 0.12)**2 / cue.TAIL_DF)
        return total

    best = optimize.minimize_scalar(penalty, bounds=(0.0, 1.5), method="bounded", options={"xatol": 1e-8}).x
    assert taught(*(seen(reaction_s=each) for each in told)).reaction_s() == pytest.approx(best, abs=2e-3)


@pytest.mark.parametrize("told", [(), (4.5,), (4.5, 6.0), (6.0, 6.4, 5.9, 6.2), (4.0, 4.2, 4.1, 12.0), (3.0, 6.9, 7.0, 7.1)])
def test_a_first_drop_is_held_by_the_recipes_window_as_a_conjugate_prior_would(told):
    """Normal with unknown mean and variance: half a pull of the window's middle, two of its spread (Gelman et al., Bayesian Data
    Analysis, 3rd ed., 3.3); of few pulls, Student's t."""
    low, high = RECIPE.first_drop_from_s, RECIPE.first_drop_to_s
    middle = sorted(told)[len(told) // 2] if told else 0.0
    near = [each for each in told if abs(each - middle) <= 4.0]
    mean = (0.5 * (low + high) / 2 + sum(near)) / (0.5 + len(near))
    squares = 2 * ((high - low) / 4)**2 / (4 if near else 1) + sum((each - mean)**2 for each in near)
    sd = (squares / (2 + len(near)) * (1 + 1 / (0.5 + len(near))))**0.5
    found = taught(*(seen(first_drop_s=each) for each in told)).first_drop(RECIPE)
    assert found == pytest.approx((mean, round(float(stats.t.ppf(0.975, 4 + len(near))), 2) * sd))


def test_only_a_pull_that_told_both_flow_and_what_came_after_teaches_the_cue():
    habits = taught(seen(after_g=9.0), seen(flow_g_per_s=3.0))
    assert habits.after() == Habits().after() == (cue.AFTER_S, cue.DRIP_G)


def test_a_lesson_is_what_settled_and_the_first_drop_where_its_start_was_told():
    poured = seen(reaction_s=0.4, flow_g_per_s=2.0, after_g=2.2, bend_s=0.3)
    assert cue.lesson(None, None, "x") is None
    assert cue.lesson(None, 4.0, "x") == seen(first_drop_s=4.0, pull_id="x")
    assert cue.lesson(poured, None, "x") == replace(poured, pull_id="x")
    assert cue.lesson(poured, 4.0) == replace(poured, first_drop_s=4.0)


@pytest.mark.parametrize("time_s, said", [(24.99, None), (25.0, "stop"), (30.0, "stop"), (30.01, "pale")])
def test_without_a_scale_the_cue_is_the_recipes_time_until_its_window_is_over(time_s, said):
    assert cue.cue_on_time(RECIPE, time_s) == said
