"""Orders as a bar sells them, on the real screens: shared, changed, put back, of a second grinder; and over a restart."""

import pytest

from kiosk.bar.guide import guide as guides
from kiosk.bar.model import Pull, Step
from kiosk.screens.barista.station import waiting_told
from kiosk.screens.setup.settings import sections
from kiosk.screens.ui.look import Type
from tests.bench import kill_ticket, planning
from tests.support.at_work import AtWork

TWO_GRINDERS = {"groups": 2, "grinders": {"Left": {"coffee": "House"}, "Right": {"coffee": "Decaf"}}}


def drinks(work, *names):
    menu = {drink.name: drink for drink in work.service.setup.menu}
    return tuple((menu[name], names.count(name)) for name in dict.fromkeys(names))


def order(work, *names) -> str:
    return work.service.orders.take(drinks(work, *names))


def of_coffee(work, drink: str, coffee: str):
    assert work.service.set_setting(("menu", drink, "coffee"), coffee) == ()


def serve(work, group=1):
    key = work.service.lanes[group].work.key
    while work.service.lanes[group].work is not None and work.service.lanes[group].work.key == key:
        work.service.tap(group, guides.Forward)


def titles(work) -> list[str]:
    return [each.planned.title for each in work.service.line.waiting]


@pytest.fixture
def work(tmp_path):
    with AtWork(tmp_path / "book", scale=False, settings={"groups": 1}) as at_work:
        yield at_work


def test_scene_16_a_single_and_a_macchiato_of_two_orders_share_a_double_basket(work, tmp_path):
    order(work, "Latte")                                    # the lane is busy
    first, second = order(work, "Espresso"), order(work, "Macchiato")
    serve(work)
    lane = work.service.lanes[1]
    assert lane.work.planned.title == "Espresso + Macchiato" and lane.work.planned.basket == "double"
    work.service.tap(1, guides.Forward)                     # in mid-pull the plug is pulled
    work.close()
    with AtWork(tmp_path / "book", scale=False) as again:
        assert again.service.lanes[1].work.planned.title == "Espresso + Macchiato" and titles(again) == []
        serve(again)
        ended = [each.order_id for each in again.book.today().all if type(each).__name__ == "OrderEnded"]
        assert {first, second} <= set(ended) and again.service.lanes[1].work is None
        pull = again.book.today().of(Pull)[-1]
        assert pull.drinks == ("Espresso", "Macchiato") and pull.cups == 2


def test_one_of_a_shared_pair_cancelled_leaves_the_others_drink(work):
    order(work, "Latte")
    first, second = order(work, "Espresso"), order(work, "Macchiato")
    serve(work)
    work.service.orders.cancel(first)
    assert work.service.lanes[1].work.planned.title == "Macchiato" and work.service.lanes[1].work.planned.basket == "single"
    serve(work)
    assert work.service.lanes[1].work is None and second


def test_never_across_different_coffees_nor_out_of_a_held_order(tmp_path):
    with AtWork(tmp_path, scale=False, settings=TWO_GRINDERS | {"groups": 1}) as work:
        of_coffee(work, "Macchiato", "Decaf")
        order(work, "Latte")
        order(work, "Espresso")
        order(work, "Macchiato")
        serve(work)
        assert work.service.lanes[1].work.planned.title == "Espresso"


