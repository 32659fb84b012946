"""A day of many pulls: what guides saw and the curves are packed in memory, and whoever asks for them has them as they were."""

import gc
import tracemalloc
from random import Random

import pytest
from tinydb import where

from kiosk.bar.model import GuideEvent, Pull
from kiosk.book import Book
from kiosk.book import days as days_of
from kiosk.book.packed import RUN
from kiosk.book.stored_record import StoredRecord
from tests.bench.book import EVENTS_A_PULL, LONG, a_curve
from tests.support.bar_of_the_book import WallClock, a_pull
from tests.support.failing_disk import Unwaited


def worked(book, pulls, seed=1):
    """So many pulls with what their guides saw; all that was kept, in turn."""
    chance, kept = Random(seed), []
    for n in range(pulls):
        key = book.new_id()
        kept += [GuideEvent(id=book.new_id(), at=book.at(), pull_id=key, event={
            "event": "Began" if m == 0 else "Forward", "t_s": 60.0 * n + m, **({"barista": "Ada"} if m == 0 else {})})
            for m in range(EVENTS_A_PULL)]
        kept.append(a_pull(book, id=f"{key}.0.1", trace=a_curve(LONG, chance)))
        book.keep_all(kept[-EVENTS_A_PULL - 1:])
    return kept


@pytest.fixture
def book(tmp_path):
    with Book.open(tmp_path / "book", now=WallClock(), disk=Unwaited()) as book:
        yield book


def test_a_long_day_reads_as_it_was_kept(book, tmp_path):
    first = worked(book, 3)
    early = book.today()
    kept = first + worked(book, 3 * RUN // EVENTS_A_PULL)
    assert len(book._days.journal(early.day).held[0]) <= len(kept) - RUN
    for reader in (book, Book.open(tmp_path / "book", now=WallClock(), read_only=True)):
        day = reader.today()
        assert list(day.raw) == list(day.all) == kept and len(day) == len(kept) and day.unread == ()
        assert list(day.of(GuideEvent)) == [each for each in kept if isinstance(each, GuideEvent)]
        assert list(day.of(Pull)) == [each for each in kept if isinstance(each, Pull)]
        assert [reader.find(each.id) for each in kept] == kept and all(each.id in day for each in kept)
        assert day.last[0].id == kept[-1].id and day.ids == (min(each.id for each in kept), max(each.id for each in kept))
        assert reader.find(f"{kept[0].id}.x") is None and "000001" not in day and "zzz" not in day
        assert day.stations == {None} and reader.is_ours(kept[0].id)
        table = reader.table()
        assert len(table) == len(kept) and table.get(where("id") == kept[5].id)["pull_id"] == kept[5].pull_id
    assert list(early.raw) == first and kept[-1].id not in early and early.find(first[0].id) == first[0]


def test_a_day_read_at_a_start_is_packed_as_it_grows(book, tmp_path):
    kept = worked(book, 3 * RUN // EVENTS_A_PULL)
    book.close()
    gone = {id(each) for each in gc.get_objects() if type(each) is StoredRecord}
    with Book.open(tmp_path / "book", now=WallClock(), disk=Unwaited()) as again:
        kept += worked(again, 2 * RUN // EVENTS_A_PULL, seed=2)
        assert len(again.today()) == len(kept)
        seen = [each for each in gc.get_objects() if type(each) is StoredRecord and id(each) not in gone and each.kind == "GuideEvent"]
        assert len(seen) <= 3 * RUN < sum(isinstance(each, GuideEvent) for each in kept)
        assert list(again.today().raw) == kept


def test_a_name_is_forgotten_in_what_is_packed_too(book, tmp_path):
    kept = worked(book, 3 * RUN // EVENTS_A_PULL)
    assert book.forget("Ada") == 2 * (3 * RUN // EVENTS_A_PULL)
    assert b"Ada" not in b"".join(path.read_bytes() for path in (tmp_path / "book" / "days").iterdir())
    again = [each.event.get("barista") for each in book.today().of(GuideEvent) if "barista" in each.event]
    assert len(book.today()) == len(kept) and len(set(again)) == 1 and again[0].startswith("someone-")


def test_a_file_that_lost_bytes_that_were_good_is_written_anew_with_what_is_packed(book, tmp_path):
    kept = worked(book, 3 * RUN // EVENTS_A_PULL)
    path, = (tmp_path / "book" / "days").iterdir()
    before = path.read_bytes()
    path.write_bytes(before[:200])
    kept += worked(book, 1, seed=2)
    assert path.read_bytes().startswith(before)
    with Book.open(tmp_path / "book", now=WallClock(), read_only=True) as reader:
        assert list(reader.today().raw) == kept and not reader.notices


def test_a_long_day_takes_less_than_its_file_in_memory_and_whoever_asks_whose_it_is_next_to_nothing(book, tmp_path):
    held, sizes = [], []
    tracemalloc.start()
    try:
        for pulls in (15, 30):
            worked(book, pulls, seed=pulls)
            assert len(book.today().of(Pull, traces=False)) == sum((15, 30)[:len(held) + 1]) and "nothing" not in book.today()
            held.append(tracemalloc.get_traced_memory()[0])
            sizes.append(sum(path.stat().st_size for path in (tmp_path / "book" / "days").iterdir()))
        tracemalloc.reset_peak()
        assert book.stations_of(book.day_now()) == {None}
        peak = tracemalloc.get_traced_memory()[1] - held[-1]
    finally:
        tracemalloc.stop()
    assert held[1] - held[0] < 0.75 * (sizes[1] - sizes[0]) and peak < 0.1 * sizes[-1]


@pytest.mark.parametrize("piece", [1, 7, 1 << 16])
def test_another_stations_record_is_found_wherever_it_lies_in_a_days_file(tmp_path, monkeypatch, piece):
    monkeypatch.setattr(days_of, "PIECE_BYTES", piece)
    with Book.open(tmp_path / "book", now=WallClock(), disk=Unwaited()) as book:
        worked(book, 1)
        book.keep_all([a_pull(book)], station="other")
        assert book.stations_of(book.day_now()) == {None, "other"}
    with Book.open(tmp_path / "book", now=WallClock(), read_only=True) as reader:
        assert reader.stations_of(reader.days()[0]) == {None, "other"}
