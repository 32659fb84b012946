"""A late tap, a person, a change of shift: a slice of `python -m tests.bench.evidence`, on its own seeds."""

import json
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from kiosk.bar.drift import Watch, attribution
from tests.bench import evidence

SEEDS = range(1001, 1013, 2)


def test_one_persons_soft_tamp_is_told_of_that_person_and_not_of_the_grinder():
    told = 0
    for seed in SEEDS:
        flags, culprit = evidence.soft_tamp(seed)
        assert not any(flag.kind == "drifting" or "drifted" in flag.sentence for flag in flags), seed
        told += any(flag.evidence.get("who") == culprit for flag in flags)
    assert told >= 5


def test_a_grinder_that_moved_is_still_named():
    for seed in SEEDS:
        assert any(flag.kind in ("drifting", "began_off") for flag in evidence.true_step(seed)), seed


def test_a_change_of_hands_at_noon_is_no_drift():
    assert sum(any(flag.kind == "drifting" for flag in evidence.noon(seed)) for seed in SEEDS) <= 1


def test_the_sentence_of_a_flag_names_nobody():
    flags = [flag for seed in SEEDS for flag in evidence.soft_tamp(seed)[0]]
    assert flags and not any(name in flag.sentence for flag in flags for name in evidence.PEOPLE)


def test_a_watch_that_has_blamed_a_hand_goes_on_after_a_restart_as_if_it_had_never_stopped():
    for seed in SEEDS[:2]:
        rng, watch = evidence.Random(seed), Watch("left", "house")
        again, kinds = None, []
        for n, who in enumerate(evidence.spells(rng, 90)):
            made = evidence.pull(n, rng.gauss(0, 0.05) - (0.15 if who == "Ada" and n > 30 else 0), who)
            verdict = watch.update(made)
            kinds.append(verdict.standing and verdict.standing.kind)
            if again is not None:
                assert again.update(made).kind == verdict.kind
            if again is None and verdict.standing is not None:
                again = Watch("left", "house")
                again.restore(json.loads(json.dumps(watch.memory())))
        assert "hands" in kinds


@pytest.mark.parametrize("seed", range(5))
def test_the_evidence_of_a_story_is_the_density_of_the_normal_model_it_stands_for(seed):
    """Held against scipy: pulls ~ N(0, X P⁻¹ Xᵀ + 1), to the constant that all stories share."""
    rng = np.random.default_rng(seed)
    design = rng.normal(size=(12, 4))
    values = rng.normal(size=12)
    prior = [0.3, 2.0, 5.0, 0.7]
    found, last = attribution._evidence((design.T @ design).tolist(), (design.T @ values).tolist(), prior)
    full = multivariate_normal(cov=design @ np.diag(1 / np.array(prior)) @ design.T + np.eye(12)).logpdf(values)
    bare = multivariate_normal(cov=np.eye(12)).logpdf(values)
    assert found == pytest.approx(full - bare, abs=1e-9)
    assert last == pytest.approx(np.linalg.solve(design.T @ design + np.diag(prior), design.T @ values)[-1])


def test_pulls_in_flight_at_each_turn_do_not_spoil_what_a_notch_is_worth():
    """A pull that pours at the turn keeps the old setting, in the watch as in the evening."""
    found = []
    for seed in range(8):
        rng, watch = evidence.Random(seed), Watch("left", "house")
        setting, spread_s, worth_s = 10, 1.0, 3.6
        for turn in range(6):
            step = 1 if turn % 2 == 0 else -1
            for n in range(25):
                off = (rng.gauss(0, spread_s) - worth_s * (setting - 10)) / 25
                watch.update(replace(evidence.pull(n, 0, None), setting=setting, time_s=25 * (1 + off)))
            watch.moved(evidence.NotchMoved(id="m", at="", grinder="left", coffee="house", before=setting, after=setting + step))
            for n in range(1):                              # in flight
                off = (rng.gauss(0, spread_s) - worth_s * (setting - 10)) / 25
                watch.update(replace(evidence.pull(n, 0, None), setting=setting, time_s=25 * (1 + off)))
            setting += step
        found.append(watch.known.worth * 25)
    assert sum(found) / len(found) == pytest.approx(worth_s, rel=0.05)


def test_a_flag_within_the_first_pulls_of_a_run_is_raised_and_has_causes():
    """Too few pulls to look person by person: the causes are those of the pulls alone (it raised KeyError)."""
    for seed in range(40):
        rng, watch = evidence.Random(seed), Watch("left", "house")
        verdicts = [watch.update(evidence.pull(n, rng.gauss(0, 0.05) + 0.5 * (n > 1), "Ada")) for n in range(5)]
        if any(verdict.flag is not None and verdict.flag.evidence.get("last_pulls") for verdict in verdicts):
            break
    else:
        pytest.fail("no flag was raised so early")
    assert watch.standing is not None
    assert abs(sum(fault.probability for fault in watch.faults()) - 1) < 1e-9