def test_scene_17_a_drink_is_taken_off_an_order_that_is_half_made(work, tmp_path):
    taken = order(work, "Latte", "Mocha", "Mocha", "Americano")
    work.service.tap(1, guides.Forward)
    while work.service.lanes[1].work.guide.step in (Step.WARM, Step.DOSE):      # the latte is ground
        work.service.tap(1, guides.Forward)
    rooms = work.kiosk.root
    rooms.go("line")
    work.frames(3)
    work.finger.tap("Change")
    work.frames(3)
    assert rooms.current == "orders" and rooms.open.counts == {"Mocha": 2, "Americano": 1}
    work.finger.tap("One less")
    work.finger.tap("Mocha")
    work.finger.tap("Macchiato")
    work.finger.tap("Save")
    work.frames(3)
    assert sorted(titles(work)) == ["Americano", "Macchiato", "Mocha"]
    assert work.service.lanes[1].work.planned.title == "Latte"
    work.close()
    with AtWork(tmp_path / "book", scale=False) as again:
        assert sorted(titles(again)) == ["Americano", "Macchiato", "Mocha"]
        for _ in range(4):
            serve(again)
        assert again.service.lanes[1].work is None and taken
        made = [drink for pull in again.book.today().of(Pull) for drink in pull.drinks]
        assert sorted(made) == ["Americano", "Latte", "Macchiato", "Mocha"]


def test_scene_18_an_order_for_the_wrong_table_is_put_back_where_it_was(work, tmp_path):
    order(work, "Latte")
    wrong = order(work, "Mocha")
    order(work, "Cappuccino")
    work.service.orders.cancel(wrong)
    assert titles(work) == ["Cappuccino"]
    work.kiosk.root.go("line")
    work.frames(3)
    work.finger.tap("Put back")
    work.frames(3)
    assert titles(work) == ["Mocha", "Cappuccino"]
    work.close()
    with AtWork(tmp_path / "book", scale=False) as again:
        assert titles(again) == ["Mocha", "Cappuccino"]


def test_scene_21_a_flag_with_six_orders_waiting_leaves_the_queue_to_be_seen(work):
    for name in ("Latte", "Mocha", "Cappuccino", "Americano", "Latte", "Mocha", "Latte"):
        order(work, name)
    room = work.kiosk.root.room("station")
    room.flag = "Left: one notch finer"
    work.frames(3)
    shown, = [key for key in work.finger.keys() if key.text == "Left: one notch finer"]
    assert "Next: Mocha, Cappuccino" in shown.under and shown.size_u > Type.small


def test_scene_22_a_collar_turned_with_one_dose_ground_leaves_that_pull_at_its_setting(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 2}) as work:
        order(work, "Latte")
        order(work, "Mocha")
        while work.service.lanes[1].work.guide.step in (Step.WARM, Step.DOSE):
            work.service.tap(1, guides.Forward)
        work.service.grinding.move(work.service.setup.grinders[0], "finer", 6.0)
        serve(work, 1)
        serve(work, 2)
        assert [pull.setting for pull in work.book.today().of(Pull)] == [20, 19]


def test_scene_23_decaf_on_the_second_grinder_among_ten_others(tmp_path):
    with AtWork(tmp_path, scale=False, settings=TWO_GRINDERS) as work:
        work.kiosk.root.go("setup")
        work.frames(3)
        from kiosk.screens.setup.settings import sections

        menu = next(section for section in sections(work.service.setup) if section.name == "Menu")
        rows = menu.item("Americano").rows
        assert any(row.name == "Coffee" for row in rows)
        of_coffee(work, "Americano", "Decaf")
        order(work, *["Latte"] * 5, "Americano", *["Mocha"] * 5)
        for _ in range(40):
            for group in (1, 2):
                if work.service.lanes[group].work is not None:
                    serve(work, group)
        pulls = work.book.today().of(Pull)
        assert len(pulls) == 11
        assert {pull.grinder for pull in pulls if "Americano" in pull.drinks} == {"Right"}
        assert {pull.grinder for pull in pulls if "Americano" not in pull.drinks} == {"Left"}


def test_start_is_no_strong_key_with_nothing_chosen_and_counts_are_read_with_the_drink(work):
    work.kiosk.root.go("orders")
    work.frames(3)
    assert work.finger.find("Start") is None                # it cannot be touched yet
    work.finger.tap("Latte")
    work.finger.tap("Latte")
    assert work.finger.find("Latte").count == 2 and work.finger.find("Start").kind == "next"


