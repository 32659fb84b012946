"""What goes otherwise than planned in a rush, on the real screens: cups, portafilters, hopper and signals."""

import pytest

from kiosk.bar.guide import guide as guides
from kiosk.bar.model import Pull, Step
from tests.support.at_work import AtWork
from tests.support.quiet_hands import CUP_G, PORTAFILTER_G, pour


def pulls(work):
    return work.book.today().of(Pull)


def order(work, drink="Double espresso", count=1):
    work.service.orders.take(((work.service.setup.drink(drink), count),))


def locked_in(work, group=1):
    lane = work.service.lanes[group]
    work.service.happened(group, guides.DoseTapped(work.t_s, lane.work.guide.recipe.dose_g))
    while lane.work.guide.step is not Step.PULL:
        work.service.tap(group, guides.Forward)
    return lane


def test_scene_11_of_two_cups_one_is_lifted_early_and_nothing_is_invented(tmp_path):
    with AtWork(tmp_path, settings={"groups": 1}) as work:
        order(work, "Espresso", 2)
        lane, done = locked_in(work), []

        def during(s):
            if s > 18 and not done:
                done.append(work.scale.load_g)
                work.scale.put_on(-(CUP_G / 2 + (work.scale.load_g - CUP_G) / 2))      # one of the two, with its half

        truth = pour(work, on=lambda: work.service.tap(1, guides.Forward), during=during)
        pull, = pulls(work)
        assert lane.work is None and pull.drinks == ("Espresso", "Espresso")
        assert pull.time_s is None or pull.time_s == pytest.approx(truth.time_s, abs=1.5)
        assert pull.yield_g is None or any("lifted" in note or "yield" in note for note in pull.notes)


def test_scene_15_a_portafilter_from_another_bar_is_asked_for_empty_and_learned(tmp_path):
    with AtWork(tmp_path, settings={"groups": 1}) as work:
        for _ in range(2):
            order(work)
            work.service.tap(1, guides.Forward)
            work.scale.put_on(PORTAFILTER_G)
            work.frames(60)
            work.scale.put_on(16.0)
            work.frames(80)
            work.scale.lift_all()
            work.frames(40)
            assert work.service.lanes[1].work.guide.dose_g == pytest.approx(16.0, abs=0.2)
            work.service.tap(1, guides.Bin, "spilt")
            work.service.orders.cancel(work.service.lanes[1].work.waiting.order_id)
        order(work)
        work.service.tap(1, guides.Forward)
        work.scale.put_on(621.0 + 16.0)                     # never seen, and full
        work.frames(80)
        assert work.service.lanes[1].work.guide.dose_g is None
        work.scale.lift_all()
        work.frames(40)
        work.scale.put_on(621.0)
        work.frames(80)
        work.scale.put_on(16.2)
        work.frames(80)
        assert work.service.lanes[1].work.guide.dose_g == pytest.approx(16.2, abs=0.2)


def test_scene_73_the_hopper_runs_empty_in_mid_dose_and_the_dose_is_the_whole_of_it(tmp_path):
    with AtWork(tmp_path, settings={"groups": 1}) as work:
        order(work)
        work.service.tap(1, guides.Forward)
        work.scale.put_on(PORTAFILTER_G)
        work.frames(60)
        work.scale.put_on(9.0)
        work.frames(20 * 40)                                # beans are fetched
        guide = work.service.lanes[1].work.guide
        card = work.kiosk.root.room("station").card(1)
        assert guide.step is Step.DOSE and card.second.startswith("+7")
        work.scale.put_on(7.1)
        work.frames(80)
        work.scale.lift_all()
        work.frames(40)
        guide = work.service.lanes[1].work.guide
        assert guide.dose_g == pytest.approx(16.1, abs=0.2) and guide.step is Step.TAMP


def test_scene_74_a_single_basket_under_a_doubles_dose_is_said_and_kept_only_knowingly(tmp_path):
    with AtWork(tmp_path, settings={"groups": 1}) as work:
        order(work, "Espresso")
        work.service.tap(1, guides.Forward)
        work.scale.put_on(PORTAFILTER_G)
        work.frames(60)
        work.scale.put_on(16.0)
        work.frames(80)
        card = work.kiosk.root.room("station").card(1)
        assert card.second.startswith("−8") and card.next_text == "Keep it" and not card.strong
        work.scale.lift_all()
        work.frames(40)
        assert work.service.lanes[1].work.guide.step is Step.DOSE
        work.service.tap(1, guides.Forward)
        assert work.service.lanes[1].work.guide.dose_kept


def edge(work, group, on):
    work.service.signals.edge(group, work.t_s, on)


def test_scene_77_the_boiler_fills_while_a_pull_runs_and_is_no_pull_of_the_other_group(tmp_path):
    with AtWork(tmp_path, settings={"groups": 2}) as work:
        order(work)
        locked_in(work, 1)

        def during(s):
            if s == pytest.approx(10.0, abs=0.026):
                edge(work, 2, True)
            if s == pytest.approx(15.0, abs=0.026):
                edge(work, 2, False)

        truth = pour(work, on=lambda: edge(work, 1, True), off=lambda: edge(work, 1, False), during=during)
        pull, = pulls(work)
        assert pull.group == 1 and pull.time_s == pytest.approx(truth.time_s, abs=0.15)
        assert pull.yield_g == pytest.approx(truth.in_cup_g, abs=0.3) and work.service.lanes[2].work is None


