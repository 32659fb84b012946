"""A grinder that doses by time: what its timer wants, against a grinder whose grams a second are known."""

import json
from dataclasses import replace
from random import Random

import pytest

from kiosk.bar.drift import COARSER, DOSE, GRIND, NOTCH, Fault, Standing, Watch, advise
from kiosk.bar.drift.dosing import LEAST, Dosing, Timed
from kiosk.bar.model import NotchMoved, usual
from tests.bench.drift import a_pull

RECIPE = usual("house", "double")
RATE, RUNS_UP_S = 2.6, 0.5          # grams a second once it runs, and how long it takes to run up


def ground(rng, timer_s, rate=RATE):
    return rate * (timer_s - RUNS_UP_S) + rng.gauss(0, 0.15)


def doses(dosing, rng, many, rate=RATE):
    for _ in range(many):
        dosing.observe(replace(a_pull(0.0, 10), dose_g=ground(rng, dosing.timer_s, rate)))


def right_s(rate=RATE):
    return RECIPE.dose_g / rate + RUNS_UP_S


@pytest.mark.parametrize("off_s", [-0.6, -0.3, 0.3, 0.6])
def test_following_it_brings_the_doses_within_a_third_of_a_gram(off_s):
    """40 grinders of 1.5 to 4 grams a second. Each looks four times, and asks once too often in twenty."""
    at_rest = 0
    for seed in range(40):
        rng = Random(f"{off_s} {seed}")
        rate = rng.uniform(1.5, 4.0)
        dosing = Dosing(round(right_s(rate) + off_s, 1))
        for _turn in range(4):
            doses(dosing, rng, 10, rate)
            if dosing.wanted is None:
                at_rest += 1
                break
            dosing.set_timer(round(dosing.timer_s + dosing.wanted.tenths / 10, 1))
        assert abs(dosing.timer_s - right_s(rate)) * rate <= 0.35
    assert at_rest >= 36


def test_the_grams_a_second_are_learned_from_changes_of_the_timer_and_not_from_its_running_up():
    rng, dosing = Random(1), Dosing(7.0)
    doses(dosing, rng, 10)
    assert dosing.g_per_s == pytest.approx(RATE * (7.0 - RUNS_UP_S) / 7.0, abs=0.05)
    for timer_s in (9.0, 6.0, 9.0, 6.0):
        dosing.set_timer(timer_s)
        doses(dosing, rng, 10)
    assert dosing.g_per_s == pytest.approx(RATE, abs=0.08)


def test_stepping_the_timer_on_by_tenths_forgets_nothing_and_there_and_back_teaches_nothing():
    rng, dosing = Random(2), Dosing(7.0)
    doses(dosing, rng, 10)
    known = dosing.g_per_s
    for timer_s in (7.1, 7.2, 7.1, 7.0):
        dosing.set_timer(timer_s)
    doses(dosing, rng, 10)
    assert dosing.g_per_s == known
    for tenths in range(71, 91):
        dosing.set_timer(tenths / 10)
    doses(dosing, rng, LEAST)
    assert dosing.g_per_s > known


def test_doses_that_are_right_ask_for_nothing_on_nineteen_days_in_twenty():
    asked = 0
    for seed in range(200):
        rng, dosing = Random(seed), Dosing(right_s())
        doses(dosing, rng, 10)
        asked += dosing.wanted is not None
    assert asked <= 10


def test_it_says_how_many_tenths_and_why():
    assert Timed(3, -0.7, 6, 2.4).sentence == ("The last 6 doses were 0.7 g light: add 0.3 s to the timer, which grinds 2.4 g a "
                                               "second. Weigh the next dose.")
    assert "take 0.2 s off the timer" in Timed(-2, 0.5, 6, 2.4).sentence


def test_a_watch_of_a_timed_grinder_advises_the_timer_before_the_collar_and_goes_on_after_a_restart():
    rng, watch = Random(3), Watch("left", "house", timer_s=right_s() - 0.4)
    for _ in range(8):
        verdict = watch.update(a_pull(0.0, 10, ground(rng, watch.timer_s)))
    assert verdict.advice.act == DOSE and "add 0.4 s to the timer" in verdict.advice.sentence
    again = Watch("left", "house", timer_s=watch.timer_s)
    again.restore(json.loads(json.dumps(watch.memory())))
    assert again.dosing == watch.dosing
    again.moved(NotchMoved(id="m", at="", grinder="left", coffee="house", before=10, after=11))
    assert again.dosing.wanted is None


def test_after_a_notch_a_timed_dose_is_weighed_again():
    flagged = Standing(pulls=6, flagged=True, direction=COARSER, flagged_for=0, off=0.97, level_s=(13.0, 0.8), worth_s=(2.2, 0.4),
                       faults=(Fault(GRIND, 0.9),))
    said = "Weigh the next dose: a notch changes what the timer grinds."
    timed, by_weight = advise(replace(flagged, timed=True, timer=Timed(3, -0.7, 6, 2.4))), advise(flagged)
    assert timed.act == by_weight.act == NOTCH
    assert timed.sentence == f"{by_weight.sentence} {said}" and said not in by_weight.sentence
    assert "About 6 notches in all, one at a time." in by_weight.sentence


