"""The guide: one pull through its steps, forward and back, undone, binned, and played again from its events."""

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kiosk.bar.guide import begin, step
from kiosk.bar.guide import guide as g
from kiosk.bar.model import BRISK, DOUBLE, EVERY_STEP, Step, event_from_json, event_to_json, usual
from kiosk.bar.model.steps import FIVE

RECIPE = usual("House", DOUBLE)


def walk(guide, *events):
    for event in events:
        guide = step(guide, event)
    return guide


def to_the_pull(t_s: float = 0.0, **how):
    return walk(begin(RECIPE, t_s, **how), g.Forward(5), g.Forward(12), g.Forward(20), g.Forward(24))


def test_the_brisk_way_has_the_five_steps_and_serving():
    assert BRISK == (*FIVE, Step.SERVE)
    assert [str(s) for s in FIVE] == ["warm", "dose", "tamp", "purge", "pull"]


def test_seven_taps_serve_a_cup_without_a_scale():
    guide = walk(to_the_pull(), g.Forward(26), g.Forward(51), g.Forward(60))
    assert guide.done
    assert (guide.time_s, guide.lock_to_pump_s, guide.grind_to_pull_s) == (25, 2, 14)
    assert guide.warmed and guide.purged and guide.dose_g is None and guide.yield_g is None


def test_four_taps_serve_a_cup_with_a_scale_that_sees_the_rest():
    guide = walk(begin(RECIPE, 0, has_scale=True), g.Forward(1), g.DoseSeen(8, 17.2), g.DoseSeen(10, 16.1),
                 g.Forward(14), g.Forward(18), g.Forward(20), g.DropSeen(24.5, 24.0), g.StopSeen(47, 45.0),
                 g.YieldSeen(48, 50.2), g.CupTaken(52))
    assert guide.done and guide.time_s == 25.0 and guide.first_drop_s == 4.0
    assert (guide.dose_g, guide.yield_g, guide.off_from, guide.dose_kept) == (16.1, 50.2, "scale", False)


def test_a_dose_outside_its_tolerance_waits_and_may_be_kept_knowingly():
    guide = walk(begin(RECIPE, 0, has_scale=True), g.Forward(1), g.DoseSeen(8, 17.2))
    assert guide.step is Step.DOSE and guide.dose_fits is False
    kept = step(guide, g.Forward(10))
    assert kept.step is Step.TAMP and kept.dose_kept


def test_a_dose_seen_while_the_cup_still_warms_is_not_asked_for_again():
    guide = walk(begin(RECIPE, 0, has_scale=True), g.DoseSeen(3, 16.0))
    assert guide.step is Step.WARM
    assert step(guide, g.Forward(4)).step is Step.TAMP


def test_a_loaded_portafilter_that_waits_in_a_hot_group_is_told_after_five_seconds():
    guide = to_the_pull()
    limits = {"lock_to_pump_s": 5, "grind_to_pull_s": 60}
    assert g.warnings(guide, 28.9, **limits) == ()
    assert g.warnings(guide, 29.0, **limits) == ()                  # locked in at 24 s
    assert "Start at once" in g.warnings(guide, 29.2, **limits)[0]
    assert len(g.warnings(guide, 72.0, **limits)) == 1 and len(g.warnings(guide, 72.1, **limits)) == 2      # ground at 12 s
    assert "Grind just before" in g.warnings(guide, 80, **limits)[1]


def test_a_step_that_is_jumped_is_kept_as_skipped():
    guide = walk(begin(RECIPE, 0), g.SkipTo(3, "tamp"), g.SkipTo(4, "pull"))
    assert guide.skipped == (Step.WARM, Step.DOSE, Step.TAMP, Step.PURGE)
    assert guide.warmed is False and guide.purged is False


def test_back_forgets_what_the_steps_had_found():
    guide = step(to_the_pull(), g.Back(25))
    assert guide.step is Step.PURGE and guide.purged is None and guide.locked_at_s is None
    assert step(guide, g.Back(26)).step is Step.TAMP


