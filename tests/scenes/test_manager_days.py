"""Days as a manager meets them, judged pull by pull by the station's own watch, then read in the evening."""

from datetime import timedelta
from random import Random

import pytest

from kiosk.bar.evening.evening import evening
from kiosk.bar.model import GroundsPurged, NotchMoved, Pull, usual
from kiosk.book import Book
from kiosk.station.clock import Clock
from kiosk.station.station import Station
from tests.support.at_work import OPENING

RECIPE = usual("House", "double")
PEOPLE = ("Ada", "Ben", "Cleo")


class Day:
    """A service day of pulls six minutes apart, kept and judged as the kiosk does; `off_s` gives the truth."""

    def __init__(self, folder, seed: int = 1):
        self.chance, self.t_s = Random(seed), 0.0
        self.now = lambda: OPENING + timedelta(seconds=self.t_s)
        self.book = Book.open(folder, now=self.now)
        self.station = Station(self.book, Clock(monotonic=lambda: self.t_s, wall=self.now))
        self.setting = 20

    def pull(self, off_s: float = 0.0, who: str | None = None, **more) -> None:
        self.t_s += 360
        made = Pull(**{"id": self.book.new_id(), "at": self.book.at(), "grinder": "Grinder 1", "coffee": "House",
                       "setting": self.setting, "recipe": RECIPE, "barista": who or self.chance.choice(PEOPLE),
                       "dose_g": round(self.chance.gauss(16, 0.15), 1), "yield_g": round(self.chance.gauss(50.4, 0.8), 1),
                       "time_s": max(5.0, 25 + off_s + self.chance.gauss(0, 1.3)), "time_from": "scale", "order_id": "o"} | more)
        self.book.keep(made)
        self.station.grinding.judge(made)

    def turn(self, direction: str) -> None:
        self.station.grinding.move(self.station.setup.grinders[0], direction, 6.0)
        self.setting = self.station.setup.grinders[0].setting

    def evening(self):
        day = self.book.day_now()
        found = evening(self.book.today().all, day)
        self.book.close()
        return found

    def hour(self) -> str:
        return self.book.at()[11:13]


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
    told = said(day.evening())
    assert "Grinder 1 drifted from about 13:" in told or "Grinder 1 drifted from about 12:5" in told
    assert "slower" in told


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
    assert "Grinder 1 drifted from about 15:" in said(found) or "Grinder 1 drifted from about 14:5" in said(found)


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
