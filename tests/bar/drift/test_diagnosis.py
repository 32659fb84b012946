"""Whose fault: each cause is known by what it does, and said with no more certainty than it deserves."""

from dataclasses import replace
from itertools import product
from math import log, pi, prod, sqrt
from random import Random

import numpy as np
import pytest
from scipy.stats import norm

from kiosk.bar.drift import CHANCE, DOSE, GRIND, PULL, TAMP, Clue, Usual, diagnose, first_drop_share, quickening, slips
from kiosk.bar.drift.diagnosis import Clues
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


# ---- the stories, written out ---------------------------------------------------------------------------------------

def near(x: float, centre: float, spread: float, tail: float = 0.01) -> float:
    """A normal density on a floor that no single number sinks below; the floor is common to whatever is set beside it."""
    return norm.pdf(x, centre, spread) * sqrt(2 * pi) + tail


def told(clue: Clue, cause: str, size: float, who: str | None, usual_dose: float, usual_stop: float, usual_slips: float) -> float:
    """How much likelier one pull is under a cause than under none, sentence by sentence of the diagnosis' own account."""
    rest = float(np.clip(clue.rest, -7, 7))
    calm = near(rest, 0, 1)
    looks = [look for look in (clue.early, clue.runaway) if look is not None]
    wander = prod([near(look, 0, 1.25) / near(look, 0, 1) for look in looks])        # they may wander a little
    badly = prod([near(look, side * 2, 2) / near(look, 0, 1) for look,
                  side in ((clue.early, -1), (clue.runaway, 1)) if look is not None])

    def scale(effect, usual_):
        if effect is None:
            return 1.0
        effect = np.clip(effect, -6, 6)
        return near(effect, 0, 3, 0.002) / near(effect, 0, max(usual_, 0.3), 0.002)

    match cause:
        case "grind":
            return near(rest, size, 1.1) / calm * wander
        case "dose":
            return scale(clue.dose, usual_dose) * near(rest, 0, 1.4) / calm * wander
        case "tamp":        # one person's, all one way; a soft one drops early and runs away
            return near(rest, size, 1.8) / calm * (badly if size < 0 else wander) if clue.who == who else 1.0
        case "uneven":
            return near(rest, 0, 2.2) / calm * (badly if rest < 0 else wander)
        case "stop":
            return scale(clue.stop, usual_stop) * near(rest, 0, 1.4) / calm * wander
    then = max(0.8, usual_slips)
    slip = then / usual_slips if clue.slips else (1 - then) / (1 - usual_slips)
    return slip * near(rest, size, 1.6) / calm * wander


def story(ratios: list[float], spared: float) -> float:
    """Trouble that began at any one of the pulls, as likely at each, and then touched or spared each one: every way that can have
    gone, one by one."""
    total = 0.0
    for began in range(len(ratios)):
        since = ratios[began:]
        total += sum(prod([spared if spare else (1 - spared) * ratio for spare, ratio in zip(way, since)])
                     for way in product((False, True), repeat=len(since)))
    return total / len(ratios)


@pytest.mark.parametrize("seed", range(6))
def test_each_causes_odds_are_those_of_every_way_it_can_have_gone(seed):
    chance = Random(seed)
    def maybe(value): return value if chance.random() < 0.8 else None
    clues = [Clue(who=chance.choice("AB"), rest=chance.gauss(-1.2 if n > 2 and seed % 2 else 0.6,
                                                             1.3) * (9 if n == 1 and seed == 4 else 1),
                  dose=maybe(chance.gauss(0, 1.5)), stop=maybe(chance.gauss(0, 1.5) * (6 if seed == 5 else 1)),
                  early=maybe(chance.gauss(-0.5, 1.2)),
                  runaway=maybe(chance.gauss(0.4, 1.2)), slips=("it waited",) if chance.random() < 0.3 else ()) for n in range(5)]
    usual_ = (0.6, 0.2, 0.05) if seed < 3 else (0.2, 0.9, 0.85)
    sizes = (-6.0, -4.0, -2.5, -1.5, 1.5, 2.5, 4.0, 6.0)
    def of(cause, size=0.0, who=None): return [told(clue, cause, size, who, *usual_) for clue in clues]
    ways = {GRIND: [story(of("grind", size), 0.03) for size in sizes], DOSE: [story(of("dose"), 0.3)],
            TAMP: [story(of("tamp", size, who), 0.2) for who in sorted({clue.who for clue in clues})
                   for size in sizes] + [story(of("uneven"), 0.2)] * 8,
            PULL: [story(of("stop"), 0.3)] * 8 + [story(of("slip", size), 0.3) for size in sizes], CHANCE: [1.0]}
    beforehand = {GRIND: 1.2, DOSE: 0.2, TAMP: 0.2, PULL: 0.2, CHANCE: 0.03}
    odds = {cause: beforehand[cause] * np.mean(likely) for cause, likely in ways.items()}
    found = {fault.cause: fault.probability for fault in diagnose(clues, *usual_)}
    assert found == pytest.approx({cause: each / sum(odds.values()) for cause, each in odds.items()}, rel=1e-6)


