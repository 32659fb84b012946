"""The change detector's whole grid, held against hidden states written out over every centre and spread by numpy and scipy."""

import json

import numpy as np
import pytest
from scipy.stats import norm

from kiosk.bar.drift import ChangeDetector
from kiosk.bar.drift import change_detector as of

N = len(of.SIZES)
ANCHORS = ((0.6, 0.0, 0.2), (0.15, 0.0, 0.7), (0.1, 0.0, 3.0), (0.15, -1.5, 0.4))


class Grid:
    """Weights of [spread, centre, state]: calm, slower and faster by each size, wider; calm is what a change is entered from."""

    def __init__(self, anchors, doubt: float, tail: float = 0.0):
        self.tail = tail
        reach = max(1, round(np.sqrt(3) * doubt / of.SPREAD_STEP))
        ends = np.linspace(-np.sqrt(3), np.sqrt(3), 2 * reach + 1)
        self.ratios, self.centres = np.exp(ends * doubt), np.arange(-of.REACH, of.REACH + 1) * of.STEP
        prior = sum(weight * norm.pdf(self.centres, centre, sd) for weight, centre, sd in anchors)
        weights = np.outer(norm.pdf(ends) / norm.pdf(ends).sum(), prior / prior.sum())
        self.states = np.zeros((*weights.shape, 2 * N + 2))
        self.states[:, :, 0] = weights
        self.shifts = np.array([0.0, *of.SIZES, *(-size for size in of.SIZES), 0.0])

    def update(self, x: float, blur: float, tapped: bool) -> float:
        """The chance that this pull is an odd one, as the calm state sees it."""
        at = self.centres[None, :, None] + self.shifts
        sd = np.sqrt((self.ratios[:, None, None] * np.where(np.arange(2 * N + 2) == 2 * N + 1, of.WIDER, 1.0))**2 + blur**2)
        late = of.LATE if tapped else 0.0
        density = (1 - of.ODD - late - self.tail) * norm.pdf(x, at, sd) + of.ODD * of.ODD_DENSITY
        density += self.tail * norm.pdf(x, at, of.WIDE * sd)
        density += late * ((of.LATE_FROM <= x - at) & (x - at <= of.LATE_TO)) / (of.LATE_TO - of.LATE_FROM)
        move = np.eye(2 * N + 2)
        move[0, 1:] = [*(weight / 2 for weight in of.SIZE_WEIGHTS * 2), of.WIDER_WEIGHT]
        for side in (1, 1 + N):
            for n in range(side, side + N - 1):
                move[n, n], move[n, n + 1] = 1 - of.ONWARD, of.ONWARD
        self.states = self.states @ move * density
        still = self.states[:, :, 0].sum()
        self.states /= still
        return min(1.0, of.ODD * of.ODD_DENSITY / still)


@pytest.mark.parametrize("anchors, doubt, tail, pulls", [
    (ANCHORS, 0.35, 0.0, ((0.4, 0.0, False), (-0.9, 0.5, False), (1.6, 0.0, True), (2.1, 0.3, True), (1.5, 0.0, False),
                     (60.0, 0.0, False))),
    (ANCHORS, 0.35, 0.12, ((0.3, 0.0, False), (-1.2, 0.0, False), (4.0, 0.0, True), (1.8, 0.4, False))),
    (ANCHORS[:3], 0.15, 0.0, ((-0.3, 0.0, False), (0.2, 0.0, False), (-2.4, 0.0, False), (-1.9, 1.0, True), (-60.0, 0.0, False),
                         (-2.2, 0.0, False)))])
def test_evidence_centres_levels_and_spread_are_those_of_the_whole_grid(anchors, doubt, tail, pulls):
    grid, ours = Grid(anchors, doubt, tail), ChangeDetector(anchors, doubt, tail)
    assert ours.ratios == pytest.approx(list(grid.ratios))
    for x, blur, tapped in pulls:
        sight, odd = ours.update(x, blur, tapped), grid.update(np.clip(x, -of.FARTHEST, of.FARTHEST), blur, tapped)
        states = grid.states
        assert (sight.slower, sight.faster, sight.wider) == pytest.approx(
            (states[:, :, 1:N + 1].sum(), states[:, :, N + 1:-1].sum(), states[:, :, -1].sum()), rel=1e-3)
        assert sight.evidence == pytest.approx(states[:, :, 1:].sum(), rel=1e-3) and sight.odd == pytest.approx(odd, rel=1e-3)
        calm = states[:, :, 0].sum(axis=0)
        assert of.mean_sd(sight.centres) == pytest.approx(
            ((grid.centres * calm).sum(), np.sqrt((grid.centres**2 * calm).sum() - (grid.centres * calm).sum()**2)), abs=2e-3)
        now = np.where(np.arange(2 * N + 2) == 0, 1.0, of.HAZARD) * states         # a real grinder moves so often
        now /= now.sum()
        where = grid.centres[None, :, None] + grid.shifts
        mean = (where * now).sum()
        assert of.mean_sd(sight.levels) == pytest.approx((mean, np.sqrt((where**2 * now).sum() - mean**2)), abs=5e-3)
        assert sight.spread == pytest.approx((grid.ratios * now.sum(axis=(1, 2))).sum(), rel=1e-3)
        assert sum(p for _, p in sight.levels) == pytest.approx(1.0)
        assert sum(p for _, p in sight.centres) == pytest.approx(1.0, abs=1e-4)
    assert ours.pulls == len(pulls)


def test_centres_that_count_for_nothing_are_let_go_and_what_is_left_is_remembered():
    """81 places of the centre to begin with; those that no pull speaks for, changed or not, cost nothing any more."""
    ours = ChangeDetector(ANCHORS, 0.35)
    for n in range(12):
        ours.update(0.3 * (-1)**n)
    assert len(ours.calm[0]) < 2 * of.REACH + 1 and ours.lowest > -of.REACH
    again = ChangeDetector.restored(json.loads(json.dumps(ours.memory())))
    assert (again.pulls, again.lowest, again.ratios) == (ours.pulls, ours.lowest, ours.ratios)
    for x in (2.5, 2.2, 2.8):
        mine, theirs = ours.update(x), again.update(x)
        assert mine.evidence == pytest.approx(theirs.evidence, rel=2e-3) and mine.odd == pytest.approx(theirs.odd, rel=2e-3)
    lattice = [round(value / of.STEP) for value, _ in ours.sight().levels]
    assert lattice == sorted(set(lattice))


def test_a_centre_may_lie_ten_spreads_from_the_recipe_either_way():
    anywhere = ChangeDetector(((1.0, 0.0, 9.0),), 0.1)
    assert (anywhere.lowest, len(anywhere.calm[0])) == (-40, 81)


def test_evidence_past_any_alarm_is_kept_no_larger():
    ours = ChangeDetector(((1.0, 0.0, 0.1),), 0.1)
    found = [ours.update(9.0).evidence for _ in range(40)]
    assert max(found) <= of.ENOUGH * 1.0001 and found[-1] > of.ENOUGH / 2
    assert of.mean_sd(ours.sight().levels)[0] == pytest.approx(9.0, abs=1.0)


@pytest.mark.parametrize("weighed, mean, sd", [(((1.0, 0.5), (3.0, 0.5)), 2.0, 1.0), (((2.0, 1.0),), 2.0, 0.0),
                                               (((-1.0, 0.2), (4.0, 0.8)), 3.0, 2.0)])
def test_mean_and_spread_of_what_is_weighed(weighed, mean, sd):
    assert of.mean_sd(weighed) == pytest.approx((mean, sd))
