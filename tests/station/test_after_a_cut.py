"""Collars, coffees, settings and orders over a cut, a change in Setup, and the end of the service day."""

from collections import Counter
from datetime import timedelta
from itertools import count

import pytest

from kiosk.bar.guide import Bin, Undo
from kiosk.bar.model import GroundsPurged, GuideEvent, NotchMoved, OrderEnded, OrderTaken, Pull, Step
from kiosk.station.restore import records_to_replay, restored
from tests.support.a_station import PlugPulled, WorkingStation
from tests.support.at_work import OPENING

GRINDER = ("grinders", "Grinder 1")
WRITES = "keep", "keep_all", "jot", "set_setting", "remember"        # all by which the book is given something
NEARLY_FOUR = OPENING.replace(hour=3, minute=58)        # a service day ends at four


@pytest.fixture
def station(tmp_path):
    found = WorkingStation(tmp_path / "book")
    yield found
    found.book.close()


def collar(station) -> int:
    return station.service.setup.grinders[0].setting


def turn(station, direction: str = "finer") -> tuple[str, ...]:
    return station.service.grinding.move(station.service.setup.grinders[0], direction, 6.0)


def in_lanes(service) -> dict:
    return {group: (lane.work.planned.title, lane.work.guide.step, lane.work.guide.recipe.coffee, lane.work.setting)
            for group, lane in service.lanes.items() if lane.work is not None}


# ---- notches ------------------------------------------------------------------------------------------------------

def test_a_notch_cut_off_before_the_collar_was_set_stands_after_the_restart_with_its_grounds(station):
    station.order("Latte")
    station.cut("set_setting", lambda: turn(station))
    assert collar(station) == 19 == station.service.lanes[1].work.setting
    assert [(move.before, move.after) for move in station.book.today().of(NotchMoved)] == [(20, 19)]
    assert len(station.book.today().of(GroundsPurged)) == 1


def test_a_notchs_undo_cut_off_before_the_collar_was_set_back_stands_after_the_restart(station):
    turn(station)
    station.cut("set_setting", station.service.grinding.undo_move)
    assert collar(station) == 20
    assert station.book.today().of(NotchMoved) == () == station.book.today().of(GroundsPurged)


def test_a_notch_cut_off_in_the_evening_stands_in_the_morning(station):
    station.cut("set_setting", lambda: turn(station), after_s=timedelta(hours=23).total_seconds())
    assert len(station.book.days()) == 2 and collar(station) == 19


def test_a_collar_whose_file_was_not_written_any_more_stands_where_the_records_left_it(station):
    station.service.set_setting(("bar",), "The corner")
    file = station.folder / "settings.json"
    before = file.read_bytes()
    turn(station)
    file.write_bytes(before)
    station.restart()
    assert collar(station) == 19
    before = file.read_bytes()
    station.service.set_setting((*GRINDER, "setting"), 24)
    file.write_bytes(before)
    station.restart()
    assert collar(station) == 24


def test_a_collar_corrected_after_a_notch_is_what_it_was_corrected_to_after_a_restart(station):
    turn(station)
    station.service.set_setting((*GRINDER, "setting"), 24)
    station.restart()
    assert collar(station) == 24
    turn(station)
    station.service.set_setting(GRINDER, {"setting": 30})
    station.restart()
    assert collar(station) == 30


def test_a_notch_is_not_undone_once_the_collar_was_corrected(station):
    turn(station)
    station.service.set_setting((*GRINDER, "setting"), 30)
    assert not station.service.grinding.undo_move()
    assert collar(station) == 30 and len(station.book.today().of(NotchMoved)) == 1


def test_a_notch_past_the_end_of_the_collar_is_refused_and_nothing_of_it_is_kept(station):
    station.service.set_setting((*GRINDER, "setting"), 999)
    said = turn(station, "coarser")
    assert "between -999 and 999" in said[0]
    assert station.book.today().of(NotchMoved) == () == station.book.today().of(GroundsPurged)
    assert collar(station) == 999 and turn(station) == () and collar(station) == 998


# ---- Setup while orders wait ----------------------------------------------------------------------------------------

def test_a_collar_corrected_in_setup_is_the_setting_of_what_was_not_dosed_yet_and_of_nothing_else(station):
    station.order("Latte", "Latte")
    station.tap(1, times=2)                             # warmed and dosed
    station.service.set_setting((*GRINDER, "setting"), 25)
    assert [lane.work.setting for lane in station.service.lanes.values()] == [20, 25]
    station.tap(2, times=2)                             # dosed now
    station.restart()
    assert [lane.work.setting for lane in station.service.lanes.values()] == [20, 25]
    station.serve(2)
    station.serve(1)
    assert [(pull.group, pull.setting) for pull in station.book.today().of(Pull)] == [(2, 25), (1, 20)]


