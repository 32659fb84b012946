"""A rush on the real screens with each group's own signal: no finger touches the glass after the order."""

import time

import pytest

from kiosk.bar.guide import guide as guides
from kiosk.bar.model import Pull, Step
from tests.support.at_work import AtWork
from tests.support.modem_lines import Served
from tests.support.quiet_hands import pour


def signal(work, group, on):
    work.service.signals.edge(group, work.t_s, on)


def pulls(work):
    return work.book.today().of(Pull)


def run(work, group, seconds):
    signal(work, group, True)
    work.frames(round(seconds / 0.05))
    signal(work, group, False)
    work.frames(10)


def test_scene_01_a_signal_and_a_scale_time_and_weigh_a_pull_that_nobody_touched(tmp_path):
    with AtWork(tmp_path, settings={"groups": 1}) as work:
        work.service.orders.take(((work.service.setup.menu[1], 1),))
        run(work, 1, 3.0)
        truth = pour(work, on=lambda: signal(work, 1, True), off=lambda: signal(work, 1, False))
        pull, = pulls(work)
        assert (pull.on_from, pull.time_from, pull.purged) == ("contact", "contact", True)
        assert pull.time_s == pytest.approx(truth.time_s, abs=0.15)
        assert pull.yield_g == pytest.approx(truth.in_cup_g, abs=0.3)
        assert "purge" not in pull.not_told and "warm" in pull.not_told


def test_two_pulls_in_turn_without_a_scale_are_each_timed_by_the_signal(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 1}) as work:
        work.service.orders.take(((work.service.setup.menu[1], 2),))
        for seconds in (24.0, 27.0):
            run(work, 1, 3.0)
            run(work, 1, seconds)
            work.frames(100)
        run(work, 1, 3.0)
        assert [pull.time_s for pull in pulls(work)] == [pytest.approx(24.0, abs=0.15), pytest.approx(27.0, abs=0.15)]


def test_scene_71_a_purge_and_a_backflush_are_no_pulls(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 1}) as work:
        work.service.orders.take(((work.service.setup.menu[1], 1),))
        run(work, 1, 3.0)
        run(work, 1, 25.0)
        work.frames(120)
        work.service.tap(1, guides.Forward)             # served
        for _ in range(10):
            run(work, 1, 5.0)
            work.frames(40)
        pull, = pulls(work)
        assert pull.purged is True and work.service.lanes[1].work is None


def test_a_purge_at_the_lock_in_is_taken_back_when_the_pump_stops_at_once(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 1}) as work:
        work.service.orders.take(((work.service.setup.menu[1], 1),))
        lane = work.service.lanes[1]
        while lane.work.guide.step is not Step.PULL:
            work.service.tap(1, guides.Forward)
        run(work, 1, 3.0)
        assert lane.work.guide.pump_on_at_s is None and lane.work.guide.purged


def test_a_pull_that_nobody_ordered_is_kept_by_its_signal(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 1}) as work:
        run(work, 1, 26.0)
        assert work.service.lanes[1].work.guide.time_s == pytest.approx(26.0, abs=0.1)
        work.frames(100)
        run(work, 1, 3.0)
        assert [pull.drinks for pull in pulls(work)] == [()]


def test_a_burst_of_six_orders_and_nine_drinks_takes_twenty_touches_at_most(tmp_path):
    burst = (("Espresso",), ("Latte", "Cappuccino"), ("Double espresso",), ("Espresso", "Espresso"), ("Americano",),
             ("Latte", "Latte"))
    assert sum(map(len, burst)) == 9
    with AtWork(tmp_path, settings={"groups": 1}) as work:
        taps = work.finger.taps
        work.tap("Order")
        for n, drinks in enumerate(burst):
            work.tap(*drinks, "Next order" if n < len(burst) - 1 else "Start")
        while work.service.lanes[1].work is not None:
            pour(work, on=lambda: signal(work, 1, True), off=lambda: signal(work, 1, False))
            work.frames(40)
        made = [drink for pull in pulls(work) for drink in pull.drinks]
        assert sorted(made) == sorted(drink for drinks in burst for drink in drinks)
        assert all(pull.time_from == "contact" and pull.yield_g is not None for pull in pulls(work))
        assert work.finger.taps - taps <= 20


def test_a_weighed_pull_that_nobody_ordered_is_timed_by_its_signal_and_in_its_own_lane(tmp_path):
    with AtWork(tmp_path, settings={"groups": 2}) as work:
        truth = pour(work, on=lambda: signal(work, 2, True), off=lambda: signal(work, 2, False))
        work.frames(40)
        pull, = pulls(work)
        assert (pull.group, pull.on_from, pull.time_from, pull.drinks) == (2, "contact", "contact", ())
        assert pull.time_s == pytest.approx(truth.time_s, abs=0.15)
        assert pull.first_drop_s == pytest.approx(truth.drop_s - truth.on_s, abs=0.5)


def test_a_signal_over_a_real_rfc_2217_port_times_a_pull_through_the_kiosk(tmp_path):
    """RFC 2217's NOTIFY-MODEMSTATE over a socket of this machine, served by pyserial; the adapter behind it has its lines set
    by hand. At real pace: the port's thread looks at the lines as often as it does in a bar."""
    with Served() as port, AtWork(tmp_path, scale=False, settings={"groups": 1}) as work:
        def at_pace(seconds):
            for _ in range(round(seconds / 0.05)):
                time.sleep(0.05)
                work.frame()

        assert work.service.set_setting(("signals", "1"), {"url": port.url, "line": "cts"}) == ()
        until = time.monotonic() + 15
        while not all(each.connected and each.on[1] is False for each in work.service.signals.health) \
                or not work.service.signals.health:
            assert time.monotonic() < until
            at_pace(0.1)
        work.service.orders.take(((work.service.setup.menu[1], 1),))
        port.adapter.cts = True
        at_pace(9.0)
        port.adapter.cts = False
        at_pace(0.5)
        guide = work.service.lanes[1].work.guide
        assert (guide.on_from, guide.off_from, guide.step) == ("contact", "contact", Step.SERVE)
        assert guide.time_s == pytest.approx(9.0, abs=0.3)


def test_a_pump_that_ran_before_anything_was_ordered_is_no_pull_of_the_order_that_comes_meanwhile(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 1}) as work:
        signal(work, 1, True)
        work.frames(round(20 / 0.05))                   # a long flush, or a contact that sticks
        work.service.orders.take(((work.service.setup.menu[1], 1),))
        work.frames(40)
        guide = work.service.lanes[1].work.guide
        assert guide.step is Step.WARM and guide.pump_on_at_s is None


def test_scene_25_a_signal_that_sticks_on_is_said_and_ends_nothing(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 1}) as work:
        work.service.orders.take(((work.service.setup.menu[1], 1),))
        signal(work, 1, True)
        work.frames(round(185 / 0.05))
        assert any("stays on" in each for each in work.service.complaints)
        assert pulls(work) == ()
