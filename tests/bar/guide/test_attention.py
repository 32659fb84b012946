"""Which lane needs a hand next, and what hands do to the line of orders."""

from kiosk.bar.guide import begin, next_lane, step
from kiosk.bar.guide import guide as g
from kiosk.bar.model import DOUBLE, usual
from tests.support.at_work import AtWork

RECIPE = usual("House", DOUBLE)


def after(taps: int, t_s: float = 0.0):
    guide = begin(RECIPE, t_s)
    for n in range(taps):
        guide = step(guide, g.Forward(t_s + n))
    return guide


def test_a_pump_to_stop_goes_before_a_waiting_portafilter_before_a_cooling_cup_before_the_rest():
    warm, locked, pulling, served = after(0), after(4), after(5), after(6)
    assert next_lane([(1, warm, False), (2, locked, False), (3, pulling, True), (4, served, False)]) == 3
    assert next_lane([(1, warm, False), (2, locked, False), (3, pulling, False), (4, served, False)]) == 2
    assert next_lane([(1, warm, False), (3, pulling, False), (4, served, False)]) == 4
    assert next_lane([(1, warm, False), (3, pulling, False)]) == 1


def test_grounds_in_a_portafilter_go_before_a_step_that_keeps():
    tamping, purging = after(2, 50.0), after(3, 50.0)
    assert next_lane([(1, after(0), False), (2, after(1), False), (3, tamping, False)]) == 3
    assert next_lane([(1, after(0), False), (2, purging, False)]) == 2


def test_a_pull_that_runs_by_itself_asks_for_no_hand():
    assert next_lane([(1, after(5), False)]) is None and next_lane([]) is None


def test_of_two_lanes_alike_the_one_that_waits_longer_is_next():
    assert next_lane([(1, after(0, 50.0), False), (2, after(0, 20.0), False)]) == 2


def names(work):
    return [each.planned.title for each in work.service.line.waiting]


def test_orders_are_put_first_held_taken_back_and_made_again_and_a_restart_knows(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 1}) as work:
        menu = {drink.name: drink for drink in work.service.setup.menu}
        ids = [work.service.orders.take(((menu[name], 1),)) for name in ("Latte", "Mocha", "Americano", "Double espresso")]
        rooms, finger = work.kiosk.root, work.finger
        finger.tap("Next")
        work.frames(3)
        assert rooms.current == "line"
        rooms.room("line").put_first(ids[3])
        rooms.room("line").hold(ids[1], held=False)
        rooms.room("line").cancel(ids[2])
        two = work.service.orders.take(((menu["Latte"], 2),))
        work.service.line.first(two)
        for _ in range(7):
            work.service.tap(1, g.Forward)
        assert work.service.lanes[1].work.waiting.order_id == two
        work.service.tap(1, g.Forward)
        work.service.orders.cancel(two)                            # one is on its way, the other is not made
        assert names(work) == ["Double espresso", "Mocha"]
        assert work.service.set_setting(("menu",), {"Mocha": {"shot": "single"}, "Espresso": {}}) == ()
        day = work.wall()                                   # a menu changed since does not change what was ordered
    with AtWork(tmp_path, scale=False, settings={}, day=day) as work:
        assert names(work) == ["Double espresso", "Mocha"] and work.service.line.held == {ids[1]}
        for title in ("Latte", "Double espresso"):
            lane = work.service.lanes[1]
            assert lane.work.planned.title == title
            key = lane.work.key
            while lane.work is not None and lane.work.key == key:
                work.service.tap(1, g.Forward)
        assert work.service.lanes[1].work is None           # the held one is not taken
        work.service.orders.again(ids[0])
        assert work.service.lanes[1].work.planned.title == "Latte"
        work.service.line.release(ids[1])
        assert names(work) == ["Mocha"] and not work.service.line.held


def test_a_rush_of_ten_orders_stays_readable(tmp_path):
    from tests.support import tour

    with AtWork(tmp_path, scale=False, settings={"groups": 2}) as work:
        menu = {drink.name: drink for drink in work.service.setup.menu}
        for name in ("Espresso", "Latte", "Mocha", "Cappuccino", "Americano") * 2:
            work.service.orders.take(((menu[name], 2),))
        work._drawn_until = work._frames + 5
        work.frames(5)
        assert "more" in work.kiosk.root.room("station").waiting
        assert tour.faults(work.kiosk.root) == []
        work.finger.tap("Next")
        work._drawn_until = work._frames + 5
        work.frames(5)
        assert tour.faults(work.kiosk.root) == []


def test_a_bounce_of_the_finger_does_no_second_step_and_touches_nothing_in_the_room_it_opened(tmp_path, monkeypatch):
    from kiosk.screens.ui import rooms, touch
    from kiosk.screens.ui.touch import Key

    for module in (rooms, touch):                           # all of it within a moment, however slow the computer
        monkeypatch.setattr(module, "monotonic", lambda: 1000.0)
    with AtWork(tmp_path, scale=False, settings={"groups": 1}) as work:
        work.play(work.hand.order("Latte"))
        card = work.hand.card(1)
        key = work.finger.find("Cup is warm", card)
        place = key.to_window(*key.center)
        key._last_tap = Key.opened_s = float("-inf")
        work.finger.touch(*place)
        work.finger.touch(*place)                           # the same wet finger, at once
        assert str(work.service.lanes[1].work.guide.step) == "dose"
        work.frames(3)
        out = work.finger.find("Bin", card)
        place = out.to_window(*out.center)
        out._last_tap = Key.opened_s = float("-inf")
        work.finger.touch(*place)
        work.frames(3)
        for x, y in ((100, 200), (400, 200), (700, 200), place):
            work.finger.touch(x, y)
        assert work.kiosk.root.current == "bin" and work.service.lanes[1].work.guide.sink is None
