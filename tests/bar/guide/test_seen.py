"""What the scale, a group's signal and a foot switch tell the guide: which of two tellings counts, and what nobody told."""

import pytest

from kiosk.bar.guide import begin, step
from kiosk.bar.guide import guide as g
from kiosk.bar.model import (
    DOUBLE,
    GroupPurged,
    Missed,
    NotTimed,
    PourOver,
    PumpOffSeen,
    PumpOnSeen,
    Step,
    WhosePour,
    YieldSeen,
    not_known,
    usual,
)
from kiosk.bar.model.record import CONTACT, KEY, SCALE
from tests.bar.guide.test_guide import to_the_pull, walk

RECIPE = usual("House", DOUBLE)         # 16 g in, 50 g out, 20 to 30 s, first drop 3 to 5 s


def on(t_s: float, source: str = CONTACT, within_s: float = 0.1, seen_s: float | None = None) -> PumpOnSeen:
    return PumpOnSeen(t_s if seen_s is None else seen_s, t_s, source, within_s)


def off(t_s: float, source: str = CONTACT, within_s: float = 0.1) -> PumpOffSeen:
    return PumpOffSeen(t_s, t_s, source, within_s)


def record(guide):
    return g.finished(guide, id="x", at="2026-03-14T08:00:00+01:00", grinder="Left", setting=20)


# ---- the pump ------------------------------------------------------------------------------------------------------

def test_a_pump_seen_at_an_earlier_step_moves_the_guide_to_the_pull_and_takes_nothing_as_done():
    guide = walk(begin(RECIPE, 0.0), g.Forward(3.0), on(40.0, seen_s=41.0))
    assert guide.step is Step.PULL and guide.pulling
    assert guide.not_told == (Step.DOSE, Step.TAMP, Step.PURGE) and guide.skipped == ()
    assert (guide.pump_on_at_s, guide.on_from, guide.on_within_s, guide.moved_at_s) == (40.0, CONTACT, 0.1, 41.0)
    assert guide.warmed and guide.purged is None and guide.before is not None


@pytest.mark.parametrize("why", sorted(not_known.EVERY))
@pytest.mark.parametrize("told", (YieldSeen, g.YieldTapped))
def test_a_yield_that_is_told_after_all_takes_back_that_it_is_not_known(why, told):
    guide = walk(begin(RECIPE, 0.0), on(4.0), Missed(20.0, why), Missed(20.0, "The cup is cold."), off(31.0), told(32.0, 47.7))
    assert guide.yield_g == 47.7 and guide.notes == ("The cup is cold.",)


def test_what_was_weighed_or_seen_to_be_purged_is_not_among_what_nobody_told():
    guide = walk(begin(RECIPE, 0.0, has_scale=True), g.DoseSeen(3.0, 17.4), GroupPurged(8.0), on(40.0))
    assert guide.not_told == (Step.WARM, Step.TAMP)
    assert guide.dose_g == 17.4 and guide.purged


def test_the_signal_puts_a_tapped_pump_right_and_a_scale_never_does():
    tapped = step(to_the_pull(), g.Forward(26.0))
    assert (tapped.pump_on_at_s, tapped.on_from, tapped.moved_at_s) == (26.0, g.TAPPED, None)
    assert step(tapped, on(25.2)).pump_on_at_s == 25.2 and step(tapped, on(25.2)).on_from == CONTACT
    assert step(tapped, on(29.0)).pump_on_at_s == 29.0          # 3 s: still the same pump going on
    assert step(tapped, on(29.1)) == tapped
    assert step(tapped, on(25.2, SCALE)) == tapped
    by_scale = step(to_the_pull(), on(25.0, SCALE, 1.5))
    assert step(by_scale, on(20.0)).pump_on_at_s == 20.0        # however far: a scale only works it back
    assert step(by_scale, on(20.0, SCALE)) == by_scale


