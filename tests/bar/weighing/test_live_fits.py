"""The curves behind the pull, held against libraries that fit the same curves by other means."""

from math import exp, log
from random import Random

import pytest
from scipy import optimize, stats

from kiosk.bar.weighing import Habits, Poured, cue, stream


def test_a_straight_stream_has_the_slope_that_scipy_gives_it():
    chance = Random(3)
    points = [(t / 10, 2.4 * t / 10 + chance.gauss(0, 0.2)) for t in range(25)]
    found = stats.linregress([t for t, _ in points], [g for _, g in points])
    grams, flow = stream.line(points, 3.0)
    assert flow == pytest.approx(found.slope, rel=1e-9)
    assert grams == pytest.approx(found.intercept + 3 * found.slope, rel=1e-9)


@pytest.mark.parametrize("seed", range(5))
def test_the_first_drop_is_where_scipys_curve_fit_puts_the_bend(seed):
    chance = Random(seed)
    began_s, flow = chance.uniform(2, 3), chance.uniform(1, 3)

    def curve(t, level, pace, bend_s):
        u = max(0.0, t - bend_s)
        return level + pace * (u - stream.GATHER_S * (1 - exp(-u / stream.GATHER_S)))

    points = [(i / 10, curve(i / 10, 0.1, flow, began_s) + chance.gauss(0, 0.05)) for i in range(60)]
    times, grams = zip(*points)
    (_, _, bend_s), _ = optimize.curve_fit(lambda ts, *of: [curve(t, *of) for t in ts], times, grams, p0=(0, 2, 2.5))
    found_s, within_s, _ = stream.onset(points, 0.0, 5.0)
    assert found_s == pytest.approx(bend_s, abs=0.03)
    assert abs(found_s - began_s) <= within_s + 0.03


@pytest.mark.parametrize("seed", range(5))
def test_the_stop_is_where_scipys_curve_fit_puts_the_bend(seed):
    chance = Random(seed)
    ended_s, flow = chance.uniform(2, 3), chance.uniform(1, 3)

    def curve(t, level, pace, bend_s):
        u = t - bend_s
        return level + pace * (u if u < 0 else stream.FALL_S * (1 - exp(-u / stream.FALL_S)))

    points = [(i / 10, curve(i / 10, 40, flow, ended_s) + chance.gauss(0, 0.05)) for i in range(60)]
    times, grams = zip(*points)
    (_, _, bend_s), _ = optimize.curve_fit(lambda ts, *of: [curve(t, *of) for t in ts], times, grams, p0=(40, 2, 2.5))
    found_s, _ = stream.ending(points, 0.5, 5.0)
    assert found_s == pytest.approx(bend_s, abs=0.03)


def test_the_tail_of_a_knock_does_not_move_the_first_drop():
    points = [(i / 10, max(0.0, 2.0 * (i / 10 - 3))) for i in range(60)]
    calm_s, _, _ = stream.onset(points, 0.0, 5.0)
    knocked_s, _, _ = stream.onset([(t, g - 3.0 if 1.0 < t < 1.25 else g) for t, g in points], 0.0, 5.0)
    assert knocked_s == pytest.approx(calm_s, abs=0.05)


@pytest.mark.parametrize("many", [1, 2, 14])       # of few, the prior has its say
def test_what_comes_after_the_stop_is_the_likeliest_line_under_students_t(many):
    # The penalty written out (Student's t errors, normal prior), and minimised by scipy instead of by reweighting.
    chance = Random(8)
    pulls = []
    for number in range(many):
        flow = chance.uniform(1.2, 3.2)
        after_g = 0.9 * flow + 0.7 + chance.gauss(0, 0.15) + (4.0 if number == 9 else 0.0)
        pulls.append(Poured(reaction_s=0.4, flow_g_per_s=flow, after_g=after_g))

    def penalty(line):
        after_s, drip_g = line
        total = ((after_s - cue.AFTER_S) / cue.AFTER_SD_S) ** 2 / 2 + ((drip_g - cue.DRIP_G) / cue.DRIP_SD_G) ** 2 / 2
        for age, pull in enumerate(reversed(pulls)):
            off = (pull.after_g - after_s * pull.flow_g_per_s - drip_g) / cue.NOISE_G
            total += cue.FADE**age * (cue.TAIL_DF + 1) / 2 * log(1 + off**2 / cue.TAIL_DF)
        return total

    best = optimize.minimize(penalty, (0.8, 0.8), method="Nelder-Mead", options={"xatol": 1e-6, "fatol": 1e-9}).x
    assert Habits(tuple(pulls)).after() == pytest.approx(tuple(best), abs=0.002)
