"""What hands in a hurry do, and what the real screens make of it."""

import pytest

from kiosk.bar.guide import guide as guides
from kiosk.bar.model import KEY, Noted, OrderEnded, Pull, PumpOnSeen, Step
from kiosk.screens.barista.station import waiting_told
from kiosk.screens.ui.look import Colour
from tests.support.at_work import FRAME_S, AtWork

SETTINGS = {"groups": 2, "staff": {"Ines": {}, "Tomo": {"new": True}}}


@pytest.fixture
def work(tmp_path):
    with AtWork(tmp_path, scale=False, settings=SETTINGS) as at_work:
        yield at_work


def menu(work, *names):
    drinks = {drink.name: drink for drink in work.service.setup.menu}
    return tuple((drinks[name], 1) for name in names)


def orders(work, *names):
    """One order a drink."""
    return [work.service.orders.take(menu(work, name)) for name in names]


def card(work, group=1):
    return work.kiosk.root.room("station").card(group)


def served(work, group=1):
    """Taps a pull to its end."""
    key = work.service.lanes[group].work.key
    while work.service.lanes[group].work is not None and work.service.lanes[group].work.key == key:
        work.service.tap(group, guides.Forward)


def room_opened_as_the_cup_is_lifted(work, open_room):
    while work.service.lanes[1].work.guide.step is not guides.Step.SERVE:
        work.service.tap(1, guides.Forward)
    open_room(1)
    work.frames(12)
    work.service.happened(1, guides.CupTaken(work.clock.s()))


def test_a_bounce_on_take_back_takes_back_one_order_and_it_can_be_made_again(work, monkeypatch):
    taken = orders(work, "Latte", "Mocha", "Cappuccino", "Espresso", "Americano")
    work.kiosk.root.go("line")
    work.frames(3)
    first = work.finger.find("Cancel")
    monkeypatch.setattr("kiosk.screens.ui.touch.monotonic", lambda: 100.0)     # however slow the machine: no time passes
    work.finger.tap("Cancel")
    work.frame()
    work.finger.touch(*first.to_window(*first.center))      # the finger comes down again where the next order is now
    work.frames(3)
    waiting = [order_id for order_id, _ in work.service.line.orders()]
    assert waiting == taken[3:]
    monkeypatch.undo()
    work.finger.tap("Put back")
    work.frames(3)
    again = work.service.line.orders()[0][1]                # where it was
    assert [each.planned.title for each in again] == ["Cappuccino"]


def test_an_order_taken_back_can_be_made_again_after_a_restart_too(tmp_path):
    with AtWork(tmp_path / "book", scale=False, settings=SETTINGS) as before:
        orders(before, "Latte", "Mocha", "Cappuccino")
        before.service.orders.cancel(before.service.line.orders()[0][0])
        drinks = [order.drinks for order in before.service.line.ended]
    with AtWork(tmp_path / "book", scale=False) as after:
        assert [order.drinks for order in after.service.line.ended] == drinks == [(("Cappuccino", 1),)]


def test_held_orders_are_not_said_to_be_next(work):
    *_, last = orders(work, "Latte", "Mocha", "Cappuccino", "Espresso")
    work.service.line.hold(last)
    assert waiting_told(work.service) == "Next: Cappuccino\nHeld: 1"


def test_a_shot_that_was_served_and_tastes_wrong_is_binned_and_not_the_next_one(work):
    orders(work, "Latte", "Mocha", "Cappuccino")
    served(work)
    assert work.service.lanes[1].work.planned.title == "Cappuccino"
    work.frames(3)
    work.finger.tap("Bin", card(work))
    work.frames(3)
    work.finger.tap("The last one: Latte")
    work.frames(3)
    work.finger.tap("Gushed")
    work.frames(3)
    binned = [pull for pull in work.book.today().of(Pull) if pull.sink]
    assert [(pull.drinks, pull.sink) for pull in binned] == [(("Latte",), "gushed")]
    assert work.service.lanes[1].work.planned.title == "Latte"         # owed again
    assert [each.planned.title for each in work.service.line.waiting] == ["Cappuccino"]


