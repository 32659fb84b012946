"""The book on a disk that is full, locked, slow or failing, and under a clock that jumps: service goes on."""

import errno
import os
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from shutil import copytree
from threading import Event
from zoneinfo import ZoneInfo

import pytest

from kiosk.bar.model import GuideEvent, Pull
from kiosk.book import Book
from kiosk.book.disk import Disk
from tests.support.bar_of_the_book import WallClock, a_pull, pulled
from tests.support.failing_disk import Forgetful, Refusing


def served(folder, clock):
    with Book.open(folder, now=clock, read_only=True) as book:
        return [pull for day in book.days() for pull in book.day(day).of(Pull)]


@pytest.mark.parametrize("cause, word", [(errno.ENOSPC, "full"), (errno.EROFS, "only be read"), (errno.EIO, "fails")])
@pytest.mark.parametrize("part_written", [0, 1, 40])
def test_service_goes_on_while_the_disk_refuses_and_all_is_written_once_when_it_takes_it_again(
        tmp_path, cause, word, part_written):
    disk, clock = Refusing(), WallClock()
    with Book.open(tmp_path, now=clock, disk=disk) as book:
        kept = pulled(book, 2)
        disk.cause, disk.part_written = cause, part_written
        kept += pulled(book, 3)
        assert word in book.trouble and "do not switch off" in book.trouble
        assert book.waiting == 3 and list(book.today().of(Pull)) == kept
        assert served(tmp_path, clock) == kept[:2]
        book.retry()
        assert book.trouble
        disk.cause = None
        kept += pulled(book)
        assert book.trouble is None and book.waiting == 0
        assert served(tmp_path, clock) == kept


def test_what_waits_is_written_by_a_retry_without_another_pull(tmp_path):
    disk, clock = Refusing(), WallClock()
    with Book.open(tmp_path, now=clock, disk=disk) as book:
        disk.cause = errno.ENOSPC
        kept = pulled(book, 2)
        book.set_setting("coffees.house.price_eur_kg", 24)
        disk.cause = None
        book.retry()
        assert book.trouble is None
    assert served(tmp_path, clock) == kept
    with Book.open(tmp_path, now=clock) as again:
        assert again.settings["coffees"]["house"]["price_eur_kg"] == 24


def test_a_bar_opens_on_a_disk_that_cannot_be_written_and_is_kept_once_it_can(tmp_path):
    disk, clock = Refusing(errno.EROFS), WallClock()
    with Book.open(tmp_path / "book", now=clock, disk=disk) as book:
        assert "only be read" in book.trouble
        kept = pulled(book, 2)
        assert list(book.today().of(Pull)) == kept
        disk.cause = None
        kept += pulled(book)
        assert book.trouble is None
        assert sorted(pull.id for pull in kept) == [pull.id for pull in kept]
    assert served(tmp_path / "book", clock) == kept


def test_a_failed_sync_is_not_taken_for_a_kept_record(tmp_path):
    failing, clock = iter([False] * 12 + [True, False, True, True, False, True]), WallClock()
    disk = Forgetful(lambda: next(failing, False))
    book = Book.open(tmp_path, now=clock, disk=disk)
    kept, troubles = [], []
    for _ in range(30):
        kept += pulled(book)
        troubles.append(book.trouble)
    disk.power_cut()
    assert 3 <= len([trouble for trouble in troubles if trouble]) < 10 and troubles[-1] is None
    assert served(tmp_path, clock) == kept


def test_a_new_days_file_survives_the_power_cut_that_follows_its_first_pull(tmp_path):
    disk, clock = Forgetful(), WallClock()
    book = Book.open(tmp_path, now=clock, disk=disk)
    kept = pulled(book)
    clock.pass_by(days=1)
    kept += pulled(book)
    disk.power_cut()
    assert served(tmp_path, clock) == kept


