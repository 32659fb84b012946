"""Where a stream begins: the first drop's rules against numpy's means, spreads and lines, on every shape of reading."""

from math import exp, inf, sin

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from kiosk.bar.model import usual
from kiosk.bar.weighing import drop, stream
from kiosk.bar.weighing.drop import DropWatch
from kiosk.bar.weighing.plate import Plate

RECIPE = usual("house", "double")


def plate_of(grams, for_s: float, hz: float = 10.0, shaken_s: float = -inf) -> Plate:
    """What such a plate holds once so much was read; `grams` is a function of time."""
    plate = Plate()
    plate.points = [(round(n / hz, 3), grams(n / hz)) for n in range(round(for_s * hz) + 1)]
    plate.shaken_s = shaken_s
    return plate


def begins(at_s: float, pace: float = 2.0, hum: float = 0.0):
    """A level, hummed upon by so much, and from then on a stream that gathers."""
    def grams(t):
        u = max(0.0, t - at_s)
        return 0.1 + hum * sin(17.0 * t) + pace * (u - stream.GATHER_S * (1 - exp(-u / stream.GATHER_S)))
    return grams


def shape(at_s, pace, hum, drip, runs_s):
    """A stream that runs so long, over a hum, after a drip."""
    return lambda t: begins(at_s, pace)(min(t, at_s + runs_s)) + hum * sin(17.0 * t) + (drip if t > 3.0 else 0.0)


SHAPES = st.builds(shape, st.floats(2.0, 9.0), st.floats(0.0, 8.0), st.floats(0.0, 0.5), st.sampled_from((0.0, 0.3, 0.6)),
                   st.sampled_from((1.0, 2.0, 99.0)))


@settings(max_examples=80, deadline=None)
@given(SHAPES, st.floats(4.0, 11.0), st.floats(-5.0, 4.0), st.sampled_from((-inf, 2.0, 6.0)))
def test_coffee_seems_to_come_where_the_last_third_of_a_second_lies_over_the_two_before_by_four_of_their_spreads(grams, now_s,
    on_s, shaken_s):
    plate = plate_of(grams, now_s, shaken_s=shaken_s)
    times, values = np.array(plate.points).T
    t_s = times[-1]
    last, before = values[times >= t_s - 0.35 - 1e-9], values[(times >= t_s - 2.6 - 1e-9) & (times < t_s - 0.6)]
    assume(abs(last.mean() - before.mean() - max(0.3, 4 * before.std())) > 1e-6)      # on the edge itself the last bit decides
    rises = last[-1] >= last[0] and last.mean() - before.mean() > max(0.3, 4 * before.std())
    may = t_s - shaken_s >= 0.6 and t_s - on_s >= 1.5
    assert DropWatch(RECIPE).seems(plate, on_s, t_s) == bool(may and rises)


def test_few_readings_seem_like_nothing():
    def seems(grams, hz, for_s): return DropWatch(RECIPE).seems(plate_of(grams, for_s, hz), -9.0, for_s)
    def jump(t): return 5.0 if t > 2.6 else 0.0
    assert seems(jump, 10.0, 3.0) and not seems(jump, 2.0, 3.0)
    assert seems(lambda t: 5.0 if t > 0.6 else 0.0, 10.0, 1.0) and not seems(lambda t: 5.0 if t > 0.4 else 0.0, 10.0, 0.8)


def rises(plate: Plate, on_s: float, t_s: float, for_s: float, third_g: float, whole_g: float) -> bool:
    times, values = np.array(plate.points).T
    its = times >= max(t_s - for_s, on_s) - 1e-9
    if its.sum() < 6 or times[its][-1] - times[its][0] < for_s - 0.25:
        return False
    before = values[(times >= t_s - for_s - 2.5 - 1e-9) & (times < t_s - for_s)]
    before = before if len(before) else np.zeros(1)
    k = its.sum() // 3
    a, b, c = values[its][:k].mean(), values[its][k:-k].mean(), values[its][-k:].mean()
    slope = np.polyfit(times[its][-k:], values[its][-k:], 1)[0]
    left = values[its] - np.polyval(np.polyfit(times[its], values[its], 1), times[its])
    assume(min(abs(slope), abs(min(b - a, c - b) - max(third_g, before.std())), abs(c - before.mean() - max(whole_g, 4 * before.std())),
               abs(np.sqrt(np.mean(left**2)) - 0.15 - before.std() - 0.08 * (c - a))) > 1e-6)
    return bool(min(b - a, c - b) > max(third_g, before.std()) and c - before.mean() > max(whole_g, 4 * before.std())
                and slope > 0 and np.sqrt(np.mean(left**2)) < 0.15 + before.std() + 0.08 * (c - a))


