"""What hands do to a cup and a scale in mid-pull, on the real screens: late taps, cups moved, leaning, a cloth, a cut."""

import pytest

from kiosk.bar.guide import guide as guides
from kiosk.bar.model import Pull, Step
from tests.support.at_work import AtWork
from tests.support.quiet_hands import pour


def ready(work, drinks=1):
    """A lane locked in, its dose noted by hand."""
    work.service.orders.take(((work.service.setup.menu[1], drinks),))
    lane = work.service.lanes[1]
    work.service.happened(1, guides.DoseTapped(work.t_s, 16.0))
    while lane.work.guide.step is not Step.PULL:
        work.service.tap(1, guides.Forward)
    return lane


def pulls(work):
    return work.book.today().of(Pull)


def pump_on(work):
    return lambda: work.service.tap(1, guides.Forward)


def test_scene_06_a_stop_tapped_forty_seconds_late_with_the_cup_weighed_keeps_the_scales_time(tmp_path):
    with AtWork(tmp_path, settings={"groups": 1}) as work:
        lane = ready(work)
        truth = pour(work, on=pump_on(work), lifted_after_s=40.0)
        assert lane.work is None
        pull, = pulls(work)
        assert pull.time_s == pytest.approx(truth.time_s, abs=1.0) and pull.time_from == "scale"
        assert pull.yield_g == pytest.approx(truth.in_cup_g, abs=0.3)


def test_scene_09_a_cup_set_down_late_is_timed_and_its_first_drop_is_not_invented(tmp_path):
    with AtWork(tmp_path, settings={"groups": 1}) as work:
        ready(work)
        truth = pour(work, on=pump_on(work), set_down_s=10.0, run_s=28)
        pull, = pulls(work)
        assert pull.time_s == pytest.approx(truth.time_s, abs=1.5)
        assert pull.yield_g is None or pull.yield_g == pytest.approx(truth.in_cup_g, abs=1.0)
        assert pull.first_drop_s is None or pull.first_drop_s <= 10.5


def test_scene_10_a_cup_lifted_looked_at_and_put_back_costs_the_yield_and_not_the_time(tmp_path):
    with AtWork(tmp_path, settings={"groups": 1}) as work:
        ready(work)
        done = []

        def during(s):
            if s > 15 and not done:
                done.append(work.scale.load_g)
                work.scale.lift_all()
            if s > 17 and len(done) == 1:
                work.scale.put_on(done[0])
                done.append(0)

        truth = pour(work, on=pump_on(work), during=during, run_s=27)
        pull, = pulls(work)
        assert pull.yield_g is None or pull.yield_g == pytest.approx(truth.in_cup_g, abs=1.0)
        assert pull.time_s is None or pull.time_s == pytest.approx(truth.time_s, abs=1.5)


def test_scene_12_a_hand_that_leans_for_two_seconds_changes_nothing(tmp_path):
    with AtWork(tmp_path, settings={"groups": 1}) as work:
        ready(work)
        leaning = []

        def during(s):
            if s > 10 and not leaning:
                leaning.append("on")
                work.scale.put_on(60.0)
            if s > 12 and leaning == ["on"]:
                leaning.append("off")
                work.scale.put_on(-60.0)

        truth = pour(work, on=pump_on(work), during=during)
        pull, = pulls(work)
        assert pull.time_s == pytest.approx(truth.time_s, abs=1.0)
        assert pull.yield_g is None or pull.yield_g == pytest.approx(truth.in_cup_g, abs=0.5)


def test_scene_29_the_power_goes_at_20_s_of_a_pull_and_comes_back_after_40(tmp_path):
    with AtWork(tmp_path, settings={"groups": 1}) as work:
        ready(work)
        work.scale.put_on(94.0)
        work.frames(30)
        work.service.tap(1, guides.Forward)
        work.frames(round(20 / 0.05))
        t_s, key = work.t_s, work.service.lanes[1].work.key
        work.scale.lift_all()
    later = AtWork(tmp_path, settings={"groups": 1}, start_s=t_s + 40)
    with later as work:
        guide = work.service.lanes[1].work.guide
        assert work.service.lanes[1].work.key == key and guide.pump_on_at_s is not None
        assert any("restarted" in note for note in guide.notes)
        work.service.tap(1, guides.Forward)
        work.service.tap(1, guides.Forward)
        pull, = pulls(work)
        assert pull.time_s is None or pull.time_s >= 55


def test_scene_75_a_purge_and_a_cloth_on_the_scale_are_no_pull(tmp_path):
    with AtWork(tmp_path, settings={"groups": 1}) as work:
        lane = ready(work)
        work.scale.put_on(25.0)                     # a cloth
        work.frames(60)
        work.scale.put_on(45.0, over_s=3.0)         # hot water falls on it
        work.frames(140)
        assert lane.work.guide.pump_on_at_s is None and pulls(work) == ()


def test_scene_76_a_scale_that_sleeps_between_orders_wakes_to_the_next_pull(tmp_path):
    with AtWork(tmp_path, settings={"groups": 1}) as work:
        ready(work)
        work.service.scales.first.answering(False)
        work.frames(20)
        truth = pour(work, on=pump_on(work))
        pull, = pulls(work)
        assert pull.time_s == pytest.approx(truth.time_s, abs=1.0)
        assert pull.yield_g == pytest.approx(truth.in_cup_g, abs=0.3)
