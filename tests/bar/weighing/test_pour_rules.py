"""The pull on the scale, rule by rule at its edge: readings without a filter, so that every moment is exact."""

from math import exp

import numpy as np
import pytest

from kiosk.bar.model import not_known, usual
from kiosk.bar.weighing import (
    CupLifted,
    FirstDrop,
    FlowEnded,
    Habits,
    Poured,
    PourWatch,
    Sample,
    Settled,
    StopNow,
    YieldLost,
    learn,
    stream,
)
from kiosk.bar.weighing.sightings import CupGone, CupSet

RECIPE = usual("house", "double")           # 50.4 g out, 20 to 30 s
CUP_G, FLOW = 120.0, 2.0


class Pull:
    """A cup on the scale from 3 s on, exact readings ten times a second; `told` is what was seen."""

    def __init__(self, habits: Habits = Habits(), cup: bool = True, recipe=RECIPE):
        self.watch, self.n, self.told, self.net_g, self.under_g = PourWatch(recipe, habits, 0.0), 0, [], 0.0, 0.0
        self.stands(1.0)
        if cup:
            self.under_g = CUP_G
            self.stands(2.0)

    @property
    def t_s(self) -> float:
        return self.n / 10

    def heard(self, seen):
        self.told += seen
        return seen

    def stands(self, for_s: float, flow=0.0):
        """So long, `flow` (g/s, or a function of the seconds since) running into it."""
        began, seen = self.n, []
        while self.n - began < round(for_s * 10):
            self.n += 1
            self.net_g += (flow((self.n - began) / 10) if callable(flow) else flow) / 10
            seen += self.watch.observe(Sample(self.t_s, self.under_g + self.net_g))
        return self.heard(seen)

    def dies_away(self, for_s: float, flow: float = FLOW, over_s: float = 0.35):
        return self.stands(for_s, lambda s: flow * exp(-s / over_s))

    def on(self):
        self.on_s = self.t_s
        return self.heard(self.watch.pump_on(self.t_s))

    def off(self):
        self.off_s = self.t_s
        return self.heard(self.watch.pump_off(self.t_s))

    def lifts(self, for_s: float = 2.0):
        self.under_g, self.net_g = 0.0, 0.0
        return self.stands(for_s)

    def all(self, kind: type) -> list:
        return [each for each in self.told if isinstance(each, kind)]


def running(for_s: float = 15.0, flow=FLOW, **how) -> Pull:
    """Pump on, four seconds, then a stream for so long."""
    pull = Pull(**how)
    pull.on()
    pull.stands(4.0)
    pull.stands(for_s, flow)
    return pull


# ---- cue and flow --------------------------------------------------------------------------------------------------

def test_the_cue_leaves_room_for_what_the_hand_the_valve_and_the_last_drops_still_bring():
    """At 2 g/s: 0.45 s until a hand has answered, 0.7 s that the valve lets by, and 0.9 g of drops."""
    pull = running(24.0)
    cue, = pull.all(StopNow)
    in_cup_g = FLOW * (cue.t_s - pull.on_s - 4.0)
    assert in_cup_g + FLOW * (0.45 + 0.7) + 0.9 == pytest.approx(RECIPE.yield_g, abs=0.1)
    assert cue.expected_g == pytest.approx(RECIPE.yield_g) and pull.watch.stop_at_s is None
    assert pull.stands(5.0, FLOW) == []                            # told once


def test_a_cue_that_comes_too_late_says_what_the_cup_will_hold():
    single = usual("house", "single")           # 25.2 g: at 11 g/s it is as good as full when the stream is sure
    pull = Pull(recipe=single)
    pull.on()
    pull.stands(2.0)
    pull.stands(4.0, 11.0)
    cue, = pull.all(StopNow)
    assert cue.expected_g > single.yield_g + 2.0
    assert cue.expected_g == pytest.approx(11.0 * (cue.t_s - pull.on_s - 2.0) + 11.0 * (0.45 + 0.7) + 0.9, abs=1.5)