def test_the_last_dozen_pulls_are_looked_at():
    odd = replace(CALM, rest=5.0, dose=4.0, dose_off_g=2.0)
    assert diagnose([odd] + calm(12)) == diagnose(calm(12)) != diagnose([odd] + calm(11))


# ---- what speaks for each, in words ---------------------------------------------------------------------------------

def words(cause: str, clues: list[Clue]) -> tuple[str, ...]:
    return next(fault.evidence for fault in diagnose(clues) if fault.cause == cause)


@pytest.mark.parametrize("clues, said", [
    ([replace(CALM, rest=2.0, dose=None)], ()),
    ([replace(CALM, rest=2.0, dose=None)] * 2, ("the last 2 pulls all ran slow",)),
    ([replace(CALM, rest=-2.0, dose=None)] * 3, ("the last 3 pulls all ran fast",)),
    ([replace(CALM, rest=2.0, dose=None), replace(CALM, rest=-1.0), *[replace(CALM, rest=-2.0, dose=None)] * 2],
     ("the last 3 pulls all ran fast",)),
    # under half a spread is none
    ([replace(CALM, rest=0.49), *[replace(CALM, rest=0.5, dose=None)] * 2], ("the last 2 pulls all ran slow",)),
    ([replace(CALM, who=who, rest=2.0, dose=None) for who in ("A", None, "A")], ("the last 3 pulls all ran slow",)),
    ([replace(CALM, who=who, rest=2.0, dose=None) for who in "ABA"], ("the last 3 pulls all ran slow, by 2 people",)),
    ([replace(CALM, rest=2.0, dose=0.99)], ("the dose does not explain it",)), ([replace(CALM, rest=2.0, dose=-1.0)], ())])
def test_a_grinder_is_spoken_for_by_pulls_in_a_row_and_a_dose_that_is_right(clues, said):
    assert words(GRIND, clues) == said


@pytest.mark.parametrize("clues, said", [
    ([replace(CALM, rest=2.0, dose=0.99, dose_off_g=0.6)], ()),
    ([replace(CALM, rest=2.0, dose=1.0, dose_off_g=0.6)], ("the dose was +0.6 g off",)),
    ([replace(CALM, rest=1.49, dose=-1.0, dose_off_g=-0.6)],
     ("the dose was -0.6 g off", "made even for the dose, the time is right")),
    ([replace(CALM, rest=1.5, dose=None)], ()), ([replace(CALM, rest=0.0, dose=None)], ()),
    ([replace(CALM, rest=2.0, dose=2.0, dose_off_g=1.0), CALM, replace(CALM, rest=2.0, dose=-3.0, dose_off_g=-1.5)],
     ("2 of the last 3 doses were off, by -1.5 g at most",))])
def test_a_dose_is_spoken_for_by_the_scale_and_by_a_time_that_is_right_without_it(clues, said):
    assert words(DOSE, clues) == said


@pytest.mark.parametrize("clues, said", [
    ([replace(CALM, who="A", rest=0.0), replace(CALM, who="B", rest=-1.1)], ("B's pulls run fast, the others' do not",)),
    ([replace(CALM, who="A", rest=0.0), replace(CALM, who="B", rest=1.1)], ("B's pulls run slow, the others' do not",)),
    ([replace(CALM, who="A", rest=0.0), replace(CALM, who="B", rest=1.0)], ()), ([replace(CALM, who="B", rest=3.0)], ()),
    ([replace(CALM, who="A", rest=0.0), replace(CALM, who=None, rest=3.0)], ()),
    ([replace(CALM, early=-1.6)], ("the first drop fell early",)), ([replace(CALM, early=-1.5)], ()),
    ([replace(CALM, early=None)], ()),
    ([replace(CALM, runaway=1.6)], ("the flow ran away",)), ([replace(CALM, runaway=1.5)], ()),
    ([replace(CALM, runaway=None)], ())])