def test_orders_of_a_coffee_that_no_grinder_holds_any_more_are_made_of_the_house_coffee_unless_dosed(station):
    station.order("Latte", "Mocha", "Americano")
    station.tap(1, times=2)                             # dosed
    station.tap(2)                                      # warmed
    station.service.set_setting((*GRINDER, "coffee"), "Dark")
    expected = {1: ("Latte", Step.TAMP, "House", 20), 2: ("Mocha", Step.DOSE, "Dark", 20)}
    assert in_lanes(station.service) == expected
    assert in_lanes(station.restart()) == expected
    assert len(restored(records_to_replay(station.book), station.service.setup).works) == 2
    for group in (1, 2, 1):
        station.serve(group)
    pulls = station.book.today().of(Pull)
    assert [(pull.drinks[0], pull.coffee) for pull in pulls] == [
        ("Latte", "House"), ("Mocha", "Dark"), ("Americano", "Dark")]
    assert len(station.book.today().of(OrderEnded)) == 1


def test_orders_follow_their_coffee_to_the_grinder_that_holds_it_now(station):
    station.service.set_setting(("grinders",), {"Left": {"coffee": "House"}, "Right": {"coffee": "Dark", "setting": 12}})
    station.order("Latte")
    station.service.set_setting(("grinders",), {"Left": {"coffee": "Dark"}, "Right": {"coffee": "House", "setting": 12}})
    station.serve(1)
    (pull,) = station.book.today().of(Pull)
    assert (pull.grinder, pull.coffee, pull.setting) == ("Right", "House", 12)


# ---- settings -----------------------------------------------------------------------------------------------------

def test_one_setting_that_does_not_fit_keeps_nobody_from_the_others(station):
    station.book.set_setting("groups", 0)                    # as a hand or an older program left it
    station.book.set_setting("limits", {"lock_to_pump_s": 0})
    service = station.restart()
    assert len(service.complaints) == 2
    assert turn(station) == () and collar(station) == 19
    assert service.set_setting(("bar",), "The corner") == () and service.setup.bar == "The corner"
    assert "1 to 4 groups" in service.set_setting(("groups",), 9)[0]         # as wrong as it was
    assert service.set_setting(("groups",), 3) == () and service.setup.groups == 3
    assert len(service.complaints) == 1


@pytest.mark.parametrize("name", ["Right. Mill", ""])
def test_a_grinder_whose_name_would_not_be_taken_now_can_still_be_turned(station, name):
    station.book.set_setting("grinders", {name: {"setting": 20}})
    service = station.restart()
    assert turn(station) == () and service.setup.grinder(name).setting == 19
    assert station.restart().setup.grinder(name).setting == 19
    assert "full stop" in station.service.set_setting(("grinders", "A. B", "setting"), 20)[0]


# ---- the end of the service day -----------------------------------------------------------------------------------

def test_what_was_on_its_way_when_the_service_day_ended_is_still_to_be_made_after_a_restart(tmp_path):
    station = WorkingStation(tmp_path / "book", begins=NEARLY_FOUR)
    station.order("Latte", "Mocha", "Americano")
    station.tap(1, times=3)
    before = in_lanes(station.service)
    service = station.restart(after_s=180)
    assert station.book.day_now() == str(OPENING.date())
    assert in_lanes(service) == before and [each.planned.title for each in service.line.waiting] == ["Americano"]
    station.order("Cappuccino")                         # the new day has an order of its own
    service = station.restart()
    assert in_lanes(service) == before
    assert [each.planned.title for each in service.line.waiting] == ["Americano", "Cappuccino"]
    for group in (1, 2, 1, 2):
        station.serve(group)
    ended = [ended.how for day in station.book.days() for ended in station.book.day(day).of(OrderEnded)]
    assert ended == ["served", "served"] and station.restart().line.orders() == []
    station.book.close()


def test_a_pull_undone_after_the_service_days_end_is_counted_once_after_a_restart(tmp_path):
    station = WorkingStation(tmp_path / "book", begins=NEARLY_FOUR)
    station.order(*["Latte"] * 4)
    station.serve(1, 33.0)
    station.t_s += 180
    station.serve(2)
    station.tap(1, Undo)
    station.tap(2)                                      # a new step is kept after the correction
    for made in (1, 2):
        service = station.restart()
        grinder = service.setup.grinders[0]
        pulls = [pull for day in station.book.days() for pull in station.book.day(day).of(Pull)]
        assert len(station.book.days()) == 2
        assert len(pulls) == made == service.grinding.watch(grinder.name, grinder.coffee).detector.pulls
        station.serve(1)
    station.book.close()