def test_before_the_cue_the_moment_is_foreseen_and_a_stopped_stream_has_none():
    pull = running(10.0)
    due_g = RECIPE.yield_g - 0.9 - FLOW * 1.15
    assert pull.watch.stop_at_s == pytest.approx(pull.on_s + 4.0 + due_g / FLOW, abs=0.1)
    assert pull.watch.flow_g_per_s == pytest.approx(FLOW) and pull.watch.grams == pytest.approx(20.0)
    assert pull.watch.at(pull.watch.stop_at_s - 0.01) == ()
    pull.stands(2.5)
    assert pull.watch.stop_at_s is None and pull.watch.flow_g_per_s == pytest.approx(0.0, abs=0.01)


def test_the_curve_has_ten_points_a_second_from_pump_on():
    pull = running(3.0)
    times = [t for t, _ in pull.watch.curve]
    assert times == pytest.approx([n / 10 for n in range(1, 71)]) and pull.watch.curve[-1][1] == pytest.approx(6.0)
    faster = PourWatch(RECIPE, Habits(), 0.0)
    for n in range(300):
        if n == 100:
            faster.pump_on(n / 50)
        faster.observe(Sample((n + 1) / 50, 0.0))
    assert len(faster.curve) <= 41 and all(b - a > 0.089 for (a, _), (b, _) in zip(faster.curve, faster.curve[1:]))


def test_a_pump_known_to_have_gone_on_earlier_or_later_moves_the_curve():
    for by_s in (-1.5, 2.0):
        pull = running(3.0)
        before = list(pull.watch.curve)
        pull.watch.pump_was_on(pull.on_s + by_s)
        assert pull.watch.on_s == pull.on_s + by_s
        assert pull.watch.curve == [(pytest.approx(t - by_s), g) for t, g in before if t >= by_s - 1e-9]
        pull.watch.pump_was_on(pull.on_s + by_s)
        assert len(pull.watch.curve) == sum(t >= by_s - 1e-9 for t, _ in before)


# ---- the stop and what the cup holds -------------------------------------------------------------------------------

def test_a_cup_so_still_for_two_seconds_after_the_stop_is_settled():
    pull = running(20.0)
    pull.off()
    assert pull.stands(1.5) == []
    settled, = pull.stands(0.6)
    assert settled.yield_g == pytest.approx(40.0, abs=0.02) and settled.t_s - pull.off_s == pytest.approx(1.8, abs=0.11)
    assert pull.watch.over and pull.stands(5.0) == []


@pytest.mark.parametrize("drips, told", [(0.05, []), (0.2, [40.2])])
def test_drops_of_a_tenth_of_a_gram_are_told_anew(drips, told):
    pull = running(20.0)
    pull.off()
    pull.stands(3.0)
    pull.net_g += drips
    assert [each.yield_g for each in pull.stands(3.0) if isinstance(each, Settled)][-1:] == [pytest.approx(each, abs=0.05)
        for each in told]


@pytest.mark.parametrize("shake_g, settles", [(0.1, True), (0.12, True), (0.14, False)])
def test_a_cup_that_swings_by_more_than_a_quarter_of_a_gram_is_not_settled(shake_g, settles):
    pull = running(20.0)
    pull.off()
    for n in range(30):
        pull.n += 1
        pull.heard(pull.watch.observe(Sample(pull.t_s, CUP_G + pull.net_g + shake_g * (-1, 0, 1, 0)[n % 4])))
    assert bool(pull.all(Settled)) is settles


def test_a_scale_that_flickers_between_two_coarse_steps_is_at_rest():
    pull = running(20.0)
    pull.off()
    for n in range(30):
        pull.n += 1
        pull.heard(pull.watch.observe(Sample(pull.t_s, CUP_G + pull.net_g + 0.5 * (n % 2))))
    assert [each.yield_g for each in pull.all(Settled)] == [pytest.approx(40.25, abs=0.06)]


