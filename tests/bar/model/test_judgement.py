"""The verdict of a finished pull: the word, and the number with its window beside it."""

from dataclasses import replace

import pytest

from kiosk.bar.model import Finding, Pull, judge, usual

DOUBLE = usual("house", "double")      # 16 ± 0.5 g in, 50.4 ± 5.04 g out, 25 ± 5 s, first drop 3–5 s
RIGHT = Pull(id="1", at="2026-11-25T09:00:00+01:00", grinder="left", coffee="house", setting=12, recipe=DOUBLE,
             dose_g=16.1, yield_g=50.0, time_s=25.2, first_drop_s=4.1)


def judged(**changes):
    return judge(replace(RIGHT, **changes))


def words(**changes) -> list[str]:
    return [finding.word for finding in judged(**changes).findings]


def test_a_pull_on_its_recipe_is_in_window_and_says_its_time_and_yield():
    verdict = judge(RIGHT)
    assert verdict.in_window is True
    assert verdict.findings == (Finding("in window", 25.2, 20.0, 30.0, "s"),)
    assert verdict.sentence == "In window: 25.2 s (20–30), 50.0 g (45.4–55.4)."


@pytest.mark.parametrize("changes, expected", [
    ({"time_s": 18.0}, ["fast"]),
    ({"time_s": 33.0}, ["slow"]),
    ({"yield_g": 43.0}, ["short"]),
    ({"yield_g": 58.0}, ["long"]),
    ({"time_s": 18.0, "yield_g": 58.0}, ["fast", "long"]),
    ({"time_s": 14.0, "yield_g": 58.0}, ["gushed", "long"]),
    ({"time_s": 40.0, "yield_g": 20.0}, ["choked", "short"]),
    ({"time_s": 40.0, "yield_g": 0.0, "first_drop_s": None}, ["choked", "short"]),
    ({"dose_g": 17.4}, ["in window", "over"]),
    ({"dose_g": 14.0, "time_s": 17.0}, ["fast", "under"]),
    ({"first_drop_s": 1.9}, ["in window", "early drop"]),
    ({"first_drop_s": 8.0, "time_s": 33.0}, ["slow", "late drop"]),
])
def test_each_way_of_being_off_has_its_word(changes, expected):
    assert words(**changes) == expected


@pytest.mark.parametrize("edge", ({"time_s": 20.0}, {"time_s": 30.0}, {"yield_g": DOUBLE.yield_window_g[0]},
                                  {"yield_g": DOUBLE.yield_window_g[1]}, {"dose_g": 15.5}, {"first_drop_s": 5.0}))
def test_the_edge_of_a_window_is_inside_it(edge):
    assert judged(**edge).in_window is True and words(**edge) == ["in window"]


def test_every_finding_has_its_number_and_the_window_it_is_beside():
    fast, long, over = judged(time_s=18.0, yield_g=58.0, dose_g=17.4).findings
    assert (fast.value, fast.low, fast.high, fast.unit) == (18.0, 20.0, 30.0, "s")
    assert (long.value, long.low, long.high, long.unit) == (58.0, *DOUBLE.yield_window_g, "g")
    assert (over.value, over.low, over.high, over.unit) == (17.4, 15.5, 16.5, "g")


def test_a_pull_stopped_at_once_is_cut_short_not_choked():
    assert words(time_s=6.0, yield_g=2.0) == ["fast", "short"]


def test_what_was_not_measured_is_not_judged():
    assert judged(yield_g=None).in_window is True       # on its time alone, and it says so
    assert judged(yield_g=None).sentence == "In window: 25.2 s (20–30); the yield was not measured."
    assert judged(time_s=None, yield_g=None).sentence == "Neither time nor yield was measured."
    assert judged(time_s=None).in_window is None and words(time_s=None) == []


def test_a_time_outside_its_window_is_outside_whatever_was_not_measured():
    assert judged(time_s=36.0, yield_g=None).in_window is False
    assert judged(time_s=36.0, yield_g=None).sentence == "Slow: 36.0 s (20–30); the yield was not measured."


def test_the_sentence_puts_what_matters_first():
    assert judged(time_s=18.0).sentence == "Fast: 18.0 s (20–30)."
    assert judged(time_s=18.0, yield_g=58.0, dose_g=14.2).sentence == (
        "Fast: 18.0 s (20–30), long: 58.0 g (45.4–55.4), too little coffee: 14.2 g (15.5–16.5).")
    assert judged(time_s=41.0, yield_g=12.0).sentence == "Choked: 12.0 g in 41.0 s."
    assert judged(time_s=14.0, yield_g=58.0).sentence == "Gushed: 58.0 g in 14.0 s."