def test_a_tap_just_after_the_pump_was_seen_confirms_it_and_stops_nothing():
    seen = step(to_the_pull(), on(25.0, seen_s=26.0))
    assert step(seen, g.Forward(27.4)) is seen
    assert step(seen, g.Forward(27.6)).step is Step.SERVE
    assert step(step(to_the_pull(), g.Forward(25.0)), g.Forward(26.0)).step is Step.SERVE      # told by a tap: the next one stops


@pytest.mark.parametrize("told, seen, asked", [
    ((), g.DoseSeen(40.0, 16.0), Step.TAMP),                                                # "Dosed" would have told the tamp
    ((), g.DoseSeen(40.0, 13.0), Step.DOSE),                                                # it would have kept a dose that is off
    ((g.DoseTapped(12.0, 16.0), g.Forward(14.0), g.Forward(18.0)), GroupPurged(40.0), Step.PULL),       # that a pump is on
    ((g.DoseTapped(12.0, 16.0), g.Forward(14.0), g.Forward(18.0), g.Forward(20.0), on(15.0)), off(40.0), Step.SERVE),  # served
])
def test_a_tap_just_after_a_step_was_seen_to_be_over_confirms_it_and_tells_nothing_of_the_next(told, seen, asked):
    moved = walk(begin(RECIPE, 0.0, has_scale=True), g.Forward(3.0), *told, seen)
    assert moved.step is asked and step(moved, g.Forward(41.4)) is moved
    assert step(moved, g.Forward(41.6)) is not moved
    back = step(moved, g.Back(40.5))
    assert step(back, g.Forward(41.0)) is not back                  # a tap since: whoever taps sees what is there


def test_a_tap_just_after_a_cup_was_seen_to_be_lifted_is_not_of_the_next_pulls_cup():
    served = walk(to_the_pull(), on(25.0), off(50.0), g.CupTaken(60.0))
    after = begin(RECIPE, 60.0, moved_at_s=served.moved_at_s)
    assert step(after, g.Forward(61.0)) is after and step(after, g.Forward(62.0)).warmed
    by_hand = walk(to_the_pull(), on(25.0), off(50.0), g.Forward(60.0))
    assert step(begin(RECIPE, 60.0, moved_at_s=by_hand.moved_at_s), g.Forward(61.0)).warmed


def test_the_signal_tells_the_stop_and_puts_a_tapped_one_right_within_three_seconds():
    running = step(to_the_pull(), on(25.0))
    stopped = step(running, off(50.0))
    assert stopped.step is Step.SERVE and (stopped.time_s, stopped.off_from) == (25.0, CONTACT)
    assert stopped.time_within_s == pytest.approx((0.1**2 + 0.1**2) ** 0.5)
    tapped = step(running, g.Forward(51.0))
    assert tapped.time_s == 26.0 and tapped.off_within_s is None
    assert step(tapped, off(48.0)).time_s == 23.0 and step(tapped, off(47.9)).time_s == 26.0
    assert step(running, off(24.0)).time_s == 0.0               # never before it went on
    assert step(to_the_pull(), off(50.0)).pump_off_at_s is None     # of a pump that nobody saw go on


def test_a_signal_that_chatters_at_its_end_goes_on_with_the_same_pull():
    stopped = walk(to_the_pull(), on(25.0), off(40.0))
    again = step(stopped, on(40.4))
    assert again.pulling and again.pump_on_at_s == 25.0 and again.pump_off_at_s is again.off_from is again.off_within_s is None
    assert step(stopped, on(40.5)) is stopped                   # that is the next pump
    assert step(stopped, on(40.2, KEY)) is stopped
    tapped = walk(to_the_pull(), on(25.0), g.Forward(40.0))
    assert step(tapped, on(40.2)) is tapped


# ---- purges --------------------------------------------------------------------------------------------------------

def test_a_purge_that_was_seen_is_done_and_moves_on_where_it_was_waited_for():
    waiting = walk(begin(RECIPE, 0.0), g.Forward(3.0), g.Forward(8.0), g.Forward(12.0))
    assert waiting.step is Step.PURGE
    purged = step(waiting, GroupPurged(15.0))
    assert purged.step is Step.PULL and purged.purged and purged.before is not None
    early = walk(begin(RECIPE, 0.0), GroupPurged(2.0))
    assert early.step is Step.WARM and early.purged
    skipped = walk(begin(RECIPE, 0.0), g.SkipTo(3.0, "pull"), GroupPurged(5.0))
    assert skipped.purged and skipped.skipped == (Step.WARM, Step.DOSE, Step.TAMP)


