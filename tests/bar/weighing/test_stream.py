"""The shape of a stream: every fit against numpy's least squares, every interval against what it is said to be."""

from math import exp, log, sqrt
from random import Random

import numpy as np
import pytest

from kiosk.bar.weighing import stream


def points_of(shape, n: int = 40, hz: float = 10.0, noise: float = 0.0, seed: int = 0):
    chance = Random(seed)
    return [(i / hz, shape(i / hz) + chance.gauss(0, noise)) for i in range(n)]


def dying(bend_s: float, fall_s: float, pace: float = 2.0, level: float = 0.0):
    """A straight rise that from the bend on dies away to a level."""
    def grams(t):
        u = t - bend_s
        return level + pace * (u if u < 0 else fall_s * (1 - exp(-u / fall_s)))
    return grams


def misfit_of(points, bend_s: float, fall_s: float) -> tuple[float, float, float]:
    """(squared error, level, pace) of the best dying rise with that bend, by numpy."""
    shape = [dying(bend_s, fall_s, 1.0)(t) for t, _ in points]
    grams = np.array([g for _, g in points])
    columns = np.column_stack([np.ones(len(points)), shape])
    (level, pace), *_ = np.linalg.lstsq(columns, grams, rcond=None)
    return float(((grams - columns @ (level, pace))**2).sum()), float(level), float(pace)


@pytest.mark.parametrize("tail_s", [None, 0.1, 0.25, 0.6])
def test_a_stream_that_gathers_past_a_filters_tail_is_numpys(tail_s):
    """A constant, a stream from its beginning on and an exponential, together by least squares; what they make of a moment, and how well."""
    begins_s, chance = 3.9, Random(7)
    points = [(3.2 + i / 10, 120 + 2.2 * stream._gathering(0.1 * i - 0.7) - 9 * exp(-i / 10 / (tail_s or 0.01)) + chance.gauss(0, 0.03))
              for i in range(1, 25)]
    times, grams = np.array(points).T
    columns = np.column_stack([np.ones(len(times)), [stream._gathering(t - begins_s) for t in times],
                               *([np.exp(-(times - times[0]) / tail_s)] if tail_s else [])])
    found, left, *_ = np.linalg.lstsq(columns, grams, rcond=None)
    tail = np.exp(-(times - times[0]) / tail_s) if tail_s else 0 * times
    began, at = (stream._about_mean(list(each)) for each in (grams, columns[:, 1])), 0.7
    best = stream._best(*began, stream._about_mean(list(tail)), at)
    there = np.array([1.0, at, 0.0])[:columns.shape[1]]
    assert best == pytest.approx((left[0], there @ found, there @ np.linalg.inv(columns.T @ columns) @ there, found[2] if tail_s else 0.0))


