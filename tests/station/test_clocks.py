"""A wall clock that is wrong, or put right, at any moment: nothing waiting is lost, and no pull is there twice."""

from collections import Counter
from datetime import UTC, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest

from kiosk.bar.guide import Forward
from kiosk.bar.model import OrderTaken, Pull, Step
from kiosk.book import Book
from kiosk.station.clock import Clock
from kiosk.station.station import Station

OPENING = datetime(2026, 3, 14, 8, 0, tzinfo=timezone(timedelta(hours=1)))
DAY, HOUR = timedelta(days=1), timedelta(hours=1)
YEAR = 365 * DAY
JUMPS = (-10 * HOUR, -DAY, -YEAR, datetime(1970, 1, 1, tzinfo=UTC) - OPENING, 20 * HOUR, YEAR, -3 * HOUR, 3 * HOUR,
         -30 * DAY, 30 * DAY, 12 * HOUR, -12 * HOUR, 2 * DAY, -2 * DAY, 5 * YEAR)
MOMENTS = "waiting", "in mid-pull", "just served"


class Wall:
    """A station whose wall clock a test may set; seconds pass alike whatever it says."""

    def __init__(self, folder, zone=None):
        self.folder, self.s, self.off, self.zone = folder, 1000.0, timedelta(0), zone
        self.open()

    def now(self) -> datetime:
        now = OPENING + timedelta(seconds=self.s - 1000) + self.off
        return now.astimezone(self.zone) if self.zone else now

    def open(self):
        self.book = Book.open(self.folder, now=self.now)
        self.service = Station(self.book, Clock(monotonic=lambda: self.s, wall=self.now))

    def restart(self):
        self.book.close()
        self.open()

    def passes(self, seconds: float):
        self.s += seconds
        self.service.tick()

    def set_by(self, by: timedelta):
        self.off += by
        self.passes(2)

    def to(self, step: Step):
        while self.service.lanes[1].work.guide.step is not step:
            self.passes(3)
            self.service.tap(1, Forward)

    def serve(self):
        key = self.service.lanes[1].work.key
        while self.service.lanes[1].work is not None and self.service.lanes[1].work.key == key:
            self.passes(8)
            self.service.tap(1, Forward)

    def everything(self, kind):
        return [each for day in self.book.days() for each in self.book.day(day).of(kind)]


def owed(work: Wall) -> int:
    """Pulls that are in a lane or wait."""
    return len(work.service.line.waiting) + sum(lane.work is not None for lane in work.service.lanes.values())


def play(work: Wall, moment: str) -> int:
    """Up to that moment; how many of its pulls are still owed."""
    work.service.set_setting(("groups",), 1)
    for _ in range(3):
        work.service.take_order(((work.service.setup.menu[1], 2),))
    work.passes(5)
    work.in_all = owed(work)
    if moment == "in mid-pull":
        work.to(Step.PULL)
        work.service.tap(1, Forward)
        work.passes(10)
    elif moment == "just served":
        work.serve()
    return owed(work)


def check(work: Wall, before: int):
    assert owed(work) == before
    while work.service.lanes[1].work is not None:
        work.serve()
    ids = Counter(pull.id for pull in work.everything(Pull))
    assert set(ids.values()) == {1}
    assert len(ids) == work.in_all and len(work.everything(OrderTaken)) == 3


@pytest.mark.parametrize("moment", MOMENTS)
@pytest.mark.parametrize("by", JUMPS, ids=str)
def test_a_clock_that_jumps_and_a_restart_lose_nothing_and_double_nothing(tmp_path, by, moment):
    work = Wall(tmp_path)
    before = play(work, moment)
    work.set_by(by)
    work.restart()
    check(work, before)


@pytest.mark.parametrize("by", JUMPS, ids=str)
def test_a_clock_put_right_in_mid_pull_loses_nothing(tmp_path, by):
    """Wrong from the start, put right while the pump runs, the pull gone on with, then a restart."""
    work = Wall(tmp_path)
    work.off = by
    work.restart()
    before = play(work, "in mid-pull")
    work.set_by(-by)
    work.service.tap(1, Forward)
    assert work.service.lanes[1].work.guide.time_s == pytest.approx(12, abs=1)
    work.restart()
    check(work, before)


@pytest.mark.parametrize("zone", ["Pacific/Kiritimati", "Pacific/Pago_Pago", "Asia/Kathmandu", "Europe/London", "America/New_York",
                                  "Australia/Lord_Howe", "Asia/Tokyo", "America/St_Johns", "Africa/Cairo", "America/Sao_Paulo"])
def test_another_time_zone_after_a_restart_loses_nothing(tmp_path, zone):
    work = Wall(tmp_path)
    before = play(work, "in mid-pull")
    work.zone = ZoneInfo(zone)
    work.restart()
    check(work, before)


def test_a_pull_whose_id_is_there_is_refused(tmp_path):
    work = Wall(tmp_path)
    play(work, "just served")
    pull, = work.everything(Pull)
    work.book.keep(pull)
    work.off = -DAY
    work.book.keep(pull)
    assert len(work.everything(Pull)) == 1


@pytest.mark.parametrize("by", [-YEAR, datetime(1970, 1, 1, tzinfo=UTC) - OPENING], ids=str)
def test_a_stale_clock_is_told_at_the_start(tmp_path, by):
    work = Wall(tmp_path)
    play(work, "just served")
    work.book.close()
    work.off = by
    work.open()
    assert any("clock was set back" in notice for notice in work.book.notices)


def test_a_clock_from_before_the_program_was_made_is_told_in_a_new_bar(tmp_path):
    work = Wall(tmp_path / "first")
    work.off = datetime(1970, 1, 1, tzinfo=UTC) - OPENING
    work.folder = tmp_path / "second"
    work.open()
    assert any("before this program was made" in notice for notice in work.book.notices)
