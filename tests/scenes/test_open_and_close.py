"""Opening, closing and cleaner, on the real screens; a new bar's first day."""

from datetime import timedelta

import pytest

from kiosk.bar.guide import guide as guides
from kiosk.bar.model import Noted, Pull, Step
from kiosk.bar.model.setup import CLEANING
from tests.support.at_work import OPENING, AtWork


def card(work, group=1):
    return work.kiosk.root.room("station").card(group)


@pytest.fixture
def work(tmp_path):
    with AtWork(tmp_path / "book", scale=False, settings={"groups": 1}) as at_work:
        yield at_work


def test_scene_67_after_cleaner_no_pull_is_planned_until_ten_rinses_and_a_shot_poured_away(work, tmp_path):
    for _ in range(2):
        work.service.next_state(1)
    assert work.service.setup.closed == {1: CLEANING}
    work.frames(12)
    work.tap("Cleaner used")
    work.service.next_state(1)
    work.service.set_setting(("closed", "1"), None)         # opened by mistake: cleaner is still in it
    work.service.take_order(((work.service.setup.drink("Espresso"), 1),))
    work.frames(12)
    assert work.service.lanes[1].work is None and "rinse 1 of 10" in card(work).big and "gloves" in card(work).told
    for _ in range(4):
        work.tap("Rinsed")
    work.close()
    with AtWork(tmp_path / "book", scale=False) as again:   # the plug was pulled: nothing is forgotten
        again.frames(12)
        assert again.service.lanes[1].work is None and "rinse 5 of 10" in card(again).big
        for _ in range(6):
            again.tap("Rinsed")
        assert again.service.lanes[1].work is None and "pour it away" in card(again).big
        again.tap("Poured away")
        assert again.service.lanes[1].work.planned.title == "Espresso"


def test_scene_43_a_closing_left_half_done_is_asked_about_next_morning(work, tmp_path):
    work.tap("More", "Closing", "Backflush with water", "Skip", "Empty and wipe the hopper", "No time")
    assert "Hot" not in work.kiosk.root.open.title
    notes = {note.facts["task"]: note for note in work.book.today().of(Noted)}
    assert notes["Empty and wipe the hopper"].facts["why"] == "No time"
    work.tap("Milk fridge", "Steam wand")                  # another one while a number is read: that one is done
    assert not work.kiosk.root.open.reading
    work.tap("Milk fridge", "+", "+", "+")
    assert "outside" in work.kiosk.root.open.told
    work.tap("Save")
    assert next(note for note in work.book.today().of(Noted) if note.facts["task"] == "Milk fridge").facts["value"] == 5.5
    work.close()
    with AtWork(tmp_path / "book", scale=False, day=OPENING + timedelta(days=1)) as morning:
        station = morning.kiosk.root.room("station")
        morning.settle_threads()
        morning.frames(8)
        assert "Left at closing: Shower screens" in station.waiting


def test_scene_68_a_cold_machine_is_said_at_opening(work):
    work.tap("More", "Opening", "Machine temperature")
    for _ in range(6):
        work.finger.tap("–")
    work.frames(12)
    room = work.kiosk.root.open
    assert room.value == 90.0 and "outside" in room.told and "90.5–96.1" in room.told        # SCA, definition of espresso
    work.tap("Save")
    note, = work.book.today().of(Noted)
    assert note.facts == {"list": "opening", "task": "Machine temperature", "value": 90.0, "unit": "°C"}
    work.tap("Back")
    work.service.next_state(1)                              # heating: nothing is planned there
    work.service.take_order(((work.service.setup.drink("Espresso"), 1),))
    assert work.service.lanes[1].work is None


def test_scene_69_a_choked_basket_that_does_not_vent_stays_locked_in_and_a_technician_is_called(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 1, "staff": {"Tomo": {"new": True}}}) as work:
        work.service.choose("Tomo")
        work.service.take_order(((work.service.setup.drink("Double espresso"), 1),))
        lane = work.service.lanes[1]
        while lane.work.guide.step is not Step.PULL:
            work.service.tap(1, guides.Forward)
        work.service.tap(1, guides.Forward)
        work.frames(20 * 41)
        work.service.tap(1, guides.Forward)
        work.service.tap(1, guides.YieldTapped, 1.0)
        said = work.service.trouble(1)
        assert said.bin and "leave it locked in" in said.now.lower() and "technician" in said.now


def test_scene_41_a_new_bars_first_double_is_served_within_two_minutes_of_first_light(tmp_path):
    with AtWork(tmp_path, scale=False) as work:
        began_s = work.t_s
        work.tap("Order", "Double espresso", "Start")
        work.play(work.hand.pull(1))
        assert work.t_s - began_s < 120 and len(work.book.today().of(Pull)) == 1


def test_a_card_for_burns_is_one_touch_from_the_drawer(work):
    work.tap("More", "Burnt?")
    assert work.kiosk.root.current == "burn"