def test_a_tamp_is_spoken_for_by_one_person_an_early_drop_and_a_flow_that_runs_away(clues, said):
    assert words(TAMP, clues) == said


@pytest.mark.parametrize("clue, said", [
    (replace(CALM, stop=1.0, yield_off_g=4.0), ("it was stopped 4 g late",)), (replace(CALM, stop=0.99, yield_off_g=4.0), ()),
    (replace(CALM, stop=-1.0, yield_off_g=-4.0), ("it was stopped 4 g early",)), (replace(CALM, stop=None, yield_off_g=4.0), ()),
    (replace(CALM, stop=2.0, yield_off_g=None), ()), (replace(CALM, slips=("it waited 9 s",), stop=2.0, yield_off_g=3.0),
                                                      ("it waited 9 s", "it was stopped 3 g late"))])
def test_the_pull_itself_is_spoken_for_by_its_slips_and_its_stop(clue, said):
    assert words(PULL, [clue]) == said


@pytest.mark.parametrize("changes, said", [
    ({"purged": False}, ("the group was not purged",)), ({"skipped": ("purge",)}, ("the group was not purged",)),
    ({"purged": None}, ()), ({"skipped": ("warm",)}, ()),
    ({"lock_to_pump_s": 5.0}, ()), ({"lock_to_pump_s": 5.5}, ("it waited 6 s in the hot group",)),
    ({"grind_to_pull_s": 60.0}, ()), ({"grind_to_pull_s": 61.0}, ("its grounds waited 61 s",))])
def test_a_slip_is_a_purge_missed_five_seconds_in_the_hot_group_or_a_minute_ground(changes, said):
    assert slips(replace(PULL_, **changes)) == said


# ---- what is measured of a pull -------------------------------------------------------------------------------------

def test_the_first_drops_share_is_of_the_time_that_the_recipes_yield_would_have_taken():
    assert first_drop_share(PULL_) == pytest.approx(log(4 / 25))
    half = replace(PULL_, yield_g=RECIPE.yield_g / 2, time_s=14.5)
    assert first_drop_share(half) == pytest.approx(log(4 / 25))
    for unseen in (None, 0.2, 25.0, 26.0):
        assert first_drop_share(replace(PULL_, first_drop_s=unseen)) is None
    assert first_drop_share(replace(PULL_, first_drop_s=0.21)) is not None
    assert first_drop_share(replace(PULL_, time_s=None)) is None


def trace(flow, time_s: float = 25.0, began_s: float = 4.0):
    """A curve of a point each half second; `flow` is a function of the seconds since it began."""
    points, grams = [], 0.0
    for n in range(int(time_s * 2) + 5):
        points.append((n / 2, round(grams, 4)))
        grams += flow(n / 2 - began_s) / 2 if n / 2 >= began_s else 0.0
    return tuple(points)


def test_how_a_flow_quickens_is_its_last_third_over_its_first():
    """A stream that gains as much each second: thirds of its curve, read off by numpy, from its first gram to its stop."""
    steady = quickening(replace(PULL_, trace=trace(lambda s: 2.0)))
    assert steady == pytest.approx(0.0, abs=0.05)
    curve = trace(lambda s: 0.5 + 0.2 * s)
    began = next(s for s, g in curve if g >= 1.0)
    at = np.interp(np.linspace(began, 25.0, 4), *np.array([p for p in curve if p[0] <= 25.0]).T)
    assert quickening(replace(PULL_, trace=curve)) == pytest.approx(log((at[3] - at[2]) / (at[1] - at[0]))) and at[1] > 1
    assert quickening(replace(PULL_, trace=curve, time_s=24.8)) < quickening(replace(PULL_, trace=curve)) + 0.01


