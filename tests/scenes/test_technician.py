"""What a technician would be called for, on the real screens: a card that is slow or hangs, a clock that jumps."""

import time

from kiosk.bar.guide import guide as guides
from kiosk.bar.model import Pull, Step
from kiosk.book import Book
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
            work.service.take_order(((work.service.setup.menu[1], 2),))
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
