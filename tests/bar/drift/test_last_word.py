"""A move of the collar is the last word for a while: the way back is looked at twice, and no noise is worth a notch."""

from dataclasses import replace
from random import Random

import pytest

from kiosk.bar.drift import HOLD, NOTCH, Watch, advise
from kiosk.bar.model import NotchMoved, Pull, usual
from tests.bar.drift.test_advice import FLAGGED

RECIPE = usual("house", "double")
WORTH_S = 2.5           # of a notch, as a new bar's watch takes it (2 ± 1 s is common practice)


def advised(seed: int, moved: int, fast_by: float, pulls: int = 60) -> list[str]:
    """What is advised at each pull after a move of so many notches (coarser above zero) left the grinder so many notches fast."""
    chance, watch, acts = Random(seed), Watch("left", "house"), []

    def pull(n: int, time_s: float, setting: int) -> str:
        return watch.update(Pull(
            id=f"p{n}", at=f"2026-01-05T{7 + n // 20:02d}:{n % 20 * 3:02d}:00+01:00", grinder="left", coffee="house",
            setting=setting, recipe=RECIPE, dose_g=RECIPE.dose_g, time_s=time_s, yield_g=RECIPE.yield_g,
            first_drop_s=4.0)).advice.act

    for n in range(20):
        pull(n, 25 + chance.gauss(0, 0.35), 20)
    watch.moved(NotchMoved(id="m", at="", grinder="left", coffee="house", before=20, after=20 + moved))
    for n in range(20, 20 + pulls):
        acts.append(pull(n, 25 - fast_by * WORTH_S + chance.gauss(0, 0.35), 20 + moved))
    return acts


@pytest.mark.parametrize("seed", [3])
def test_for_forty_pulls_the_last_move_is_taken_back_only_for_more_than_would_be_worth_a_new_one(seed):
    back, on = advised(seed, +1, 0.65), advised(seed, -1, 0.65)
    assert set(back[:40]) == {HOLD} and set(back[40:]) == {NOTCH}
    assert NOTCH in on[:40]             # the same grinder, where the move before went the other way


def test_a_move_that_went_a_whole_notch_too_far_is_taken_back_at_once():
    assert NOTCH in advised(0, +1, 0.95, pulls=10)


@pytest.mark.parametrize("moved", [-1, +1])
def test_a_third_of_a_notch_is_worth_no_notch_either_way(moved):
    assert set(advised(1, moved, 0.35)) == {HOLD}


@pytest.mark.parametrize("off, act", [(0.64, HOLD), (0.66, NOTCH)])
def test_a_notch_is_turned_from_two_chances_in_three_that_it_brings_the_grinder_nearer(off, act):
    assert advise(replace(FLAGGED, off=off)).act == act
    finer = replace(FLAGGED, direction="finer", off=-off, level_s=(-4.0, 0.8))
    assert advise(finer).act == act