@pytest.mark.parametrize("drip_g_per_s, settles", [(0.08, True), (0.12, False)])
def test_a_cup_that_still_gains_a_tenth_of_a_gram_a_second_is_not_settled(drip_g_per_s, settles):
    pull = running(20.0)
    pull.off()
    pull.stands(4.0, drip_g_per_s)
    assert bool(pull.all(Settled)) is settles


@pytest.mark.parametrize("grams, time_s, lost", [(0.9, 29.0, True), (1.0, 29.0, False), (0.9, 30.0, True), (0.5, 31.0, False)])
def test_a_scale_with_no_cup_and_next_to_nothing_on_it_tells_no_yield_within_the_window(grams, time_s, lost):
    """Past it, a pull that choked over a cup set down before it began is the likelier story."""
    pull = Pull(cup=False)
    pull.on()
    pull.stands(time_s - 5.0)
    pull.net_g += grams
    pull.stands(5.0)
    pull.off()
    pull.stands(3.0)
    assert [each.why for each in pull.all(YieldLost)] == ([not_known.NO_CUP] if lost else []) and bool(pull.all(Settled)) is not lost


def test_a_stop_that_nobody_tapped_is_read_from_the_bend_and_is_vaguer_until_one_was_tapped():
    """The bend comes 0.3 s after the switch (valve, spouts, scale) until this group's own taps have shown better."""
    pull = running(20.0)
    pull.dies_away(6.0, over_s=0.5)
    ended, = pull.all(FlowEnded)
    assert ended.t_s == pytest.approx(pull.on_s + 24.0 - 0.3, abs=0.1) and 0.6 <= ended.plus_minus_s < 0.7
    assert pull.watch.off_s == ended.t_s and len(pull.all(Settled)) == 1
    taught = learn(Habits(), Poured(reaction_s=0.4, flow_g_per_s=2.0, after_g=2.0, bend_s=0.1))
    by_taught = running(20.0, habits=taught)
    by_taught.dies_away(6.0, over_s=0.5)
    again, = by_taught.all(FlowEnded)
    assert 0.25 <= again.plus_minus_s < 0.35 and again.t_s == pytest.approx(ended.t_s + 0.3 - taught.bend_s(), abs=0.02)


@pytest.mark.parametrize("in_cup_s, for_s, ended", [(14.0, 2.0, False), (14.0, 4.0, True), (5.0, 4.0, False), (5.0, 7.5, True)])
def test_a_stream_gone_thin_for_a_second_and_a_half_has_been_stopped_and_with_little_in_the_cup_for_five(in_cup_s, for_s, ended):
    pull = running(in_cup_s)
    pull.stands(for_s)
    assert bool(pull.all(FlowEnded)) is ended


def test_a_stream_that_thins_to_a_quarter_goes_on_and_to_a_tenth_has_stopped():
    for share, ended in ((0.25, False), (0.1, True)):
        pull = running(16.0)
        pull.stands(5.0, FLOW * share)
        assert bool(pull.all(FlowEnded)) is ended


def test_what_a_settled_pull_teaches_is_what_was_measured_of_it():
    pull = running(20.0)
    pull.stands(6.0, FLOW)
    cue, = pull.all(StopNow)
    pull.off()
    pull.dies_away(6.0, over_s=0.5)
    taught = pull.watch.poured
    assert taught.reaction_s == pytest.approx(pull.off_s - cue.t_s) and taught.flow_g_per_s == pytest.approx(FLOW, abs=0.01)
    assert taught.after_g == pytest.approx(pull.net_g - 52.0, abs=0.05) and taught.bend_s == pytest.approx(0.0, abs=0.1)
    early = running(10.0)
    early.off()
    early.stands(4.0)
    assert early.watch.poured.reaction_s is None and early.watch.poured.after_g == pytest.approx(0.0, abs=0.01)
    assert running(10.0).watch.poured is None
    untapped = running(20.0)
    untapped.dies_away(6.0, over_s=0.5)
    shown_g = 40.0 + FLOW * (untapped.watch.off_s - untapped.on_s - 24.0)
    assert untapped.watch.poured.flow_g_per_s == pytest.approx(FLOW, abs=0.02)
    assert untapped.watch.poured.after_g == pytest.approx(untapped.net_g - shown_g, abs=0.1)
    choked = Pull()
    choked.on()
    choked.stands(20.0)
    choked.off()
    choked.stands(4.0)
    assert choked.watch.poured is not None and choked.watch.poured.bend_s is None


