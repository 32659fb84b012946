"""What an undo takes back: that pull alone, whatever came after it, from the watches, the counts and the orders."""

from random import Random

import pytest

from kiosk.bar.drift import Watch
from kiosk.bar.guide import Bin, Forward, Undo
from kiosk.bar.model import DOUBLE, Corrected, FlagRaised, NotchMoved, OrderEnded, OrderTaken, Pull, usual
from kiosk.station.grinding import REACHED
from kiosk.station.restore import records_to_replay, restored
from tests.support.a_station import WorkingStation
from tests.support.at_work import AtWork

LATTES = ("Latte",) * 6


@pytest.fixture
def station(tmp_path):
    found = WorkingStation(tmp_path / "book")
    yield found
    found.book.close()


def watched(service) -> int:
    """Pulls of the setting run that the first grinder's watch is on."""
    grinder = service.setup.grinders[0]
    return service.grinding.watch(grinder.name, grinder.coffee).detector.pulls


def known(watch: Watch) -> tuple:
    """What the watch goes by, but for what its memory rounds."""
    return (watch.setting, watch.detector.pulls, [round(each, 4) for each in watch.recent],
            round(watch.known.spread, 4), watch.standing.sentence if watch.standing else None)


def afresh(station) -> Watch:
    """A watch that has seen what the book has now, in the order kept, and nothing else."""
    grinder = station.service.setup.grinders[0]
    watch = Watch(grinder.name, grinder.coffee)
    for kept in station.book.today().all:
        if isinstance(kept, Pull):
            watch.update(kept)
        elif isinstance(kept, NotchMoved):
            watch.moved(kept)
    return watch


def of_the_kiosk(station) -> Watch:
    grinder = station.service.setup.grinders[0]
    return station.service.grinding.watch(grinder.name, grinder.coffee)


# ---- the watch on a grinder ---------------------------------------------------------------------------------------

def test_a_day_with_an_undo_in_it_has_each_pull_counted_once_after_a_restart(station):
    station.order(*LATTES)
    for group in (1, 2, 1, 2, 1, 2):
        station.serve(group)
    station.tap(2, Undo)
    assert watched(station.service) == 5
    assert watched(station.restart()) == 5


def test_a_notch_that_was_undone_leaves_each_pull_counted_once_after_a_restart(station):
    station.order(*LATTES)
    for group in (1, 2, 1, 2):
        station.serve(group, 29.0)
    station.service.grinding.move(station.service.setup.grinders[0], "finer", 6.0)
    assert station.service.grinding.undo_move()
    assert watched(station.service) == 4
    assert watched(station.restart()) == 4


def test_an_undo_takes_its_own_pull_from_the_watch_although_the_other_group_has_served_since(station):
    station.order(*LATTES)
    station.serve(1, 40.0)
    station.serve(2, 25.0)
    station.tap(1, Undo)
    assert [pull.time_s for pull in station.book.today().of(Pull)] == [25.0]
    assert of_the_kiosk(station).recent == pytest.approx([0.0], abs=0.01)
    station.serve(1)
    assert of_the_kiosk(station).recent == pytest.approx([0.0, 0.6], abs=0.01)


def test_an_undo_of_a_pull_leaves_the_notch_that_was_turned_after_it_and_that_can_still_be_undone(station):
    station.order(*LATTES)
    station.serve(1, 31.0)
    station.serve(1, 31.0)
    station.service.grinding.move(station.service.setup.grinders[0], "finer", 6.0)
    station.tap(1, Undo)
    assert of_the_kiosk(station).setting == station.service.setup.grinders[0].setting == 19
    assert station.service.grinding.undo_move()
    assert station.service.setup.grinders[0].setting == 20 and watched(station.service) == 1


def test_an_undo_reaches_back_over_as_many_pulls_as_the_other_groups_have_made(station):
    station.order(*["Latte"] * (REACHED + 6))
    station.serve(1, 33.0)
    for n in range(REACHED + 2):
        station.serve(2, 24.0 + n % 3)
    station.tap(1, Undo)
    assert watched(station.service) == REACHED + 2
    assert known(of_the_kiosk(station)) == known(afresh(station))


def test_whichever_pull_is_taken_back_the_flags_that_stand_are_those_of_the_pulls_that_are_left(station):
    chance, grinder, pulls = Random(4), station.service.setup.grinders[0], []
    while not station.book.today().of(FlagRaised) or len(pulls) < 22:
        pulls.append(Pull(id=f"p.{len(pulls)}", at=station.book.at(), grinder=grinder.name, coffee=grinder.coffee,
                          setting=20, recipe=usual(grinder.coffee, DOUBLE), dose_g=16.0, yield_g=50.4, first_drop_s=4.0,
                          time_s=25.0 + chance.gauss(0, 1.0) + (6.0 if len(pulls) > 15 else 0.0)))
        station.book.keep(pulls[-1])
        station.service.grinding.judge(pulls[-1])
    flags = []
    for pull in (pulls[-2], pulls[-1], pulls[-4], pulls[-3], pulls[-5]):
        station.book.keep(Corrected(id=station.book.new_id(), at=station.book.at(), of=pull.id, changes={}, void=True))
        station.service.grinding.take_back(pull)
        assert known(of_the_kiosk(station)) == known(afresh(station))
        standing = of_the_kiosk(station).standing
        flags.append([flag.sentence for flag in station.book.today().of(FlagRaised)])
        assert flags[-1] == ([standing.sentence] if standing else [])
    assert flags[0] and not flags[-1]                   # the pull that raised it was among them
    station.restart()
    assert known(of_the_kiosk(station)) == known(afresh(station))


