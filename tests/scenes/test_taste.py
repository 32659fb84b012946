"""What the bar tastes, on the real screens: one touch after a pull, one change for the next, kept in the evening."""

import pytest

from kiosk.bar.drift import Flag
from kiosk.bar.evening.rows import groups
from kiosk.bar.guide import guide as guides
from kiosk.bar.model import Noted, Step
from kiosk.station.evenings import evening_of
from tests.support.at_work import AtWork


def served(work, time_s=25.0, yield_g=50.4):
    work.service.orders.take(((work.service.setup.drink("Double espresso"), 1),))
    lane = work.service.lanes[1]
    while lane.work.guide.step is not Step.PULL:
        work.service.tap(1, guides.Forward)
    work.service.tap(1, guides.Forward)
    work.t_s += time_s
    work.service.tap(1, guides.Forward)
    work.service.tap(1, guides.YieldTapped, yield_g)
    while lane.work is not None:
        work.service.tap(1, guides.Forward)
    work.frames(12)


@pytest.fixture
def work(tmp_path):
    with AtWork(tmp_path / "book", scale=False, settings={"groups": 1}) as at_work:
        yield at_work


def test_scene_38_sour_though_in_range_asks_for_longer_and_turns_nothing(work):
    served(work)
    taps = work.finger.taps
    work.tap("Taste…", "Sour")
    room = work.kiosk.root.open
    assert work.finger.taps - taps == 2 and "later" in room.change and "notch" not in room.change
    note, = [each for each in work.book.today().of(Noted) if each.what == "tasted"]
    assert note.facts["taste"] == "sour" and note.facts["pull_id"] == work.service.lanes[1].last.id
    work.service.grinding.watch("Grinder 1", "House").standing = Flag(
        "Grinder 1", "House", 20, "drifting", "coarser", "It runs slow.", {"pulls": 14, "level_s": 3.1})
    work.tap("Sour")
    assert room.change == "The times ask for coarser: turn that first, then taste again."
    work.tap("Back")


def test_scene_39_bitter_in_range_asks_for_cleanliness_first_and_the_evening_says_what_was_tasted(work):
    served(work)
    work.tap("Taste…", "Bitter")
    assert work.kiosk.root.open.change.startswith("Clean basket")
    work.tap("Back")
    served(work, time_s=35.0)
    work.tap("More", "Taste", "+")
    assert "extraction" in work.kiosk.root.open.tds_words or "TDS 9.1" in work.kiosk.root.open.tds_words
    work.tap("Bitter")
    assert work.kiosk.root.open.change == "One notch coarser, nothing else."
    rows = {row.key: row.text for group in groups(evening_of(work.book, work.service.setup, work.book.day_now())) for row in group.rows}
    assert rows["tasted"] == "2; 2 bitter"