def test_a_dose_noted_by_hand_is_shown_with_what_to_take_out(work):
    orders(work, "Latte")
    work.service.tap(1, guides.Forward)
    work.service.tap(1, guides.DoseTapped, 18.0)
    work.frames(3)
    assert (card(work).big, card(work).told) == ("18.0 g", "take out 2.0 g")


def test_a_weight_that_was_not_touched_is_written_only_as_just_that_weight(work):
    orders(work, "Latte")
    work.service.tap(1, guides.Forward)
    work.kiosk.root.open_weight(1)
    work.frames(3)
    room = work.kiosk.root.open
    assert room.title == "1 · Latte: The dose weighs"
    assert work.finger.find("Exactly 16.0 g") and not work.finger.find("Save")
    work.finger.tap("+ 0.1")
    work.frames(3)
    work.finger.tap("Save")
    assert work.service.lanes[1].work.guide.dose_g == pytest.approx(16.1)


def test_everyone_on_the_staff_can_be_chosen_however_many_they_are(work):
    names = [f"Hand {n}" for n in range(14)]
    for name in names:
        assert work.service.set_setting(("staff", name), {}) == ()
    work.kiosk.root.go("who")
    seen = set()
    for _page in range(3):
        work.frames(3)
        seen |= {key.text for key in work.finger.keys()}
        work.finger.tap("More")
    assert seen >= {*names, "Ines", "Tomo", "Nobody"}


def test_a_trainer_who_takes_over_sees_the_lanes_and_the_hire_finds_the_way_back_to_the_page(work):
    work.service.choose("Tomo")
    work.kiosk.root.home()
    orders(work, "Latte")
    work.frames(3)
    assert work.kiosk.root.current == "coach"
    work.kiosk.root.go("station")
    work.frames(3)
    work.finger.tap("every step", card(work))
    assert work.kiosk.root.current == "coach"
    work.service.choose("Ines")
    work.service.tap(1, guides.Forward)
    work.kiosk.root.home()
    assert work.kiosk.root.current == "station"


def test_the_hires_page_turns_orange_when_the_pump_should_stop_and_takes_the_first_drop(work):
    work.service.choose("Tomo")
    work.kiosk.root.home()
    orders(work, "Latte")
    while not work.service.lanes[1].work.guide.pulling:
        work.service.tap(1, guides.Forward)
    work.frames(60)
    assert not work.kiosk.root.open.stop_now
    work.finger.tap("First drop")
    assert work.service.lanes[1].work.guide.drop_at_s is not None
    work.frames(600)
    assert work.kiosk.root.open.stop_now


def test_a_hire_is_told_of_the_yield_as_of_the_time(work):
    work.service.choose("Tomo")
    work.kiosk.root.home()
    orders(work, "Double espresso")
    while work.service.lanes[1].work.guide.step is not guides.Step.JUDGE:
        work.frames(20 if not work.service.lanes[1].work.guide.pulling else 520)
        work.service.tap(1, guides.Forward)
    work.service.tap(1, guides.YieldTapped, 57.3)
    work.frames(3)
    assert "Stopped late: 57.3 g in 26.0 s (45.4–55.4 g, 20–30 s)" in work.kiosk.root.open.why


def test_the_kiosk_says_when_the_scale_goes_away_in_mid_pull(tmp_path):
    heard = []
    with AtWork(tmp_path, settings={"groups": 1}) as work:
        work.service.cues.sounded.append(heard.append)
        orders(work, "Latte")
        for _ in range(5):
            work.service.tap(1, guides.Forward)
        assert work.service.lanes[1].work.guide.pulling
        work.scale.unplug()
        work.until(lambda: not work.service.scales.first.there)
        work.frames(3)
        assert card(work).warning == "The scale went away during this pull." and heard == ["flag"]


def test_a_lane_that_waits_for_the_busy_scale_says_so_and_can_be_weighed_by_hand(tmp_path):
    with AtWork(tmp_path, settings={"groups": 2}) as work:
        orders(work, "Latte", "Mocha")
        for _ in range(5):
            work.service.tap(1, guides.Forward)
        work.service.tap(2, guides.Forward)
        work.frames(12)
        assert card(work, 2).told == "Target: the scale serves group 1"
        assert card(work, 2).big == "16 g" and list(card(work, 2).big_colour) == Colour.quiet     # white is what was weighed
        work.finger.tap("Note dose", card(work, 2))
        work.frames(3)
        assert work.kiosk.root.current == "weight"


