"""Recipes: defaults beside the published definition, grams and millilitres, limits that are told in words."""

import pytest

from kiosk.bar.model import DOUBLE, SINGLE, Recipe, Unfit, grams_per_ml, grams_per_ml_from, usual

# Specialty Coffee Association, definition of espresso (2018 wording), as in check-values from memory:
# 7–9 g (14–18 g for double), 25–35 ml (twice that), 20–30 s.
SCA = {SINGLE: ((7, 9), (25, 35)), DOUBLE: ((14, 18), (50, 70))}
SCA_TIME_S = (20, 30)


@pytest.mark.parametrize("basket", [SINGLE, DOUBLE])
def test_the_usual_windows_lie_inside_the_published_definition_of_espresso(basket):
    recipe = usual("House", basket)
    (dose_low, dose_high), (ml_low, ml_high) = SCA[basket]
    assert dose_low <= recipe.dose_window_g[0] and recipe.dose_window_g[1] <= dose_high
    assert recipe.unit == "ml"
    assert ml_low <= recipe.amount - recipe.amount_within and recipe.amount + recipe.amount_within <= ml_high
    assert SCA_TIME_S[0] <= recipe.time_window_s[0] and recipe.time_window_s[1] <= SCA_TIME_S[1]


def test_first_drop_is_looked_for_between_three_and_five_seconds_as_is_common_practice():
    assert (usual("House", DOUBLE).first_drop_from_s, usual("House", DOUBLE).first_drop_to_s) == (3, 5)


def test_a_cup_with_more_crema_weighs_less_and_one_without_weighs_as_the_liquid():
    assert grams_per_ml(0) == 1.0
    assert 0.7 < grams_per_ml(0.3) < grams_per_ml(0.1) < 1.0      # 10–30 % of the cup: common practice


def test_a_bar_calibrates_with_one_glass_on_the_scale():
    recipe = Recipe(coffee="House", basket=SINGLE, dose_g=8, amount=30, g_per_ml=grams_per_ml_from(27.0, 30.0))
    assert recipe.yield_g == pytest.approx(27.0)
    with pytest.raises(Unfit, match="Tare the glass"):
        grams_per_ml_from(27.0, 3.0)


def test_a_yield_in_grams_needs_no_conversion():
    assert Recipe(coffee="House", basket=DOUBLE, dose_g=16, amount=36, unit="g").yield_g == 36


@pytest.mark.parametrize("crossed, says", [
    ({"first_drop_from_s": 6.0}, "ends before it begins"),
    ({"first_drop_to_s": 22.0}, "after the pull is over"),
    ({"dose_within_g": 9.0}, "up to half the dose"),
    ({"amount_within": 40.0}, "up to half the yield"),
    ({"time_within_s": 25.0}, "up to half the time"),
    ({"unit": "oz"}, "g or ml"),
    ({"dose_g": -3.0}, "between 3 and 30 g"),
    ({"basket": "triple"}, "single or double"),
])
def test_limits_that_cross_are_told_in_a_sentence_that_says_what_to_do(crossed, says):
    fields = {"coffee": "House", "basket": DOUBLE, "dose_g": 16.0, "amount": 60.0} | crossed
    with pytest.raises(Unfit, match=says):
        Recipe(**fields)