# ---- cups that go --------------------------------------------------------------------------------------------------

def test_a_cup_taken_from_under_a_stream_may_come_back_for_four_seconds():
    back = running(10.0)
    back.lifts(2.0)
    assert back.all(YieldLost)[0].why == not_known.LIFTED
    back.under_g = CUP_G
    back.stands(12.0, FLOW)
    assert back.all(CupGone) == [] and back.watch.off_s is None
    gone = running(10.0)
    lifted_s = gone.t_s + 0.1
    gone.lifts(3.9)
    assert gone.all(CupGone) == [] and gone.watch.off_s is None
    gone.stands(0.3)
    assert gone.all(CupGone) == [CupGone(pytest.approx(lifted_s))] and gone.watch.off_s == pytest.approx(lifted_s)
    assert gone.watch.over


def test_after_the_stop_was_tapped_a_lifted_cup_is_no_cup_gone():
    pull = running(20.0)
    pull.off()
    pull.stands(0.2, FLOW)
    pull.lifts(6.0)
    assert pull.all(CupGone) == [] and pull.watch.over and len(pull.all(YieldLost)) == 1


@pytest.mark.parametrize("after_s", [1.2, 1.6])
def test_a_cup_lifted_while_it_drips_is_known_to_half_a_gram_or_not_at_all(after_s):
    pull = running(20.0)
    pull.off()
    pull.dies_away(after_s)
    in_cup_g = pull.net_g
    pull.lifts()
    settled, = pull.all(Settled)
    assert settled.yield_g == pytest.approx(in_cup_g, abs=0.3) and not pull.all(YieldLost)
    assert settled.t_s == pull.all(CupLifted)[0].t_s and pull.watch.poured.after_g == pytest.approx(in_cup_g - 40.0, abs=0.4)


def test_a_cup_lifted_as_the_stream_dies_away_tells_its_stop_and_not_its_yield():
    pull = running(15.0)
    pull.dies_away(0.5, over_s=0.15)
    off_s = pull.on_s + 19.0
    pull.lifts(6.0)
    ended, = pull.all(FlowEnded)
    assert ended.t_s == pytest.approx(off_s - 0.3, abs=0.25) and ended.plus_minus_s >= 0.6
    assert pull.all(YieldLost)[0].why == not_known.LIFTED and pull.all(CupGone) == [] and pull.watch.over


def test_last_drops_count_until_the_cup_is_lifted_unless_a_hand_was_on_it():
    for added, told in ((0.3, [40.0, 40.3]), (0.05, [40.0]), (0.6, [40.0])):
        pull = running(20.0)
        pull.off()
        pull.stands(3.0)
        pull.stands(0.3)
        pull.net_g += added
        pull.stands(0.7)
        pull.lifts()
        found = [each.yield_g for each in pull.all(Settled)]
        assert found == [pytest.approx(each, abs=0.02) for each in told], added


def test_a_cup_lifted_once_it_was_told_is_just_lifted_and_the_next_one_is_another_pulls():
    pull = running(20.0)
    pull.off()
    pull.stands(3.0)
    pull.lifts(3.0)
    assert [type(each) for each in pull.told[-2:]] == [Settled, CupLifted]
    pull.under_g = 90.0
    assert [type(each) for each in pull.stands(6.0)] == [CupSet]


