"""What a technician would be called for: a card that is slow or hangs, a clock from 1970, a frozen frame, an older version, a
stick, a second station."""

import socket
import time
from datetime import UTC, datetime

from kiosk.bar.guide import guide as guides
from kiosk.bar.model import Pull, Step, read
from kiosk.book import Book, snapshot
from kiosk.book.backup import prove
from kiosk.book.disk import Disk
from kiosk.station import backups
from tests.commands.test_setup_and_where import a_first_station, command
from tests.commands.test_station import Made, set_up, told
from tests.station.test_backups import backed_up
from tests.support.at_work import AtWork
from tests.support.failing_disk import Slow
from tests.support.quiet_hands import CUP_G


def locked_in(work, group: int):
    work.service.happened(group, guides.DoseTapped(work.t_s, 16.0))
    while work.service.lanes[group].work.guide.step is not Step.PULL:
        work.service.tap(group, guides.Forward)


def frame_s(work, frames: int) -> float:
    worst = 0.0
    for _ in range(frames):
        began = time.monotonic()
        work.frame()
        worst = max(worst, time.monotonic() - began)
    return worst


def test_scene_28_a_sync_of_ten_seconds_holds_neither_the_glass_nor_the_other_lanes_cue(tmp_path):
    disk = Slow()
    with AtWork(tmp_path, settings={"groups": 2}, disk=disk, behind=True) as work:
        for _ in range(2):
            work.service.orders.take(((work.service.setup.menu[1], 2),))
        locked_in(work, 1)
        work.scale.put_on(CUP_G)
        work.frames(30)
        work.bar.dose(16.0)
        work.bar.begin_pull()
        work.service.tap(1, guides.Forward)
        began_s = work.t_s
        work.frames(300)
        disk.hangs = True                               # for as long as this lane needs
        began = time.monotonic()
        work.service.tap(2, guides.Bin, "spilt")
        assert time.monotonic() - began < 0.2
        while work.service.lanes[1].work.cue_at_s is None and work.t_s - began_s < 40:
            assert frame_s(work, 1) < 2.0
        told_s = work.service.lanes[1].work.cue_at_s - began_s
        assert work.scale.load_g - CUP_G < 50.0 and 15 < told_s < 32
        assert work.book.waiting > 0
        time.sleep(1.1)
        work.frames(12)
        assert "Not yet on disk" in work.kiosk.root.room("station").trouble
        disk.hangs = False
        patience = time.monotonic() + 5
        while work.book.waiting and time.monotonic() < patience:
            time.sleep(0.01)
        assert work.book.waiting == 0 and work.book.waits_s == 0
    with Book.open(tmp_path, now=work.wall, read_only=True) as again:
        assert [pull.sink for pull in again.today().of(Pull)] == ["spilt"]


def test_a_disk_that_hangs_is_told_and_what_waits_is_written_in_order_when_it_answers(tmp_path):
    disk, now_s = Slow(), [0.0]
    book = Book.open(tmp_path, behind=True, disk=disk, ticks=lambda: now_s[0])
    disk.hangs = True
    for n in range(5):
        book.set_setting("bar", f"name {n}")
    time.sleep(0.05)
    now_s[0] = 6.0
    assert "has not answered" in book.trouble and book.waits_s == 6.0
    assert book.settings["bar"] == "name 4"
    disk.hangs = False
    book.close()
    with Book.open(tmp_path, read_only=True) as again:
        assert [change.after for change in again.today().all] == [f"name {n}" for n in range(5)]


def test_scene_56_a_clock_from_1970_is_said_and_put_right_after_the_third_order_loses_nothing(tmp_path):
    with AtWork(tmp_path / "book", scale=False, settings={"groups": 1}, day=datetime(1970, 1, 1, 8, tzinfo=UTC)) as work:
        work.frames(12)
        assert "The clock is not set: it says 1970-01-01" in work.kiosk.root.room("station").trouble
        latte = ((work.service.setup.drink("Latte"), 1),)
        for _ in range(3):
            work.service.orders.take(latte)
        while work.service.lanes[1].work.guide.step is not Step.PULL:
            work.service.tap(1, guides.Forward)
        work.service.tap(1, guides.Forward)
        work.frames(100)
        work.service.orders.take(latte)
        assert "The clock is not set" in work.kiosk.root.room("station").trouble
        work._day = datetime(2026, 3, 14, 8, tzinfo=UTC)        # put right in mid-pull
        work.frames(100)
        assert work.kiosk.root.room("station").trouble == "" and "Late" not in work.kiosk.root.room("station").waiting
        assert work.book.days() == ("2026-03-14",)              # filed under 1969-12-31 before, with no word
    with AtWork(tmp_path / "book", scale=False, start_s=work.t_s, day=work.wall()) as again:
        assert again.service.lanes[1].work.guide.pulling and len(again.service.line.waiting) == 3
        for _ in range(4):
            while again.service.lanes[1].work is not None:
                again.service.tap(1, guides.Forward)
                again.frames(20)
        served = [pull for day in again.book.days() for pull in again.book.day(day).of(Pull)]
        assert len({pull.id for pull in served}) == len(served) == 4 and again.service.line.waiting == []


