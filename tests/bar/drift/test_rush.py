"""What a rush has in common: against the algebra of the pulls' whole covariance, and scipy's density of it."""

import json
from functools import cache
from math import exp, log, pi

import numpy as np
import pytest
from scipy.stats import multivariate_normal, norm

from kiosk.bar.drift.change_detector import ODD
from kiosk.bar.drift.rush import FADES_MINUTES, ODD_AT, SHARES, SPREADS, Resemblance, Rush, Seen, _take_in


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


def test_what_fades_is_told_within_one_rush_and_nothing_beyond():
    rush = Rush()
    assert rush.fade("A", at(0.0)) == 0.0
    rush.observe(0.0, "A", at(0.0), 0.2)
    assert rush.fade("A", at(6.0)) == pytest.approx(exp(-6 / FADES_MINUTES)) and rush.fade("B", at(6.0)) == 0.0
    assert rush.fade("A", at(0.0)) == rush.fade("A", "") > 0.8     # no two pulls end in one second: such a table tells no times


@pytest.mark.parametrize("share", SHARES)
def test_a_run_is_as_likely_as_scipys_normal_of_its_whole_covariance(share, monkeypatch):
    monkeypatch.setattr("kiosk.bar.drift.rush.FLOOR", 0.0)
    moments, offs = [0.0, 2.0, 3.0, 9.0, 31.0, 33.0], [0.01, -0.02, 0.05, 0.04, -0.03, 0.02]
    fades = [0.0, *(exp((before - after) / FADES_MINUTES) for before, after in zip(moments, moments[1:]))]
    alike = share * np.exp(-np.abs(np.subtract.outer(moments, moments)) / FADES_MINUTES) + (1 - share) * np.eye(len(offs))
    found = Resemblance()._likely([Seen(off, fade, 0.0) for off, fade in zip(offs, fades)], offs, share, 0.0)
    for spread, likely in zip(SPREADS, found):
        whole = multivariate_normal(np.zeros(len(offs)), spread**2 * alike).logpdf(offs)
        assert likely == pytest.approx(whole + len(offs) * (log(1 - ODD) + log(2 * pi) / 2))


@cache
def learned(share: float, spread: float = 0.05, step: float = 0.0, degrees: int = 200, pulls: int = 400) -> Resemblance:
    """What pulls in rushes of ten within twenty minutes teach, the grinder moving by so many spreads amid each hundred."""
    chance, resemblance = np.random.default_rng(9), Resemblance()
    run: list[Seen] = []
    common = 0.0
    for n in range(pulls):
        fade = exp(-2 / FADES_MINUTES) if n % 10 else 0.0
        common = common * fade + chance.normal(0, (share * (1 - fade**2))**0.5)
        own = chance.standard_t(degrees) * ((1 - share) * (degrees - 2) / degrees)**0.5
        run.append(Seen(spread * (common + own + step * (n // 50 % 2)), fade, 0.0))
        if len(run) == 100:
            resemblance.learn(run)
            run = []
    return resemblance


def test_spread_and_what_is_alike_are_learned_from_simulated_rushes():
    assert learned(0.0).share < 0.1 and learned(0.5).share == pytest.approx(0.5, abs=0.15)
    assert learned(0.0).spread == pytest.approx(0.05, rel=0.1) and learned(0.5).spread == pytest.approx(0.05, rel=0.15)
    assert Resemblance().share == 0.0


def test_a_grinder_that_moved_is_not_taken_for_pulls_that_spread_or_resemble_each_other():
    moved = learned(0.0, step=2.0)
    assert moved.share < 0.1 and moved.spread == pytest.approx(0.05, rel=0.1)


def test_a_tail_is_learned_where_there_is_one():
    assert learned(0.0, degrees=3).tail > 0.06 > 0.04 > learned(0.0).tail


def test_a_run_whose_pulls_may_lie_wide_is_as_likely_as_scipys_mixture():
    """A twentieth of pulls anywhere in 24 spreads, a share of them two and a half times as wide, the others normal."""
    offs, tail = [0.01, -0.02, 0.25, 0.04, -0.9], 0.12
    found = Resemblance()._likely([Seen(off, 0.0, 0.0) for off in offs], offs, 0.0, tail)
    for spread, likely in zip(SPREADS, found):
        density = 0.83 * norm.pdf(offs, 0, spread) + tail * norm.pdf(offs, 0, 2.5 * spread) + 0.05 / 24 / spread
        assert likely == pytest.approx(np.log(density).sum() + len(offs) * log(2 * pi) / 2)


@pytest.mark.parametrize("lean, counts", [(0.0016, 0.25), (0.02, 1.0)])
def test_other_hands_may_lean_by_a_spread_at_the_most(lean, counts):
    """A pull by other hands spreads by how unsure it is how they lean as well: by this grinder's own spread at most, 0.08 of the time."""
    offs = [0.03, 0.1, -0.05]
    run = [Seen(0.03, 0.0, 0.0), Seen(0.1, 0.0, lean), Seen(-0.05, 0.0, 0.0)]
    found = Resemblance()._likely(run, offs, 0.0, 0.0)
    for spread, likely in zip(SPREADS, found):
        sds = spread * np.sqrt([1.0, 1.0 + counts, 1.0])
        density = 0.95 * norm.pdf(offs, 0, sds) + 0.05 / 24 / spread
        assert likely == pytest.approx(np.log(density).sum() + len(offs) * log(2 * pi) / 2)


def test_what_a_run_tells_is_of_a_grinder_that_stood_or_in_one_of_forty_moved_and_fades_by_a_five_hundredth_a_pull():
    odds, still, moved = [-1.0, -2.0, 0.5], [-3.0, 4.0, -700.0], [2.0, -5.0, -699.0]
    expected = 0.998**7 * np.array(odds) + np.logaddexp(still, np.array(moved) + np.log(0.025))
    _take_in(odds, still, moved, 7)
    assert odds == pytest.approx(expected)


def test_four_pulls_tell_nothing_and_five_do():
    def after(many: int) -> Resemblance:
        resemblance = Resemblance()
        resemblance.learn([Seen(0.03 * (-1)**n, 0.0, 0.0) for n in range(many)])
        return resemblance

    assert after(4) == Resemblance() and after(5).doubt < Resemblance().doubt


def test_a_rush_is_remembered_as_it_stood():
    rush = Rush()
    assert Rush.restored(json.loads(json.dumps(rush.memory()))).observe(0.5, "A", at(0.0), 0.4) == rush.observe(0.5, "A", at(0.0), 0.4)
    again = Rush.restored(json.loads(json.dumps(rush.memory())))
    assert (again.last, again.foreseen, again.told, again.unsure) == (rush.last, rush.foreseen, rush.told, rush.unsure)
    assert again.fade("A", at(6.0)) == pytest.approx(exp(-6 / 15)) and again.observe(1.0, "A", at(6.0), 0.4) != (1.0, 0.0)
    assert Rush().observe(0.7, "B", at(0.0), 0.4) == (0.7, 0.0)