def test_what_is_set_on_the_scale_in_mid_pour_takes_the_yield():
    pull = running(10.0)
    pull.under_g += 25.0
    pull.stands(4.0, FLOW)
    assert [each.why for each in pull.all(YieldLost)] == [not_known.KNOCKED] and pull.watch.grams is None
    still = Pull()
    still.on()
    still.under_g += 25.0
    still.stands(4.0)
    assert still.all(YieldLost) == []


def test_that_a_yield_is_not_known_is_said_once_whatever_happens_to_the_scale_then():
    """A cup set down as the stream begins, under a scale of four lines a second: known too vaguely, and then the scale goes."""
    watch, shown_g, said = PourWatch(RECIPE, Habits(), 0.0), 0.0, []
    said += watch.pump_on(0.2)
    for t_s in (n / 4 for n in range(1, 44)):
        stands_g = 120.0 * (t_s > 4.4) + FLOW * max(0.0, t_s - 4.5)
        shown_g += (stands_g - shown_g) * (1 - exp(-0.25 / 0.3))
        said += watch.observe(Sample(t_s, round(shown_g, 1)))
    assert watch.stop_at_s is not None
    said += watch.lost(11.0)
    assert [each.why for each in said if isinstance(each, YieldLost)] == [not_known.KNOCKED] and watch.stop_at_s is None


# ---- scales that go, pulls half seen -------------------------------------------------------------------------------

@pytest.mark.parametrize("before_s, lost", [(1.0, False), (1.1, True)])
def test_a_pump_on_a_second_before_the_watch_began_is_a_pull_half_seen(before_s, lost):
    watch = PourWatch(RECIPE, Habits(), 10.0)
    assert [each.why for each in watch.pump_on(10.0 - before_s)] == ([not_known.UNSEEN] if lost else [])


def test_a_scale_that_goes_before_the_pump_loses_nothing_and_after_it_the_yield():
    pull = Pull()
    assert pull.watch.lost(pull.t_s) == () and pull.watch.grams is None
    poured = running(8.0)
    assert poured.watch.lost(poured.t_s) == (YieldLost(poured.t_s, not_known.GONE),)
    assert (poured.watch.grams, poured.watch.flow_g_per_s, poured.watch.stop_at_s) == (None, None, None)


def test_a_scale_that_comes_back_in_mid_pour_still_tells_the_stop():
    pull = running(8.0)
    pull.heard(pull.watch.lost(pull.t_s))
    pull.stands(8.0, FLOW)
    assert pull.all(FlowEnded) == []
    pull.dies_away(5.0)
    ended, = pull.all(FlowEnded)
    assert ended.t_s == pytest.approx(pull.on_s + 20.0 - 0.3, abs=0.25) and pull.all(Settled) == [] and pull.watch.over


def test_whoever_says_that_it_falls_beside_or_cannot_be_told_ends_the_weighing_once():
    pull = running(5.0)
    assert pull.watch.cannot_tell(pull.t_s, "why") == (YieldLost(pull.t_s, "why"),)
    assert pull.watch.cannot_tell(pull.t_s, "again") == ()
    assert not pull.watch.over
    beside = running(5.0)
    assert beside.watch.falls_beside(beside.t_s) == (YieldLost(beside.t_s, not_known.UNSEEN),) and beside.watch.over
    assert beside.watch.beside
    settled = running(20.0)
    settled.off()
    settled.stands(3.0)
    assert settled.watch.cannot_tell(settled.t_s, "why") == ()


def test_cups_and_streams_are_said_to_be_seen():
    bare = Pull(cup=False)
    assert (bare.watch.cup_seen, bare.watch.pouring, bare.watch.cups) == (False, False, 0)
    cup = Pull()
    assert (cup.watch.cup_seen, cup.watch.pouring, cup.watch.cups) == (True, False, 1)
    stream = Pull(cup=False)
    stream.on()
    stream.stands(4.0)
    stream.stands(6.0, FLOW)
    assert (stream.watch.cup_seen, stream.watch.pouring, stream.watch.cups) == (True, True, 0)


# ---- which pump ended it -------------------------------------------------------------------------------------------

