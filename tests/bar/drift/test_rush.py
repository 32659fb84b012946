"""What a rush has in common: against the algebra of the pulls' whole covariance, and a regression by numpy."""

from math import exp
from random import Random

import numpy as np
import pytest

from kiosk.bar.drift.rush import FADES_MINUTES, LOOKED_BACK, MOST, ODD_AT, UNTIL_SEEN, Resemblance, Rush


def at(minutes: float) -> str:
    return f"2026-01-05T{9 + int(minutes) // 60:02d}:{int(minutes) % 60:02d}:{round(minutes * 60) % 60:02d}+01:00"


@pytest.mark.parametrize("share", [0.0, 0.3, 0.6])
def test_each_pull_shows_what_the_ones_before_in_its_rush_do_not_foresee(share):
    """What a pull says of the grinder's level, what is shared being a Gaussian process that fades over a quarter of an hour."""
    moments, xs = [0.0, 2.0, 3.0, 9.0, 31.0, 33.0], [0.4, -0.3, 0.8, 1.1, -0.6, 0.2]
    apart = np.abs(np.subtract.outer(moments, moments))
    shared = share * np.exp(-apart / FADES_MINUTES)
    rush = Rush()
    for n, x in enumerate(xs):
        shown, blur = rush.observe(x, "A", at(moments[n]), share)
        weights = np.linalg.solve(shared[:n, :n] + (1 - share) * np.eye(n), shared[:n, n]) if n else np.zeros(0)
        variance = shared[n, n] - (shared[n, :n] @ weights if n else 0.0) + 1 - share
        new = 1 - weights.sum()
        assert shown == pytest.approx((x - weights @ np.array(xs[:n])) / new)
        assert 1 + blur**2 == pytest.approx(variance / new**2)


def test_a_gross_pull_foresees_no_more_than_one_of_three_spreads():
    def next_shown(x: float) -> float:
        rush = Rush()
        rush.observe(x, "A", at(0.0), 0.5)
        return rush.observe(0.0, "A", at(2.0), 0.5)[0]

    assert next_shown(40.0) == next_shown(ODD_AT) != next_shown(1.0)
    assert next_shown(-40.0) == next_shown(-ODD_AT) == -next_shown(ODD_AT)


def test_other_hands_or_a_clock_set_back_share_nothing():
    for who, minutes in (("B", 1.0), (None, 1.0), ("A", -30.0)):
        rush = Rush()
        rush.observe(2.0, "A", at(60.0), 0.5)
        assert rush.observe(1.0, who, at(60.0 + minutes), 0.5) == (1.0, 0.0)
    rush = Rush()                                   # where a table tells no times, a pull comes every two minutes
    rush.observe(2.0, "A", "", 0.5)
    timed = Rush()
    timed.observe(2.0, "A", at(0.0), 0.5)
    assert rush.observe(1.0, "A", "", 0.5) == timed.observe(1.0, "A", at(2.0), 0.5)
    again = Rush()                                  # back at the machine: that is another rush
    for who in "AB":
        again.observe(2.0, who, at(0.0), 0.5)
    assert again.observe(1.0, "A", at(1.0), 0.5) == (1.0, 0.0)


def test_pairs_share_what_has_not_faded_within_one_rush_and_nothing_beyond():
    rush = Rush()
    for n, who in enumerate("AABBB"):
        rush.observe(float(n), who, at(n), 0.2)
    assert list(rush.pairs("B", at(6.0))) == [
        (0.0, "A", 0.0), (1.0, "A", 0.0), *((float(n), "B", pytest.approx(exp(-(6 - n) / FADES_MINUTES))) for n in (2, 3, 4))]
    assert [shared for _, _, shared in rush.pairs("A", at(6.0))] == [0.0] * 5
    for n in range(20):
        rush.observe(0.0, "B", at(6.0 + n), 0.2)
    assert len(list(rush.pairs("B", at(30.0)))) == LOOKED_BACK


def test_the_resemblance_is_the_slope_of_numpys_regression():
    chance, resemblance = Random(4), Resemblance()
    rows = [(chance.gauss(0, 1.3), chance.choice((0.0, chance.random())), chance.uniform(0.0, 0.1)) for _ in range(60)]
    for by, shared, unsure in rows:
        resemblance.observe(by * (1 - shared / 2), shared, unsure)
    shares = np.array([shared for _, shared, _ in rows])
    halves = np.array([(min(ODD_AT, abs(by * (1 - shared / 2)))**2 - unsure) / 2 for by, shared, unsure in rows])
    # "not alike" counts for ten pairs: a slope of nothing over as much variation
    centred = np.append(shares - shares.mean(), UNTIL_SEEN**0.5)
    slope = np.linalg.lstsq(centred[:, None], np.append(halves - halves.mean(), 0.0), rcond=None)[0][0]
    alone = halves.mean() - slope * shares.mean()
    assert 0 < resemblance.share < MOST and resemblance.share == pytest.approx(-slope / alone)


def test_what_is_alike_is_learned_from_simulated_rushes_and_never_without():
    def learned(share: float) -> float:
        chance, resemblance, rush = Random(9), Resemblance(), Rush()
        for n in range(600):
            who = "AB"[n // 12 % 2]
            if n % 12 == 0:
                common = chance.gauss(0, share**0.5)
            x = common + chance.gauss(0, (1 - share)**0.5)
            for before, _, shared in rush.pairs(who, at(0.5 * n % 300)):
                resemblance.observe(x - before, shared, 0.0)
            rush.observe(x, who, at(0.5 * n % 300), 0.0)
        return resemblance.share

    assert learned(0.0) < 0.1 and learned(0.5) == pytest.approx(0.5, abs=0.15)
    assert Resemblance().share == 0.0


def test_all_alike_is_held_at_seven_tenths():
    resemblance = Resemblance()
    for n in range(400):
        resemblance.observe(0.0 if n % 2 else 2.0, float(n % 2), 0.0)
    assert resemblance.share == MOST == 0.7


def test_pairs_of_which_less_is_known_than_they_lie_apart_tell_of_nothing_alike():
    resemblance = Resemblance()
    for n in range(40):
        resemblance.observe(0.1, float(n % 2), 0.5)
    assert resemblance.apart < 0 and resemblance.share == 0.0