def test_a_cup_set_down_shortly_before_a_stream_lies_within_its_own_limits():
    """Through filters of every pace, the stream from half a second before the cup to two after: about 19 times in 20."""
    chance, held, wide = Random(3), [], []
    for _ in range(200):
        cup_g, tail_s, begins_s = chance.uniform(9, 290), chance.uniform(0.05, 0.5), chance.uniform(-0.5, 2.0)
        flow, from_s = chance.uniform(1.2, 3.5), tail_s * max(0.0, log(cup_g / tail_s / 5.0))      # shown from 5 g/s on
        points = [(t, cup_g * (1 - exp(-t / tail_s)) + flow * (stream._gathering(t - begins_s) - stream._gathering(-begins_s))
                   + chance.gauss(0, 0.08)) for t in (from_s + i / 10 for i in range(round(10 * (max(begins_s, from_s) + 2.1 - from_s))))]
        found = stream.set_down(points, 0.0)
        held.append(abs(found.grams - cup_g) < found.within_g)
        wide.append(found.within_g)
    assert sum(held) >= 0.94 * len(held) and sorted(wide)[len(wide) // 2] < 3.0


def test_a_level_that_was_seen_is_known_well_and_so_is_when_the_stream_began():
    for n in range(25, 45):
        plain = points_of(lambda t: 80.0 + 2 * stream._gathering(t - 1.5), n, noise=0.05, seed=n)
        found = stream.set_down(plain, 0.0)
        assert found.grams == pytest.approx(80.0, abs=found.within_g) and found.within_g < 0.15
        assert found.begun_s == pytest.approx(1.5, abs=0.1) and found.settled_s == pytest.approx(0.0, abs=0.3)


@pytest.mark.parametrize("bend_s, fall_s, ends_s", [(2.0, 0.4, 2.6), (1.6, 0.25, 4.0), (2.5, 0.6, 3.0)])
def test_what_a_cup_holds_is_weighed_over_every_bend_and_pace_of_dying_away(bend_s, fall_s, ends_s):
    """Each has the say that a normal error gives it, neighbouring readings telling a third of what as many apart would."""
    points = [p for p in points_of(dying(bend_s, fall_s, level=30.0), 60, noise=0.06, seed=2) if p[0] <= ends_s]
    from_s, to_s, at_s = 1.4, 3.0, ends_s + 0.3
    fits = [(*misfit_of(points, from_s + (to_s - from_s) * i / 10, fall), from_s + (to_s - from_s) * i / 10, fall)
            for fall in (0.15, 0.25, 0.4, 0.6, 0.9) for i in range(11)]
    misfits = np.array([each[0] for each in fits])
    grams = np.array([level + pace * dying(bend, fall, 1.0)(at_s) for _, level, pace, bend, fall in fits])
    noise2 = max(misfits.min() / (len(points) - 4), 0.05**2)
    weights = np.exp(-(misfits - misfits.min()) / 2 / 3 / noise2)
    mean = np.average(grams, weights=weights)
    spread = np.average((grams - mean)**2, weights=weights)
    found_g, within_g = stream.tail(points, from_s, to_s, at_s)
    assert found_g == pytest.approx(mean) and within_g == pytest.approx(2 * sqrt(spread + 3 * noise2 / len(points)))
    assert abs(found_g - dying(bend_s, fall_s, level=30.0)(at_s)) <= within_g + 0.05


@pytest.mark.parametrize("bend_s, a_s, b_s", [(2.0, 2.0, 3.0), (2.4, 2.0, 3.0), (2.9, 2.0, 3.0), (2.5, 2.5, 2.5)])
def test_the_odds_of_two_stops_are_those_of_their_best_fits(bend_s, a_s, b_s):
    points = points_of(dying(bend_s, 0.4, level=20.0), 50, noise=0.08, seed=6)
    least = [min(misfit_of(points, at_s + by_s, fall)[0] for fall in (0.15, 0.25, 0.4, 0.6, 0.9)
                 for by_s in (-0.3, -0.15, 0.0, 0.15, 0.3)) for at_s in (a_s, b_s)]
    noise2 = max(min(least) / (len(points) - 4), 0.1**2)
    assert stream.likelier_end(points, a_s, b_s) == pytest.approx((least[0] - least[1]) / (2 * 3 * noise2))


@pytest.mark.parametrize("noise", [0.0, 0.08])
def test_a_bend_is_known_to_where_the_likelihood_falls_by_a_chi_squared(noise):
    """Within 3.84 of the best (chi-squared, 1 degree, 95 %); 0.05 g of noise at least, which tenths of a gram hide."""
    points = points_of(dying(2.2, stream.FALL_S, level=10.0), 50, noise=noise, seed=8)
    best_s, within_s = stream.ending(points, 1.0, 4.0)
    fine = [1.0 + n * 3.0 / 3000 for n in range(3001)]
    misfits = np.array([misfit_of(points, bend_s, stream.FALL_S)[0] for bend_s in fine[::10]])
    assert best_s == pytest.approx(fine[::10][int(misfits.argmin())], abs=0.03)
    noise2 = max(misfits.min() / (len(points) - 3), 0.05**2)
    inside = np.array(fine[::10])[misfits - misfits.min() <= 3.84 * noise2]
    assert within_s == pytest.approx((inside[-1] - inside[0]) / 2, abs=0.03)


def test_a_bend_is_looked_for_between_its_bounds_and_no_further():
    points = points_of(dying(2.2, stream.FALL_S), 50)
    for from_s, to_s in ((0.5, 1.5), (3.0, 4.0), (2.0, 2.0)):
        best_s, _ = stream.ending(points, from_s, to_s)
        assert from_s <= best_s <= max(to_s, from_s + 0.05)
        assert best_s == pytest.approx(min(max(2.2, from_s), max(to_s, from_s + 0.05)), abs=0.06)


def test_what_is_left_of_a_fit_says_how_far_the_readings_lie_from_it():
    """A level and then a stream that gathers: as much is left as was put on it."""
    def gathers(t):
        u = max(0.0, t - 2.0)
        return 0.2 + 2.0 * (u - stream.GATHER_S * (1 - exp(-u / stream.GATHER_S)))

    calm = stream.onset(points_of(gathers, 60), 0.0, 5.0)
    assert calm[0] == pytest.approx(2.0, abs=0.02) and calm[2] < 0.01
    shaken = [(t, g + 0.1 * (-1)**i) for i, (t, g) in enumerate(points_of(gathers, 60))]
    assert stream.onset(shaken, 0.0, 5.0)[2] == pytest.approx(0.1, abs=0.005)


def test_readings_half_a_gram_off_a_calm_curve_have_no_say_and_a_third_of_a_gram_has():
    """0.4 g is more than hum and tenths make; where the whole curve is rough, three of its own root mean squares."""
    flat = [(i / 10, 2.0 * max(0.0, i / 10 - 3)) for i in range(60)]
    clean = stream.onset(flat, 0.0, 5.0)
    def with_one(by): return stream.onset([(t, g + by if i == 12 else g) for i, (t, g) in enumerate(flat)], 0.0, 5.0)
    assert with_one(0.6)[2] == pytest.approx(clean[2], abs=0.02) and with_one(0.3)[2] > clean[2] + 0.005


def test_root_mean_square_is_about_the_points_own_line():
    points = [(i / 10, 7 + 3 * i / 10 + 0.2 * (-1)**i) for i in range(40)]
    slope, level = np.polyfit(*np.array(points).T, 1)
    left = [g - level - slope * t for t, g in points]
    assert stream.rms(points) == pytest.approx(float(np.sqrt(np.mean(np.square(left)))))
    assert stream.line([(2.0, 5.0), (2.0, 7.0)], 9.0) == (6.0, 0.0)         # at one moment there is no slope
