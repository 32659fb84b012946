"""A rush on the real screens with a scale under the cups: nobody taps, or taps at the wrong moment."""

import shutil
import time
from datetime import timedelta

import pytest

from hardware.scale import CONNECTED
from kiosk.bar.guide import guide as guides
from kiosk.bar.model import Pull, Step
from tests.support.at_work import OPENING, AtWork
from tests.support.quiet_hands import PORTAFILTER_G, pour


def pulls(work):
    return work.book.today().of(Pull)


TAUGHT = 3


@pytest.fixture(scope="module")
def taught_book(tmp_path_factory):
    """A book of pulls whose pump a finger told, so that the group's first drop is known."""
    folder = tmp_path_factory.mktemp("taught") / "book"
    with AtWork(folder, settings={"groups": 1}) as work:
        for _ in range(TAUGHT):
            work.service.orders.take(((work.service.setup.menu[1], 1),))
            work.play(work.hand.pull(1))
        assert len(pulls(work)) == TAUGHT
    return folder


@pytest.fixture
def work(taught_book, tmp_path):
    """The same bar ten minutes later, on a copy of that book."""
    shutil.copytree(taught_book, tmp_path / "book")
    with AtWork(tmp_path / "book", day=OPENING + timedelta(minutes=10)) as work:
        yield work


def test_scene_02_nobody_touches_the_glass_after_start_and_the_pull_is_kept(work):
    work.service.orders.take(((work.service.setup.menu[1], 1),))
    truth = pour(work)
    pull = pulls(work)[TAUGHT]
    assert len(pulls(work)) == TAUGHT + 1
    assert pull.sink is None and pull.on_from == "scale" and pull.time_from == "scale"
    assert pull.time_s == pytest.approx(truth.time_s, abs=max(1.5, pull.time_within_s))
    assert pull.yield_g == pytest.approx(truth.in_cup_g, abs=0.3)
    assert set(pull.not_told) == {"warm", "dose", "tamp", "purge"} and pull.skipped == ()
    assert (pull.warmed, pull.purged, pull.dose_g) == (None, None, None)


@pytest.mark.parametrize("set_down_s", [4.5, 7.0, 9.0])
def test_a_cup_that_comes_under_the_stream_leaves_the_start_as_open_as_it_is(work, set_down_s):
    """When the stream had begun nobody saw: it was told from the cup, five seconds late, ± two and a half."""
    work.service.orders.take(((work.service.setup.menu[1], 1),))
    truth = pour(work, set_down_s=set_down_s, lifted_after_s=6.0)
    pull = pulls(work)[TAUGHT]
    assert truth.drop_s - truth.on_s < set_down_s and pull.first_drop_s is None
    assert pull.time_s == pytest.approx(truth.time_s, abs=pull.time_within_s)


def test_a_pour_seen_at_the_lock_in_starts_the_clock_by_itself(work):
    work.service.orders.take(((work.service.setup.menu[1], 1),))
    lane = work.service.lanes[1]
    work.service.happened(1, guides.DoseTapped(work.t_s, 16.0))
    while lane.work.guide.step is not Step.PULL:
        work.service.tap(1, guides.Forward)
    truth = pour(work)
    pull = pulls(work)[TAUGHT]
    assert pull.time_s == pytest.approx(truth.time_s, abs=max(1.5, pull.time_within_s))
    assert "Start at once" not in work.kiosk.root.room("station").card(1).warning


def test_a_late_tap_on_pump_on_only_confirms_what_was_seen(work):
    work.service.orders.take(((work.service.setup.menu[1], 1),))
    guide = work.service.lanes[1].work
    tapped = []

    def during(_s):
        if guide.guide.pump_on_at_s is not None and not tapped:
            tapped.append(work.t_s)
            work.service.tap(1, guides.Forward)

    truth = pour(work, during=during)
    assert tapped and pulls(work)[TAUGHT].time_s == pytest.approx(truth.time_s, abs=1.5)


def test_scene_04_what_is_done_in_the_other_lane_takes_no_scale_from_a_pour(tmp_path):
    with AtWork(tmp_path, settings={"groups": 2}) as work:
        work.service.orders.take(((work.service.setup.menu[1], 2),))
        first = work.service.lanes[1].work

        def during(s):
            if s > 9 and work.service.lanes[2].work.guide.step is Step.WARM:
                for _ in range(4):
                    work.service.tap(2, guides.Forward)     # warm, dose, tamped, purged

        work.service.happened(1, guides.DoseTapped(work.t_s, 16.0))
        while first.guide.step is not Step.PULL:
            work.service.tap(1, guides.Forward)
        truth = pour(work, on=lambda: work.service.tap(1, guides.Forward), during=during)
        pull, = pulls(work)
        assert (pull.group, pull.yield_from) == (1, "scale")
        assert pull.yield_g == pytest.approx(truth.in_cup_g, abs=0.3)
        assert work.service.lanes[2].work.guide.pump_on_at_s is None


