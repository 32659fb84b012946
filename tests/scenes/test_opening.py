"""The morning after, on the real screens: yesterday's advice stands until it is done or put aside."""

import gc
import subprocess
import sys
import time
from datetime import timedelta

import pytest
from kivy.base import EventLoop
from kivy.core.window import Window

from kiosk.app import Kiosk
from kiosk.bar.guide import guide as guides
from kiosk.bar.model import NotchMoved, Noted, OrderTaken, Pull, to_json, usual
from kiosk.book import Book
from kiosk.collecting import held_back
from kiosk.screens.ui import rooms
from kiosk.station.clock import Clock
from kiosk.station.evenings import evening_of
from kiosk.station.station import Station
from tests.support.a_station import WorkingStation
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


def pulled(work, time_s: float):
    """What is on the lane, made and served."""
    lane = work.service.lanes[1]
    while not lane.work.guide.pulling:
        work.service.tap(1, guides.Forward)
    work.t_s += time_s
    work.service.tap(1, guides.Forward)
    work.service.tap(1, guides.YieldTapped, 50.0)
    while lane.work is not None:
        work.service.tap(1, guides.Forward)
    work.frames(12)


def test_scene_42_three_tasting_shots_and_the_collar_is_accepted(book_of_yesterday):
    with AtWork(book_of_yesterday, scale=False, settings={"groups": 1, "staff": {"Ines": {}}}) as work:
        work.service.choose("Ines")
        assert "start one notch" in waiting(work)
        work.tap("Notch", "Dial in")
        room = work.kiosk.root.open
        assert "start one notch coarser, at 21" in room.start and "of the recipe" in room.start      # where, and why
        work.tap("Notch", "Turned one notch", "Notch", "Dial in")
        assert "stands at 21" in room.start
        for n, (time_s, word) in enumerate(((33.0, "Bitter"), (28.0, "Sour"), (25.0, "Right"))):
            work.tap("Tasting shot" if n == 0 else "Another shot")
            assert work.service.lanes[1].work.planned.title == "Tasting shot"
            if n == 1:                                              # the plug was pulled in the middle of one
                work.close()
                work = AtWork(book_of_yesterday, scale=False, start_s=work.t_s).__enter__()
                assert work.service.lanes[1].work.planned.title == "Tasting shot"
            pulled(work, time_s)
            work.tap("Notch", "Dial in", "Taste", word, "Back")
        room = work.kiosk.root.open
        assert room.shots.count("\n") == 2 and room.enough and work.finger.find("Another shot") is None
        work.tap("Accept")
        assert room.advice.startswith("Accepted at ") and room.shots == ""
        shots = work.book.today().of(Pull)
        assert [(pull.sink, pull.order_id) for pull in shots] == [("tasted at opening", None)] * 3
        done = work.book.today().of(Noted)[-1]
        assert done.what == "dialled in" and done.facts["setting"] == 21 and done.facts["tastes"] == ["bitter", "sour", "right"]
        figures = evening_of(work.book, work.service.setup, work.book.day_now()).summary.figures
        assert figures.waste_g("sink") == 0 and figures.waste_g("tasted") == 48.0              # three doses of 16 g, apart
        work.close()


def test_the_second_grinder_of_a_coffee_is_dialled_in_by_shots_of_its_own_and_a_cut_mixes_nothing_up(tmp_path):
    grinders = {"Left": {"coffee": "House", "setting": 20}, "Right": {"coffee": "House", "setting": 31}}
    with AtWork(tmp_path, scale=False, settings={"groups": 1, "grinders": grinders}) as work:
        work.tap("Notch", "Dial in", "Next grinder", "Tasting shot")
        work.close()
        work = AtWork(tmp_path, scale=False, start_s=work.t_s).__enter__()
        made = work.service.lanes[1].work
        assert (made.grinder, made.setting) == ("Right", 31)
        pulled(work, 25.0)
        shot, = work.book.today().of(Pull)
        left, right = work.service.setup.grinders
        assert (shot.grinder, shot.setting, shot.sink) == ("Right", 31, "tasted at opening")
        assert [pull.id for pull, _taste in work.service.dialling.told(right)[0]] == [shot.id] and work.service.dialling.told(left) == ((), None)
        work.close()


def test_a_tasting_shot_follows_its_grinder_when_setup_gives_that_another_coffee_or_takes_it_away(tmp_path):
    work = WorkingStation(tmp_path)
    work.service.set_setting(("groups",), 1)
    work.service.set_setting(("grinders",), {"Left": {"coffee": "House"}, "Right": {"coffee": "House"}})
    left, right = work.service.setup.grinders
    work.service.orders.tasting_shot(right)                                    # on the lane
    work.service.orders.tasting_shot(right)                                    # waits
    work.service.set_setting(("grinders", "Right", "coffee"), "Guest")
    made = work.service.lanes[1].work
    assert (made.grinder, made.guide.recipe.coffee) == ("Right", "Guest")
    assert (work.service.orders.tasting_shots_due(right), work.service.orders.tasting_shots_due(left)) == (2, 0)
    work.service.set_setting(("grinders", "Right"), None)
    made = work.service.lanes[1].work
    assert (made.grinder, made.guide.recipe.coffee) == ("Left", "House")
    work.restart()
    work.serve(1)
    work.serve(1)
    assert [(pull.grinder, pull.sink) for pull in work.book.today().of(Pull)] == [("Left", "tasted at opening")] * 2
    work.book.close()


