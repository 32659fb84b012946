"""What a taste says to change: common practice, held against what the practice puck does when that is changed."""

from dataclasses import replace
from itertools import product

import pytest

from hardware.practice import DARCY
from kiosk.bar.drift.taste import BITTER, BOTH, EY_WINDOW, HARSH, RIGHT, SOUR, TASTES, THIN, extraction_yield, taste
from kiosk.bar.model import Pull, usual
from tests.bench.taste import rows

RECIPE = usual("house", "double")


def pull(time_s: float | None = 25.0, yield_g: float | None = None, dose_g: float | None = 16.0) -> Pull:
    return Pull(id="p", at="2026-01-05T09:00:00+01:00", grinder="left", coffee="house", setting=10, recipe=RECIPE,
                dose_g=dose_g, yield_g=RECIPE.yield_g if yield_g is None else yield_g, time_s=time_s)


def test_the_extraction_yield_is_lockharts():
    # Lockhart, The Soluble Solids in Beverage Coffee, 1957 (formula): 18 g in, 36 g out at 10 % TDS gives 20 %.
    assert EY_WINDOW == (18.0, 22.0)                # % of the dose, what tables for espresso show (from memory)
    assert extraction_yield(10.0, 36.0, 18.0) == 20.0 and EY_WINDOW[0] <= 20.0 <= EY_WINDOW[1]


@pytest.mark.parametrize("found, of, turns, longer", [       # common practice
    (SOUR, pull(18), "finer", 0), (SOUR, pull(25), None, 3), (SOUR, pull(20.5, 40), None, 3), (BITTER, pull(34), "coarser", 0),
    (BITTER, pull(25), None, 0), (BITTER, pull(31, 62), None, -3), (THIN, pull(18), "finer", 0), (THIN, pull(26, 62), None, -3),
    (HARSH, pull(34), "coarser", 0), (BOTH, pull(25), None, 0), (RIGHT, pull(25), None, 0), (SOUR, pull(None), None, 3)])
def test_each_taste_has_one_change(found, of, turns, longer):
    said = taste(found, of)
    assert (said.turns, said.longer_g) == (turns, longer)


def test_a_short_dose_is_put_right_before_anything_is_turned():
    assert "Dose 16 g" in taste(SOUR, pull(18, dose_g=14.0)).change
    assert taste(SOUR, pull(18, dose_g=14.0)).turns is None


def test_no_taste_ever_speaks_against_a_standing_flag():
    for found, time_s, yield_g, flag in product(TASTES, (15.0, 25.0, 40.0), (38.0, 50.4, 64.0), ("finer", "coarser")):
        said = taste(found, pull(time_s, yield_g), flag)
        assert said.turns in (None, flag)
        assert taste(found, pull(time_s, yield_g), hands=True).turns is None


def test_the_change_moves_time_or_yield_the_way_that_the_taste_asks_for():
    """A slice of `python -m tests.bench.taste`."""
    moved = {row: held for row, held in rows((DARCY,), 1).items() if None not in held}
    assert len(moved) >= 10
    for row, held in moved.items():
        assert all(held), row


def test_every_taste_of_every_pull_says_one_thing_and_why():
    for found, time_s, yield_g, dose_g in product(TASTES, (None, 15.0, 25.0, 40.0), (38.0, 50.4, 64.0), (None, 14.0, 16.0, 18.5)):
        said = taste(found, replace(pull(time_s, yield_g), dose_g=dose_g))
        assert said.change and said.why and not (said.turns and said.longer_g)


# found, seconds, grams → what it comes from, the change: the whole table (common practice)
WELL_OFF = (
    (SOUR, 19.9, 50.0, "it ran too fast", "One notch finer"), (SOUR, 20.0, 50.0, "though time and yield are right", "3 g later"),
    (SOUR, 25.0, 45.0, "it was stopped early", "3 g later"), (SOUR, 19.0, 45.0, "it ran too fast", "3 g later"),
    (BITTER, 30.1, 50.0, "it ran too slowly", "One notch coarser"), (BITTER, 30.0, 50.0, "old coffee on metal", "Clean basket"),
    (BITTER, 25.0, 55.9, "it ran too long", "3 g sooner"), (BITTER, 31.0, 56.0, "it ran too slowly", "3 g sooner"),
    (THIN, 19.0, 50.0, "Too much water for the coffee.", "One notch finer"), (THIN, 19.0, 56.0, "it ran too long", "3 g sooner"),
    (THIN, 25.0, 50.0, "Too much water for the coffee.", "3 g sooner"),
    (HARSH, 31.0, 50.0, "found a channel", "One notch coarser"),
    (HARSH, 31.0, 56.0, "found a channel", "3 g sooner"), (HARSH, 25.0, 56.0, "found a channel", "3 g sooner"),
    (HARSH, 25.0, 50.0, "found a channel", "Leave the grinder"), (BOTH, 31.0, 60.0, "through a channel", "Leave the grinder"),
    (RIGHT, 31.0, 60.0, "as it should be", "Keep it"))


@pytest.mark.parametrize("found, time_s, yield_g, why, change", WELL_OFF)
def test_each_taste_beside_each_pull_has_its_own_reason_and_change(found, time_s, yield_g, why, change):
    said = taste(found, pull(time_s, yield_g))
    assert why in said.why and change in said.change
    assert said.turns == ("finer" if "finer" in change else "coarser" if "coarser" in change else None)
    assert said.longer_g == (3.0 if "later" in change else -3.0 if "sooner" in change else 0.0)


@pytest.mark.parametrize("found, dose_g, first", [(SOUR, 15.4, True), (SOUR, 15.5, False), (SOUR, 17.0, False),
                                                  (THIN, 14.0, True), (THIN, 18.0, False),
                                                  (BITTER, 17.0, True), (BITTER, 14.0, False), (HARSH, 17.0, True),
                                                  (HARSH, 14.0, False), (SOUR, None, False)])
def test_a_dose_that_is_off_the_way_that_explains_the_taste_is_put_right_first(found, dose_g, first):
    """Little coffee tastes sour and thin, much of it bitter and harsh."""
    assert ("Dose 16 g" in taste(found, pull(18.0, 50.0, dose_g)).change) is first


def test_a_standing_flag_has_the_first_word_on_the_collar_and_blamed_hands_before_that():
    assert taste(SOUR, pull(18.0), "finer").change == taste(SOUR, pull(18.0)).change
    against = taste(BITTER, pull(34.0), "finer")
    assert against.turns == "finer" and "turn that first" in against.change and against.why == taste(BITTER, pull(34.0)).why
    assert "dose or tamp" in taste(SOUR, pull(18.0), "finer", hands=True).change
    assert "as it should be" in taste(RIGHT, pull(18.0), "finer", hands=True).why
