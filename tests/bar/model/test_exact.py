"""What is read beside a window says what the verdict says: read back as decimals, by nothing of the code under test."""

import re
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.bar.guide import begin, seen_in_the_cup
from kiosk.bar.model import Exact, Pull, beside, judge, usual
from kiosk.bar.training import SeenPull, stopped
from kiosk.languages import catalogue

DOUBLE = usual("House", "double")       # 20–30 s, 45.36–55.44 g
WHAT = re.compile(r"(\d+(?:\.\d+)?) (s|g)\b[^()]*?\(?(\d+(?:\.\d+)?)–(\d+(?:\.\d+)?)")
NEAR = st.floats(-0.2, 0.2) | st.floats(-3e-6, 3e-6) | st.floats(-20, 20)


def pull(**measured) -> Pull:
    return Pull(id="p", at="2026-03-14T09:00:00+01:00", grinder="Left", coffee="House", setting=12,
                recipe=measured.pop("recipe", DOUBLE), **measured)


def side(value: str, low: str, high: str) -> int:
    """-1 below, 0 within, 1 above: as anybody reads it."""
    return -1 if Decimal(value) < Decimal(low) else 1 if Decimal(value) > Decimal(high) else 0


@pytest.mark.parametrize("measured, sentence", [
    ({"time_s": 19.96, "yield_g": 50.0}, "Fast: 19.96 s (20–30)."),
    ({"time_s": 30.04, "yield_g": 50.0}, "Slow: 30.04 s (20–30)."),
    ({"time_s": 25.0, "yield_g": 45.352}, "Short: 45.35 g (45.36–55.44)."),
    ({"time_s": 25.0, "yield_g": 50.0, "dose_g": 16.53}, "In window: 25.0 s (20–30), 50.0 g (45.4–55.4), too much coffee: 16.53 g (15.50–16.50)."),
])
def test_a_figure_that_the_tenth_would_put_inside_is_written_finer(measured, sentence):
    assert judge(pull(**measured)).sentence == sentence


def test_the_commonest_figures_keep_their_tenth():
    assert [f"{each:g}" for each in beside(25.04, (20.0, 30.0))] == ["25", "20", "30"]
    assert [f"{each:+.1f} {each:+g}" for each in (Exact(1.5), Exact(-0.5))] == ["+1.5 +1.5", "-0.5 -0.5"]      # as `format` signs them
    assert f"{Exact(20, 0):g}" == "20"
    assert f"{beside(25.04, (20.0, 30.0))[0]:.1f}" == "25.0" and f"{Exact(45.36):g}" == "45.4"


def test_another_language_writes_it_as_exactly():
    assert judge(pull(time_s=19.96, yield_g=50.0)).sentence.render(catalogue("de")) == "Schnell: 19,96 s (20–30)."


@given(st.floats(5, 90), st.floats(0.5, 9), NEAR, st.booleans())
def test_what_is_read_of_a_value_and_its_window_is_its_verdict(middle, within, off, of_the_top):
    window = middle - within, middle + within
    value = max(0.0, window[of_the_top] + off)
    number, low, high = (f"{each:f}" for each in beside(value, window))
    inside = window[0] - 1e-6 <= value <= window[1] + 1e-6      # the judging rule: the edge belongs to the window
    assert side(number, low, high) == (0 if inside else -1 if value < window[0] else 1)


@given(st.sampled_from(("g", "ml")), st.floats(30, 70), st.floats(1, 9), st.floats(10, 60), NEAR, NEAR, st.booleans(), st.booleans())
def test_every_sentence_on_a_pull_agrees_with_its_own_numbers(unit, amount, within, time_s, off_s, off_g, top_s, top_g):
    recipe = replace(DOUBLE, unit=unit, amount=amount, amount_within=within, time_s=time_s, time_within_s=min(5.0, time_s / 2.5),
                     first_drop_from_s=1.0, first_drop_to_s=2.0)
    time_s, yield_g = max(0.5, recipe.time_window_s[top_s] + off_s), max(0.5, recipe.yield_window_g[top_g] + off_g)
    words = judge(pull(recipe=recipe, time_s=time_s, yield_g=yield_g)).sentence
    right = {"s": recipe.time_fits(time_s), "g": recipe.yield_fits(yield_g)}
    for value, of, low, high in WHAT.findall(words):
        assert (side(value, low, high) == 0) is right[of], words
    for alone in ({"time_s": time_s}, {"yield_g": yield_g}):
        guide = replace(begin(recipe, 0.0), pump_on_at_s=0.0 if "time_s" in alone else None,
                        pump_off_at_s=alone.get("time_s"), yield_g=alone.get("yield_g"))
        words = seen_in_the_cup(guide)
        [(value, of, low, high)] = WHAT.findall(words)
        assert (side(value, low, high) == 0) is right[of] is (" right " in words), words
    seen = SeenPull(recipe=recipe, dose_g=16.0, time_s=25.0, yield_g=yield_g, first_drop_s=4.0)
    told = stopped(seen)
    assert (told is None) is right["g"]
    if told is not None:
        value, low, high = re.findall(r"\d+(?:\.\d+)?", told)
        assert side(value, low, high) == (1 if "late" in told else -1)