def test_back_from_a_running_pump_asks_for_the_pump_again():
    running = step(to_the_pull(), g.Forward(26))
    assert step(running, g.Back(27)).waiting_locked_in


def test_back_from_a_stopped_pull_takes_back_the_stop_and_never_asks_for_the_pump_again():
    stopped = walk(to_the_pull(has_scale=True), g.Forward(26), g.DropSeen(31, 30), g.Forward(51), g.YieldSeen(54, 50.2))
    back = step(stopped, g.Back(60))
    assert back.pulling and (back.pump_on_at_s, back.first_drop_s, back.yield_g) == (26, 4, None)
    again = step(back, g.Forward(70))
    assert again.step is Step.SERVE and again.time_s == 25
    assert step(step(again, g.Back(71)), g.Undo(72)) == again


def test_a_false_stop_seen_by_the_scale_can_be_undone():
    running = walk(to_the_pull(has_scale=True), g.Forward(26), g.StopSeen(40, 39))
    assert running.step is Step.SERVE
    undone = step(running, g.Undo(41))
    assert undone.pulling and undone.step is Step.PULL


def test_an_ended_pull_takes_no_more_taps_but_an_undo():
    binned = step(to_the_pull(), g.Bin(26, "spilt"))
    assert binned.sink == "spilt" and step(binned, g.Forward(27)) is binned
    assert not step(binned, g.Undo(28)).ended


def test_a_scale_that_goes_in_mid_pull_is_noted_and_taps_go_on():
    guide = walk(to_the_pull(has_scale=True), g.Forward(26), g.ScaleSeen(30, False), g.Forward(51), g.Forward(55))
    assert guide.done and g.SCALE_GONE in guide.notes
    record = g.finished(guide, id="x", at="2026-03-14T08:00:00+01:00", grinder="Left", setting=20)
    assert record.yield_g is None and "The yield was not measured." in record.notes


TIMES = st.floats(0, 500, allow_nan=False)
GRAMS = st.floats(-50, 3000, allow_nan=False)
EVENTS = st.one_of(
    st.builds(g.Forward, TIMES), st.builds(g.Back, TIMES), st.builds(g.Undo, TIMES), st.builds(g.Bin, TIMES, st.just("spilt")),
    st.builds(g.SkipTo, TIMES, st.sampled_from([str(s) for s in EVERY_STEP])), st.builds(g.DropTapped, TIMES),
    st.builds(g.DoseTapped, TIMES, GRAMS), st.builds(g.YieldTapped, TIMES, GRAMS), st.builds(g.DoseSeen, TIMES, GRAMS),
    st.builds(g.DropSeen, TIMES, TIMES), st.builds(g.StopSeen, TIMES, TIMES), st.builds(g.YieldSeen, TIMES, GRAMS),
    st.builds(g.CupTaken, TIMES), st.builds(g.Missed, TIMES, st.just("why")), st.builds(g.ScaleSeen, TIMES, st.booleans()))


@settings(max_examples=150, deadline=None)
@given(full=st.booleans(), scale=st.booleans(), events=st.lists(EVENTS, max_size=40))
def test_any_events_in_any_order_leave_a_guide_that_goes_on_and_plays_back_the_same(full, scale, events):
    guide = walk(begin(RECIPE, 0, full=full, has_scale=scale), *events)
    assert guide.step in guide.steps
    assert guide.time_s is None or guide.time_s >= 0
    kept = [json.loads(json.dumps(event_to_json(event))) for event in events]
    assert walk(begin(RECIPE, 0, full=full, has_scale=scale), *map(event_from_json, kept)) == guide
    for n in range(20):
        guide = guide if guide.ended else step(guide, g.Forward(600 + n))
    assert guide.ended                                  # no guide is ever stuck


def test_what_is_no_event_is_refused():
    with pytest.raises(ValueError, match="not an event"):
        event_from_json({"event": "Began"})
    with pytest.raises(ValueError, match="lacks"):
        event_from_json({"event": "Forward"})
