"""Portafilters nobody weighed, a group that stops by itself, labels touched, a foot switch, what is heard: two groups."""

import pytest
from kivy.core.window import Keyboard, Window

from kiosk.bar.guide import guide as guides
from kiosk.bar.model import Pull, Step
from tests.support.at_work import AtWork
from tests.support.quiet_hands import CUP_G, pour


def to(work, step: Step, group=1):
    while work.service.lanes[group].work.guide.step is not step:
        work.service.tap(group, guides.Forward)


def order(work, many=1, drink=1):
    work.service.orders.take(((work.service.setup.menu[drink], many),))


def dosed(work, empty_g: float, dose_g: float, empty_first: bool):
    to(work, Step.DOSE)
    if empty_first:
        work.scale.put_on(empty_g)
        work.frames(40)
        work.scale.put_on(dose_g, over_s=3.0)
    else:
        work.scale.put_on(empty_g + dose_g)
    work.frames(120)


def test_scene_13_a_portafilter_dosed_before_it_was_weighed_empty_is_known_from_before(tmp_path):
    with AtWork(tmp_path, settings={"groups": 1}) as work:
        order(work, 2)
        dosed(work, 512.0, 16.1, empty_first=True)
        assert work.service.lanes[1].work.guide.dose_g == pytest.approx(16.1, abs=0.15)
        work.scale.lift_all()
        work.frames(20)
        to(work, Step.SERVE)
        work.service.tap(1, guides.Forward)
        order(work, 2)
        dosed(work, 512.0, 15.8, empty_first=False)         # nobody showed it empty
        assert work.service.lanes[1].work.guide.dose_g == pytest.approx(15.8, abs=0.15)


def test_scene_14_two_nearly_alike_are_asked_about_and_not_guessed(tmp_path):
    with AtWork(tmp_path, settings={"groups": 1}) as work:
        for empty_g in (512.0, 515.5):
            order(work, 2)
            dosed(work, empty_g, 16.0, empty_first=True)
            work.scale.lift_all()
            work.frames(20)
            to(work, Step.SERVE)
            work.service.tap(1, guides.Forward)
        order(work, 2)
        dosed(work, 515.5, 16.0, empty_first=False)
        guide = work.service.lanes[1].work.guide
        assert guide.dose_g is None or guide.dose_g == pytest.approx(16.0, abs=0.2)
        if guide.dose_g is None:
            assert "Show it empty first" in work.kiosk.root.room("station").card(1).told


def test_scene_72_a_group_that_stops_by_its_own_volume_has_no_stop_cue(tmp_path):
    with AtWork(tmp_path, settings={"groups": 1}) as work:
        assert work.service.set_setting(("by_volume", "1"), True) == ()
        heard = []
        work.service.cues.sounded.append(heard.append)
        order(work, 2)
        to(work, Step.PULL)
        cued = []
        truth = pour(work, run_s=29.0, on=lambda: work.service.tap(1, guides.Forward),
                     during=lambda _s: cued.append(work.kiosk.root.room("station").card(1).cued))
        pull, = work.book.today().of(Pull)
        assert not any(cued) and not any(each.startswith("stop") for each in heard)
        assert pull.yield_g == pytest.approx(truth.in_cup_g, abs=0.4)


def test_the_stop_is_heard_three_times_unless_the_pump_is_seen_to_stop_and_each_group_by_its_own_sound(tmp_path):
    with AtWork(tmp_path, settings={"groups": 2}) as work:
        heard = []
        work.service.cues.sounded.append(heard.append)
        order(work, 2)
        order(work, 2)
        to(work, Step.PULL, 2)
        pour(work, run_s=34.0, on=lambda: work.service.tap(2, guides.Forward))
        assert heard.count("stop-2") == 3 and "stop" not in heard


def test_any_steps_label_takes_a_barista_there_and_what_was_passed_is_not_told(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 1}) as work:
        order(work, 2)
        work.frames(5)
        card = work.kiosk.root.room("station").card(1)
        row = next(each for each in card.walk(restrict=True) if type(each).__name__ == "StepRow")
        work.finger.touch(*row.to_window(row.x + 0.9 * row.width, row.center_y))
        guide = work.service.lanes[1].work.guide
        assert guide.step is Step.PULL and set(guide.not_told) == {Step.WARM, Step.DOSE, Step.TAMP, Step.PURGE}
        work.finger.touch(*row.to_window(row.x + 0.5 * row.width, row.center_y))
        guide = work.service.lanes[1].work.guide
        assert guide.step is Step.TAMP and Step.PURGE not in guide.not_told and guide.skipped == ()