def test_what_is_noted_is_not_due_any_more_and_a_closed_day_offers_no_undo(work):
    work.kiosk.root.go("notes")
    work.frames(1)
    work.settle_threads()
    room = work.finger.find("Room")
    assert room.on
    work.finger.tap("Room")
    work.frames(1)
    work.settle_threads()
    assert not work.finger.find("Room").on and work.finger.find("Undo")
    assert [note.what for note in work.book.today().of(Noted)] == ["room"]
    work.finger.tap("Close the day")
    work.frames(3)
    assert not work.finger.find("Undo")


def test_names_with_accents_can_be_written_by_touch(work):
    got = []
    work.kiosk.root.write("Name", "", got.append)
    work.frames(3)
    for sign in ("Z", "O"):
        work.finger.tap(sign)
    work.finger.tap("ÄÉÑ")
    work.frames(3)
    work.finger.tap("Ë")
    work.finger.tap("Save")
    assert got == ["Zoë"]


def test_an_order_tapped_by_mistake_is_taken_back_from_the_lane_that_has_it(work):
    mistake, = orders(work, "Mocha")
    work.frames(12)
    work.finger.tap("Bin", card(work))
    work.frames(12)
    work.finger.tap("Cancel the order")
    work.frames(12)
    assert work.service.lanes[1].work is None
    assert [(ended.order_id, ended.how) for ended in work.book.today().of(OrderEnded)] == [(mistake, "cancelled")]
    orders(work, "Latte")
    work.kiosk.root.go("line")
    work.frames(12)
    work.finger.tap("Cancel")
    work.frames(12)
    assert work.service.lanes[1].work is None and not work.book.today().of(Pull)


def test_an_order_taken_back_in_mid_pull_is_not_made_again_when_its_shot_is_binned(work):
    order, = orders(work, "Mocha")
    work.service.tap(1, guides.Forward)
    work.service.orders.cancel(order)
    assert work.service.lanes[1].work is not None           # what is on its way is seen to its end
    work.service.tap(1, guides.Bin, "wrong drink")
    assert work.service.lanes[1].work is None
    assert [ended.order_id for ended in work.book.today().of(OrderEnded)] == [order]


def test_a_cup_lifted_to_pour_it_away_is_binned_though_the_next_order_has_its_lane(work):
    orders(work, "Latte", "Mocha", "Cappuccino")
    room_opened_as_the_cup_is_lifted(work, work.kiosk.root.open_bin)
    assert work.service.lanes[1].work.planned.title == "Cappuccino"
    work.finger.tap("Tastes off")
    assert [(pull.drinks, pull.sink) for pull in work.book.today().of(Pull)] == [(("Latte",), "tastes off")]
    assert work.service.lanes[1].work.planned.title == "Latte"


def test_a_weight_written_while_the_cup_is_lifted_is_of_that_pull(work):
    orders(work, "Latte", "Mocha", "Cappuccino")
    room_opened_as_the_cup_is_lifted(work, work.kiosk.root.open_weight)
    work.finger.tap("+ 1")
    work.finger.tap("Save")
    served_pull, = work.book.today().of(Pull)
    assert served_pull.yield_g == pytest.approx(served_pull.recipe.yield_g + 1, abs=0.06)
    assert work.service.lanes[1].work.planned.title == "Cappuccino"


def test_only_a_step_before_the_pull_is_offered_to_be_skipped(work):
    orders(work, "Latte")
    offered = []
    for _tap in range(5):                                   # warm, dose, tamp, purge, locked in
        work.kiosk.root.open_bin(1)
        work.frames(12)
        offered.append(work.finger.find("Skip") is not None)
        work.service.tap(1, guides.Forward)
    assert offered == [True, True, True, True, False]


