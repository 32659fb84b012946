"""Grinder or hands: the stories' weights against scipy's multivariate normal, which knows nothing of normal equations."""

from random import Random

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from kiosk.bar.drift.attribution import (
    BEFOREHAND,
    CENTRE,
    GRINDER,
    HANDS,
    LEAN,
    LEAST_AFTER,
    MOVE,
    NONE,
    ODD_AT,
    PLACES,
    attribute,
)


def stories(pulls, spread, leans):
    """(log marginal likelihood, cause, since, who, expected change) of each story, as covariances of the pulls themselves."""
    values = np.array([value for value, _ in pulls]) / spread
    who = [name for _, name in pulls]
    people = list(dict.fromkeys(who))
    calm = np.eye(len(values)) + CENTRE**2
    for name in people:
        theirs = np.array([1.0 if each == name else 0.0 for each in who])
        calm += max(0.02, min(LEAN, leans.get(name, LEAN * spread) / spread))**2 * np.outer(theirs, theirs)
    found = [(multivariate_normal.logpdf(values, cov=calm), NONE, 0, None, 0.0)]
    for since in range(LEAST_AFTER, len(values) - LEAST_AFTER + 1, max(1, len(values) // PLACES)):
        after = np.arange(len(values)) >= since
        ramp = np.where(after, 2 * (np.arange(len(values)) - since + 1) / after.sum(), 0.0)
        shapes = [(GRINDER, None, after * 1.0), (GRINDER, None, ramp)]
        if len(people) > 1:
            shapes += [(HANDS, name, after * np.array([each == name for each in who]) * 1.0) for name in people
                       if name is not None]
        for cause, name, shape in shapes:
            if (shape > 0).sum() >= LEAST_AFTER:
                whole = calm + MOVE**2 * np.outer(shape, shape)
                change = MOVE**2 * shape @ np.linalg.solve(whole, values)
                found.append((multivariate_normal.logpdf(values, cov=whole), cause, since, name, change))
    return found


def changed(seed: int, many: int, people: str, at: int, by: float, whose: str | None, spread: float):
    chance = Random(seed)
    return [(spread * (chance.uniform(-1.4, 1.4) + (by if n >= at and whose in (None, who) else 0.0)), who)
            for n in range(many) for who in [chance.choice(people)]]


@pytest.mark.parametrize("seed, many, people, at, by, whose", [
    (1, 24, "ABC", 14, 1.8, None), (2, 24, "ABC", 10, -1.8, "B"), (3, 18, "AB", 9, 0.0, None), (4, 22, "A", 15, 1.5, None),
    (5, 130, "AB", 80, 1.0, "A"), (6, 16, "ABCD", 8, 1.2, "C"), (7, 6, "AB", 3, 2.0, None)])
def test_the_shares_are_those_of_the_marginal_likelihoods(seed, many, people, at, by, whose):
    spread, leans = 0.08, {} if seed % 2 else {"A": 0.01, "B": 0.4, "C": 0.0}
    pulls = changed(seed, many, people, at, by, whose, spread)
    found = stories(pulls, spread, leans)
    top = max(each[0] for each in found)
    weights = {}
    for cause in (GRINDER, HANDS, NONE):
        own = [np.exp(each[0] - top) for each in found if each[1] == cause]
        weights[cause] = BEFOREHAND[cause] * np.mean(own) if own else 0.0
    shares = {cause: weight / sum(weights.values()) for cause, weight in weights.items()}
    answer = attribute(pulls, spread, leans)
    assert dict(answer.shares) == pytest.approx(shares, abs=1e-9)
    assert answer.cause == max(shares, key=shares.get) and answer.probability == pytest.approx(shares[answer.cause])
    best = max((each for each in found if each[1] == answer.cause), key=lambda each: each[0])
    assert (answer.since, answer.who) == best[2:4] and answer.by == pytest.approx(best[4] * spread)


def test_what_is_thought_beforehand_shares_out_one():
    assert sum(BEFOREHAND.values()) == pytest.approx(1.0)


def test_pulls_of_which_nobody_knows_the_hands_are_no_persons():
    pulls = [(value, None if who == "B" else who) for value, who in changed(2, 24, "AB", 10, -1.8, "B", 0.08)]
    assert attribute(pulls, 0.08).who in (None, "A")
    assert dict(attribute([(value, None) for value, _ in pulls], 0.08).shares)[HANDS] == 0.0


@pytest.mark.parametrize("off", [6.0, 50.0, -6.0])
def test_an_odd_pull_has_no_more_say_than_one_three_and_a_half_spreads_from_its_neighbours(off):
    pulls = [(0.0, "AB"[n % 2]) for n in range(20)]
    for at in (0, 9, 19):
        odd, held = list(pulls), list(pulls)
        odd[at], held[at] = (off, pulls[at][1]), (ODD_AT if off > 0 else -ODD_AT, pulls[at][1])
        assert attribute(odd, 1.0) == attribute(held, 1.0)


def test_a_step_that_stays_is_no_odd_pull():
    """Neighbours are the six before and the six after: within seven pulls a step is the middle, and nothing is held."""
    pulls = [(9.0 if n >= 13 else 0.0, "AB"[n % 2]) for n in range(26)]
    assert attribute(pulls, 1.0).by == pytest.approx(9.0, rel=0.1)


def test_of_five_pulls_nothing_can_be_told():
    pulls = [(0.0, "A"), (0.0, "B"), (0.0, "A"), (5.0, "B"), (5.0, "A"), (5.0, "B")]
    assert attribute(pulls[:5], 1.0).shares == () and attribute(pulls[:5], 1.0).probability == 1.0
    assert attribute(pulls, 0.0).shares == () and attribute(pulls, 1.0).shares
