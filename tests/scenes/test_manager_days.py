"""Days as a manager meets them, judged pull by pull by the station's own watch, then read in the evening."""

import pytest

from kiosk.bar.model import GroundsPurged, NotchMoved
from tests.bench.evening import words_of_ten_seconds
from tests.support.judged_day import PEOPLE, Day


@pytest.fixture
def day(tmp_path):
    return Day(tmp_path / "book")


def said(found) -> str:
    return " ".join((found.summary.sentence, *(f"{thing.what} {thing.because}" for thing in found.summary.to_do)))


def test_scene_46_one_person_tamps_softly_from_noon(day):
    for n in range(100):
        who = day.chance.choice(PEOPLE)
        day.pull(-3.6 if who == "Ben" and n >= 40 else 0.0, who)
    told = said(day.evening())
    assert "Ben's pulls ran" in told and "faster; the others' did not" in told and "drifted" not in told


def test_scene_47_hands_change_at_noon_and_the_grinder_stands_still(day):
    for n in range(100):
        early = n < 50
        day.pull(1.0 if early else -1.0, day.chance.choice(("Ada", "Ben") if early else ("Dot", "Eve")))
    told = said(day.evening())
    assert "drifted" not in told and "each hour" not in told


def test_scene_48_the_grinder_drifts_from_one_o_clock(day):
    for n in range(100):
        day.pull(4.5 if n >= 50 else 0.0)                   # 08:00 and 50 × 6 minutes
    found = day.evening(price_per_kg=28.0, currency="EUR")
    told = found.summary.sentence
    assert "Grinder 1 drifted slower from 13:" in told or "Grinder 1 drifted slower from 12:5" in told
    assert ", worst +" in told and "s, now +" in told and "each hour" not in told


def test_scene_49_a_short_dose_for_an_hour_is_a_dose_and_no_grinder(day):
    for n in range(80):
        day.pull(-3.5 if 40 <= n < 50 else 0.0, **({"dose_g": 14.6} if 40 <= n < 50 else {}))
    told = said(day.evening())
    assert "Weigh each dose" in told and "drifted" not in told


def test_scene_50_a_bag_opened_at_three_that_runs_slower_is_seen_from_then(day):
    for n in range(110):
        day.pull(4.0 if n >= 70 else 0.0)
        if n == 69:
            day.station.book.keep(_bag(day))
    found = day.evening()
    assert any(mark.kind == "beans" for mark in found.grinders[0].chart.marks)
    assert "Grinder 1 drifted slower from 15:" in said(found) or "Grinder 1 drifted slower from 14:5" in said(found)


def _bag(day):
    from kiosk.bar.model import Noted

    return Noted(id=day.book.new_id(), at=day.book.at(), what="beans", facts={"coffee": "House", "roasted": "2026-03-01"})


def test_scene_52_twelve_turns_to_and_fro_are_told_with_what_they_cost(day):
    for n in range(96):
        day.pull(2.2 * (20 - day.setting))
        if n % 8 == 7:
            day.turn("finer" if day.setting > 19 else "coarser")
    found = day.evening()
    moves = [each for each in found.summary.figures.grinders[0].moves if isinstance(each, NotchMoved)]
    assert len(moves) == 12 and all(isinstance(each, GroundsPurged) for each in found.summary.figures.purges)
    assert "turned 12 times" in said(found) and "each cost 6 g" in said(found)


def test_the_worst_day_of_all_is_told_in_forty_words_with_what_it_cost(day):
    for n in range(60):
        sunk = {"sink": "choked"} if n % 9 == 8 else {}
        day.pull(6.0 if n >= 30 else 0.0, **sunk)
        day.pull(-5.0 if n >= 40 else 0.0, grinder="Grinder 2", **sunk)
    day.turn("coarser")
    found = day.evening(price_per_kg=28.0, currency="EUR").summary
    told = found.sentence
    assert told.count(" drifted ") == 1 and " too from " in told and "EUR" in told and found.to_do
    assert words_of_ten_seconds(found) <= 40