def test_an_order_is_given_a_table_by_touch_and_it_stands_in_the_queue(work):
    work.tap("Order", "Latte", "Name or table", "7", "B", "Save")
    assert work.kiosk.root.current == "orders"
    work.tap("Next order", "Mocha", "Start")
    assert [each.label for each in work.service.line.taken_orders] == ["7b", ""]
    work.service.orders.take(((work.service.setup.drink("Latte"), 1),), "Ada")
    work.kiosk.root.go("line")
    work.frames(4)
    assert any("Ada" in row.label for row in work.kiosk.root.room("line").ids.line.children if hasattr(row, "told"))


def test_back_from_the_letters_of_a_name_leads_to_the_order_as_it_was_also_where_a_pin_is_set(work):
    work.service.pin.set("2580")
    work.tap("Order", "Latte", "Name or table", "7", "Back")
    assert work.kiosk.root.current == "orders"
    work.tap("Start")
    assert [(each.label, each.drinks) for each in work.service.line.taken_orders] == [("", (("Latte", 1),))]
    work.tap("Order")
    assert not work.finger.find("Latte").count and not work.kiosk.root.room("orders").label


def test_an_order_older_than_the_bars_own_limit_is_late_in_word_and_colour(work):
    for name in ("Latte", "Mocha", "Cappuccino"):
        order(work, name)
    assert work.service.set_setting(("limits", "order_late_min"), 3) == ()
    work.t_s += 130
    work.frames(10)
    assert waiting_told(work.service).startswith("Next: ") and "2 min" in waiting_told(work.service)
    assert "Late" not in waiting_told(work.service)
    work.t_s += 90
    work.frames(10)
    assert "Late: " in waiting_told(work.service)
    assert waiting_told(work.service, 0) == "Late: 2"       # two wait; a flag leaves no room for their names
    work.kiosk.root.go("line")
    work.frames(4)
    rows = [row for row in work.kiosk.root.room("line").ids.line.children if getattr(row, "state", "") == "late"]
    assert rows and all("late, 3 min" in row.age for row in rows)


def test_two_singles_of_two_orders_that_will_share_a_pull_are_shown_as_one(work):
    order(work, "Latte")
    order(work, "Mocha")
    order(work, "Macchiato")
    order(work, "Espresso")
    assert "Macchiato + Espresso" in waiting_told(work.service)
    assert len(work.service.line.waiting) >= 2          # looking changed nothing


def test_the_handover_card_says_what_is_under_way_who_is_on_the_flags_and_what_is_due(work):
    order(work, "Latte")
    order(work, "Mocha")
    work.kiosk.root.go("handover")
    work.frames(4)
    card = work.kiosk.root.room("handover")
    assert "Group 1: Latte, Warm" in card.under_way and "Next: Mocha" in card.under_way
    assert card.on and card.due and work.service.setup.grinders[0].name in card.flags


def test_a_drink_is_put_earlier_on_the_order_screen_by_touch(work):
    names = [drink.name for drink in work.service.setup.menu]
    menu = next(each for each in sections(work.service.setup) if each.name == "Menu")
    row = next(row for row in menu.item(names[2]).rows if row.name == "Place on the screen")
    assert work.service.set_setting(*row.less) == ()
    assert [drink.name for drink in work.service.setup.menu][:3] == [names[0], names[2], names[1]]
    assert work.service.setup.menu[1] == work.service.setup.drink(names[2])


def test_pairing_saves_pulls_and_makes_nobody_wait_longer():
    """A slice of `python -m tests.bench.planning`."""
    assert planning.campaign(60, seed=5000).end() == 0


def test_a_till_that_prints_while_the_kiosk_is_killed_has_each_ticket_made_once():
    """A slice of `python -m tests.bench.kill_ticket`."""
    assert kill_ticket.campaign(3).end() == 0