@pytest.mark.parametrize("pull", [replace(PULL_, trace=trace(lambda s: 2.0)[:7]), replace(PULL_, trace=trace(lambda s: 0.0)),
                                  PULL_,
                                  replace(PULL_, trace=trace(lambda s: 2.0), time_s=None),
                                  replace(PULL_, trace=trace(lambda s: 2.0), time_s=8.0),
                                  replace(PULL_, trace=trace(lambda s: 0.05 if s > 7 else 2.0 if s < 2 else 0.3)),
                                  replace(PULL_, trace=trace(lambda s: 2.5 if s < 0.5 else 0.02 if s < 9 else 2.0))])
def test_without_a_curve_of_a_stream_there_is_no_quickening(pull):
    assert quickening(pull) is None


def test_eight_points_and_four_seconds_of_stream_are_a_curve():
    eight = tuple((float(s), 2.0 * max(0, s - 1)) for s in range(8))
    assert quickening(replace(PULL_, trace=eight, time_s=7.0)) == pytest.approx(0.0, abs=1e-9)
    assert quickening(replace(PULL_, trace=eight[:7], time_s=6.5)) is None
    assert quickening(replace(PULL_, trace=eight, time_s=6.0)) is not None
    assert quickening(replace(PULL_, trace=eight, time_s=5.9)) is None


def test_what_is_usual_takes_each_value_in_by_its_share_and_a_far_one_as_two_and_a_half_spreads():
    """A mean of the prior, as two pulls, and of what came: then a sixtieth for each, so that it forgets."""
    usual_ = Usual(1.0, 0.5)
    for n, value in enumerate((1.5, 0.2, 9.0)):
        mean, spread, share = usual_.mean, usual_.spread, 1 / (n + 3)
        off = float(np.clip((value - mean) / spread, -2.5, 2.5))
        usual_.learn(value)
        assert usual_.mean == pytest.approx(mean + share * off * spread)
        assert usual_.spread**2 == pytest.approx(spread**2 * (1 + share / 2 * (1.05 * off**2 - 1)))
    assert Usual(0.0, 1.0).off(9.0) == 4.0 and Usual(0.0, 1.0).off(-9.0) == -4.0 and Usual(1.0, 0.5).off(2.0) == 2.0
    old = Usual(0.0, 1.0, pulls=500)
    old.learn(1.0)
    assert old.mean == pytest.approx(1 / 60)


def test_a_pull_is_seen_in_spreads_of_what_is_usual_on_its_grinder():
    """A dose in what it does to the time, by the power learned; a stop by what it did; each against the centre before the run."""
    clues = Clues()
    over = replace(PULL_, dose_g=17.0, yield_g=RECIPE.yield_g * 1.1, time_s=26.0, barista="A")
    clues.observe(over, 0.08, 1.6, 0.04, 0.08)
    clue, = clues.clues
    even_s = 4.0 + (26.0 - 4.0) / 1.1
    assert (clue.rest, clue.dose) == (pytest.approx(1.0), pytest.approx(1.6 / 16 / 0.08))
    assert clue.stop == pytest.approx((26.0 - even_s) / 2.0)
    assert clue.early == pytest.approx((log(4.0 / even_s) + 1.85) / 0.15) and clue.runaway is None and clue.who == "A"
    assert (clue.dose_off_g, clue.yield_off_g) == (pytest.approx(1.0), pytest.approx(RECIPE.yield_g * 0.1))
    assert clues.bases == [0.5]
    assert clues.faults() == diagnose([replace(clue, rest=0.5)], clues.usual["dose"].spread, clues.usual["stop"].spread,
                                      clues.slips)
    assert clues.usual["dose"].pulls == clues.usual["stop"].pulls == clues.usual["early"].pulls == 1
    assert clues.usual["runaway"].pulls == 0
    bare = Clues()
    bare.observe(replace(PULL_, dose_g=None, yield_g=None, first_drop_s=None), 0.0, 1.6, 0.0, 0.08)
    assert bare.clues[0] == Clue(who=None, rest=0.0)


def test_slips_that_are_usual_are_learned_over_twenty_pulls_and_a_run_begins_anew():
    clues = Clues()
    for n in range(30):
        share = clues.slips
        clues.observe(replace(PULL_, purged=n % 2 == 0), 0.0, 1.6, 0.0, 0.08)
        assert clues.slips == pytest.approx(share + ((n % 2 == 1) - share) / 21)
    assert len(clues.clues) == len(clues.bases) == 12
    clues.begin()
    assert clues.faults() == () and clues.slips > 0.3
