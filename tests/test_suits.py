"""Across stretches: the worth of a notch and the setting that suits, against scipy and statsmodels."""

from dataclasses import replace
from random import Random

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import stats

from kiosk.bar.recipe import usual
from kiosk.bar.record import Noted, Pull
from kiosk.bar.suits import (Estimate, hourly, notch_s, over_kilograms, over_room, over_weeks, pasts, suiting)
from kiosk.bar.trend import Trend

RECIPE = usual("house", "double")
NOTCH_S = 2.2


def weeks_of_pulls(rng: Random, stretches: int = 24, wear: float = 0.0, warmth: float = 0.0):
    """Pulls of stretches a day apart and the room's notes; the suiting setting moves with kilograms and with warmth."""
    pulls, notes, ground_kg, setting = [], [], 0.0, 20
    for day in range(stretches):
        degrees = 20 + rng.uniform(-6, 6)
        at = f"2026-01-{day + 1:02d}T"
        notes.append(Noted(id=f"n{day}", at=f"{at}09:00:00+01:00", what="room", facts={"temperature_c": degrees}))
        for n in range(30):
            suits = 20 + wear * ground_kg + warmth * (degrees - 20)
            pulls.append(Pull(id=f"{day}.{n}", at=f"{at}{9 + n // 10:02d}:{n % 10:02d}:00+01:00", grinder="left", coffee="house",
                              setting=setting, recipe=RECIPE, dose_g=16.0, yield_g=RECIPE.yield_g,
                              time_s=25 + NOTCH_S * (suits - setting) + rng.gauss(0, 1.0)))
            ground_kg += 0.016
        setting += rng.choice((-1, 1)) if setting == 20 else 20 - setting
    return pulls, notes


def test_a_stretch_ends_where_the_collar_turns_and_its_grams_are_counted():
    stretches = pasts(weeks_of_pulls(Random(1), 3)[0])
    assert [past.pulls for past in stretches] == [30, 30, 30]
    assert [past.ground_g for past in stretches] == pytest.approx([240, 720, 1200])


def test_practice_and_slips_make_no_stretch():
    pulls, _ = weeks_of_pulls(Random(1), 2)
    spoilt = [replace(pull, practice=True) if n % 2 else replace(pull, sink="dropped") for n, pull in enumerate(pulls[30:])]
    assert [past.pulls for past in pasts(pulls[:30] + spoilt)] == [30]


def test_the_worth_of_a_notch_comes_from_what_moves_did_with_an_interval_that_holds_it():
    worth = notch_s(pasts(weeks_of_pulls(Random(2))[0]))
    assert worth.low < NOTCH_S < worth.high and worth.high - worth.low < 1.0 and worth.many == 23


def test_two_moves_are_too_few_to_say_what_a_notch_is_worth():
    assert notch_s(pasts(weeks_of_pulls(Random(2), 3)[0])) is None


def test_slopes_and_their_intervals_are_those_of_scipy():
    stretches = pasts(weeks_of_pulls(Random(3), wear=-0.1)[0])
    settings = [suiting(past, NOTCH_S) for past in stretches]
    for ours, xs in ((over_kilograms(stretches, NOTCH_S), [past.ground_g / 1000 for past in stretches]),
                     (over_weeks(stretches, NOTCH_S), [day / 7 for day in range(24)])):
        line = stats.linregress(xs, settings)
        within = stats.t.ppf(0.975, len(xs) - 2) * line.stderr
        assert ours.value == pytest.approx(line.slope, rel=1e-3)
        assert (ours.low, ours.high) == pytest.approx((line.slope - within, line.slope + within), rel=1e-3)


def test_wear_and_warmth_are_told_apart_as_by_statsmodels():
    pulls, notes = weeks_of_pulls(Random(4), wear=-0.15, warmth=0.1)
    stretches = pasts(pulls)
    ours = over_room(stretches, NOTCH_S, notes, "temperature_c")
    design = sm.add_constant(np.array([[note.facts["temperature_c"], past.ground_g / 1000]
                                       for note, past in zip(notes, stretches)]))
    fit = sm.OLS([suiting(past, NOTCH_S) for past in stretches], design).fit()
    assert ours.value == pytest.approx(fit.params[1], rel=1e-6)
    assert (ours.low, ours.high) == pytest.approx(tuple(fit.conf_int()[1]), rel=1e-4)
    assert ours.low < 0.1 < ours.high


def test_a_room_that_was_never_noted_says_nothing():
    assert over_room(pasts(weeks_of_pulls(Random(4))[0]), NOTCH_S, [], "humidity") is None


def test_a_days_drift_in_notches_is_no_surer_than_the_notch():
    drift = Trend(s_per_hour=1.1, low=0.9, high=1.3, robust_s_per_hour=1.1, pulls=80, hours=6)
    sure, unsure = (hourly(drift, Estimate(2.2, 2.2 - within, 2.2 + within, 9)) for within in (0.0, 1.0))
    assert sure.value == unsure.value == pytest.approx(0.5)
    assert sure.high - sure.value == pytest.approx(0.2 / 2.2)
    assert unsure.high > sure.high
