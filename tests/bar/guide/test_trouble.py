"""Thirteen wrong pulls, and what is said of each at each moment; and that no two things said ever fight."""

from dataclasses import replace as replaced

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.bar.guide import begin, seen_in_the_cup, trouble
from kiosk.bar.guide.guide import Guide
from kiosk.bar.model import Step, usual

RECIPE = usual("house", "double")           # 16 g in, 50 g out, 20 to 30 s


def at(step: Step, **known) -> Guide:
    return replaced(begin(RECIPE, 0.0, has_scale=True), step=step, **known)


def pouring(**known) -> Guide:
    return at(Step.PULL, locked_at_s=0.0, pump_on_at_s=0.0, **known)


def poured(time_s: float, yield_g: float | None, **known) -> Guide:
    return at(Step.SERVE, pump_on_at_s=0.0, pump_off_at_s=time_s, yield_g=yield_g, **known)


# what was done, the moment, grams in the cup, whether a cup was seen → what is said, what it is followed by, into the sink
WRONG = (
    ("nothing flows by the window's end", pouring(), 31.0, 0.0, True, "Nothing flows: stop the pump.", "tamp as always", True),
    ("choked, the pump off", poured(40.0, 0.0), 41.0, None, True, "vent", "one notch coarser", True),
    ("choked by an overdose", poured(40.0, 3.0, dose_g=19.0), 41.0, None, True, "vent", "3.0 g over", True),
    ("gushing", pouring(drop_at_s=2.0), 6.0, 80.0, True, "Gushing: stop", "tamp firm", True),
    ("gushed", poured(9.0, 160.0), 10.0, None, True, "160 g in 9 s. Pour it away", "one notch finer", True),
    ("gushed on an underdose", poured(9.0, 160.0, dose_g=13.0), 10.0, None, True, "Pour it away", "3.0 g under", True),
    ("no cup", pouring(), 12.0, 0.0, False, "No cup on the scale", "Set the cup before", False),
    ("locked in for two minutes", at(Step.PULL, locked_at_s=0.0), 120.0, None, True, "Knock it out", "Lock in last", True),
    ("dosed 3.1 g over", at(Step.DOSE, dose_g=19.1), 5.0, None, True, "3.1 g too much", "chokes", False),
    ("dosed 3 g under", at(Step.DOSE, dose_g=13.0), 5.0, None, True, "3.0 g too little", "run through", False),
)


@pytest.mark.parametrize("guide, t_s, cup_g, cup_seen, now, then, sink", [each[1:] for each in WRONG], ids=[w[0] for w in WRONG])
def test_a_wrong_pull_is_told_with_what_to_do_and_one_change(guide, t_s, cup_g, cup_seen, now, then, sink):
    found = trouble(guide, t_s, cup_g, cup_seen)
    assert now in found.now and then in found.then and found.bin is sink


@pytest.mark.parametrize("guide, t_s, cup_g", [
    (pouring(drop_at_s=5.0), 20.0, 33.0), (poured(25.0, 50.0), 26.0, None), (at(Step.DOSE, dose_g=16.0), 5.0, None),
    (at(Step.PULL, locked_at_s=0.0), 8.0, None), (pouring(), 31.0, None), (poured(25.0, None), 26.0, None),
    (at(Step.DOSE, dose_g=13.0, dose_kept=True), 5.0, None)])
def test_a_pull_that_is_right_or_cannot_be_seen_is_left_alone(guide, t_s, cup_g):
    assert trouble(guide, t_s, cup_g) is None


def test_pressure_is_warned_of_where_a_basket_may_hold_it():
    assert trouble(poured(40.0, 0.0), 41.0).pressure and not trouble(poured(9.0, 160.0), 10.0).pressure


@given(time_s=st.floats(3, 90), yield_g=st.floats(0, 200), dose_g=st.none() | st.floats(10, 22))
def test_what_is_said_of_time_and_yield_never_fights_itself_nor_the_numbers(time_s, yield_g, dose_g):
    guide = poured(time_s, yield_g, dose_g=dose_g)
    said = seen_in_the_cup(guide)
    in_time, in_yield = RECIPE.time_fits(time_s), RECIPE.yield_fits(yield_g)
    if "too slowly" in said:
        assert yield_g / time_s < RECIPE.yield_g / RECIPE.time_window_s[0]
    if "too fast" in said:
        assert yield_g / time_s > RECIPE.yield_g / RECIPE.time_window_s[1]
    if "Stopped late" in said:
        assert time_s > RECIPE.time_window_s[0] and yield_g > RECIPE.yield_window_g[0]
    if "Stopped early" in said:
        assert time_s < RECIPE.time_window_s[1] and yield_g < RECIPE.yield_window_g[1]
    assert ("are right" in said) == bool(in_time and in_yield)
    wrong = trouble(guide, time_s + 1)
    if wrong is not None and wrong.what == "chokes":
        assert "too slowly" in said or in_yield
    if wrong is not None and wrong.what == "gushes":
        assert "too fast" in said or in_yield or in_time


@pytest.mark.parametrize("guide, t_s, cup_g, what", [
    (pouring(), 30.0, 0.0, None), (pouring(), 30.1, 0.0, "chokes"),            # the window ends at 30 s
    (pouring(), 31.0, 9.9, "chokes"), (pouring(), 31.0, 10.1, None),           # a fifth of the yield is a pull that runs
    (at(Step.DOSE, dose_g=16.5), 5.0, None, None), (at(Step.DOSE, dose_g=16.6), 5.0, None, "over"),
    (at(Step.TAMP, dose_g=15.4), 5.0, None, "under"), (at(Step.PURGE, dose_g=15.4), 5.0, None, None)])
def test_where_trouble_begins(guide, t_s, cup_g, what):
    found = trouble(guide, t_s, cup_g)
    assert (found.what if found is not None else None) == what


@pytest.mark.parametrize("known, said", [
    ({"yield_g": 50.0}, "50 g is right (45–55)."), ({"yield_g": 60.0}, "60 g is beside 45–55. Time the next one too."),
    ({"time_s": 25.0}, "25 s is right (20–30)."), ({"time_s": 12.0}, "12 s is too fast"), ({"time_s": 40.0}, "40 s is too slow"),
    ({"time_s": 25.0, "yield_g": 50.0}, "25 s and 50 g are right."), ({}, None)])
def test_what_one_reading_alone_comes_to(known, said):
    guide = at(Step.SERVE, yield_g=known.get("yield_g"), **(
        {"pump_on_at_s": 0.0, "pump_off_at_s": known["time_s"]} if "time_s" in known else {}))
    found = seen_in_the_cup(guide)
    assert found is None if said is None else found.startswith(said)


def test_an_overdose_explains_only_what_it_could_have_caused():
    over, under = poured(9.0, 160.0, dose_g=19.0), poured(40.0, 3.0, dose_g=13.0)
    assert "one notch finer" in trouble(over, 10.0).then            # more coffee would have held it back
    assert "one notch coarser" in trouble(under, 41.0).then