@pytest.mark.parametrize("part_written", [None, 0, 1500, 9000])
@pytest.mark.parametrize("loss", ["deleted", "cut", "emptied"])
def test_a_day_that_loses_its_file_while_the_bar_serves_is_written_anew_from_memory(tmp_path, loss, part_written):
    clock, disk = WallClock(), Refusing()
    with Book.open(tmp_path, now=clock, disk=disk) as book:
        kept = pulled(book, 4)
        path = tmp_path / "days" / f"{book.day_now()}.log"
        if loss == "deleted":
            path.unlink()
        else:
            os.truncate(path, path.stat().st_size // 3 if loss == "cut" else 0)
        if part_written is not None:
            disk.cause, disk.part_written = errno.ENOSPC, part_written
            kept += pulled(book)
            book.retry()
            disk.cause = None
        kept += pulled(book)
        book.retry()
        assert book.trouble is None
    assert served(tmp_path, clock) == kept


def test_of_two_kiosks_begun_on_a_locked_disk_the_second_to_write_says_so_and_writes_nothing(tmp_path):
    clock, one, two = WallClock(), Refusing(errno.EROFS), Refusing(errno.EROFS)
    folder = tmp_path / "book"
    with Book.open(folder, now=clock, disk=one) as first, Book.open(folder, now=clock, disk=two) as second:
        one.cause = two.cause = None
        kept = pulled(first, 2)
        pulled(second)
        assert first.trouble is None and "already open" in second.trouble
        assert served(folder, clock) == kept


def test_lanes_that_keep_and_jot_at_once_lose_and_double_nothing(tmp_path):
    clock = WallClock()
    with Book.open(tmp_path, now=clock) as book:
        def lane(name):
            for n in range(25):
                book.jot(GuideEvent(id=f"{name}-{n}-tap", at=book.at(), pull_id=f"{name}-{n}", event={}))
                book.keep(a_pull(book, id=f"{name}-{n}"))

        with ThreadPoolExecutor() as lanes:
            list(lanes.map(lane, "abcd"))
    with Book.open(tmp_path, now=clock, read_only=True) as book:
        ids = [kept.id for kept in book.today().raw]
    assert len(ids) == len(set(ids)) == 200
    for name in "abcd":
        in_turn = [f"{name}-{n}{end}" for n in range(25) for end in ("-tap", "")]
        assert [id for id in ids if id.startswith(name)] == in_turn


def test_a_slow_card_is_told_and_loses_nothing(tmp_path):
    seconds = [0.0]

    class Slow(Disk):
        def sync(self, file):
            seconds[0] += 0.1
            super().sync(file)

    clock = WallClock()
    with Book.open(tmp_path, now=clock, disk=Slow(), ticks=lambda: seconds[0]) as book:
        kept = pulled(book, 4)
        assert "slow" in book.trouble
        assert book.waiting == 0
    assert served(tmp_path, clock) == kept


def test_what_is_jotted_and_read_never_waits_for_a_card_that_is_busy_writing(tmp_path):
    busy, done = Event(), Event()

    class Busy(Disk):
        held = False

        def sync(self, file):
            if self.held:
                busy.set()
                assert done.wait(30)
            super().sync(file)

    clock, disk = WallClock(), Busy()
    with Book.open(tmp_path, now=clock, disk=disk) as book:
        kept = pulled(book, 2)
        disk.held = True
        taps = [GuideEvent(id=book.new_id(), at=book.at(), pull_id="next", event={"n": n}) for n in range(3)]
        book.jot(taps[0])
        assert busy.wait(30)
        book.jot(taps[1])
        book.jot(taps[2])
        assert book.today().raw == (*kept, *taps) and book.find(taps[2].id) == taps[2]
        assert book.waiting == 3 and book.settings == {} and len(book.table()) == 5
        done.set()
    with Book.open(tmp_path, now=clock, read_only=True) as report:
        assert report.today().raw == (*kept, *taps)


def test_what_is_jotted_is_read_at_once_in_its_place_and_written_no_later_than_the_next_pull(tmp_path):
    clock = WallClock()
    with Book.open(tmp_path, now=clock) as book:
        before = pulled(book)
        tap = GuideEvent(id=book.new_id(), at=book.at(), pull_id="next", event={"step": "dose"})
        book.jot(tap)
        assert book.today().raw[-1] == tap
        after = pulled(book)
        with Book.open(tmp_path, now=clock, read_only=True) as report:
            assert report.today().raw == (*before, tap, *after)


def test_a_jot_reaches_the_disk_by_closing_time(tmp_path):
    clock = WallClock()
    with Book.open(tmp_path, now=clock) as book:
        tap = GuideEvent(id=book.new_id(), at=book.at(), pull_id="next", event={"step": "dose"})
        book.jot(tap)
    with Book.open(tmp_path, now=clock, read_only=True) as report:
        assert report.today().raw == (tap,)


def test_a_jotted_tap_that_a_cut_takes_after_the_day_has_turned_is_not_called_damage(tmp_path, monkeypatch):
    clock = WallClock()
    book = Book.open(tmp_path / "book", now=clock)
    kept = pulled(book, 2)
    monkeypatch.setattr(book, "_wake", lambda: None)            # the card is busy until the cut
    for n in range(2):
        book.jot(GuideEvent(id=book.new_id(), at=book.at(), pull_id="next", event={"n": n}))
        clock.pass_by(days=1)
    copytree(tmp_path / "book", tmp_path / "cut")
    with Book.open(tmp_path / "cut", now=clock) as cut:
        assert [(each.pulls, each.lost) for each in cut.sums("0001-01-01", "9999-01-01")] == [(2, 0)]
        assert cut.notices == () and list(cut.records("0001-01-01", "9999-01-01")) == kept
    book.close()


def test_a_clock_set_back_or_a_year_forward_neither_loses_nor_doubles_a_pull(tmp_path):
    clock = WallClock()
    book = Book.open(tmp_path, now=clock)
    kept = []
    for jump, told in ((timedelta(hours=-3), "back by 3 hours"), (timedelta(days=365), "forward by 365 days"),
                       (timedelta(days=-800), "back by 800 days"), (timedelta(days=437), "forward by 437 days")):
        kept += pulled(book, 3)
        clock.moment += jump
        if "3 hours" not in told:   # the others are found at an opening, this one while the bar serves
            book.close()
            book = Book.open(tmp_path, now=clock)
        kept += pulled(book, 2)
        assert book.trouble is None
        assert [told in sentence for sentence in book.notices] == [True]
        if "3 hours" in told:
            book.close()
            book = Book.open(tmp_path, now=clock)
            assert book.notices == ()
    kept += pulled(book, 3)
    assert sorted(pull.id for pull in kept) == [pull.id for pull in kept]
    assert len({pull.id for pull in kept}) == len(kept)
    found = [pull for day in book.days() for pull in book.day(day).of(Pull)]
    assert sorted(found, key=lambda pull: pull.id) == kept
    assert all(book.find(pull.id) == pull for pull in kept)
    book.close()


@pytest.mark.parametrize("night, quarters", [(datetime(2026, 3, 29, 0, 30), 10), (datetime(2026, 10, 25, 0, 30), 18)])
def test_a_night_when_the_clocks_change_is_one_service_day_with_every_pull_once(tmp_path, night, quarters):
    """Central European time turns at 01:00 UTC on 29 March and 25 October 2026 (IANA time zone database)."""
    zone = ZoneInfo("Europe/Rome")
    instant = [night.replace(tzinfo=zone).astimezone(UTC)]
    with Book.open(tmp_path, now=lambda: instant[0].astimezone(zone)) as book:
        kept = []
        for _ in range(quarters):
            kept += pulled(book)
            instant[0] += timedelta(minutes=15)
        offsets = {pull.at[-6:] for pull in kept}
        assert offsets == {"+01:00", "+02:00"}
        assert book.days() == ((night - timedelta(days=1)).date().isoformat(),)
        assert list(book.day(book.days()[0]).of(Pull)) == kept
        assert book.notices == ()


def test_the_book_is_for_the_kiosks_user_alone(tmp_path):
    old = os.umask(0)
    try:
        with Book.open(tmp_path / "book", now=WallClock()) as book:
            pulled(book)
            book.set_setting("menu.latte", True)
            book.remember("watch", {"n": 1})
            modes = {path.name: path.stat().st_mode & 0o777 for path in (book.folder, *book.folder.rglob("*"))}
    finally:
        os.umask(old)
    assert {mode for name, mode in modes.items() if "." in name or name in ("last", "lock")} == {0o600}
    assert {mode for name, mode in modes.items() if "." not in name and name not in ("last", "lock")} == {0o700}


def test_opening_a_book_to_read_writes_nothing(tmp_path):
    with Book.open(tmp_path / "none", now=WallClock(), read_only=True) as book:
        assert book.days() == () and book.today().all == () and book.settings == {}
        with pytest.raises(TypeError, match="opened to be read"):
            pulled(book)
    assert not (tmp_path / "none").exists()
    assert a_pull(book).id


def test_a_lock_taken_away_lets_no_second_kiosk_cut_what_the_first_wrote(tmp_path):
    clock = WallClock()
    first = Book.open(tmp_path, now=clock)
    pulled(first, 2)
    (tmp_path / "lock").unlink()
    second = Book.open(tmp_path, now=clock)
    theirs = pulled(second, 3)
    mine = pulled(first, 2)                                 # it finds that the book is another's now
    assert "already open" in first.trouble and first.waiting == 2
    second.close()
    first.retry()
    assert first.waiting == 0 and first.trouble is None
    first.close()
    with Book.open(tmp_path, now=clock, read_only=True) as again:
        ids = {pull.id for pull in again.today().of(Pull)}
        assert {pull.id for pull in (*theirs, *mine)} <= ids and len(ids) == 7
