"""The morning after, on the real screens: yesterday's advice stands until it is done or put aside."""

from datetime import timedelta

import pytest

from kiosk.bar.model import NotchMoved, Noted, Pull, usual
from kiosk.book import Book
from tests.support.at_work import OPENING, AtWork


@pytest.fixture
def book_of_yesterday(tmp_path):
    """A day on which the grinder ran 4 s slow from the first pull to the last."""
    now = [OPENING - timedelta(days=1)]
    with Book.open(tmp_path / "book", now=lambda: now[0]) as book:
        for n in range(40):
            now[0] += timedelta(minutes=6)
            book.keep(Pull(id=book.new_id(), at=book.at(), grinder="Grinder 1", coffee="House", setting=20, order_id="o",
                           recipe=usual("House", "double"), dose_g=16.0, yield_g=50.0, time_s=29.0 + (n % 3) / 2))
    return tmp_path / "book"


def waiting(work) -> str:
    room = work.kiosk.root.room("station")
    for _ in range(3):
        work.service.due.again()
        work.frames(3)
        work.settle_threads()
        work.frames(3)
    return room.waiting


def test_scene_42_yesterdays_advice_is_seen_and_taken(book_of_yesterday):
    with AtWork(book_of_yesterday, scale=False, settings={"groups": 1}) as work:
        assert "Grinder 1: start one notch coarser, at 21" in waiting(work)
        work.kiosk.root.open_notch("")
        work.frames(12)
        assert "notch coarser" in work.kiosk.root.open.told.lower()      # the flag that stands says so, too
        work.finger.tap("Turned one notch")
        work.frames(3)
        assert [move.after for move in work.book.today().of(NotchMoved)] == [21]
        assert "start one notch" not in waiting(work)


def test_advice_that_is_put_aside_is_not_said_again(book_of_yesterday):
    with AtWork(book_of_yesterday, scale=False, settings={"groups": 1}) as work:
        assert "start one notch" in waiting(work)
        work.kiosk.root.open_notch("")
        work.frames(12)
        work.finger.tap("Not now")
        work.frames(3)
        assert any(note.what == "advice put aside" for note in work.book.today().of(Noted))
        assert "start one notch" not in waiting(work)
