"""A drink is more than its name: milk, cup, coffee; sent back; over ice. On the real screens."""

import pytest

from kiosk.bar.evening.rows import groups
from kiosk.bar.guide import guide as guides
from kiosk.bar.model import Noted, OrderTaken, Pull, Step
from kiosk.station.evenings import evening_of
from tests.support.at_work import AtWork
from tests.support.quiet_hands import pour


def serve(work, group=1):
    key = work.service.lanes[group].work.key
    while work.service.lanes[group].work is not None and work.service.lanes[group].work.key == key:
        work.service.tap(group, guides.Forward)


@pytest.fixture
def work(tmp_path):
    with AtWork(tmp_path / "book", scale=False, settings={"groups": 1}) as at_work:
        yield at_work


def test_scene_70_an_allergen_stays_on_the_card_until_it_is_served_and_over_a_restart(work, tmp_path):
    work.tap("Order", "Latte", "Change it")
    taps = work.finger.taps
    work.tap("oat milk")
    assert work.finger.taps - taps == 1                     # the change itself: this touch and the one before
    work.tap("Start")
    card = work.kiosk.root.room("station").card(1)
    assert card.title == "1 · Latte, oat milk" and card.contains == "Contains oats"
    while work.service.lanes[1].work.guide.step is not Step.PULL:
        work.service.tap(1, guides.Forward)
    work.service.tap(1, guides.Forward)
    work.frames(100)
    assert card.contains == "Contains oats"
    work.close()
    with AtWork(tmp_path / "book", scale=False) as again:
        card = again.kiosk.root.room("station").card(1)
        assert card.contains == "Contains oats" and again.service.lanes[1].work.guide.pulling
        again.service.tap(1, guides.Forward)
        again.frames(4)
        assert card.contains == "Contains oats"
        serve(again)
        again.frames(4)
        assert card.contains == ""
        assert again.book.today().of(Pull)[-1].drinks == ("Latte, oat milk",)


def test_a_cup_to_take_away_is_not_to_be_warmed(work, tmp_path):
    work.tap("Order", "Cappuccino", "Change it", "takeaway", "Start")
    lane = work.service.lanes[1]
    assert lane.work.guide.step is Step.DOSE and "Warm" not in work.kiosk.root.room("station").card(1).step_names
    work.service.tap(1, guides.Back)
    assert lane.work.guide.step is Step.DOSE
    work.service.tap(1, guides.Forward)
    work.close()
    with AtWork(tmp_path / "book", scale=False) as again:
        assert again.service.lanes[1].work.guide.step is Step.TAMP
        serve(again)
        pull, = again.book.today().of(Pull)
        assert pull.warmed is None and pull.skipped == () and "warm" not in pull.not_told


def test_scene_64_a_drink_sent_back_cold_is_made_first_and_counted_with_its_reason(work):
    for drink in ("Latte", "Mocha", "Americano"):
        work.service.orders.take(((work.service.setup.drink(drink), 1),))
    serve(work)
    work.kiosk.root.go("line")
    work.frames(12)
    work.finger.tap("Cold")
    work.frames(12)
    assert [each.planned.title for each in work.service.line.waiting] == ["Latte", "Americano"]
    note, = [each for each in work.book.today().of(Noted) if each.what == "sent back"]
    assert note.facts["why"] == "cold"
    rows = {row.key: row.text for group in groups(evening_of(work.book, work.service.setup, work.book.day_now())) for row in group.rows}
    assert rows["sent_back"] == "1; 1 cold"


def test_scene_65_the_guest_coffee_is_swapped_at_two_in_the_afternoon(tmp_path):
    settings = {"groups": 1, "grinders": {"Left": {"coffee": "House"}, "Right": {"coffee": "Yirga"}}}
    with AtWork(tmp_path, scale=False, settings=settings) as work:
        work.tap("Order", "Espresso", "Change it", "Yirga", "Start")
        assert work.service.lanes[1].work.grinder == "Right"
        work.service.tap(1, guides.Forward)
        work.service.tap(1, guides.Forward)                 # dosed
        before = work.service.orders.take(((work.service.setup.drink("Espresso, Yirga"), 1),))
        assert work.service.set_setting(("grinders", "Right", "coffee"), "Huila") == ()
        serve(work)
        assert work.book.today().of(Pull)[0].coffee == "Yirga"              # it was ground before the swap
        work.tap("Order", "Espresso", "Change it", "Huila", "Start")
        serve(work)
        serve(work)
        first, second, third = work.book.today().of(Pull)
        assert (third.coffee, third.drinks) == ("Huila", ("Espresso, Huila",))
        assert before in {each.id for each in work.book.today().of(OrderTaken)} and second.coffee != "Yirga"


def test_scene_66_the_shot_of_an_iced_latte_falls_into_a_glass_of_ice_on_the_scale(tmp_path):
    with AtWork(tmp_path, settings={"groups": 1}) as work:
        work.service.orders.take(((work.service.setup.drink("Latte, iced"), 1),))
        lane = work.service.lanes[1]
        assert lane.work.guide.step is Step.DOSE
        work.service.happened(1, guides.DoseTapped(work.t_s, 16.0))
        while lane.work.guide.step is not Step.PULL:
            work.service.tap(1, guides.Forward)
        truth = pour(work, cup_g=412.0, on=lambda: work.service.tap(1, guides.Forward))
        pull, = work.book.today().of(Pull)
        assert pull.yield_g == pytest.approx(truth.in_cup_g, abs=0.3) and pull.drinks == ("Latte, iced",)
        assert pull.warmed is None


def test_a_large_one_is_two_touches_and_goes_into_the_large_cup(work):
    taps = work.finger.taps
    work.tap("Order", "Latte", "Change it", "large", "Start")
    assert work.finger.taps - taps == 5
    drink, = work.service.lanes[1].work.planned.drinks
    assert (drink.name, drink.cup) == ("Latte, large", "large cup")
