"""Backups are one file, are read again before they are believed, and replace nothing they cannot."""

import os
import zipfile
from datetime import timedelta

import pytest

from kiosk.bar.model import Pull
from kiosk.book import Book, BookBusy
from kiosk.book import backup as backups
from kiosk.book.backup import BackupFailed, back_up, back_up_when_due, prove, restore
from kiosk.book.disk import Disk
from tests.support.bar_of_the_book import MORNING, WallClock, pulled
from tests.support.failing_disk import Refusing


@pytest.fixture
def clock():
    return WallClock()


@pytest.fixture
def folder(tmp_path, clock):
    with Book.open(tmp_path / "book", now=clock) as book:
        pulled(book, 5)
        clock.pass_by(days=1)
        pulled(book, 3, dose_g=15.9)
        book.set_setting("grinders.left.name", "By the door")
    return tmp_path / "book"


def everything(folder, clock):
    with Book.open(folder, now=clock, read_only=True) as book:
        return [book.day(day).raw for day in book.days()], book.settings


def test_a_backup_taken_while_the_bar_serves_restores_to_the_same_book(folder, tmp_path, clock):
    before = everything(folder, clock)
    with Book.open(folder, now=clock):
        made = back_up(folder, tmp_path / "stick", MORNING)
    with Book.open(folder, now=clock) as book:
        pulled(book, 2)
    contents, old = restore(made, folder, MORNING)
    assert (contents.records, contents.days) == (9, 2)
    assert everything(folder, clock) == before
    with Book.open(old, now=clock, read_only=True) as was:
        assert len(was.today().of(Pull)) == 5
    with Book.open(folder, now=clock) as book:
        assert pulled(book)[0] in book.today().of(Pull) and book.notices == ()


def test_what_is_the_machines_own_is_in_no_backup_and_stays_with_it_when_a_book_is_restored(folder, tmp_path):
    made = back_up(folder, tmp_path / "stick", MORNING)
    (folder / "pin.json").write_text("a PIN set since")
    (folder / "feeds").mkdir()
    (folder / "feeds" / "1.feed").write_text("a pull as the scale told it")
    with zipfile.ZipFile(back_up(folder, tmp_path / "other", MORNING)) as archive:
        assert {name.split("/")[0] for name in archive.namelist()} <= {"manifest.json", "book.json", "settings.json",
                                                                       "settings.before.json", "days", "sums", "memory"}
    restore(made, folder, MORNING)
    assert (folder / "pin.json").read_text() == "a PIN set since"
    assert (folder / "feeds" / "1.feed").read_text() == "a pull as the scale told it"


def test_a_restore_given_twice_within_a_second_is_done_twice_and_both_old_books_stay(folder, tmp_path, clock):
    made = back_up(folder, tmp_path / "stick", MORNING)
    (folder / "feeds").mkdir()
    _, first = restore(made, folder, MORNING)
    _, second = restore(made, folder, MORNING)
    assert first != second and first.is_dir() and second.is_dir() and first.name < second.name
    assert (folder / "feeds").is_dir()


def test_a_backup_restores_to_a_new_machine(folder, tmp_path, clock):
    made = back_up(folder, tmp_path / "stick", MORNING)
    _, old = restore(made, tmp_path / "new" / "book", MORNING)
    assert old is None
    assert everything(tmp_path / "new" / "book", clock) == everything(folder, clock)


def test_a_book_in_use_is_not_replaced(folder, tmp_path, clock):
    made = back_up(folder, tmp_path / "stick", MORNING)
    with Book.open(folder, now=clock), pytest.raises(BookBusy):
        restore(made, folder, MORNING)
    assert everything(folder, clock)[1]


@pytest.mark.parametrize("part", [0.0, 0.2, 0.5, 0.9, 0.999])
def test_a_damaged_backup_replaces_nothing(folder, tmp_path, clock, part):
    made = back_up(folder, tmp_path / "stick", MORNING)
    before = everything(folder, clock)
    data = bytearray(made.read_bytes())
    del data[int(len(data) * part):]
    made.write_bytes(data)
    with pytest.raises(BackupFailed, match="Take another"):
        restore(made, folder, MORNING)
    assert everything(folder, clock) == before


def test_a_changed_bit_anywhere_in_a_day_of_a_backup_is_found(folder, tmp_path):
    made = back_up(folder, tmp_path / "stick", MORNING)
    with zipfile.ZipFile(made) as archive:
        held = {name: archive.read(name) for name in archive.namelist()}
    held["days/2026-03-02.log"] = held["days/2026-03-02.log"].replace(b"16.1", b"16.9", 1)
    with zipfile.ZipFile(made, "w") as archive:
        for name, data in held.items():
            archive.writestr(name, data)
    with pytest.raises(BackupFailed, match="not as it was written"):
        prove(made)


def test_a_backup_cannot_write_outside_the_book(folder, tmp_path):
    made = back_up(folder, tmp_path / "stick", MORNING)
    with zipfile.ZipFile(made, "a") as archive:
        archive.writestr("days/../../outside", "x")
    with pytest.raises(BackupFailed):
        restore(made, folder, MORNING)
    assert not (tmp_path / "outside").exists()