def test_a_lane_parked_at_purge_leaves_the_scale_to_the_others_portafilter(tmp_path):
    with AtWork(tmp_path, settings={"groups": 2}) as work:
        work.service.orders.take(((work.service.setup.menu[1], 2),))
        while work.service.lanes[1].work.guide.step is not Step.PURGE:
            work.service.tap(1, guides.Forward)
        work.service.tap(2, guides.Forward)
        work.scale.put_on(PORTAFILTER_G)
        work.frames(40)
        work.scale.put_on(16.0, over_s=4.0)
        work.frames(160)
        assert work.service.lanes[2].work.guide.dose_g == pytest.approx(16.0, abs=0.2)


@pytest.mark.parametrize("after_s", [0.5, 1.0, 2.0])
def test_scene_08_a_cup_lifted_soon_after_the_pump_stopped_ends_the_pull_at_its_true_time(work, after_s):
    work.service.orders.take(((work.service.setup.menu[1], 1),))
    lane = work.service.lanes[1]
    work.service.happened(1, guides.DoseTapped(work.t_s, 16.0))
    while lane.work.guide.step is not Step.PULL:
        work.service.tap(1, guides.Forward)
    truth = pour(work, on=lambda: work.service.tap(1, guides.Forward), lifted_after_s=after_s)
    work.frames(60)
    pull = pulls(work)[TAUGHT]
    if pull.time_s is None:
        assert any("stop" in note for note in pull.notes)
    else:
        assert pull.time_s == pytest.approx(truth.time_s, abs=0.9)
    assert lane.work is None


def test_scene_07_a_stop_tapped_late_with_nothing_weighed_is_not_timed(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 1}) as work:
        work.service.orders.take(((work.service.setup.menu[1], 1),))
        lane = work.service.lanes[1]
        while lane.work.guide.pump_on_at_s is None:
            work.service.tap(1, guides.Forward)
        work.frames(round(65 / 0.05))
        work.service.tap(1, guides.Forward)
        work.frames(20)
        assert not lane.work.guide.pulling
        work.service.tap(1, guides.Forward)
        pull, = pulls(work)
        assert pull.time_s is None and pull.stop_tapped_s == pytest.approx(65, abs=0.2) and pull.sink is None


def test_scene_03_made_not_timed_is_one_touch_and_pretends_nothing(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 1}) as work:
        work.service.orders.take(((work.service.setup.menu[1], 1),))
        work.service.tap(1, guides.NotTimed)
        work.service.tap(1, guides.Forward)
        pull, = pulls(work)
        assert (pull.time_s, pull.yield_g, pull.dose_g, pull.warmed) == (None, None, None, None)
        assert pull.skipped == () and "dose" in pull.not_told


def test_a_stop_taken_back_and_given_again_keeps_its_own_time(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 1}) as work:
        work.service.orders.take(((work.service.setup.menu[1], 1),))
        lane = work.service.lanes[1]
        while lane.work.guide.pump_on_at_s is None:
            work.service.tap(1, guides.Forward)
        work.frames(round(14.9 / 0.05))
        work.service.tap(1, guides.Forward)
        work.service.tap(1, guides.Undo)
        work.frames(round(37 / 0.05))
        work.service.tap(1, guides.Forward)
        assert lane.work.guide.time_s == pytest.approx(14.9, abs=0.1)


def test_scene_24_a_scale_that_comes_back_in_mid_pull_still_shows_the_stop(work):
    work.service.orders.take(((work.service.setup.menu[1], 1),))
    lane = work.service.lanes[1]
    work.service.happened(1, guides.DoseTapped(work.t_s, 16.0))
    while lane.work.guide.step is not Step.PULL:
        work.service.tap(1, guides.Forward)
    done = []

    def during(s):
        if s > 12 and not done:
            done.append("out")
            work.scale.unplug()
        if s > 15 and done == ["out"]:
            done.append("in")
            work.scale.replug()
            patience = time.monotonic() + 10
            while work.kiosk.port.health.state != CONNECTED and time.monotonic() < patience:
                time.sleep(0.01)

    truth = pour(work, on=lambda: work.service.tap(1, guides.Forward), during=during, run_s=30)
    pull = pulls(work)[TAUGHT]
    assert pull.yield_g is None
    assert pull.time_s == pytest.approx(truth.time_s, abs=1.5)


def test_scene_20_a_pull_that_nobody_ordered_is_kept_as_one_of_its_own(work):
    assert work.service.lanes[1].work is None
    truth = pour(work)
    pull = pulls(work)[TAUGHT]
    assert pull.drinks == () and pull.yield_g == pytest.approx(truth.in_cup_g, abs=0.3)
    assert work.service.lanes[1].work is None


def test_two_lanes_locked_in_are_asked_about_and_one_touch_answers(tmp_path):
    with AtWork(tmp_path, settings={"groups": 2}) as work:
        work.service.orders.take(((work.service.setup.menu[1], 2),))
        for group in (1, 2):
            while work.service.lanes[group].work.guide.step is not Step.PULL:
                work.service.tap(group, guides.Forward)
        asked = []

        def during(_s):
            if work.service.scales.first.claims.asking and not asked:
                asked.append(work.service.scales.first.claims.asking)
                assert "Whose" in work.kiosk.root.room("station").card(2).warning
                work.service.tap(2, guides.Forward)

        truth = pour(work, during=during)
        pull, = pulls(work)
        assert asked == [(1, 2)] and pull.group == 2
        assert pull.yield_g == pytest.approx(truth.in_cup_g, abs=0.3)
        assert work.service.lanes[1].work.guide.pump_on_at_s is None
