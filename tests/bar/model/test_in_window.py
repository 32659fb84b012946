"""One rule says what is in the window: for the pull, for the day, and for the weeks."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.bar.evening import in_window as of_the_day
from kiosk.bar.model import Pull, judge, usual
from kiosk.book.sums import in_window as of_the_weeks


def pull(recipe, time_s, yield_g):
    return Pull(id="p", at="2026-10-23T10:00:00+02:00", grinder="Left", coffee="House", setting=20, recipe=recipe,
                time_s=time_s, yield_g=yield_g)


@given(st.sampled_from(("single", "double")), st.floats(20, 70), st.floats(1, 9), st.floats(0.5, 1.1), st.sampled_from(("g", "ml")),
       st.one_of(st.none(), st.floats(3, 90), st.sampled_from((20.0, 30.0))), st.one_of(st.none(), st.floats(0, 160)),
       st.sampled_from((None, 0, 1)))
def test_pull_day_and_weeks_are_equal(basket, amount, within, g_per_ml, unit, time_s, yield_g, edge):
    recipe = replace(usual("House", basket), amount=amount, amount_within=within, g_per_ml=g_per_ml, unit=unit)
    if edge is not None and yield_g is not None:
        yield_g = recipe.yield_window_g[edge]
    one = pull(recipe, time_s, yield_g)
    told = judge(one).in_window
    assert told is of_the_day(one) and of_the_weeks(one) is (told is True)


@pytest.mark.parametrize("yield_g, fits", [(14.7, True), (17.7, None)])
def test_the_edge_of_a_yield_in_millilitres_is_inside_everywhere(yield_g, fits):
    recipe = replace(usual("House", "single"), amount=20.0, amount_within=2.5, unit="ml", g_per_ml=0.84)
    assert recipe.yield_window_g == (pytest.approx(14.7), pytest.approx(18.9))
    one = pull(recipe, 25.0, yield_g)
    assert judge(one).in_window is of_the_day(one) is of_the_weeks(one) is True
    assert fits is None or recipe.yield_fits(yield_g)


def test_a_pull_that_was_not_weighed_is_judged_on_its_time_and_says_so():
    one = pull(usual("House", "double"), 25.0, None)
    assert judge(one).in_window is of_the_day(one) is of_the_weeks(one) is True
    assert str(judge(one).sentence) == "In window: 25.0 s (20–30); the yield was not measured."
    weighed_only = pull(usual("House", "double"), None, 50.0)
    assert judge(weighed_only).in_window is None and of_the_day(weighed_only) is None


@pytest.mark.parametrize("beyond, fits", [(0.0, True), (1e-7, True), (0.01, False)])
def test_the_edge_is_the_windows_own_and_a_hundredth_beyond_it_is_outside(beyond, fits):
    recipe = usual("House", "double")
    for edge, outward in ((0, -beyond), (1, beyond)):
        assert recipe.time_fits(recipe.time_window_s[edge] + outward) is fits
        assert recipe.yield_fits(recipe.yield_window_g[edge] + outward) is fits
        assert recipe.dose_fits(recipe.dose_window_g[edge] + outward) is fits