def test_a_stick_that_is_full_gets_no_half_backup(folder, tmp_path):
    class Full(Refusing):
        def sync(self, file):
            raise OSError(28, "No space left on device")

    with pytest.raises(BackupFailed, match="Free some space"):
        back_up(folder, tmp_path / "stick", MORNING, disk=Full())
    assert list((tmp_path / "stick").iterdir()) == []


def test_a_stick_that_gives_back_other_bytes_than_it_took_gets_no_backup(folder, tmp_path):
    class Lying(Disk):
        def sync(self, file):
            os.pwrite(file, b"\0\0\0\0", 300)
            super().sync(file)

    with pytest.raises(BackupFailed, match="damaged"):
        back_up(folder, tmp_path / "stick", MORNING, disk=Lying())
    assert list((tmp_path / "stick").iterdir()) == []


def test_a_line_that_is_being_written_while_the_backup_is_made_is_left_out_whole(folder, tmp_path, clock):
    before = everything(folder, clock)
    with open(folder / "days" / "2026-03-03.log", "ab") as file:
        file.write(b"0badc0de 5 Pull {")
    restore(back_up(folder, tmp_path / "stick", MORNING), tmp_path / "new", MORNING)
    with Book.open(tmp_path / "new", now=clock) as book:
        assert book.notices == ()
    assert everything(tmp_path / "new", clock) == before


def test_backups_come_once_a_day_and_the_oldest_go(folder, tmp_path):
    stick = tmp_path / "stick"
    made = [back_up_when_due(folder, stick, MORNING + timedelta(hours=8 * n), keep=3) for n in range(16)]
    assert [n for n, path in enumerate(made) if path] == [0, 3, 6, 9, 12, 15]
    assert sorted(stick.iterdir()) == [made[9], made[12], made[15]]
    assert back_up_when_due(folder, stick, MORNING - timedelta(days=300), keep=3) is not None


@pytest.mark.parametrize("ahead", [timedelta(minutes=59), timedelta(days=2), timedelta(days=2000)])
def test_a_clock_that_is_set_back_asks_for_one_backup_at_the_most_and_sweeps_no_older_ones_away(folder, tmp_path, ahead):
    """The hour that comes twice in autumn, a zone put right, a year that was wrong: the kiosk asks each minute."""
    stick = tmp_path / "stick"
    before = {back_up(folder, stick, MORNING + each) for each in (*(timedelta(days=-n) for n in range(1, 6)), ahead)}
    asked = [back_up_when_due(folder, stick, MORNING + timedelta(minutes=n), keep=8) for n in range(40)]
    assert len([path for path in asked if path]) <= 1 and before <= set(stick.iterdir())


def test_a_stray_file_or_folder_in_the_book_stops_no_backup(tmp_path, clock):
    with Book.open(tmp_path / "book", now=clock) as book:
        pulled(book, 2)
        day = next((tmp_path / "book" / "days").glob("*.log"))
        (day.parent / f"{day.stem} (1).log").write_bytes(day.read_bytes())
        (day.parent / "2026-13-99.log").write_bytes(day.read_bytes())
        assert book.days() == (day.stem,)           # no day of any month: whoever counts its week would come to grief
        (tmp_path / "book" / "aside" / "a folder").mkdir(parents=True)
        done = back_up(tmp_path / "book", tmp_path / "stick", clock())
        assert prove(done).records == 2


def test_a_restore_cut_between_its_two_renames_is_completed_at_the_next_start(folder, tmp_path, clock, monkeypatch):
    with Book.open(folder, now=clock):
        (folder / "pin.json").write_text("the machine's own")
        saved = back_up(folder, tmp_path / "stick", MORNING)
    real, calls = os.replace, []

    def cut(a, b):
        calls.append(b)
        if len(calls) > 1 and str(b) == str(folder):
            raise KeyboardInterrupt
        return real(a, b)

    monkeypatch.setattr(backups.os, "replace", cut)
    monkeypatch.setattr(backups.shutil, "rmtree", lambda *_, **__: None)     # the power goes: nothing tidies up
    with pytest.raises(KeyboardInterrupt):
        restore(saved, folder, MORNING)
    monkeypatch.undo()
    assert not folder.exists()
    with Book.open(folder, now=clock) as again:
        assert len(again.today().of(Pull)) == 3
        assert (folder / "pin.json").read_text() == "the machine's own"


def test_a_book_behind_a_link_is_restored_where_it_lies_with_what_is_the_machines_own(folder, tmp_path, clock):
    with Book.open(folder, now=clock):
        (folder / "pin.json").write_text("the machine's own")
        saved = back_up(folder, tmp_path / "stick", MORNING)
    link = tmp_path / "elsewhere" / "book"
    link.parent.mkdir()
    link.symlink_to(folder)
    restore(saved, link, MORNING)
    assert link.is_symlink() and (link / "pin.json").read_text() == "the machine's own"
