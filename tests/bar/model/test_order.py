"""Orders become pulls: the fewest that the menu allows."""

from itertools import combinations, combinations_with_replacement
from math import ceil

import pytest

from kiosk.bar.model import DOUBLE, SINGLE, USUAL_MENU, Drink, Grinder, Setup, Unfit, plan
from kiosk.bar.model.order import USUAL_CHANGES, Change, as_sold

MENU = {drink.name: drink for drink in USUAL_MENU}


def planned(*names: str):
    return plan(tuple((MENU[name], 1) for name in names), "House")


def test_two_espressos_are_one_double_split_over_two_cups():
    (pull,) = plan(((MENU["Espresso"], 2),), "House")
    assert (pull.basket, pull.cups, pull.title) == (DOUBLE, 2, "2 × Espresso")


def test_a_single_that_is_left_over_takes_a_single_basket():
    pulls = plan(((MENU["Espresso"], 3),), "House")
    assert [(pull.basket, pull.cups) for pull in pulls] == [(DOUBLE, 2), (SINGLE, 1)]


def test_a_double_is_never_shared():
    assert [pull.title for pull in planned("Double espresso", "Double espresso")] == ["Double espresso"] * 2


def test_a_drink_that_may_not_share_has_its_own_single():
    alone = Drink(name="Tasting", may_share=False)
    assert [pull.basket for pull in plan(((alone, 2), (MENU["Espresso"], 1)), "House")] == [SINGLE] * 3


def test_singles_of_different_coffees_are_not_split_from_one_double():
    other = Drink(name="Guest espresso", coffee="Guest")
    assert [(p.coffee, p.basket) for p in plan(((MENU["Espresso"], 1), (other, 1)), "House")] == \
        [("House", SINGLE), ("Guest", SINGLE)]


@pytest.mark.parametrize("drinks", list(combinations_with_replacement(sorted(MENU), 3)))
def test_there_are_never_more_pulls_than_doubles_and_half_the_singles(drinks):
    pulls = planned(*drinks)
    singles = sum(MENU[name].shot == SINGLE for name in drinks)
    assert len(pulls) == len(drinks) - singles + ceil(singles / 2)
    assert sorted(d.name for pull in pulls for d in pull.drinks) == sorted(drinks)


def test_each_cup_and_what_goes_with_it_is_common_practice():
    assert (MENU["Espresso"].cup, MENU["Espresso"].beside) == ("espresso cup", "glass of water")
    assert (MENU["Double espresso"].cup, MENU["Double espresso"].beside) == ("cappuccino cup", "glass of water")
    assert "milk" in MENU["Cappuccino"].after and MENU["Americano"].after == "hot water"


def test_a_nameless_drink_is_refused_in_words():
    with pytest.raises(Unfit, match="needs a name"):
        Drink(name=" ")


CHANGES = {change.name: change for change in USUAL_CHANGES}


def test_a_drink_as_sold_is_made_again_from_its_name_alone():
    setup = Setup()
    for base in USUAL_MENU:
        for wanted in combinations(CHANGES.values(), 2):
            sold = as_sold(base, wanted)
            assert setup.drink(sold.name) == sold
    assert setup.drink("Cortado, oat milk") == Drink(name="Cortado, oat milk")        # left the menu: it keeps its name
    assert setup.drink("Latte, gone since").cup == MENU["Latte"].cup


def test_what_is_changed_shows_in_cup_coffee_milk_and_allergen():
    sold = as_sold(MENU["Cappuccino"], (CHANGES["takeaway"], CHANGES["oat milk"]))
    assert (sold.cup, sold.cold, sold.milk, sold.allergen) == ("paper cup", True, "oat milk", "oats")
    guest = Setup(grinders=(Grinder(name="Left"), Grinder(name="Right", coffee="Guest")))
    pull, = plan(((guest.drink("Espresso, Guest"), 1),), "House")
    assert pull.coffee == "Guest" and pull.to_warm


def test_an_extra_shot_makes_a_single_a_double_and_gives_a_double_a_single_beside_it():
    single, = plan(((as_sold(MENU["Cappuccino"], [CHANGES["extra shot"]]), 1),), "House")
    assert (single.basket, single.cups) == (DOUBLE, 1)
    both = plan(((as_sold(MENU["Latte"], [CHANGES["extra shot"]]), 1),), "House")
    assert [each.basket for each in both] == [DOUBLE, SINGLE]


def test_a_change_with_a_comma_in_its_name_is_refused():
    with pytest.raises(Unfit, match="without a comma"):
        Change(name="oat, hot")