def test_the_pump_whose_stop_the_curve_bends_with_is_told():
    pull = running(12.0)
    stop_s = pull.t_s - 0.3
    pull.dies_away(3.0)
    assert pull.watch.ends_with(stop_s, stop_s + 1.5, pull.t_s) < -4.6 < 4.6 < pull.watch.ends_with(stop_s + 1.5, stop_s,
        pull.t_s)
    assert pull.watch.ends_with(stop_s, None, pull.t_s) < -4.6 < 4.6 < pull.watch.ends_with(None, stop_s, pull.t_s)
    still = running(12.0)
    assert still.watch.ends_with(still.t_s - 2.5, None, still.t_s) > 4.6
    assert still.watch.ends_with(None, still.t_s - 2.5, still.t_s) < -4.6


def test_a_curve_of_seven_readings_or_one_that_broke_off_tells_nothing_of_a_stop():
    pull = running(12.0)
    stop_s = pull.t_s - 0.3
    pull.dies_away(3.0)
    assert pull.watch.ends_with(stop_s, None, pull.t_s + 0.7) is not None
    assert pull.watch.ends_with(stop_s, None, pull.t_s + 0.9) is None
    assert pull.watch.ends_with(pull.t_s + 1.0, None, pull.t_s) is not None
    few = running(12.0)
    few.watch._plate.points = few.watch._plate.points[-7:]
    assert few.watch.ends_with(few.t_s - 0.2, None, few.t_s) is None
    few.stands(0.1, FLOW)
    assert few.watch.ends_with(few.t_s - 0.2, None, few.t_s) is not None


# ---- before the stream ---------------------------------------------------------------------------------------------

def test_until_the_pump_is_on_what_gathers_at_rest_is_the_cups():
    pull = Pull()
    pull.net_g += 1.0
    pull.stands(2.0)
    assert pull.watch.grams == pytest.approx(0.0, abs=0.05)
    pull.on()
    pull.net_g += 1.0
    pull.stands(2.0)
    assert pull.watch.grams == pytest.approx(1.0) and pull.watch.flow_g_per_s == 0.0


def test_what_still_runs_into_a_cup_before_the_pump_is_not_taken_for_its_own_weight():
    pull = Pull()
    pull.stands(1.2, 2.0)
    assert pull.watch.grams == pytest.approx(2.4, abs=0.15)


def test_the_first_drop_is_told_at_once_and_once_more_a_second_later():
    pull = Pull()
    pull.on()
    pull.stands(4.0)
    moments = [pull.t_s for _ in range(60) if any(isinstance(each, FirstDrop) for each in pull.stands(0.1, FLOW))]
    assert len(moments) == 2 and moments[1] - moments[0] == pytest.approx(1.0)
    assert pull.all(FirstDrop)[-1].t_s == pytest.approx(pull.on_s + 4.0 - 0.2, abs=0.3)      # 0.2 s of a scale's delay taken off
    assert np.all(np.diff([each.plus_minus_s for each in pull.all(FirstDrop)]) <= 0.15)


@pytest.mark.parametrize("own_by, other_by", [(-0.3, 1.2), (1.2, -0.3), (-0.3, None), (None, -0.3), (-0.3, -0.3)])
def test_the_odds_of_two_stops_are_those_of_the_curve_from_two_seconds_before_the_first(own_by, other_by):
    """A bend comes as late after its switch as it does on this group; a pump still on stops a second from now."""
    pull = running(9.0)
    now = pull.t_s
    pull.dies_away(3.0)
    own, other = (None if by is None else now + by for by in (own_by, other_by))
    first_s = min(each for each in (own, other) if each is not None)
    points = [p for p in pull.watch._plate.points if p[0] >= first_s - 2.0]
    bends = [pull.t_s + 1.0 if off is None else off + Habits().bend_s() for off in (own, other)]
    assert pull.watch.ends_with(own, other, pull.t_s) == pytest.approx(stream.likelier_end(points, *bends))