def test_a_tasting_shot_of_an_earlier_versions_book_is_taken_up_as_it_was(tmp_path):
    work = WorkingStation(tmp_path)
    order = OrderTaken(id=work.book.new_id(), at=work.book.at(), coffee="House", drinks=(), pulls=(("House", "double", ()),),
                       label="Tasting shot")
    work.book.table().insert({name: value for name, value in to_json(order).items() if name != "grinder"})
    made = work.restart().lanes[1].work
    assert (made.planned.title, made.grinder) == ("Tasting shot", "Grinder 1")
    work.book.close()


def test_shots_that_wait_count_among_the_three_and_the_way_to_them_is_the_strong_key(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 1}) as work:
        work.tap("Notch", "Dial in", "Tasting shot", "Notch", "Dial in")
        room = work.kiosk.root.open
        assert room.advice.startswith("A tasting shot waits") and work.finger.find("Back").kind == "next"
        work.tap("Tasting shot", "Notch", "Dial in", "Tasting shot", "Notch", "Dial in")
        assert room.enough and work.service.orders.tasting_shots_due(work.service.setup.grinders[0]) == 3
        assert work.finger.find("Tasting shot") is None                 # a touch more takes no fourth
        pulled(work, 25.0)
        work.tap("Notch", "Dial in")
        assert room.enough and work.finger.find("Taste").kind == "next"


def test_a_tasting_shot_that_was_a_slip_is_undone_and_tells_nothing_of_a_hire(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 1, "staff": {"Tomo": {"new": True}}}) as work:
        work.service.choose("Tomo")
        work.service.orders.tasting_shot(work.service.setup.grinders[0])
        pulled(work, 25.0)
        assert work.service.teaching.steadiness("Tomo").pulls == 0 and len(work.book.today().of(Pull)) == 1
        work.service.tap(1, guides.Undo)
        assert work.service.lanes[1].work.planned.title == "Tasting shot" and work.book.today().of(Pull) == ()
        work.service.tap(1, guides.Forward)
        assert [pull.sink for pull in work.book.today().of(Pull)] == ["tasted at opening"]
        assert work.service.lanes[1].work is None and not work.service.line.taken_orders       # nothing is owed to anybody


def test_advice_that_is_put_aside_is_not_said_again(book_of_yesterday):
    with AtWork(book_of_yesterday, scale=False, settings={"groups": 1}) as work:
        assert "start one notch" in waiting(work)
        work.kiosk.root.open_notch("")
        work.frames(12)
        work.finger.tap("Not now")
        work.frames(3)
        assert any(note.what == "advice put aside" for note in work.book.today().of(Noted))
        assert "start one notch" not in waiting(work)


def test_the_first_screen_is_drawn_before_a_port_is_opened_or_anything_is_looked_up(tmp_path, monkeypatch):
    seen = []
    with Book.open(tmp_path / "book") as book:
        service = Station.open(book, Clock())
        monkeypatch.setattr(service.signals, "set_up", lambda _wanted: seen.append("a port"))
        monkeypatch.setattr(service, "tick", lambda: seen.append("a tick"))
        kiosk = Kiosk(service)
        draws = lambda *_: seen.append("drawn")         # noqa: E731
        EventLoop.ensure_window()
        if EventLoop.status != "started":
            EventLoop.start()
        root = kiosk.build()
        Window.add_widget(root)
        Window.bind(on_draw=draws)
        try:
            until = time.monotonic() + 5
            while "a tick" not in seen and time.monotonic() < until:
                EventLoop.idle()
            assert kiosk._mending.is_triggered      # a disk in trouble is tried again, a backup is made
        finally:
            Window.unbind(on_draw=draws)
            Window.remove_widget(root)
            kiosk.on_stop()
    assert seen[:2] == ["drawn", "a port"] and "a tick" in seen


def test_a_station_opens_without_what_reads_ports():
    found = "[each for each in sys.modules if each.split('.')[0] in ('hardware', 'serial')]"
    told = subprocess.run([sys.executable, "-c", f"import sys, kiosk.station.station; print({found})"], capture_output=True, text=True)
    assert told.stdout.strip() == "[]", told.stderr


def test_the_search_for_waste_goes_on_once_the_kiosk_is_open_or_was_not_opened_after_all(tmp_path, monkeypatch):
    monkeypatch.setattr(rooms, "FURNISH_FROM_S", 0.0)
    for opened in (True, False):
        gc.disable()
        with AtWork(tmp_path / str(opened), scale=False) as work:
            gc.disable()
            until = time.monotonic() + 5
            while opened and not gc.isenabled() and time.monotonic() < until:
                work.kiosk.root._begins()
                EventLoop.idle()
            assert gc.isenabled() is opened
        assert gc.isenabled()
    with pytest.raises(ImportError), held_back():
        raise ImportError
    assert gc.isenabled()