def test_a_pull_cut_off_over_the_service_days_end_before_its_watch_remembered_it_is_watched_all_the_same(tmp_path):
    station = WorkingStation(tmp_path / "book", begins=NEARLY_FOUR)
    station.order("Latte")
    station.t_s = 100.0
    station.tap(1, times=5)
    assert station.service.lanes[1].work.guide.pulling and station.book.day_now() < str(OPENING.date())
    station.t_s += 20.0
    turn(station)                                       # kept and remembered with the new day
    station.cut("remember", lambda: station.serve(1))
    assert [len(station.book.day(day).of(Pull)) for day in station.book.days()] == [1, 0]
    grinder = station.service.setup.grinders[0]
    watch = station.service.grinding.watch(grinder.name, grinder.coffee)
    pull, = station.book.day(station.book.days()[0]).of(Pull)
    assert [point.pull_id for point in watch.points] == [pull.id]       # of the old setting: the new run begins after it
    station.book.close()


def test_a_watch_that_has_seen_four_days_counts_each_pull_once_after_a_restart(station):
    for day in range(1, 5):
        station.order("Latte")
        station.serve(1)
        service = station.restart(after_s=24 * 3600)
        grinder = service.setup.grinders[0]
        assert len(station.book.days()) == day
        assert service.grinding.watch(grinder.name, grinder.coffee).detector.pulls == day


def test_an_order_left_in_the_evening_is_not_what_the_morning_begins_with(station):
    station.order("Latte")
    service = station.restart(after_s=timedelta(hours=23).total_seconds())
    assert in_lanes(service) == {} and service.line.waiting == []


def test_an_order_of_yesterday_whose_time_has_no_offset_keeps_no_kiosk_from_starting(station):
    station.book.keep(OrderTaken(id=station.book.new_id(), at="2026-03-13T20:00:00", drinks=(("Latte", 1),),
                                 coffee="House"))
    assert station.restart().line.waiting == []


# ---- anywhere -----------------------------------------------------------------------------------------------------

def worked(station):
    """Some minutes with all that is hard in them."""
    station.order("Latte", "Latte", "Latte")
    station.serve(1)
    station.serve(2)
    station.tap(1, Undo)
    station.serve(1)
    station.tap(1, times=2)
    station.service.tap(1, Bin, "gushed")
    turn(station)
    station.service.grinding.undo_move()
    turn(station)
    station.serve(1, 31.0)
    station.order("Mocha")
    station.service.set_setting((*GRINDER, "coffee"), "Dark")
    station.serve(1)


def cut_short(station, at: int) -> bool:
    """Whether the work was cut off as the book was called for the `at`th time; False where it had come to its end."""
    calls = count(1)

    def counted(real):
        def call(*given, **more):
            if next(calls) == at:
                raise PlugPulled
            return real(*given, **more)
        return call

    for name in WRITES:
        setattr(station.book, name, counted(getattr(station.book, name)))
    try:
        worked(station)
        return False
    except PlugPulled:
        return True
    finally:
        for name in WRITES:
            delattr(station.book, name)


def test_wherever_the_plug_is_pulled_each_cup_is_made_once_each_order_ends_once_and_the_collar_is_the_records(tmp_path):
    for at in count(1, 3):                              # every third moment, for time's sake: all of them hold
        station = WorkingStation(tmp_path / str(at))
        went_on = not cut_short(station, at)
        service = station.restart()
        while any(lane.work for lane in service.lanes.values()):
            station.serve(next(group for group, lane in service.lanes.items() if lane.work))
        today = station.book.today()
        served = Counter(pull.id.rsplit(".", 1)[0] for pull in today.of(Pull) if pull.sink is None)
        asked = [f"{order.id}.{n}" for order in today.of(OrderTaken) for n in range(len(order.pulls))]
        assert served == Counter(asked), at
        orders = [order.id for order in today.of(OrderTaken)]
        assert sorted(each.order_id for each in today.of(OrderEnded)) == orders, at
        assert collar(station) == ([move.after for move in today.of(NotchMoved)] or [20])[-1], at
        station.book.close()
        if went_on:
            break
    assert at > 60


@pytest.mark.parametrize("event", [{"event": "Nonsense", "t_s": 5.0}, {"event": "Reground", "t_s": 5.0, "setting": None}])
def test_a_pull_whose_events_cannot_be_read_is_set_aside_and_named_and_its_drinks_wait(event, tmp_path):
    station = WorkingStation(tmp_path / "book")
    service = station.service
    service.orders.take(((service.setup.menu[1], 2),))
    first, second = (service.lanes[group].work for group in (1, 2))
    service.book.keep(GuideEvent(id=service.book.new_id(), at=service.clock.at(), pull_id=first.key,
                                 event=event))
    found = restored(records_to_replay(service.book), service.setup)
    assert found.aside == [first.key] and [work.key for work in found.works] == [second.key]
    assert [(each.order_id, each.index) for each in found.waiting] == [(first.waiting.order_id, first.waiting.index)]
    station.book.close()