def test_a_cut_between_a_pull_taken_back_and_its_watch_is_made_good_at_the_next_start(station):
    station.order(*LATTES)
    for group in (1, 2, 1):
        station.serve(group)
    station.cut("remember", lambda: station.tap(1, Undo))
    assert watched(station.service) == len(station.book.today().of(Pull)) == 2


def test_another_stations_pulls_and_orders_taken_in_are_neither_watched_nor_made_here(tmp_path, station):
    from kiosk.book import exchange

    there = WorkingStation(tmp_path / "there")
    there.order(*LATTES)
    there.serve(1)
    there.serve(2)
    exchange.export(there.book, tmp_path / "theirs.jsonl", "jsonl")
    there.book.close()
    assert exchange.take_in(station.book, tmp_path / "theirs.jsonl").added
    assert restored(records_to_replay(station.book), station.service.setup).waiting == []
    for lost in (False, True):
        if lost:
            (tmp_path / "book" / "memory" / "watches.json").unlink()
        service = station.restart()
        assert watched(service) == 0 and service.line.waiting == []
        assert all(lane.work is None for lane in service.lanes.values())


# ---- the hire's count, the group's habits ---------------------------------------------------------------------------

def test_a_hires_pull_taken_back_is_counted_once_when_it_is_served_although_they_made_another_since(station):
    station.service.set_setting(("staff", "Ben"), {"new": True, "help": "five"})
    station.service.choose("Ben")
    station.order(*LATTES)
    station.serve(1)
    station.serve(2)
    station.tap(1, Undo)
    assert station.service.teaching.steadiness("Ben").pulls == station.service.teaching.steadiness("Ben").clean == 1
    assert station.restart().teaching.steadiness("Ben").pulls == 1
    station.serve(1)
    assert station.service.teaching.steadiness("Ben").pulls == station.service.teaching.steadiness("Ben").clean == 2


def test_a_hires_count_cut_off_between_the_pull_and_its_memory_is_made_good_at_the_next_start(station):
    station.service.set_setting(("staff", "Ben"), {"new": True, "help": "five"})
    station.service.choose("Ben")
    station.order(*LATTES)
    station.serve(1)
    station.cut("remember", lambda: station.serve(2))
    assert station.service.teaching.steadiness("Ben").pulls == 2


def test_a_group_learns_from_a_pull_once_however_often_it_is_undone_and_served(tmp_path):
    with AtWork(tmp_path, settings={"groups": 1}) as work:
        work.play(work.hand.order("Latte"))
        work.play(work.hand.pull(1))
        assert len(work.service.scales.first.learned.habits(1).pulls) == 1
        for _ in range(3):
            work.service.tap(1, Undo)
            assert work.service.scales.first.learned.habits(1).pulls == ()
            work.hand.tap(1)
            work.frames(2)
        assert len(work.service.scales.first.learned.habits(1).pulls) == 1


# ---- orders -------------------------------------------------------------------------------------------------------

def test_an_order_is_served_once_however_often_its_last_cup_is_undone_and_served(station):
    station.order("Latte")
    station.serve(1)
    for _ in range(3):
        station.tap(1, Undo)
        assert station.book.today().of(OrderEnded) == () and station.service.line.ended == []
        station.serve(1)
    assert [len(station.book.today().of(kind)) for kind in (OrderTaken, OrderEnded, Pull)] == [1, 1, 1]
    assert len(station.service.line.ended) == 1


def test_an_order_undone_is_still_to_be_made_after_a_restart_wherever_the_plug_was_pulled(station):
    order_id = station.order("Latte")
    station.serve(1)
    service = station.cut("remember", lambda: station.tap(1, Undo))     # voided, and not in its lane again yet
    assert service.lanes[1].work.waiting.order_id == order_id
    station.serve(1)
    assert [len(station.book.today().of(kind)) for kind in (OrderEnded, Pull)] == [1, 1]


def test_an_order_cut_off_between_its_last_cup_and_its_end_is_ended_at_the_next_start(station):
    station.order("Latte")
    station.cut("keep", lambda: station.serve(1), of=OrderEnded)
    assert [ended.how for ended in station.book.today().of(OrderEnded)] == ["served"]
    assert station.service.line.orders() == [] and station.service.lanes[1].work is None
    station.restart()
    assert len(station.book.today().of(OrderEnded)) == 1


def test_a_binned_shot_taken_back_is_not_made_twice_although_the_coffee_was_changed_meanwhile(station):
    station.order("Latte")
    station.tap(1, times=5)
    station.service.tap(1, Bin, "gushed")
    station.service.set_setting(("grinders", "Grinder 1"), {"coffee": "Dark"})
    station.tap(1, Undo)
    assert station.service.line.waiting == []
    station.serve(1)
    assert [pull.coffee for pull in station.book.today().of(Pull)] == ["House"]


