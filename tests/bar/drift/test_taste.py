"""What a taste says to change: common practice, held against what the practice puck does when that is changed."""

import doctest
from dataclasses import replace
from itertools import product

import pytest

from hardware.practice import DARCY
from kiosk.bar.drift import taste as tastes
from kiosk.bar.drift.taste import BITTER, BOTH, EY_WINDOW, HARSH, RIGHT, SOUR, TASTES, THIN, extraction_yield, taste
from kiosk.bar.model import Pull, usual
from tests.bench.taste import rows

RECIPE = usual("house", "double")


def pull(time_s: float | None = 25.0, yield_g: float | None = None, dose_g: float | None = 16.0) -> Pull:
    return Pull(id="p", at="2026-01-05T09:00:00+01:00", grinder="left", coffee="house", setting=10, recipe=RECIPE,
                dose_g=dose_g, yield_g=RECIPE.yield_g if yield_g is None else yield_g, time_s=time_s)


def test_the_extraction_yield_is_lockharts():
    # Lockhart, The Soluble Solids in Beverage Coffee, 1957 (formula): 18 g in, 36 g out at 10 % TDS gives 20 %.
    assert extraction_yield(10.0, 36.0, 18.0) == 20.0 and EY_WINDOW[0] <= 20.0 <= EY_WINDOW[1]
    assert doctest.testmod(tastes).failed == 0


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