def test_a_grinder_that_doses_by_weight_and_singles_say_nothing_of_a_timer():
    rng, by_weight, timed = Random(4), Dosing(), Dosing(5.0)
    for _ in range(10):
        by_weight.observe(a_pull(0.0, 10, ground(rng, 5.0)))
        timed.observe(replace(a_pull(0.0, 10, ground(rng, 5.0)), recipe=usual("house", "single")))
    assert by_weight.wanted is None and timed.wanted is None


def of_doses(timer_s: float, *doses_g: float) -> Dosing:
    dosing = Dosing(timer_s)
    for dose_g in doses_g:
        dosing.observe(replace(a_pull(0.0, 10), dose_g=dose_g))
    return dosing


def test_a_change_of_the_timer_teaches_the_rate_by_bayes_rule():
    """Known to a fifth beforehand; two means of so many doses of 0.15 g each, the timer's change apart."""
    dosing = of_doses(6.0, 15.0, 15.2, 14.8, 15.0, 15.0)
    rate = 15.0 / 6.0
    assert dosing.g_per_s == pytest.approx(rate) and dosing.g_per_s_sd == pytest.approx(rate / 5)
    dosing.set_timer(6.5)
    for dose_g in (16.4, 16.6, 16.5):
        dosing.observe(replace(a_pull(0.0, 10), dose_g=dose_g))
        assert dosing.g_per_s == pytest.approx(rate)                # four doses, before anything is said
    dosing.observe(replace(a_pull(0.0, 10), dose_g=16.5))
    seen, seen_sd2 = 1.5 / 0.5, 0.15**2 * (1 / 5 + 1 / 4) / 0.5**2
    precision = 1 / (rate / 5)**2 + 1 / seen_sd2
    assert dosing.g_per_s == pytest.approx((rate / (rate / 5)**2 + seen / seen_sd2) / precision)
    assert dosing.g_per_s_sd == pytest.approx(precision**-0.5)
    known = dosing.g_per_s
    dosing.observe(replace(a_pull(0.0, 10), dose_g=19.0))
    assert dosing.g_per_s == known                                  # a change teaches once


@pytest.mark.parametrize("after_g, times", [(60.0, 2.0), (3.0, 0.5)])
def test_no_change_of_the_timer_makes_the_rate_more_than_twice_or_less_than_half_of_dose_by_time(after_g, times):
    dosing = of_doses(6.0, *[15.0] * 4)
    dosing.set_timer(6.2)
    for _ in range(4):
        dosing.observe(replace(a_pull(0.0, 10), dose_g=after_g))
    assert dosing.g_per_s == pytest.approx(times * after_g / 6.2)


@pytest.mark.parametrize("off_g, tenths", [(-0.19, None), (-0.26, 1), (0.26, -1), (0.19, None), (-1.0, 4), (1.0, -4)])
def test_doses_off_by_more_than_they_wander_ask_for_tenths_of_a_second(off_g, tenths):
    """2.6 g a second; ten doses of 0.15 g each tell their mean within 0.09 g, and under 0.2 g nothing is worth saying."""
    dosing = of_doses(RECIPE.dose_g / 2.6, *[RECIPE.dose_g + off_g + 0.05 * (-1)**n for n in range(10)])
    if tenths is None:
        assert dosing.wanted is None
    else:
        assert (dosing.wanted.tenths, dosing.wanted.doses) == (tenths, 10) and dosing.wanted.off_g == pytest.approx(off_g)
        assert dosing.wanted.g_per_s == pytest.approx(dosing.g_per_s)


def test_few_doses_or_wild_ones_ask_for_nothing():
    light = [RECIPE.dose_g - 0.5] * 4
    assert of_doses(6.0, *light[:3]).wanted is None and of_doses(6.0, *light).wanted is not None
    assert of_doses(6.0, *(RECIPE.dose_g - 0.5 + wild for wild in (-2.0, 2.0, -2.0, 2.0))).wanted is None     # ± 2.3 g
    assert of_doses(6.0, *(RECIPE.dose_g - 0.5 + wild for wild in (-0.4, 0.4, -0.4, 0.4))).wanted is not None     # ± 0.45 g
    assert of_doses(6.0, *[RECIPE.dose_g + 3.0] * 12, *[RECIPE.dose_g] * 10).wanted is None         # the last ten count


def test_a_timer_set_to_where_it_stands_forgets_nothing():
    dosing = of_doses(6.0, *[15.0] * 4)
    dosing.set_timer(6.04)
    assert dosing.timer_s == 6.0 and len(dosing.last_g) == 4
    dosing.set_timer(6.1)
    assert dosing.timer_s == 6.1 and dosing.last_g == dosing.off_g == [] and dosing.before == (6.0, 15.0, 4)
    dosing.turned()
    assert dosing.before is None and dosing.g_per_s == pytest.approx(2.5)
    assert of_doses(0.8, *[15.0] * 4).g_per_s == pytest.approx(15.0 / 0.8)
    few = of_doses(6.0, *[15.0] * 3)
    few.set_timer(7.0)
    assert few.before is None and few.g_per_s == 0.0
