"""Which drinks take steamed milk, what it contains, and the steps in the order that the trade has them."""

import pytest

from assets import PICTURES
from kiosk.bar.model import USUAL_MENU, Drink
from kiosk.bar.model.order import USUAL_CHANGES, named
from kiosk.bar.training import MILK_STEPS, milk_allergens, takes_milk

OWN = (Drink(name="Melange", after="heiße Milch"), Drink(name="Cold brew", after="milk"), Drink(name="Eis Kaffee", after="Milch"))


def drink(name):
    return named(name, USUAL_MENU + OWN, USUAL_CHANGES)


# What each is made of is the trade's common knowledge.
@pytest.mark.parametrize("name", ["Cappuccino", "Latte", "Mocha", "Macchiato", "Latte, takeaway", "Cappuccino, oat milk",
                                  "Espresso, oat milk", "Melange"])
def test_a_drink_with_milk_is_known_by_what_the_menu_says(name):
    assert takes_milk(drink(name))


@pytest.mark.parametrize("name", ["Espresso", "Double espresso", "Americano", "Latte, iced", "Latte, oat milk, iced", "Cold brew",
                                  "Eis Kaffee", "Ristretto of yesterday's menu"])
def test_nothing_is_steamed_for_a_drink_without_milk_or_a_cold_one(name):
    assert not takes_milk(drink(name))


# Regulation (EU) 1169/2011, Annex II: 7 milk, 6 soybeans, 1 cereals containing gluten (oats among them), 8 nuts.
@pytest.mark.parametrize(("names", "contained"), [
    (["Latte"], ("milk",)), (["Latte, soya milk"], ("soya",)), (["Cappuccino, oat milk"], ("oats",)),
    (["Macchiato, nut milk"], ("nuts",)), (["Cappuccino", "Macchiato, oat milk"], ("milk", "oats")),
    (["Cappuccino", "Espresso"], ("milk",)), (["Espresso"], ())])
def test_what_the_milk_contains_is_what_the_law_lists(names, contained):
    assert milk_allergens(map(drink, names)) == contained


def test_the_steps_come_in_the_trades_order_each_with_its_picture_and_steam_with_its_caution():
    said = [step.what for step in MILK_STEPS]
    order = ("cold milk", "Purge the wand", "under the surface", "deeper", "55–65 °C", "Wipe the wand", "pour at once")
    assert len(said) == len(order) and all(words in what for words, what in zip(order, said))      # common practice
    assert "Purge again" in said[5] and "own" in said[5] and "never steam milk twice" in MILK_STEPS[-1].why
    for step in MILK_STEPS:
        assert all((PICTURES / f"{name}.png").is_file() for name in (step.picture, step.sign) if name)
    assert all(step.caution and step.sign for step in MILK_STEPS[1:])