def test_a_pull_taken_to_begin_with_a_purge_had_not_begun():
    taken_back = walk(to_the_pull(), on(25.0), GroupPurged(28.0))
    assert taken_back.step is Step.PULL and not taken_back.pulling and taken_back.purged
    assert taken_back.pump_on_at_s is taken_back.on_from is taken_back.on_within_s is None
    drops = walk(to_the_pull(), on(25.0), g.DropSeen(31.0, 29.0))
    assert step(drops, GroupPurged(33.0)) is drops              # coffee falls: no purge
    served = walk(to_the_pull(), on(25.0), off(50.0))
    assert step(served, GroupPurged(53.0)) is served


# ---- what nobody timed, and what is not believed -------------------------------------------------------------------

def test_made_and_not_timed_goes_on_to_the_cup_and_makes_nothing_up():
    guide = step(walk(begin(RECIPE, 0.0), g.Forward(3.0)), NotTimed(70.0))
    assert guide.step is Step.SERVE and guide.time_s is None and guide.pump_on_at_s is None
    assert guide.not_told == (Step.DOSE, Step.TAMP, Step.PURGE) and g.MADE_NOT_TIMED in guide.notes
    assert guide.step_s[-1] == ("pull", 0.0) and step(guide, g.Forward(75.0)).done
    at_the_pull = step(to_the_pull(), NotTimed(70.0))
    assert at_the_pull.step is Step.SERVE and at_the_pull.not_told == ()
    served = walk(to_the_pull(), g.Forward(26.0), g.Forward(51.0))
    assert step(served, NotTimed(52.0)) is served


def test_a_stop_tapped_past_twice_the_time_with_nothing_weighed_is_kept_beside_and_not_believed():
    running = step(to_the_pull(), g.Forward(26.0))
    assert step(running, g.Forward(76.0)).time_s == 50.0        # just twice
    late = step(running, g.Forward(76.1))
    assert late.step is Step.SERVE and late.time_s is None and late.stop_tapped_at_s == 76.1 and g.LATE_STOP in late.notes
    assert record(step(late, g.Forward(80.0))).stop_tapped_s == pytest.approx(50.1)
    weighed = walk(to_the_pull(has_scale=True), g.Forward(26.0), g.DropSeen(32.0, 30.0))
    assert step(weighed, g.Forward(90.0)).time_s == 64.0        # it was weighed: the curve has a say
    by_finger = walk(to_the_pull(has_scale=True), g.Forward(26.0), g.DropTapped(30.0))
    assert step(by_finger, g.Forward(90.0)).time_s is None


def test_a_stop_taken_back_and_given_again_after_the_window_keeps_its_first_time():
    back = walk(to_the_pull(), g.Forward(26.0), g.Forward(50.0), g.Undo(52.0))
    assert back.pulling and back.taken_back_s == 50.0
    assert step(back, g.Forward(56.1)).time_s == 24.0 and step(back, g.Forward(56.1)).taken_back_s is None
    assert step(back, g.Forward(56.0)).time_s == 30.0           # within it, the later tap is what was meant


def test_only_a_stop_that_was_taken_back_is_remembered_as_one():
    running = step(to_the_pull(), g.Forward(26.0))
    binned = step(running, g.Bin(40.0, "spilt"))
    assert step(binned, g.Undo(41.0)) == running                # poured away by mistake: nobody had stopped it for good
    assert step(running, g.Undo(27.0)).taken_back_s is None
    served = walk(running, g.Forward(50.0), g.YieldTapped(52.0, 48.0))
    assert step(served, g.Undo(53.0)).taken_back_s is None and step(served, g.Undo(53.0)).yield_g is None


