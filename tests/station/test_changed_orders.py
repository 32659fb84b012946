"""An order that is changed, cancelled or made again while hands go on with it: each drink is made once, and told as it is."""

import pytest

from kiosk.bar.guide import Bin
from kiosk.bar.model import CONTACT, DOUBLE, SINGLE, OrderEnded, OrderTaken, Pull, PumpOnSeen
from tests.support.a_station import WorkingStation


@pytest.fixture
def station(tmp_path):
    found = WorkingStation(tmp_path / "book")
    assert found.service.set_setting(("groups",), 1) == ()
    yield found
    found.book.close()


def wanted(station, **counts):
    return tuple((station.service.setup.drink(name.replace("_", " ")), count) for name, count in counts.items())


def made(station):
    """Everything is made that lanes and queue have; the drinks of each pull."""
    while station.service.lanes[1].work is not None:
        station.serve(1)
    return [pull.drinks for pull in station.book.today().of(Pull)]


def how_ended(station, order_id):
    return [ended.how for ended in station.book.today().of(OrderEnded) if ended.order_id == order_id]


def test_a_change_of_an_order_that_was_ended_meanwhile_ends_it_no_second_time_and_loses_no_drink(station):
    station.order("Latte")
    cancelled = station.order("Mocha")
    station.service.orders.cancel(cancelled)
    station.service.orders.change(cancelled, ())
    assert how_ended(station, cancelled) == ["cancelled"]
    station.service.orders.change(cancelled, wanted(station, Americano=1))
    assert made(station) == [("Latte",), ("Americano",)] and how_ended(station, cancelled) == ["cancelled"]
    assert len(station.book.today().of(OrderTaken)) == 3


def test_a_shot_more_is_one_drink_with_its_double_and_is_changed_with_it_or_not_at_all(station):
    drink = station.service.setup.drink("Latte, extra shot")
    order = station.service.orders.take(((drink, 1),))
    assert station.service.orders.open_drinks(order) == {"Latte, extra shot": 1}
    station.service.orders.change(order, ((drink, 1),))
    assert [each.planned.basket for each in (station.service.lanes[1].work.waiting, *station.service.line.waiting)] == [DOUBLE, SINGLE]
    station.tap(1, times=2)                                 # the double is ground: its shot more is wanted with it
    assert station.service.orders.open_drinks(order) == {}
    station.service.orders.change(order, ())
    for service in (station.service, station.restart()):    # nor does it share a double with another's single
        service.orders.take(wanted(station, Macchiato=1))
        assert service.line.as_made(9)[0][0].planned.title == "Latte, extra shot"


def test_an_order_that_was_changed_is_told_and_made_again_as_it_is_now(station):
    order = station.order("Latte")
    station.service.orders.change(order, wanted(station, Mocha=1, Americano=1))
    station.tap(1, times=2)                                 # the first of them is ground
    assert station.service.orders.open_drinks(order) == {"Americano": 1}
    station.service.orders.change(order, wanted(station, Americano=2))
    assert made(station) == [("Mocha",), ("Americano",), ("Americano",)]
    for service in (station.service, station.restart()):
        ended, = service.line.ended
        assert dict(ended.drinks) == {"Mocha": 1, "Americano": 2}
    service.orders.again(order)
    assert sorted(made(station)[3:]) == [("Americano",), ("Americano",), ("Mocha",)]


def test_of_an_order_cancelled_in_mid_pull_only_what_was_not_made_is_put_back(station):
    order = station.order("Latte", "Mocha")
    station.tap(1)
    station.service.orders.cancel(order)                           # what is on its way is seen to its end
    station.serve(1)
    assert how_ended(station, order) == ["served"] and station.service.orders.left_of(order) == (("Mocha", 1),)
    station.restart().orders.again(order)
    assert made(station) == [("Latte",), ("Mocha",)]


def test_an_order_cancelled_in_mid_pull_and_served_all_the_same_was_served_and_one_binned_is_left(station):
    served, binned = station.order("Latte"), station.order("Mocha")
    station.tap(1)
    station.service.orders.cancel(served)
    station.serve(1)
    assert station.service.orders.left_of(served) == ()
    station.tap(1)
    station.service.orders.cancel(binned)
    station.service.tap(1, Bin, "spilt")
    assert station.service.orders.left_of(binned) == (("Mocha", 1),)


def test_a_pull_that_nobody_ordered_is_not_offered_to_be_made_again(station):
    station.service.orders.unordered((1,))
    station.service.happened(1, PumpOnSeen(station.t_s, station.t_s, CONTACT, 0.1))
    assert made(station) == [()] and station.service.line.ended == []
    assert station.restart().line.ended == []
