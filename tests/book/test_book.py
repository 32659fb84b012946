"""The book through its door: what is kept is there, in order, after any restart."""

import shutil
from datetime import date

import pytest
from tinydb import where

from kiosk.bar.model import Corrected, Pull
from kiosk.book import Book, BookBusy, NeverEdited
from kiosk.book.disk import Disk
from tests.bench.book import EVENTS_A_PULL, PULLS_A_DAY, fill
from tests.support.bar_of_the_book import WallClock, a_pull, pulled
from tests.support.failing_disk import Unwaited


@pytest.fixture
def clock():
    return WallClock()


@pytest.fixture
def book(tmp_path, clock):
    with Book.open(tmp_path / "book", now=clock) as book:
        yield book


def test_a_pull_kept_is_the_same_pull_after_a_restart(tmp_path, clock):
    with Book.open(tmp_path / "book", now=clock) as book:
        kept = pulled(book, 3)
    with Book.open(tmp_path / "book", now=clock) as again:
        assert list(again.today().of(Pull)) == kept
        assert again.find(kept[1].id) == kept[1]
        assert again.notices == () and again.trouble is None


def test_a_day_that_was_asked_for_stays_as_it_was_while_the_book_grows(book):
    first, = pulled(book, 1)
    morning = book.today()
    later, = pulled(book, 1)
    noon = book.today()
    assert later.id in noon and first.id in noon and noon.find(later.id) == later       # looked for in the later one first
    assert later.id not in morning and morning.find(later.id) is None and morning.find(first.id) == first
    assert morning.ids == (first.id, first.id) and len(morning) == 1


def test_tinydb_queries_read_the_day_and_its_inserts_are_kept(book, tmp_path, clock):
    pulled(book, 2)
    pulled(book, 1, dose_g=18.4)
    over = book.table().search((where("kind") == "Pull") & (where("dose_g") > 17))
    assert [each["dose_g"] for each in over] == [18.4]
    number = book.table().insert({"kind": "Noted", "id": "by-hand", "at": book.at(), "what": "beans", "facts": {}})
    assert book.table().get(doc_id=number)["what"] == "beans"
    with Book.open(tmp_path / "book", now=clock, read_only=True) as reader:
        assert reader.find("by-hand").what == "beans"


def test_tinydb_cannot_change_or_remove_what_happened(book):
    pulled(book, 2)
    table = book.table()
    for change in (lambda: table.update({"dose_g": 1}, where("kind") == "Pull"), lambda: table.remove(doc_ids=[1]),
                   lambda: table.update({"dose_g": 1}, doc_ids=[1]), lambda: table.remove(where("kind") == "Pull"),
                   table.truncate):
        with pytest.raises(NeverEdited):
            change()
    assert [pull.dose_g for pull in book.today().of(Pull)] == [16.1, 16.1]


def test_a_pull_costs_the_same_few_bytes_and_one_sync_however_long_the_day(tmp_path, clock):
    class Counting(Disk):
        bytes, syncs, replaced = 0, 0, 0

        def write(self, file, data):
            self.bytes += len(data)
            super().write(file, data)

        def sync(self, file):
            self.syncs += 1

        def replace(self, path, data, *, durable=True):
            self.replaced += 1
            super().replace(path, data, durable=durable)

    disk, costs = Counting(), []
    with Book.open(tmp_path / "long", now=clock, disk=disk) as book:
        for before in (10, 2000):
            book.keep_all(a_pull(book) for _ in range(before - len(book.today())))
            cost = disk.bytes, disk.syncs, disk.replaced
            pulled(book)
            costs.append([now - then for now, then in zip((disk.bytes, disk.syncs, disk.replaced), cost)])
    (early, *rest), (late, *rest_late) = costs
    assert rest == rest_late == [1, 0]
    assert early <= late <= early + 4   # the number of the line has more digits


def test_the_year_that_the_bench_opens_is_a_sound_book(tmp_path):
    fill(tmp_path / "years", date(2026, 3, 1), days=4)
    with Book.open(tmp_path / "years", now=WallClock(), disk=Unwaited()) as book:
        assert [day.pulls for day in book.sums("", "9999-12-31")] == [PULLS_A_DAY] * 4
        assert all("clock" in notice for notice in book.notices)      # the bench's own runs ahead of this one
        assert len(book.today()) == PULLS_A_DAY * (1 + EVENTS_A_PULL)


def test_a_second_kiosk_on_the_same_book_is_refused_and_a_report_is_not(book, tmp_path, clock):
    pulled(book, 2)
    with pytest.raises(BookBusy, match="already open"):
        Book.open(tmp_path / "book", now=clock)
    with Book.open(tmp_path / "book", now=clock, read_only=True) as report:
        assert len(report.today().of(Pull)) == 2
        pulled(book)
        assert len(report.today().of(Pull)) == 3


def test_a_correction_is_read_in_place_of_what_was_wrong_and_the_old_record_stays(book):
    right, wrong, never = pulled(book, 3)
    book.keep(Corrected(id=book.new_id(), at=book.at(), of=wrong.id, changes={"dose_g": 17.0}))
    book.keep(Corrected(id=book.new_id(), at=book.at(), of=never.id, changes={}, void=True))
    assert [pull.dose_g for pull in book.today().of(Pull)] == [16.1, 17.0]
    assert book.today().raw[:3] == (right, wrong, never)
    assert book.find(never.id) is None


def test_settings_and_what_was_remembered_survive_a_restart(tmp_path, clock):
    with Book.open(tmp_path / "book", now=clock) as book:
        book.set_setting("grinders.left.name", "Left")
        changed = book.set_setting("grinders.left.name", "By the door", by="Ada")
        book.remember("left-house", {"mean_s": 25.1})
    assert (changed.before, changed.after) == ("Left", "By the door")
    with Book.open(tmp_path / "book", now=clock) as again:
        assert again.settings == {"grinders": {"left": {"name": "By the door"}}}
        assert again.memory("left-house") == {"mean_s": 25.1}
        assert again.memory("never") is None
        assert a_pull(again).id > changed.id


def test_a_book_and_its_older_copy_give_no_id_twice(tmp_path, clock):
    """A backup put back is opened as often as the one that it replaces: only the letters keep their ids apart."""
    with Book.open(tmp_path / "book", now=clock) as book:
        pulled(book, 1)
    copies = [shutil.copytree(tmp_path / "book", tmp_path / f"copy-{n}") for n in range(12)]
    given = []
    for folder in copies:
        with Book.open(folder, now=clock) as copy:
            given.append({copy.new_id() for _ in range(30)})
    openings = {one.partition("-")[0] for ids in given for one in ids}
    assert len(openings) == 1 and len(set.union(*given)) == 12 * 30