def test_a_pump_never_goes_off_before_it_went_on():
    running = step(to_the_pull(), on(26.0))
    for told in (off(25.5), g.StopSeen(27.0, 25.5, 0.3)):
        assert step(running, told).pump_off_at_s == 26.0 and step(running, told).time_s == 0.0


def test_a_cup_taken_from_under_a_stream_ends_the_pull_untimed():
    running = step(to_the_pull(has_scale=True), g.Forward(26.0))
    ended = step(running, PourOver(40.0, 36.0))
    assert ended.done and ended.time_s is None and g.LIFTED_EARLY in ended.notes
    waiting = to_the_pull(has_scale=True)
    assert step(waiting, PourOver(40.0, 36.0)) is waiting


# ---- what is weighed -----------------------------------------------------------------------------------------------

def test_a_dose_weighed_again_after_its_step_is_the_true_one():
    kept = walk(begin(RECIPE, 0.0, has_scale=True), g.Forward(1.0), g.DoseSeen(8.0, 17.4), g.Forward(10.0))
    assert kept.dose_kept and kept.dosed_at_s == 10.0
    right = step(kept, g.DoseSeen(12.0, 16.1))
    assert right.step is Step.TAMP and (right.dose_g, right.dose_kept, right.dosed_at_s) == (16.1, False, 10.0)
    assert step(kept, g.DoseSeen(12.0, 17.3)).dose_kept
    pulling = walk(to_the_pull(has_scale=True), g.Forward(26.0))
    assert step(pulling, g.DoseSeen(27.0, 16.0)) is pulling
    full = walk(begin(RECIPE, 0.0, full=True, has_scale=True), g.DoseSeen(1.0, 16.0))
    assert full.step is full.first and full.dosed_at_s == 1.0
    at_dose = walk(full, *[g.Forward(2.0 + n) for n in range(full.steps.index(Step.DOSE))])
    assert at_dose.step is Step.DOSE                            # a hire is asked for it all the same


def test_a_finger_has_the_last_word_on_first_drop_and_yield():
    running = walk(to_the_pull(has_scale=True), g.Forward(26.0))
    assert step(running, g.DropSeen(31.0, 30.0)).drop_from == SCALE
    tapped = step(running, g.DropTapped(30.5))
    assert (tapped.drop_at_s, tapped.drop_from) == (30.5, g.TAPPED)
    assert step(tapped, g.DropSeen(31.0, 29.0)) is tapped and step(tapped, g.DropTapped(33.0)) is tapped
    assert step(running, g.YieldTapped(30.0, 50.0)) is running          # the pump is still on
    served = step(running, g.Forward(51.0))
    told = step(served, g.YieldTapped(53.0, 48.0))
    assert step(told, g.YieldSeen(54.0, 51.0)).yield_g == 48.0
    assert step(served, g.YieldSeen(54.0, 51.0)).yield_g == 51.0
    assert step(served, g.YieldSeen(54.0, -0.1)).yield_g == 0.0


@pytest.mark.parametrize("yield_g, time_s, sink", [(4.0, 40.0, "choked"), (9.9, 40.0, "choked"), (10.1, 40.0, None),
                                                   (4.0, 25.0, None), (None, 40.0, None), (RECIPE.yield_g / 5, 40.0, None)])
def test_an_empty_cup_that_is_lifted_is_not_served(yield_g, time_s, sink):
    seen = (g.YieldSeen(90.0, yield_g),) if yield_g is not None else ()
    guide = walk(to_the_pull(has_scale=True), on(26.0), off(26.0 + time_s), *seen, g.CupTaken(95.0))
    assert guide.ended and guide.sink == sink and guide.done is (sink is None)


def test_a_cup_lifted_before_the_pump_has_stopped_serves_nothing():
    running = walk(to_the_pull(has_scale=True), g.Forward(26.0))
    assert step(running, g.CupTaken(30.0)) is running


# ---- whose pour ----------------------------------------------------------------------------------------------------

