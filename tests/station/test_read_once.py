"""What the rooms ask of the day while a finger is on the glass is read once, and anew as soon as something was kept since."""

import pytest

from kiosk.bar.model import TASTED_AT_OPENING, Grinder, Noted, Pull, Setup, usual
from kiosk.book import Book
from kiosk.book.daybook import DayRecords
from kiosk.station.dialling import Dialling
from kiosk.station.tasks import Tasks


@pytest.fixture
def book(tmp_path):
    with Book.open(tmp_path / "book") as book:
        yield book


@pytest.fixture
def read(monkeypatch):
    """What kinds of record the day was read for."""
    found, of = [], DayRecords.of
    monkeypatch.setattr(DayRecords, "of", lambda day, kind, traces=True: found.append(kind) or of(day, kind, traces))
    return found


def test_the_list_is_read_once_a_touch_and_anew_for_each_step_that_is_told(book, read):
    tasks = Tasks(book, book.at, Setup, lambda: None, lambda: None)
    task, other = Setup().opening[:2]
    for _ in range(3):
        assert tasks.ticked("opening") == {} == tasks.ticked("opening")
    assert read == [Noted]
    tasks.done("opening", task)
    assert list(tasks.ticked("opening")) == [task.name] == list(tasks.ticked("opening"))
    tasks.take_back("opening", task)
    tasks.skip("opening", other, "No time")
    assert list(tasks.ticked("opening")) == [other.name] and tasks.ticked("closing") == {}
    assert len(read) == 4                               # a time each for what was told, and for the other list


def test_the_tasting_shots_are_read_once_a_drawing_and_anew_for_each_shot_and_taste(book, read):
    dialling, left, right = Dialling(book, book.at, lambda: None, lambda: None), Grinder(name="Left"), Grinder(name="Right")
    for _ in range(3):
        assert dialling.told(left) == ((), None)
    assert read == [Noted, Pull]
    shot = Pull(id=book.new_id(), at=book.at(), grinder="Left", coffee="House", setting=20, recipe=usual("House", "double"),
                time_s=25.0, sink=TASTED_AT_OPENING)
    book.keep(shot)
    assert dialling.told(left) == (((shot, None),), None) and dialling.told(right) == ((), None)
    book.keep(Noted(id=book.new_id(), at=book.at(), what="tasted", facts={"pull_id": shot.id, "taste": "sour"}))
    assert dialling.told(left) == (((shot, "sour"),), None)
    dialling.accept(left)
    shots, accepted = dialling.told(left)
    assert shots == () and accepted.facts["shots"] == [shot.id] and accepted.facts["tastes"] == ["sour"]