@settings(max_examples=80, deadline=None)
@given(SHAPES, st.floats(3.5, 12.0), st.floats(-3.0, 4.0), st.sampled_from(((3.0, 0.4, 1.5), (8.0, 0.6, 2.0), (1.5, 0.35, 1.4))))
def test_a_stream_rises_third_by_third_well_over_what_was_before_and_on_a_line(grams, now_s, on_s, how):
    plate = plate_of(grams, now_s)
    t_s = plate.points[-1][0]
    assert drop._rises(plate, on_s, t_s, *how) is rises(plate, on_s, t_s, *how)


@settings(max_examples=80, deadline=None)
@given(SHAPES, st.floats(3.5, 12.0), st.floats(-3.0, 4.0), st.sampled_from((-inf, 2.0, 6.0)))
def test_it_begins_where_it_rises_over_three_seconds_or_eight_or_soon_at_a_streams_pace_and_time(grams, now_s, on_s, shaken_s):
    """Espresso runs at the recipe's yield in its shortest time at most; a hand rises faster or at once."""
    plate = plate_of(grams, now_s, shaken_s=shaken_s)
    t_s = plate.points[-1][0]
    half, whole = (np.polyfit(*np.array(plate.since(t_s - each)).T, 1)[0] for each in (0.5, 1.0))
    assume(abs(half - whole / 2) > 1e-6 or abs(half) < 1e-6)
    soon = t_s - on_s > 3.0 and half < 3 * RECIPE.yield_g / RECIPE.time_window_s[0] and rises(plate, on_s, t_s, 1.5, 0.35, 1.4)
    seems = t_s - shaken_s >= 1.5 and half >= whole / 2 and (
        rises(plate, on_s, t_s, 3.0, 0.4, 1.5) or rises(plate, on_s, t_s, 8.0, 0.6, 2.0) or soon)
    assert DropWatch(RECIPE)._seems(plate, on_s, t_s) is bool(seems)


@pytest.mark.parametrize("pace, seems", [(0.32, True), (0.2, False)])
def test_a_trickle_of_a_third_of_a_gram_a_second_is_a_stream_after_eight_seconds(pace, seems):
    assert DropWatch(RECIPE)._seems(plate_of(begins(4.0, pace), 12.0), 0.0, 12.0) is seems


def told_at(grams, for_s: float, on_s: float = 0.0) -> list[float]:
    """The moments at which a stream is believed to have begun, as the readings come."""
    watch, plate, found = DropWatch(RECIPE), Plate(), []
    for n in range(round(for_s * 10) + 1):
        plate.points.append((n / 10, grams(n / 10)))
        if n > 20 and watch.began(plate, on_s, n / 10):
            found.append(n / 10)
    return found


def test_it_is_believed_four_tenths_of_a_second_after_it_first_seemed_so():
    seemed = DropWatch(RECIPE)
    first = next(n / 10 for n in range(21, 120) if seemed._seems(plate_of(begins(5.0), n / 10), 0.0, n / 10))
    assert told_at(begins(5.0), 10.0)[0] == pytest.approx(first + 0.4)


def test_what_seemed_to_begin_and_stopped_for_a_second_and_a_half_begins_anew():
    watch, run, flat = DropWatch(RECIPE), plate_of(begins(5.0), 8.0), plate_of(lambda t: 0.0, 8.0)
    assert not watch.began(run, 0.0, 8.0) and not watch.began(flat, 0.0, 8.2)
    again = plate_of(lambda t: begins(5.0)(t - 1.6), 9.6)
    assert not watch.began(again, 0.0, 9.6)
    later = DropWatch(RECIPE)
    assert not later.began(run, 0.0, 8.0)
    assert later.began(plate_of(lambda t: begins(5.0)(t - 1.4), 9.4), 0.0, 9.4)


@pytest.mark.parametrize("began_s, now_s", [(5.0, 7.5), (5.0, 9.5), (4.0, 11.0), (9.0, 11.5)])
def test_the_bend_lies_where_it_began_within_what_it_says(began_s, now_s):
    """± 0.38 s of what stays unknown of a scale's delay, and a quarter of the longest gap about the bend, at the least."""
    bend_s, within_s = DropWatch(RECIPE).bend(plate_of(begins(began_s, hum=0.03), now_s), 0.0, now_s)
    assert bend_s == pytest.approx(began_s, abs=0.1) and 0.38 < within_s < 0.45
    sparse = plate_of(begins(began_s, hum=0.03), now_s)
    sparse.points = [p for p in sparse.points if not began_s - 0.4 < p[0] < began_s + 0.5]
    hidden_s = max(u - t for (t, _), (u, _) in zip(sparse.points, sparse.points[1:]))
    assert hidden_s > 0.85
    found = DropWatch(RECIPE).bend(sparse, 0.0, now_s)
    assert found is not None and found[1] > np.hypot(0.38, hidden_s / 4) - 1e-9