def test_a_long_curve_is_thinned_before_it_is_tried():
    """To sixty readings or fewer: many fits are tried, while the screen waits."""
    pull = running(11.0)
    stop_s = pull.t_s - 7.0
    pull.stands(3.0, FLOW)
    points = [p for p in pull.watch._plate.points if p[0] >= stop_s - 2.0]
    assert 120 <= len(points) < 180
    bends = (stop_s + Habits().bend_s(), pull.t_s + 1.0)
    assert pull.watch.ends_with(stop_s, None, pull.t_s) == pytest.approx(stream.likelier_end(points[::3], *bends))


def test_a_reading_at_the_very_moment_of_pump_on_is_the_curves_first():
    pull = Pull()
    pull.watch.pump_on(pull.t_s + 0.1)
    pull.stands(0.3)
    assert [t for t, _ in pull.watch.curve] == pytest.approx([0.0, 0.1, 0.2])
    later = Pull()
    later.watch.pump_on(later.t_s + 0.15)
    later.stands(0.3)
    assert [t for t, _ in later.watch.curve] == pytest.approx([0.05, 0.15])


@pytest.mark.parametrize("after_s, known", [(0.4, False), (1.0, True)])
def test_a_lifted_cup_is_weighed_over_where_its_bend_may_lie(after_s, known):
    """From a tenth before the stop was tapped to 1.1 s after it; within half a gram, or it is not known."""
    pull = running(20.0)
    pull.off()
    pull.stands(0.3, FLOW)
    pull.dies_away(after_s, over_s=0.25)
    lifted_s = (pull.n + 1) / 10
    # a hand is on its way
    points = [p for p in pull.watch._plate.points if p[0] >= pull.off_s - 2.0 and lifted_s - p[0] > 0.4]
    grams, within_g = stream.tail(points, pull.off_s - 0.1, pull.off_s + 1.1, lifted_s + 0.2)
    pull.lifts()
    assert [each.yield_g for each in pull.all(Settled)] == ([round(grams, 2)] if known else []) and (within_g <= 0.5) is known


# ---- while the scale serves another pull ---------------------------------------------------------------------------

def passed_by(pull: Pull, grams: float, for_s: float):
    seen = []
    for _ in range(round(for_s * 10)):
        pull.n += 1
        seen += pull.watch.pass_by(Sample(pull.t_s, grams))
    return pull.heard(seen)


def settled() -> Pull:
    pull = running(24.0)
    pull.off()
    pull.dies_away(6.0)
    assert len(pull.all(Settled)) == 1
    return pull


def test_a_cup_taken_meanwhile_is_told_once_and_from_when_it_was_gone():
    pull = settled()
    stood_g = pull.under_g + pull.net_g
    passed_by(pull, stood_g, 5.0)
    passed_by(pull, 0.0, 0.6)                           # a hand, a bump: it stands there again
    passed_by(pull, stood_g, 1.0)
    assert not pull.all(CupLifted)
    gone_s = pull.t_s + 0.1
    passed_by(pull, 0.0, 0.7)
    assert not pull.all(CupLifted)
    passed_by(pull, 0.0, 3.0)
    passed_by(pull, 530.0, 3.0)
    assert [each.t_s for each in pull.all(CupLifted)] == [pytest.approx(gone_s)]


def test_another_cup_in_its_place_changes_no_yield_that_has_settled():
    pull = settled()
    passed_by(pull, 530.0, 4.0)
    pull.under_g, pull.net_g = 94.0, 0.0
    pull.stands(6.0)
    assert len(pull.all(Settled)) == 1


def test_a_scale_that_is_silent_for_long_is_not_one_that_serves_another():
    """Scales that send only what changes: what drips after that is still the pull's."""
    pull = settled()
    pull.n += 100
    pull.stands(0.1, 6.0)
    pull.stands(6.0)
    assert pull.all(Settled)[-1].yield_g == pytest.approx(pull.net_g, abs=0.1) and len(pull.all(Settled)) == 2