def test_scene_26_a_signal_that_chatters_neither_ends_the_pull_nor_makes_another(tmp_path):
    with AtWork(tmp_path, settings={"groups": 1}) as work:
        order(work)
        locked_in(work, 1)
        for_s = [0.25, 0.35, 0.2, 0.15, 0.3, 0.35]          # slow enough to pass a debouncer

        def during(s):
            if for_s and s > 10 + 2 * (6 - len(for_s)):
                edge(work, 1, False)
                work.service.signals.edge(1, work.t_s + for_s.pop(), True)

        truth = pour(work, on=lambda: edge(work, 1, True), during=during, off=lambda: edge(work, 1, False))
        pull, = pulls(work)
        assert pull.time_s == pytest.approx(truth.time_s, abs=0.15) and pull.time_from == "contact"
        assert pull.yield_g == pytest.approx(truth.in_cup_g, abs=0.3)


def test_scene_27_a_signal_wired_to_the_wrong_group_is_said_and_the_coffee_stays_where_it_poured(tmp_path):
    signals = {"1": {"url": "loop://"}, "2": {"url": "loop://"}}
    with AtWork(tmp_path, settings={"groups": 2, "signals": signals}) as work:
        for _ in range(2):
            order(work)
            locked_in(work, 1)
            truth = pour(work, on=lambda: (work.service.tap(1, guides.Forward), edge(work, 2, True)), off=lambda: edge(work, 2, False))
            work.frames(60)
            if work.service.lanes[1].work is not None:
                work.service.tap(1, guides.Forward)
        made = pulls(work)                                  # and none of them is invented
        assert [pull.group for pull in made] == [1, 1] and made[-1].yield_g == pytest.approx(truth.in_cup_g, abs=0.3)
        assert any("signal of group 2 ran while group 1 pulled" in each for each in work.service.complaints)


def set_down(work, *loads, over_s=2.0):
    """Each of them comes on top of what stands there, and rests."""
    for grams in loads:
        work.scale.put_on(grams, over_s=over_s)
        work.frames(80)
    work.scale.lift_all()
    work.frames(40)


def test_a_dose_knocked_out_and_ground_anew_is_the_one_in_the_record_and_a_cup_is_none(tmp_path):
    with AtWork(tmp_path, settings={"groups": 1}) as work:
        order(work)
        lane = work.service.lanes[1]
        work.service.tap(1, guides.Forward)
        set_down(work, PORTAFILTER_G, 16.0)
        assert lane.work.guide.step is Step.TAMP and lane.work.guide.dose_g == pytest.approx(16.0, abs=0.1)
        set_down(work, PORTAFILTER_G, 12.0)                 # the basket was wet: all of it again, and the hopper ran empty
        assert work.kiosk.root.room("station").card(1).warning in {
            f"{g} g too little: add it before tamping." for g in (3.9, 4.0, 4.1)}
        set_down(work, PORTAFILTER_G, 15.7)
        assert not work.kiosk.root.room("station").card(1).warning
        assert lane.work.guide.step is Step.TAMP and lane.work.guide.dose_g == pytest.approx(15.7, abs=0.1)
        set_down(work, 2 * CUP_G, 15.0, over_s=0.0)         # two cups, and somebody sets a spoon beside them
        set_down(work, PORTAFILTER_G + 30.0, 16.4)          # a portafilter of somebody else's
        assert lane.work.guide.dose_g == pytest.approx(15.7, abs=0.1)
        pour(work, on=lambda: work.service.signals.edge(1, work.t_s, True), off=lambda: work.service.signals.edge(1, work.t_s, False))
        assert pulls(work)[0].dose_g == pytest.approx(15.7, abs=0.1)


def test_a_second_lanes_dose_is_its_own_though_the_first_one_was_never_told_to_be_tamped(tmp_path):
    with AtWork(tmp_path, settings={"groups": 2}) as work:
        order(work)
        order(work)
        for group in (1, 2):
            work.service.tap(group, guides.Forward)
        set_down(work, PORTAFILTER_G, 16.0)
        set_down(work, PORTAFILTER_G, 15.8)
        doses = [work.service.lanes[group].work.guide.dose_g for group in (1, 2)]
        assert doses == [pytest.approx(16.0, abs=0.1), pytest.approx(15.8, abs=0.1)]


@pytest.mark.parametrize("taken_back", [guides.Undo, guides.Back])
def test_a_stop_taken_back_over_a_settled_cup_and_given_again_loses_neither_time_nor_yield(tmp_path, taken_back):
    with AtWork(tmp_path, settings={"groups": 1}) as work:
        order(work)
        lane = locked_in(work)

        def stopped():
            work.until(lambda: lane.work.guide.yield_g is not None)
            for tap in (taken_back, guides.Forward):
                work.service.tap(1, tap)
                work.frames(120)                            # past the window: nobody means a stop as late as this

        truth = pour(work, on=lambda: work.service.tap(1, guides.Forward), off=stopped)
        pull, = pulls(work)
        assert pull.time_s == pytest.approx(truth.time_s, abs=1.0)
        assert (pull.yield_g, pull.yield_from) == (pytest.approx(truth.in_cup_g, abs=0.3), "scale")