def test_a_dose_that_is_written_while_the_pump_goes_on_is_of_that_pull(work):
    orders(work, "Latte")
    work.service.tap(1, guides.Forward)
    work.frames(12)
    work.tap("Note dose", "+ 0")
    work.service.happened(1, PumpOnSeen(work.clock.s(), work.clock.s(), KEY, 0.3))
    work.frames(4)
    work.finger.tap("Save")
    guide = work.service.lanes[1].work.guide
    assert guide.pulling and guide.dose_g == pytest.approx(guide.recipe.dose_g + 0.1)


def test_one_tap_in_the_drawer_turns_the_sounds_off_and_another_on(work):
    work.frames(12)
    work.finger.tap("More")
    work.frames(12)
    work.finger.tap("Sound is on")
    assert work.service.setup.sounds is False
    work.frames(12)
    work.finger.tap("Sound is off")
    assert work.service.setup.sounds is True


def test_what_is_ground_while_its_order_is_being_changed_is_not_ordered_twice(work):
    first, second = orders(work, "Latte", "Mocha")
    room = work.kiosk.root.room("orders")
    room.change(first)
    work.frames(12)
    assert room.counts == {"Latte": 1}
    work.service.tap(1, guides.Forward)
    work.service.tap(1, guides.Forward)                     # the other hand doses it
    work.frames(4)
    assert not any(room.counts.values()) and room.told == "Nothing of it can be changed any more."
    work.service.tap(1, guides.Undo)                        # it was a slip
    work.frames(4)
    assert room.counts == {"Latte": 1}
    work.service.tap(1, guides.Forward)
    work.tap("Americano", "Save")
    assert [each.planned.title for each in work.service.line.waiting] == ["Americano"]
    assert work.service.lanes[1].work.planned.title == "Latte"


def test_the_queue_says_of_a_cancelled_order_what_was_not_made_and_puts_back_just_that(work):
    order = work.service.orders.take(menu(work, "Latte", "Mocha", "Americano"))
    work.service.tap(1, guides.Forward)
    work.service.orders.cancel(order)
    served(work)
    work.kiosk.root.go("line")
    work.frames(12)
    row, = (row for row in work.kiosk.root.open.ids.line.children if getattr(row, "state", "") == "cancelled")
    assert row.told == "1 × Mocha, 1 × Americano"
    work.finger.tap("Put back")
    work.frames(4)
    assert sorted(lane.work.planned.title for lane in work.service.lanes.values()) == ["Americano", "Mocha"]


def test_a_stop_is_told_over_whatever_room_is_open_and_a_finger_goes_through_it(work):
    """With its sounds off, whoever took an order meanwhile neither saw nor heard that the pump was to be stopped."""
    work.service.set_setting(("sounds",), False)
    orders(work, "Latte", "Mocha", "Cappuccino")
    while work.service.lanes[1].work.guide.step is not Step.PULL:
        work.service.tap(1, guides.Forward)
    work.service.tap(1, guides.Forward)
    rooms = work.finger.rooms
    rooms.go("orders")
    work.frames(round(20 / FRAME_S))
    assert rooms.over not in rooms.children
    work.frames(round(8 / FRAME_S))
    assert rooms.children[0] is rooms.over and rooms.over.text == "Group 1: Stop now" and rooms.over.whole
    work.finger.tap("Mocha")
    work.frames(3)
    assert rooms.open.counts == {"Mocha": 1}
    work.frames(round(8 / FRAME_S))
    assert rooms.over.text == "Group 1: Past its time: stop"
    rooms.home()
    work.frames(3)
    assert rooms.over not in rooms.children and card(work).stop_word == "Past its time: stop"
    rooms.go("orders")
    work.service.tap(1, guides.Forward)
    work.frames(3)
    assert rooms.over not in rooms.children


def test_over_a_hires_page_only_the_other_groups_stop_is_told(work):
    work.service.choose("Tomo")
    orders(work, "Latte", "Mocha")
    coached = work.service.lanes.coached().group
    other = 3 - coached
    work.service.choose("Ines")
    while work.service.lanes[other].work.guide.step is not Step.PULL:
        work.service.tap(other, guides.Forward)
    work.service.tap(other, guides.Forward)
    work.service.choose("Tomo")
    rooms = work.finger.rooms
    rooms.home()
    work.frames(round(28 / FRAME_S))
    assert rooms.current == "coach" and rooms.over.text == f"Group {other}: Stop now" and rooms.over in rooms.children
