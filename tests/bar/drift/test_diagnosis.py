"""Whose fault: each cause is known by what it does, and said with no more certainty than it deserves."""

from dataclasses import replace
from random import Random

import pytest

from kiosk.bar.drift import CHANCE, DOSE, GRIND, PULL, TAMP, Clue, Usual, diagnose, first_drop_share, quickening, slips
from kiosk.bar.model import Pull, usual
from tests.bench import fault as bench
from tests.bench import puck

CALM = Clue(who="A", rest=0.1, dose=0.1, stop=0.1, early=0.0, runaway=0.0, dose_off_g=0.0, yield_off_g=0.0)
RECIPE = usual("house", "double")
PULL_ = Pull(id="p", at="2026-01-05T09:00:00+01:00", grinder="left", coffee="house", setting=12, recipe=RECIPE,
             dose_g=RECIPE.dose_g, yield_g=RECIPE.yield_g, time_s=25.0, first_drop_s=4.0)


def calm(many: int = 8) -> list[Clue]:
    return [replace(CALM, who="ABC"[n % 3], rest=0.2 * (n % 3 - 1)) for n in range(many)]


def first(clues: list[Clue]):
    faults = diagnose(clues)
    assert sum(fault.probability for fault in faults) == pytest.approx(1.0)
    assert list(faults) == sorted(faults, key=lambda fault: -fault.probability)
    return faults[0]


def test_a_moved_grinder_moves_everybodys_pulls_and_they_stay_moved():
    fault = first(calm() + [replace(CALM, who=who, rest=2.5) for who in "ABCAB"])
    assert fault.cause == GRIND and fault.probability > 0.8
    assert "the last 5 pulls all ran slow, by 3 people" in fault.evidence


def test_a_wrong_dose_shows_on_the_scale_and_explains_the_time():
    fault = first(calm() + [replace(CALM, dose=2.8, dose_off_g=1.6)])
    assert fault.cause == DOSE and fault.probability > 0.5
    assert "the dose was +1.6 g off" in fault.evidence


def test_a_slip_that_every_pull_shows_explains_no_change():
    waited = ("it waited 8 s in the hot group",)
    clues = [replace(each, slips=waited) for each in calm() + [replace(CALM, who=who, rest=2.5) for who in "ABCAB"]]
    assert diagnose(clues, usual_slips=0.7)[0].cause == GRIND
    rare = calm() + [replace(CALM, who=who, rest=2.5, slips=waited) for who in "ABCAB"]
    assert diagnose(rare)[0].cause == PULL


def test_one_persons_fast_pulls_with_an_early_drop_are_their_tamp():
    soft = replace(CALM, who="B", rest=-2.4, early=-3.0, runaway=2.0)
    fault = first(calm() + [soft, replace(CALM, who="A"), soft, replace(CALM, who="C"), soft])
    assert fault.cause == TAMP and fault.probability > 0.8
    assert "B's pulls run fast, the others' do not" in fault.evidence
    assert "the first drop fell early" in fault.evidence and "the flow ran away" in fault.evidence


def test_a_pull_stopped_early_is_the_pulls_own():
    fault = first(calm() + [replace(CALM, stop=-3.0, yield_off_g=-11.0)])
    assert fault.cause == PULL and "it was stopped 11 g early" in fault.evidence


def test_a_skipped_purge_is_the_pulls_own():
    fault = first(calm() + [replace(CALM, rest=-2.6, slips=("the group was not purged",))])
    assert fault.cause == PULL and "the group was not purged" in fault.evidence


def test_where_nothing_is_wrong_chance_comes_first():
    assert first(calm(12)).cause == CHANCE


def test_without_a_scale_a_moved_grinder_is_still_told_by_its_staying():
    blind = [replace(clue, dose=None, stop=None, early=None, runaway=None, dose_off_g=None, yield_off_g=None)
             for clue in calm() + [replace(CALM, who=who, rest=-2.8) for who in "ABCAB"]]
    assert first(blind).cause == GRIND


def test_no_pull_has_no_fault():
    with pytest.raises(ValueError):
        diagnose([])


def test_waits_and_skipped_steps_are_said_with_their_seconds():
    assert slips(PULL_) == ()
    said = slips(replace(PULL_, purged=False, lock_to_pump_s=9.0, grind_to_pull_s=150.0))
    assert said == ("the group was not purged", "it waited 9 s in the hot group", "its grounds waited 150 s")


@pytest.mark.parametrize("law", puck.LAWS)
def test_a_tilted_tamp_drops_early_on_every_law_and_its_flow_runs_away_on_most(law):
    def seen(badly: float):
        curve = puck.run(law, 16.0, 0.0, badly, 1)
        stopped_s = curve.time_to_s(RECIPE.yield_g)
        pull = replace(PULL_, time_s=stopped_s, first_drop_s=curve.first_drop_s, trace=curve.trace(stopped_s))
        return first_drop_share(pull), quickening(pull)

    (level_drop, level_flow), (tilted_drop, tilted_flow) = seen(0.0), seen(0.8)
    assert tilted_drop < level_drop - 0.2
    assert law == "dissolving" or tilted_flow > level_flow     # there, the sound bed's own flow grows as much


def test_what_is_usual_is_learned_and_an_odd_value_hardly_moves_it():
    usual_, rng = Usual(0.0, 1.0), Random(1)
    for n in range(400):
        usual_.learn(50.0 if n % 40 == 7 else rng.gauss(3.0, 0.5))
    assert usual_.mean == pytest.approx(3.0, abs=0.25) and usual_.spread == pytest.approx(0.5, abs=0.2)


def test_on_simulated_days_the_right_cause_comes_first():
    """A slice of the bench, on two of its four flow laws, with its own bar."""
    right = sum(bench.blamed(cause, puck.LAWS[n % 2], Random(f"slice {cause} {n}"), 3)[0].cause == cause
                for cause in (GRIND, DOSE, TAMP, PULL) for n in range(5))
    assert right / 20 >= 0.85
