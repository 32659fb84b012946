"""A till's ticket read: what was taught, counts and changes; what is not understood is shown and never guessed."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kiosk.bar.model import USUAL_MENU
from kiosk.bar.model.order import APART, USUAL_CHANGES
from kiosk.bar.model.ticket import Understood, read_ticket, vocabulary, words_of
from tests.bench import till

DRINKS = tuple(drink.name for drink in USUAL_MENU)
CHANGES = tuple(change.name for change in USUAL_CHANGES)


def read(text: str, **taught: str) -> Understood:
    lines = text.strip("\n").split("\n")
    return read_ticket(lines, vocabulary({words.replace("_", " "): meaning for words, meaning in taught.items()}, DRINKS, CHANGES))


KNOWN = vocabulary({}, DRINKS, CHANGES)


def ordered(read: Understood) -> list[tuple[str, int]]:
    return [(item.name, item.count) for item in read.items]


def test_a_ticket_whose_words_are_the_menus_own_needs_no_teaching():
    found = read("14:02  24.11.2026\n2 x Latte          7.80\n  + oat milk\n1 Espresso  2.20\nCAPPUCCINO x3 €11.70")
    assert ordered(found) == [("Latte, oat milk", 2), ("Espresso", 1), ("Cappuccino", 3)]
    assert found.unclear == () and found.told


def test_a_change_of_one_out_of_two_is_of_one():
    assert ordered(read("2 Latte\n- 1x soya milk")) == [("Latte, soya milk", 1), ("Latte", 1)]


def test_what_may_be_a_change_makes_its_drink_unclear_and_no_other():
    found = read("Mocha\nLatte\n  extra hot please\nEspresso")
    assert ordered(found) == [("Mocha", 1), ("Espresso", 1)] and found.unclear == (1, 2)


def test_a_price_is_no_time_of_day_and_an_unknown_line_is_shown_wherever_it_stands():
    found = read("24.11.2026 14:02\n1 FLAT WHT 3.10\n1 Latte\nTotal 12.30")
    assert found.unclear == (1, 2, 3) and ordered(found) == []         # "Total" was not said to be nothing yet


def test_a_change_with_no_drink_before_it_and_a_count_that_says_not_of_which_are_shown():
    assert read("oat milk\nLatte").unclear == (0,)
    assert read("2 Latte\n3x oat milk").unclear == (0, 1)


def test_taught_words_count_whole_whatever_number_stands_with_them():
    found = read("CAFE\nTable 12\nFW 2\nTHANKS", cafe="nothing", table="number", fw="drink:Cappuccino", thanks="nothing")
    assert (ordered(found), found.number, found.unclear) == ([("Cappuccino", 2)], "Table 12", ())
    assert words_of("Table 7") == words_of("  TABLE 12 ") == "table"


def test_a_count_on_a_line_of_its_own_is_asked_about():
    found = read("2\nLatte\nMocha\nx3\nEspresso\nMacchiato")
    assert ordered(found) == [("Macchiato", 1)] and found.unclear == (0, 1, 2, 3, 4)


def test_of_a_line_of_several_parts_the_first_unknown_one_is_asked_for():
    assert words_of("2x ESP / OAT / to go", KNOWN) == "esp"
    known = KNOWN | {"esp": "drink:Espresso", "mod": "nothing", "oat": "change:oat milk"}
    assert words_of("2x ESP / OAT / to go", known) == "to go"
    assert ordered(read_ticket(["1 ESP", "  mod: OAT"], known)) == [("Espresso, oat milk", 1)]


AN_ITEM = st.tuples(st.sampled_from(DRINKS), st.integers(1, 9), st.lists(st.sampled_from(CHANGES), max_size=2, unique=True))
MARKS = st.sampled_from(("", "  ", "+ ", "- ", "  > ", "* ", "w/ "))


@st.composite
def a_shape(draw):
    """How one till prints a line: where the count stands, whether a price does, how a change is set off."""
    count = draw(st.sampled_from(("{n} {d}", "{n}x {d}", "{n} x {d}", "x{n} {d}", "{d} x{n}", "{d} x {n}", "{d} ({n})", "{d}  {n}")))
    price = draw(st.sampled_from(("", "   7.80", "  €7.80", " 7,80", "  @3.90   7.80", "   7.80 A", "  7,80 EUR")))
    upper, mark = draw(st.booleans()), draw(MARKS.filter(lambda each: each != "w/ "))
    return count, price, upper, mark, draw(st.booleans())


@settings(max_examples=150, deadline=None)
@given(st.lists(AN_ITEM, min_size=1, max_size=6), a_shape(), st.sampled_from(("", "14:02", "24.11.2026 14:02", "-" * 20)))
def test_every_shape_of_a_ticket_gives_back_the_order(items, shape, head):
    count, price, upper, mark, repeated = shape
    lines = [head]
    for drink, n, changes in items:
        lines.append((count.format(n=n, d=drink.upper() if upper else drink)) + price)
        lines += [mark + (f"{n}x {change}" if repeated else change) for change in changes]
    found = read_ticket(lines, KNOWN)
    assert ordered(found) == [(APART.join((drink, *changes)), n) for drink, n, changes in items] and found.unclear == ()


@settings(max_examples=150, deadline=None)
@given(st.lists(st.text(max_size=30), max_size=8))
def test_any_lines_whatever_order_nothing_that_they_do_not_say(lines):
    found = read_ticket(lines, KNOWN)
    names = {name.casefold() for name in DRINKS}
    for item in found.items:
        assert any(item.name.split(APART)[0].casefold() in " ".join(lines[place].replace(".", " ").casefold().split())
                   for place in item.lines) and item.name.split(APART)[0].casefold() in names


def test_a_slice_of_the_campaign_holds_its_bars():
    assert till.campaign(strings=1500, orders=0).end() == 0


@pytest.mark.parametrize("taught, comes", [("Order no. 34", "Order no. 100"), ("Order no. 100", "Order no. 7"), ("Order #12", "Order #1204"),
                                           ("Tisch 104", "Tisch 4")])
def test_an_orders_number_is_known_however_many_figures_it_has(taught, comes):
    known = vocabulary({words_of(taught): "number"}, ("Latte",), ())
    read = read_ticket((comes, "1 Latte"), known)
    assert (read.number, read.unclear, [item.name for item in read.items]) == (comes, (), ["Latte"])