def test_scene_57_a_frozen_frame_feeds_no_watchdog_and_the_pull_is_taken_up_after_the_restart(tmp_path, monkeypatch):
    path = str(tmp_path / "notify")
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
        manager.bind(path)
        manager.settimeout(1)
        monkeypatch.setenv("NOTIFY_SOCKET", path)
        monkeypatch.setenv("WATCHDOG_USEC", "20000")            # fed every hundredth of a second here
        with AtWork(tmp_path / "book", scale=False, settings={"groups": 1}) as work:
            work.service.orders.take(((work.service.setup.drink("Latte"), 1),))
            while work.service.lanes[1].work.guide.step is not Step.PULL:
                work.service.tap(1, guides.Forward)
            work.service.tap(1, guides.Forward)
            work.frames(100)
            assert manager.recv(64) == b"READY=1" and manager.recv(64) == b"WATCHDOG=1"
            manager.setblocking(False)
            _drained(manager)
            time.sleep(0.1)                                     # the drawing loop hangs
            assert _drained(manager) == 0
    with AtWork(tmp_path / "book", scale=False) as again:       # ended and started again
        assert again.service.lanes[1].work.guide.pulling


def _drained(manager) -> int:
    count = 0
    while True:
        try:
            manager.recv(64)
        except BlockingIOError:
            return count
        count += 1


def test_scene_58_going_back_over_a_newer_book_opens_the_old_one_and_keeps_the_newer(tmp_path, capsys):
    made, wheel = Made(tmp_path / "machine"), tmp_path / "evenpull-9-py3-none-any.whl"
    wheel.write_text("")
    old = set_up(made)

    def states(second):                             # the new program has written its own kind of book, and dies
        about = snapshot.get(made.machine.book / "book.json")
        snapshot.put(Disk(), made.machine.book / "book.json", about | {"version": 99})
        return False, 0
    made.states = states
    assert told(made, "update", wheel) == 1
    assert made.machine.link.resolve() == old
    with Book.open(made.machine.book, read_only=True) as book:
        assert book.settings["bar"] == "The Tin Lantern"
    (newer,) = made.machine.book.parent.glob("book.newer-*")
    assert snapshot.get(newer / "book.json")["version"] == 99 and str(newer) in capsys.readouterr().err


def test_scene_59_a_stick_that_was_put_in_is_found_with_yesterdays_backup_and_a_stray_file(tmp_path, monkeypatch):
    stick = tmp_path / "stick"
    stick.mkdir()
    monkeypatch.setattr(backups, "STICK", stick)
    monkeypatch.setattr(type(stick), "is_mount", lambda path: path == stick and mounted[0])
    mounted = [False]
    with AtWork(tmp_path / "book", scale=False, settings={"groups": 1}) as work:
        work.service.set_setting(("bar",), "The Tin Lantern")
        backed_up(work)
        assert work.service.backing.overdue is None
        work.t_s += 8 * 24 * 3600                       # a week without, told before the first pull
        backed_up(work)
        work.service.publish()
        assert "No backup for 8 days" in work.kiosk.root.room("station").trouble
        mounted[0] = True
        work.t_s += 60
        backed_up(work)
        (stick / "holiday.zip").write_text("a stray file")
        assert work.service.backing.overdue is None
        work.t_s += 24 * 3600
        backed_up(work)
        mine = [path for path in stick.glob("evenpull-*.zip") if prove(path).station == work.book.station]
        assert len(mine) == 2 and (stick / "holiday.zip").read_text() == "a stray file"
        mounted[0] = False
        work.t_s += 7 * 24 * 3600
        backed_up(work)
        assert "No backup for 7 days" in work.service.backing.overdue


def test_scene_60_ten_stations_cloned_from_one_setup_file_have_ten_identities_and_the_same_setup(tmp_path):
    first = a_first_station(tmp_path / "first")
    assert command("setup", "export", tmp_path / "setup.json", "--book", first) == 0
    text = (tmp_path / "setup.json").read_text()
    with Book.open(first, read_only=True) as book:
        assert book.station not in text and "secret" not in text and "Ada" not in text
        setup, _ = read(book.settings)
    names = set()
    for n in range(10):
        assert command("setup", "import", tmp_path / "setup.json", "--book", tmp_path / str(n)) == 0
        with Book.open(tmp_path / str(n), read_only=True) as book:
            names.add(book.station)
            made, complaints = read(book.settings)
            assert complaints == () and made.grinders == setup.grinders and made.menu == setup.menu and made.bar == setup.bar
    assert len(names) == 10
    assert command("setup", "export", tmp_path / "staff.json", "--staff", "--book", first) == 0
    assert "Ada" in (tmp_path / "staff.json").read_text()
