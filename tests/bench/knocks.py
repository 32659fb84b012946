"""Pulls that are knocked: `python -m tests.bench.knocks [PULLS]`.

Each pull, of laws and scales drawn at random, is knocked or leant on three times while it runs (a bar's scale meets one such in a
minute): what is kept as its yield is in its cup, or is said not to be known. Bars: nothing ever comes out that no cup explains;
wrong by more than a gram at most one in a hundred; not known at most six in a hundred. The limits of `bar/weighing/plate` that
answer a knock were set on odd seeds; this runs on even ones. The suite runs a slice of it.
"""

import sys
from dataclasses import dataclass
from random import Random

from kiosk.bar.model import usual
from kiosk.bar.weighing import Habits, PourWatch, Sample, Settled
from tests.bench.balance import Balance, Bump, Shown
from tests.bench.bars import Bars
from tests.bench.group import DT_S, Group, Pour

KNOCKS, ON_S, CUP_SET_S, SEEN_AFTER_S = 3, 4.0, 1.0, 6.0
NO_CUP_G = 50.0         # more than coffee, hidden by a knock, or a paper cup beside the first could make


@dataclass(frozen=True)
class Knocked:
    """What was in the cup when it was lifted, and what was kept of it (None: not known)."""

    in_cup_g: float
    kept_g: float | None


def knocked(seed: int) -> Knocked:
    chance = Random(seed)
    machine, balance = Group.drawn(chance), Balance.drawn(chance)
    shown = Shown(balance, chance)
    cup_g = chance.choice((chance.uniform(9, 18), chance.uniform(100, 150), chance.uniform(220, 300)))
    watch, pour = PourWatch(usual("house", "double"), Habits(), 0.0), Pour(machine, Random(chance.getrandbits(32)))
    off_s = ON_S + machine.time_s * chance.uniform(0.92, 1.08)
    lifted_s = off_s + chance.uniform(1.5, 8)
    bumps = [Bump.drawn(chance, ON_S + machine.drop_s, lifted_s) for _ in range(KNOCKS)]
    t_s, told_on, told_off, kept_g = 0.0, False, False, None
    while t_s < lifted_s + SEEN_AFTER_S:
        t_s += DT_S
        if ON_S <= t_s < lifted_s:
            pour.step()
        if not told_on and t_s >= ON_S:
            told_on = True
            watch.pump_on(t_s)
        if not told_off and t_s >= off_s:
            told_off = True
            pour.stop()
            watch.pump_off(t_s)
        load_g = cup_g + pour.cup_g if CUP_SET_S < t_s < lifted_s else 0.0
        reading = shown.step(t_s, load_g + sum(each.at(t_s) for each in bumps), ON_S <= t_s < off_s)
        for sighting in watch.observe(Sample(*reading)) if reading else ():
            kept_g = sighting.yield_g if isinstance(sighting, Settled) else kept_g
    return Knocked(pour.cup_g, kept_g)


def campaign(seeds: range) -> Bars:
    bars = Bars(f"{len(seeds)} pulls, each knocked {KNOCKS} times")
    made = [knocked(seed) for seed in seeds]
    off_g = [abs(each.kept_g - each.in_cup_g) for each in made if each.kept_g is not None]
    bars.below(f"yields that no cup explains, off by more than {NO_CUP_G:g} g", sum(g > NO_CUP_G for g in off_g), 0)
    bars.below("share kept wrong, by more than 1 g", sum(g > 1.0 for g in off_g) / len(made), 0.01)
    bars.below("share not known", 1 - len(off_g) / len(made), 0.06)
    return bars


if __name__ == "__main__":
    raise SystemExit(campaign(range(0, 2 * int(sys.argv[1] if len(sys.argv) > 1 else 1000), 2)).end())
