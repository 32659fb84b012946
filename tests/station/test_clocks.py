"""A wall clock that is wrong, or put right, at any moment: nothing waiting is lost, and no pull is there twice."""

from datetime import UTC, datetime, timedelta
from pathlib import Path
from shutil import copytree

import pytest

from kiosk.bar.guide import Forward
from kiosk.bar.model import OrderTaken, Pull
from kiosk.book import Book
from kiosk.book.disk import Disk
from tests.support.wrong_clock import DAY, HOUR, JUMPS, MOMENTS, OPENING, YEAR, ZONES, Wall, lost_and_doubled, play


@pytest.mark.parametrize("moment", MOMENTS)
@pytest.mark.parametrize("by", JUMPS, ids=str)
def test_a_clock_that_jumps_and_a_restart_lose_nothing_and_double_nothing(tmp_path, by, moment):
    work = Wall(tmp_path)
    before = play(work, moment)
    work.set_by(by)
    work.restart()
    assert lost_and_doubled(work, before) == (0, 0)


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
    assert lost_and_doubled(work, before) == (0, 0)


@pytest.mark.parametrize("zone", ZONES, ids=str)
def test_another_time_zone_after_a_restart_loses_nothing(tmp_path, zone):
    work = Wall(tmp_path)
    before = play(work, "in mid-pull")
    work.zone = zone
    work.restart()
    assert lost_and_doubled(work, before) == (0, 0)


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


NINETEEN_SEVENTY = datetime(1970, 1, 1, 7, 59, tzinfo=UTC) - OPENING
DAY_OF_OPENING = "2026-03-14"


def unset(tmp_path, by=NINETEEN_SEVENTY) -> Wall:
    """A day with a pull, and the next one begun under a clock that is not set."""
    work = Wall(tmp_path)
    play(work, "just served")
    work.service.orders.take(((work.service.setup.menu[1], 1),))
    work.book.close()
    work.off, work.run = by, "second run"
    work.s += 60
    work.open()
    return work


def kept(book, day) -> list:
    return [each for each in book.day(day).raw if isinstance(each, (Pull, OrderTaken))]


def test_what_was_made_under_an_unset_clock_is_marked_and_goes_to_its_day_once_it_is_set(tmp_path):
    work = unset(tmp_path)
    assert work.book.clock_unset
    before, old = len(kept(work.book, DAY_OF_OPENING)), work.s
    work.service.orders.take(((work.service.setup.menu[1], 1),), label="7")
    work.passes(60)
    work.serve()
    assert b'"clock":{"boot":"second run","s":' in (tmp_path / "days/1970-01-01.log").read_bytes()
    made = kept(work.book, "1970-01-01")
    assert len(made) == 2 and work.book.days()[0] == "1970-01-01"
    work.set_by(-NINETEEN_SEVENTY)
    assert not work.book.clock_unset and work.book.days() == (DAY_OF_OPENING,)
    here = kept(work.book, DAY_OF_OPENING)[before:]
    assert [each.id for each in here] == [each.id for each in made]
    true = [OPENING + timedelta(seconds=s - 1000) for s in (old, old + 60)]
    assert datetime.fromisoformat(here[0].at) == pytest.approx(true[0], abs=timedelta(seconds=0.01))
    assert datetime.fromisoformat(here[1].at) > true[1]
    assert work.service.line.age_s(here[0].id) < 600        # nobody has waited for fifty years
    work.restart()
    assert work.book.days() == (DAY_OF_OPENING,) and kept(work.book, DAY_OF_OPENING)[before:] == here
    assert work.book.day("1970-01-01").lost == 0 and work.book.notices == ()
    work.service.orders.take(((work.service.setup.menu[1], 1),))
    assert sum(day.pulls for day in work.book.sums("0000", "9999")) == len(work.everything(Pull))