def test_a_foot_switch_that_is_a_key_times_the_pull(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 1}) as work:
        assert work.service.set_setting(("signals", "1"), {"key": "f5"}) == ()
        order(work, 2)
        to(work, Step.PULL)
        for seconds in (26.0, 2.0):
            Window.dispatch("on_key_down", Keyboard.keycodes["f5"], 62, None, [])
            work.frames(round(seconds / 0.05))
        work.service.tap(1, guides.Forward)
        pull, = work.book.today().of(Pull)
        assert pull.time_s == pytest.approx(26.0, abs=0.1) and pull.on_from == "key" and pull.time_from == "key"


def test_a_group_that_is_out_of_order_is_planned_nothing_and_says_so(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 2}) as work:
        card = work.kiosk.root.room("station").card(2)
        for _ in range(3):                                  # heating, cleaning, out of order
            work.finger.tap(card.side_text, card)
            work.frames(3)
        assert card.big == "Out of order"
        order(work, 2)
        order(work, 2, drink=2)
        assert work.service.lanes[2].work is None and work.service.lanes[1].work is not None
        work.frames(5)
        work.finger.tap(card.side_text, card)
        work.frames(3)
        assert work.service.lanes[2].work is not None


def test_scene_19_the_second_barista_who_takes_over_in_mid_pull_changes_nothing_of_it(tmp_path):
    with AtWork(tmp_path, settings={"groups": 2, "staff": {"Ada": {}, "Ben": {}}}) as work:
        work.service.choose("Ada")
        order(work, 2)
        order(work, 2)
        to(work, Step.PULL, 2)
        pour(work, on=lambda: work.service.tap(2, guides.Forward), during=lambda s: work.service.choose("Ben") if s > 12 else None)
        pull, = work.book.today().of(Pull)
        assert pull.barista == "Ada" and pull.yield_g is not None


def test_scene_78_two_doses_wait_tamped_and_each_pull_has_its_own_cup(tmp_path):
    with AtWork(tmp_path, settings={"groups": 2}) as work:
        order(work, 2)
        order(work, 2)
        for group in (1, 2):
            work.service.happened(group, guides.DoseTapped(work.t_s, 16.0))
            to(work, Step.PURGE, group)
        made = []
        for group in (2, 1):
            to(work, Step.PULL, group)
            made.append(pour(work, on=lambda group=group: work.service.tap(group, guides.Forward)).in_cup_g)
        pulls = {pull.group: pull.yield_g for pull in work.book.today().of(Pull)}
        assert pulls == {2: pytest.approx(made[0], abs=0.4), 1: pytest.approx(made[1], abs=0.4)}
        assert CUP_G


def test_scene_05_both_groups_pour_at_once_on_one_scale_with_both_cups_on_it(tmp_path):
    with AtWork(tmp_path, settings={"groups": 2}) as work:
        order(work, 2)
        order(work, 2)
        for group in (1, 2):
            work.service.happened(group, guides.DoseTapped(work.t_s, 16.0))
            to(work, Step.PULL, group)
        work.scale.put_on(CUP_G)
        work.frames(40)
        work.scale.put_on(CUP_G + 12)
        work.frames(40)
        for group in (1, 2):
            work.service.tap(group, guides.Forward)
        work.frames(100)
        work.scale.put_on(100.0, over_s=20.0)               # both streams
        work.frames(400)
        for group in (1, 2):
            work.service.tap(group, guides.Forward)
        work.frames(120)
        for group in (1, 2):
            if work.service.lanes[group].work is not None:
                to(work, Step.SERVE, group)
                work.service.tap(group, guides.Forward)
        pulls = work.book.today().of(Pull)
        assert len(pulls) == 2 and [pull.yield_g for pull in pulls] == [None, None]
        assert any("cannot be told apart" in note for pull in pulls for note in pull.notes)
        assert all(20 < pull.time_s < 30 for pull in pulls)


