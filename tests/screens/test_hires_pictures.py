"""What a new hire is shown: the cups of this pull, and what goes wrong with it."""

import pytest

from kiosk.bar.guide import guide as guides
from kiosk.bar.model import Setup, Step
from kiosk.screens.hire.pictures import of_step
from tests.support.at_work import AtWork

STAFF = {"Ines": {}, "Tomo": {"new": True}}


@pytest.mark.parametrize("drinks, shown", [
    (("Espresso",), ("serve", "")), (("Double espresso",), ("serve_wide", "")), (("Cappuccino",), ("cup_cappuccino", "")),
    (("Latte",), ("cup_latte_glass", "")), (("Americano",), ("cup_americano", "")), (("Latte, takeaway",), ("cup_takeaway", "")),
    (("Espresso", "Cappuccino"), ("serve", "cup_cappuccino")), (("Espresso", "Espresso"), ("serve", "serve"))])
def test_each_drink_is_served_in_its_own_cup_and_two_in_two(drinks, shown):
    assert of_step(Step.SERVE, tuple(Setup().drink(name) for name in drinks)) == shown


def test_a_pull_that_goes_wrong_is_not_shown_as_one_that_runs():
    one = (Setup().drink("Espresso"),)
    assert of_step(Step.PULL, one) == ("pull", "") and of_step(Step.PULL, one * 2) == ("pull_two", "")
    assert of_step(Step.PULL, one, "chokes") == ("chokes", "") and of_step(Step.JUDGE, one, "chokes", stopped=True) == ("vents", "")
    assert of_step(Step.JUDGE, one, "gushes", stopped=True) == ("gushes", "")


def test_what_is_new_to_the_pictures_is_shown_as_the_step_it_goes_wrong_at():
    one = (Setup().drink("Espresso"),)
    assert of_step(Step.DOSE, one, "something nobody drew") == ("dose", "")


def test_the_water_stays_in_the_cup_until_the_lock_in_and_two_cups_are_two(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 1, "staff": STAFF}) as work:
        work.service.choose("Tomo")
        for wanted, warm, lock in ((("Espresso", 1), "It stays in", "Empty and dry the cup"), (("Espresso", 2), "both cups", "under each spout"),
                                   (("Latte, takeaway", 1), "", "Put the portafilter in and turn until firm. Put the cup under it.")):
            name, many = wanted
            work.service.orders.take(((work.service.setup.drink(name), many),))
            work.kiosk.root.home()
            work.frames(6)
            page, said = work.kiosk.root.open, {}
            key = work.service.lanes[1].work.key
            while work.service.lanes[1].work is not None and work.service.lanes[1].work.key == key:
                said.setdefault(work.service.lanes[1].work.guide.step, page.what)
                work.service.tap(1, guides.Forward)
                work.frames(1)
            assert warm in said.get(Step.WARM, "") and lock in said[Step.LOCK]
            assert (Step.WARM in said) is bool(warm)


def test_the_hires_page_says_what_the_drink_contains_until_it_is_served(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 1, "staff": STAFF}) as work:
        work.service.choose("Tomo")
        work.service.orders.take(((work.service.setup.drink("Latte, oat milk"), 1),))
        work.frames(6)
        page = work.kiosk.root.open
        while work.service.lanes[1].work is not None:
            assert work.kiosk.root.current == "coach" and page.contains == "Contains oats"
            work.service.tap(1, guides.Forward)
            work.frames(1)