def test_a_vague_bend_is_not_told_nor_one_that_was_told_better():
    """0.55 s is vague; a later look may be 0.15 s vaguer than the one before and counts as the better one."""
    def rough(t): return begins(5.0, 0.5)(t) + 0.6 * sin(7.0 * t)
    assert DropWatch(RECIPE).bend(plate_of(rough, 8.0), 0.0, 8.0) is None
    watch = DropWatch(RECIPE)
    assert watch.bend(plate_of(begins(5.0), 8.0), 0.0, 8.0) is not None
    for hidden, still_told in (((4.7, 6.0), True), ((4.6, 6.1), False)):
        gap = plate_of(begins(5.0), 8.0)
        gap.points = [p for p in gap.points if not hidden[0] < p[0] < hidden[1]]
        again = DropWatch(RECIPE)
        again.bend(plate_of(begins(5.0), 8.0), 0.0, 8.0)
        assert DropWatch(RECIPE).bend(gap, 0.0, 8.0) is not None and (again.bend(gap, 0.0, 8.0) is not None) is still_told


def test_a_stream_older_than_what_was_seen_has_no_bend():
    assert DropWatch(RECIPE).bend(plate_of(lambda t: 2.0 * t, 8.0), -5.0, 8.0) is None
    assert DropWatch(RECIPE).bend(plate_of(lambda t: max(0.0, 2 * (t - 0.2)), 1.9), 0.0, 1.9) is None      # two seconds at least


def test_a_drip_or_a_knock_before_the_stream_does_not_move_its_bend():
    for before in (lambda t: 1.2 if t > 2.0 else 0.0, lambda t: 1.5 * min(1.0, max(0.0, t - 1.5))):
        bend_s, _ = DropWatch(RECIPE).bend(plate_of(lambda t: begins(6.0)(t) + before(t), 8.5), 0.0, 8.5)
        assert bend_s == pytest.approx(6.0, abs=0.15)


# ---- which stretch of readings the bend is looked for in -------------------------------------------------------------

def looked_at(grams, for_s: float, shaken_s: float = -inf, on_s: float = 0.0):
    """(from when, bend) of the readings that show a level and then a stream; None where none do."""
    plate = plate_of(grams, for_s, shaken_s=shaken_s)
    found = drop._level_and_stream(plate, on_s, plate.points[-1][0])
    return None if found is None else (found[0][0][0], found[1])


def test_a_stream_is_looked_for_in_six_seconds_since_the_last_knock_else_across_it_and_a_trickle_in_twelve():
    from_s, bend_s = looked_at(begins(6.0), 9.0)
    assert (from_s, bend_s) == (3.0, pytest.approx(6.0, abs=0.05))
    assert looked_at(begins(6.0), 9.0, shaken_s=4.5)[0] == 4.5
    assert looked_at(begins(6.0), 9.0, shaken_s=7.5)[0] == 3.0                  # less than two seconds since: across it
    assert looked_at(begins(6.0), 9.0, shaken_s=5.9)[0] == 3.0                  # no third of a second of level since
    assert looked_at(begins(6.0), 9.0, shaken_s=5.5)[0] == 5.5
    trickle = looked_at(begins(4.0, 0.4), 12.0)
    assert trickle == (0.0, pytest.approx(4.0, abs=0.05))
    assert looked_at(begins(0.1), 12.0) is None
    assert looked_at(begins(1.0), 1.9) is None and looked_at(begins(1.0), 2.4, on_s=0.5) is not None


def test_a_shorter_look_counts_where_it_fits_far_better():
    """Three seconds and a half, where a drip or a hand had moved the level before the stream came."""
    def drip(t): return begins(6.5)(t) + (0.8 if t > 3.6 else 0.0)
    assert looked_at(drip, 8.0) == (4.5, pytest.approx(6.5, abs=0.1))
    assert looked_at(begins(6.5), 8.0)[0] == 2.0
    assert looked_at(lambda t: begins(6.5, hum=0.05)(t), 8.0)[0] == 2.0         # as well: then the longer look
    def late(t): return begins(4.6)(t) + (0.8 if t > 3.0 else 0.0)
    assert looked_at(late, 8.0)[0] == 2.0                                       # the shorter look shows no level


@pytest.mark.parametrize("hz", [5.0, 10.0, 20.0])
def test_the_bend_is_not_looked_for_in_the_last_three_tenths_of_a_second_nor_before_the_pump(hz):
    plate = plate_of(begins(5.0), 7.0, hz)
    assert drop._level_and_stream(plate, 6.0, 7.0)[1] >= 6.0
    young = plate_of(begins(6.8, 9.0), 7.0, hz)
    assert drop._level_and_stream(young, 0.0, 7.0)[1] <= 6.7
