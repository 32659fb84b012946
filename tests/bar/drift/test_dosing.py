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