@pytest.mark.parametrize("by", [NINETEEN_SEVENTY, -40 * DAY], ids=["1970", "before the last record"])
def test_a_kiosk_started_again_in_between_still_knows_how_long_ago_it_was(tmp_path, by):
    work = unset(tmp_path, by)
    work.service.orders.take(((work.service.setup.menu[1], 1),), label="7")
    at = OPENING + timedelta(seconds=work.s - 1000)
    work.restart()
    assert work.book.clock_unset
    work.book.close()
    work.off = timedelta(0)                             # set while no kiosk ran
    work.s += 3600
    work.open()
    (order,) = [each for each in kept(work.book, DAY_OF_OPENING) if isinstance(each, OrderTaken) and each.label == "7"]
    assert datetime.fromisoformat(order.at) == pytest.approx(at, abs=timedelta(seconds=0.01))
    assert work.book.days() == (DAY_OF_OPENING,)


def test_a_computer_switched_off_before_its_clock_was_set_has_orders_of_no_known_day_and_says_so_once(tmp_path):
    work = unset(tmp_path)
    work.service.orders.take(((work.service.setup.menu[1], 1),))
    work.book.close()
    work.off, work.run = timedelta(0), "third run"
    work.open()
    assert any("the orders kept with 1970-01-01 (1) is not known" in notice for notice in work.book.notices)
    assert work.book.days() == ("1970-01-01", DAY_OF_OPENING)
    work.restart()
    assert not any("is not known" in notice for notice in work.book.notices)


def test_a_clock_that_had_run_ahead_and_was_put_right_before_the_next_start_is_not_held_against_that(tmp_path):
    work = Wall(tmp_path)
    work.service.orders.take(((work.service.setup.menu[0], 1),))
    work.set_by(YEAR)
    work.service.orders.take(((work.service.setup.menu[0], 1),))
    work.book.close()
    work.off, work.run = timedelta(0), "another run"
    work.s += 3600
    work.open()
    work.service.orders.take(((work.service.setup.menu[0], 1),))
    assert not work.book.clock_unset and len(kept(work.book, DAY_OF_OPENING)) == 2
    assert not any(b'"clock":' in each.read_bytes() for each in (tmp_path / "days").glob("*.log"))


def test_a_clock_that_was_set_back_by_hand_is_not_taken_for_one_that_is_not_set(tmp_path):
    work = Wall(tmp_path)
    play(work, "just served")
    work.set_by(-3 * HOUR)
    assert not work.book.clock_unset
    work.restart()
    assert not work.book.clock_unset


@pytest.mark.parametrize("cut", [4, 5, 7, 8, 9, 10, 12])
def test_a_cut_while_records_go_to_their_day_loses_none_and_doubles_none(tmp_path, cut):
    """The disk refuses from the `cut`th touch on, and the power goes; the next start is in 1970 again."""
    work = unset(tmp_path / "book")
    for label in "123":
        work.service.orders.take(((work.service.setup.menu[1], 1),), label=label)
    work.serve()
    ids = sorted(each.id for day in work.book.days() for each in kept(work.book, day))
    work.book.close()
    work.off = timedelta(0)
    with pytest.raises(Cut):
        with Book.open(work.folder, now=work.now, ticks=lambda: work.s, run=work.run, disk=CutOff(cut)):
            raise Cut
    work.folder = Path(copytree(work.folder, tmp_path / "after"))     # the book that was cut still has its lock
    work.off, work.run = NINETEEN_SEVENTY, "third run"
    work.open()
    assert sorted(each.id for day in work.book.days() for each in kept(work.book, day)) == ids
    for _ in range(2):
        work.off = timedelta(0)
        work.restart()
        assert sorted(each.id for day in work.book.days() for each in kept(work.book, day)) == ids


class Cut(BaseException):
    """The power goes."""


class CutOff(Disk):
    """Goes with the power at its nth touch, half of what it writes written."""

    def __init__(self, after: int):
        self.left = after

    def _touch(self) -> None:
        self.left -= 1
        if self.left <= 0:
            raise Cut

    def write(self, file, data):
        if self.left == 1:
            super().write(file, data[:len(data) // 2])
        self._touch()
        super().write(file, data)

    def sync(self, file):
        self._touch()
        super().sync(file)

    def sync_folder(self, path):
        self._touch()
        super().sync_folder(path)