def test_a_lane_whose_cup_still_warms_does_not_take_the_scale_from_one_that_doses(tmp_path):
    with AtWork(tmp_path, settings={"groups": 2}) as work:
        order(work, 2)
        order(work, 2)
        dosed(work, 512.0, 16.0, empty_first=True)          # now this portafilter is known
        work.scale.lift_all()
        work.frames(20)
        to(work, Step.SERVE)
        work.service.tap(1, guides.Forward)
        order(work, 2)                                      # lane 1 warms again
        to(work, Step.DOSE, 2)
        work.scale.put_on(512.0)
        work.frames(40)
        work.scale.put_on(16.1, over_s=3.0)
        work.frames(120)
        assert work.service.lanes[2].work.guide.dose_g == pytest.approx(16.1, abs=0.15)
        assert work.service.lanes[1].work.guide.dose_g is None


def test_a_settled_cup_is_served_as_it_is_lifted_while_the_other_lanes_cup_warms(tmp_path):
    with AtWork(tmp_path, settings={"groups": 2}) as work:
        order(work)
        dosed(work, 512.0, 16.0, empty_first=True)          # a portafilter is known from now on
        work.scale.lift_all()
        work.frames(20)
        order(work)
        assert work.service.lanes[2].work.dose_watch is not None
        to(work, Step.PULL, 1)
        pour(work, on=lambda: work.service.tap(1, guides.Forward), lifted_after_s=8.0)
        assert len(work.book.today().of(Pull)) == 1


def test_a_group_that_setup_takes_away_in_mid_pull_is_weighed_to_its_end_and_then_gone(tmp_path):
    with AtWork(tmp_path, settings={"groups": 2}) as work:
        order(work, 2)
        order(work, 2)
        to(work, Step.PULL, 2)
        taken = []

        def during(s):
            if s > 12 and not taken:
                taken.append(work.service.set_setting(("groups",), 1))
                work.kiosk.root.open_bin(2)

        truth = pour(work, on=lambda: work.service.tap(2, guides.Forward), during=during)
        pull, = work.book.today().of(Pull)
        assert taken == [()] and pull.group == 2 and pull.yield_g == pytest.approx(truth.in_cup_g, abs=0.3)
        assert list(work.service.lanes) == [1]
        work.finger.tap("Tastes off")                       # too late for an undo: nothing is binned, and nothing breaks
        work.frames(3)
        assert work.kiosk.root.current == "station" and work.book.today().of(Pull) == (pull,)


def test_what_a_group_that_setup_took_away_did_not_make_is_made_by_another(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 3}) as work:
        for drink in (1, 2, 4):
            order(work, drink=drink)
        titles = [lane.work.planned.title for lane in work.service.lanes.values()]
        work.service.tap(2, guides.Forward)
        assert work.service.set_setting(("groups",), 1) == ()
        assert list(work.service.lanes) == [1, 2]           # nobody had touched the third one's
        work.service.tap(2, guides.Bin, "spilt")
        assert list(work.service.lanes) == [1]
        assert sorted(each.planned.title for each in work.service.line.waiting) == sorted(titles[1:])


def test_a_cup_that_is_taken_while_the_scale_serves_another_group_serves_its_own(tmp_path):
    """The lift is seen in whatever the scale shows meanwhile, and the next cup that stands there changes no yield."""
    with AtWork(tmp_path, settings={"groups": 2}) as work:
        order(work)
        work.service.happened(1, guides.DoseTapped(work.t_s, 16.0))
        to(work, Step.PULL)
        order(work)
        to(work, Step.DOSE, group=2)                        # which waits for its dose meanwhile
        truth = pour(work, on=lambda: work.service.tap(1, guides.Forward), off=lambda: work.service.tap(1, guides.Forward),
                     lifted_after_s=12.0)
        work.frames(40)
        assert work.service.lanes[1].work is None
        to(work, Step.PULL, group=2)
        work.scale.put_on(CUP_G)
        work.frames(100)
        pull, = work.book.today().of(Pull)
        assert pull.yield_g == pytest.approx(truth.in_cup_g, abs=0.3) and pull.sink is None