def test_of_a_pour_that_was_anothers_only_what_hands_and_the_signal_told_stays():
    doubted = walk(to_the_pull(has_scale=True), on(26.0), g.DropSeen(32.0, 30.0), g.Missed(32.0, g.PROBABLY_ITS),
                   g.Missed(33.0, "something else"))
    its_own = step(doubted, WhosePour(40.0, True))
    assert its_own.drop_at_s == 30.0 and its_own.notes == ("something else",)
    stopped = walk(doubted, g.StopSeen(50.0, 48.0, 0.3), g.YieldSeen(52.0, 49.0))
    assert stopped.step is Step.SERVE
    anothers = step(stopped, WhosePour(53.0, False))
    assert anothers.step is Step.PULL and anothers.pulling and anothers.pump_on_at_s == 26.0
    assert anothers.drop_at_s is anothers.drop_from is anothers.yield_g is anothers.pump_off_at_s is None
    assert g.PROBABLY_ITS not in anothers.notes
    by_signal = step(walk(doubted, off(50.0), g.YieldSeen(52.0, 49.0)), WhosePour(53.0, False))
    assert by_signal.step is Step.SERVE and by_signal.time_s == 24.0 and by_signal.yield_g is None
    waiting = to_the_pull(has_scale=True)
    assert step(waiting, WhosePour(30.0, False)) is waiting


# ---- ways about ----------------------------------------------------------------------------------------------------

def test_a_label_touched_leads_there_and_what_lies_between_is_not_told():
    guide = walk(begin(RECIPE, 0.0), g.GoTo(4.0, "purge"))
    assert guide.step is Step.PURGE and guide.not_told == (Step.WARM, Step.DOSE, Step.TAMP) and guide.skipped == ()
    assert guide.warmed is None and guide.locked_at_s is None
    back = step(guide, g.GoTo(6.0, "dose"))
    assert back.step is Step.DOSE and Step.DOSE not in back.not_told and Step.WARM in back.not_told
    locked = step(guide, g.GoTo(9.0, "pull"))
    assert locked.step is Step.PULL and locked.locked_at_s == 9.0
    assert step(guide, g.GoTo(9.0, "serve")) is guide and step(guide, g.GoTo(9.0, "purge")) is guide
    running = step(locked, g.Forward(10.0))
    assert step(running, g.GoTo(12.0, "dose")) is running


def test_a_skip_leads_forward_only_and_never_past_the_pull():
    tamping = walk(begin(RECIPE, 0.0), g.Forward(3.0), g.Forward(8.0))
    assert step(tamping, g.SkipTo(9.0, "dose")) is tamping and step(tamping, g.SkipTo(9.0, "tamp")) is tamping
    assert step(tamping, g.SkipTo(9.0, "serve")) is tamping
    locked = step(tamping, g.SkipTo(9.0, "pull"))
    assert locked.locked_at_s == 9.0 and locked.skipped == (Step.TAMP, Step.PURGE) and locked.purged is False
    assert locked.warmed is True                                # that one had been done


def test_going_back_to_a_step_that_was_passed_over_takes_up_that_one_and_leaves_the_others_as_they_were():
    skipped = walk(begin(RECIPE, 0.0), g.SkipTo(3.0, "purge"), g.Back(5.0))
    assert skipped.step is Step.TAMP and skipped.skipped == (Step.WARM, Step.DOSE)
    untold = walk(begin(RECIPE, 0.0), g.GoTo(3.0, "purge"), g.Back(5.0))
    assert untold.step is Step.TAMP and untold.not_told == (Step.WARM, Step.DOSE)


def test_a_dose_told_anew_is_not_one_that_was_kept_although_it_was_off():
    kept = walk(begin(RECIPE, 0.0, has_scale=True), g.Forward(1.0), g.DoseSeen(8.0, 17.4), g.Forward(10.0))
    told = step(kept, g.DoseTapped(12.0, 16.0))
    assert kept.dose_kept and not told.dose_kept and told.dosed_at_s == 10.0


