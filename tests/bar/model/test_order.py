"""Orders become pulls: the fewest that the menu allows."""

from itertools import combinations_with_replacement
from math import ceil

import pytest

from kiosk.bar.model import DOUBLE, SINGLE, USUAL_MENU, Drink, Unfit, plan

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
