"""Two pumps, one cup: whose coffee it was, by the drop and by the stops."""

from math import exp

import pytest

from kiosk.bar.weighing import stream, whose


def dying(off_s: float, pace: float = 2.2):
    """A stream that runs at `pace` and dies away from `off_s` on, read ten times a second."""
    def grams(t_s):
        past = max(0.0, t_s - off_s)
        return pace * (min(t_s, off_s) + 0.4 * (1 - exp(-past / 0.4)))
    return [(n / 10, round(grams(n / 10), 1)) for n in range(121)]


@pytest.mark.parametrize("apart_s", [0.7, 1.0, 2.0])
def test_the_stop_that_bends_the_curve_is_told_from_the_one_that_does_not(apart_s):
    assert stream.likelier_end(dying(8.0), 8.0 + apart_s, 8.0) > whose.SURELY
    assert stream.likelier_end(dying(8.0), 8.0, 8.0 + apart_s) < -whose.SURELY


def test_a_stream_that_runs_on_past_the_own_stop_is_the_others():
    assert stream.likelier_end(dying(20.0), 8.0, 13.0) > whose.SURELY


def test_stops_at_one_moment_and_cups_lifted_at_once_tell_nothing():
    assert not whose.stops_tell(8.0, 8.3, 12.0, False)
    assert not whose.stops_tell(None, None, 12.0, True)
    assert not whose.stops_tell(11.5, None, 12.0, True)
    assert whose.stops_tell(8.0, None, 12.0, False) and whose.stops_tell(8.0, 11.9, 12.0, True)


def test_a_drop_alone_never_moves_coffee_to_another_group():
    assert abs(whose.odds_of_the_other(9.0, 0.0, None)) <= whose.DROP_SAYS_AT_MOST
    assert whose.odds_of_the_other(0.2, 3.0, None) < -whose.CLEARLY
    assert abs(whose.odds_of_the_other(0.5, 0.6, None)) < whose.CLEARLY


@pytest.mark.parametrize("own, other, now, lifted, tell", [
    (10.0, 10.5, 12.5, False, True), (10.0, 10.49, 12.5, False, False), (10.5, 10.0, 12.5, False, True),   # half a second apart
    # a bend takes 1.8 s to show
    (10.0, None, 11.8, False, True), (10.0, None, 11.79, False, False), (None, 10.0, 11.8, False, True),
    # and 4 s later nothing new comes
    (10.0, 13.0, 17.0, False, True), (10.0, 13.0, 17.01, False, False),
    # a cup lifted shows half of it
    (10.0, None, 10.9, True, True), (10.0, None, 10.89, True, False), (10.0, 13.0, 30.0, True, True),
    (10.0, 10.2, 30.0, True, False), (None, None, 30.0, False, False)])
def test_stops_tell_once_their_bend_can_be_seen_and_while_it_matters(own, other, now, lifted, tell):
    assert whose.stops_tell(own, other, now, lifted) is tell


@pytest.mark.parametrize("own_off, other_off, end, odds", [
    (1.0, 0.0, None, 2.0), (0.0, 1.0, None, -2.0), (1.0, 1.0, 0.7, 0.7), (1.2, 0.5, -3.0, 2 * (1.44 - 0.25) - 3.0),
    (9.0, 0.0, 1.0, 6.0), (0.0, 9.0, -1.0, -6.0)])
def test_a_drop_off_by_its_own_reach_weighs_two_and_five_at_the_most(own_off, other_off, end, odds):
    """± is two standard deviations: off by one of them is exp(−2²/2)."""
    assert whose.odds_of_the_other(own_off, other_off, end) == pytest.approx(odds)