def test_a_dose_that_was_written_until_the_pump_was_on_is_kept_and_says_nothing_of_when_it_was_ground():
    told = step(step(walk(begin(RECIPE, 0.0), g.Forward(3.0)), on(30.0)), g.DoseTapped(33.0, 16.3))
    assert (told.dose_g, told.dose_from, told.dosed_at_s) == (16.3, g.TAPPED, None) and told.pulling
    served = walk(to_the_pull(), on(25.0), off(50.0))
    assert (after := step(served, g.DoseTapped(55.0, 16.3))).dose_g == 16.3 and after.dosed_at_s == served.dosed_at_s


def test_the_seconds_of_each_step_are_kept():
    guide = walk(to_the_pull(2.0), g.Forward(26.0), g.Forward(51.0), g.Forward(60.0))
    assert guide.step_s == (("warm", 3.0), ("dose", 7.0), ("tamp", 8.0), ("purge", 4.0), ("pull", 27.0), ("serve", 9.0))
    assert begin(RECIPE, 0.0, warm=False).step is Step.DOSE and begin(RECIPE, 0.0).step is Step.WARM


def test_a_binned_pull_that_ran_is_stopped_with_it():
    running = step(to_the_pull(), g.Forward(26.0))
    binned = step(running, g.Bin(40.0, ""))
    assert (binned.sink, binned.pump_off_at_s, binned.off_from) == ("binned", 40.0, g.TAPPED)
    early = step(to_the_pull(), g.Bin(25.0, "spilt"))
    assert early.sink == "spilt" and early.pump_off_at_s is early.off_from is None


# ---- the record ----------------------------------------------------------------------------------------------------

def test_the_record_says_what_was_measured_by_whom_and_what_was_not():
    guide = walk(to_the_pull(has_scale=True), on(26.0), g.DropSeen(31.0, 30.5), g.StopSeen(52.0, 50.123, 0.25),
                 g.YieldSeen(53.0, 49.5), g.Forward(60.0))
    kept = record(guide)
    assert (kept.time_s, kept.time_from, kept.on_from) == (pytest.approx(24.123), SCALE, CONTACT)
    assert kept.time_within_s == round((0.1**2 + 0.25**2) ** 0.5, 2) == 0.27
    assert (kept.first_drop_s, kept.first_drop_from, kept.yield_g, kept.yield_from) == (4.5, SCALE, 49.5, SCALE)
    assert kept.notes == ("The dose was not measured.",) and kept.stop_tapped_s is None
    assert (kept.warmed, kept.purged, kept.skipped, kept.not_told) == (True, True, (), ())
    untimed = record(step(walk(begin(RECIPE, 0.0), NotTimed(70.0)), g.Forward(75.0)))
    assert untimed.notes == (g.MADE_NOT_TIMED,)                 # nothing is missed of what nobody could have measured
    assert untimed.time_s is untimed.time_from is untimed.first_drop_from is untimed.time_within_s is None
    by_taps = record(walk(to_the_pull(), g.Forward(26.0), g.Forward(51.0), g.Forward(60.0)))
    assert by_taps.time_from == g.TAPPED and by_taps.time_within_s is None
    assert by_taps.notes == tuple(f"The {what} was not measured." for what in ("dose", "first drop", "yield"))


def test_a_scale_that_goes_after_the_yield_was_read_is_not_missed_and_said_only_while_it_matters():
    limits = {"lock_to_pump_s": 5, "grind_to_pull_s": 60}
    running = walk(to_the_pull(has_scale=True), g.Forward(26.0))
    gone = step(running, g.ScaleSeen(30.0, False))
    assert g.warnings(gone, 31.0, **limits) == (g.SCALE_GONE,) and not gone.has_scale
    assert g.warnings(running, 90.0, **limits) == ()
    read = walk(running, g.Forward(51.0), g.YieldSeen(53.0, 50.0), g.ScaleSeen(54.0, False))
    assert g.SCALE_GONE not in read.notes and not read.has_scale
    assert g.SCALE_GONE not in step(to_the_pull(has_scale=True), g.ScaleSeen(25.0, False)).notes
    assert g.SCALE_GONE not in step(running, g.ScaleSeen(30.0, True)).notes
    assert g.warnings(walk(gone, g.Forward(51.0), g.Forward(60.0)), 61.0, **limits) == ()