# ---- a double for two orders ----------------------------------------------------------------------------------------

def shared(station) -> tuple[str, str]:
    """Two orders of a macchiato each, in lane 1 together as one double."""
    for group in (2, 3, 4):
        if group in station.service.lanes:
            station.service.set_setting(("closed", str(group)), "out of order")
    station.order("Latte")
    first, second = station.order("Macchiato"), station.order("Macchiato")
    station.serve(1)
    assert station.service.lanes[1].work.waiting.places == ((first, 0), (second, 0))
    return first, second


def owed(service) -> list[tuple[str, int]]:
    """Each drink that is made or waits, as often as it will be made."""
    works = [lane.work.waiting for lane in service.lanes.values() if lane.work]
    return sorted(place for each in (*works, *service.line.waiting) for place in each.places)


def test_a_binned_double_of_two_orders_one_of_them_cancelled_still_owes_the_other_its_drink(station):
    for cancelled, left in ((0, 1), (1, 0)):
        orders = shared(station)
        station.tap(1, times=5)
        station.service.orders.cancel(orders[cancelled])
        station.service.tap(1, Bin, "gushed")
        assert owed(station.service) == [(orders[left], 0)]
        assert owed(station.restart()) == [(orders[left], 0)]
        station.serve(1)
        ended = {each.order_id: each.how for each in station.book.today().of(OrderEnded)}
        assert (ended[orders[cancelled]], ended[orders[left]]) == ("cancelled", "served")


def test_a_binned_double_of_two_orders_taken_back_makes_no_drink_twice(station):
    first, second = shared(station)
    station.tap(1, times=5)
    station.service.tap(1, Bin, "gushed")
    station.service.orders.cancel(first)                       # the remake is untouched: the second order's drink is left
    assert owed(station.service) == [(second, 0)]
    station.tap(1, Undo)
    assert owed(station.service) == [(first, 0), (second, 0)]
    assert owed(station.restart()) == [(first, 0), (second, 0)]


def test_a_served_double_of_two_orders_taken_back_opens_both_again(station):
    orders = shared(station)
    station.serve(1)
    assert {each.order_id for each in station.book.today().of(OrderEnded)} >= set(orders)
    station.tap(1, Undo)
    assert not {each.order_id for each in station.book.today().of(OrderEnded)} & set(orders)
    assert {order.id for order in station.service.line.taken_orders} == set(orders)
    assert owed(station.restart()) == [(each, 0) for each in orders]


def test_a_binned_shot_that_another_lane_makes_again_stays_binned(station):
    first, second = shared(station)
    station.tap(1, times=5)
    station.service.tap(1, Bin, "gushed")
    station.service.set_setting(("closed", "2"), None)
    station.service.set_setting(("closed", "1"), "out of order")
    station.service.orders.cancel(first)
    assert station.service.lanes[2].work.waiting.places == ((second, 0),)
    assert not station.service.lanes[1].can_bring_back
    station.tap(1, Undo)
    assert owed(station.service) == [(second, 0)]


def test_a_double_of_two_orders_that_goes_back_to_the_line_is_two_orders_there(station):
    for cancelled, left in ((0, 1), (1, 0)):
        orders = shared(station)
        station.tap(1, Undo)                            # back to the latte served before
        assert [order_id for order_id, _ in station.service.line.orders()] == list(orders)
        station.service.orders.cancel(orders[cancelled])
        assert [order_id for order_id, _ in station.service.line.orders()] == [orders[left]]
        station.serve(1)
        assert owed(station.service) == [(orders[left], 0)]
        station.serve(1)
        assert station.book.today().of(Pull)[-1].drinks == ("Macchiato",)


DEEDS = {
    "a tap": lambda service, order: service.tap(1, Forward),
    "an order": lambda service, order: service.orders.take(((service.setup.menu[0], 1),)),
    "an order cancelled": lambda service, order: service.orders.cancel(order),
    "an order made again": lambda service, order: service.orders.again(order),
    "a drink sent back": lambda service, order: service.orders.sent_back(order, "cold"),
    "an order changed": lambda service, order: service.orders.change(order, ((service.setup.menu[1], 1),)),
    "a group out of use": lambda service, order: service.next_state(2),
    "a group rinsed": lambda service, order: service.rinsed(2),
    "another barista": lambda service, order: service.choose("Ben"),
    "a setting": lambda service, order: service.set_setting(("sounds",), False),
    "a notch": lambda service, order: service.grinding.move(service.setup.grinders[0], "finer", 6.0),
}


@pytest.mark.parametrize("deed", DEEDS)
def test_whatever_a_hand_does_is_drawn_once(station, deed):
    station.service.tasks.cleaner(2)
    order = station.order("Espresso", "Latte", "Latte")
    drawn = []
    station.service.changed.append(lambda: drawn.append(deed))
    DEEDS[deed](station.service, order)
    assert drawn == [deed]
