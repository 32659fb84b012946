"""`python -m tests.bench.taste`: each row of the taste table, done on the practice puck: does it move time or yield the right way?

Every pull is made under each law of flow, tasted, changed as the table says, and made again by the same hands. Sour and thin
ask for slower water or (sour) a longer, (thin) a shorter cup; bitter and harsh for faster water or a shorter cup. Rows that
change neither (clean, level) are counted, and nothing is claimed of them.
"""

import sys
from dataclasses import dataclass
from itertools import product

from hardware.practice import LAWS, Faults, PracticeBar, PracticeGrinder
from kiosk.bar.drift.taste import BITTER, BOTH, HARSH, SOUR, THIN, Tasted, taste
from kiosk.bar.model import Pull, usual
from tests.bench.bars import Bars

RECIPE = usual("House", "double")
SEEDS = 20
NOTCHES = {"fast": 5, "right": 0, "slow": -5}       # coarser
STOPS_G = {"short": -10.0, "right": 0.0, "long": 12.0}
DOSES_G = {"under": -2.0, "right": 0.0, "over": 2.0}
SLOWER = {SOUR: True, THIN: True, BITTER: False, HARSH: False}


@dataclass(frozen=True, slots=True)
class Made:
    time_s: float
    yield_g: float


def made(law: str, seed: int, notches: int, stop_g: float, dose_g: float) -> Made:
    """A pull stopped once so much will be in the cup; by the same seed, by the same hands."""
    bar = PracticeBar(seed=seed, law=law, faults=Faults(coarser=notches, dose_g=dose_g - RECIPE.dose_g), grinder=PracticeGrinder())
    bar.dose(RECIPE.dose_g)
    bar.purge_group()
    poured = bar.begin_pull()
    time_s = min(60.0, poured.stop_for(stop_g))
    return Made(time_s, poured.stopped(time_s).settled_g)


def moved_right(found: str, said: Tasted, before: Made, after: Made, dosed: bool) -> bool | None:
    """None where the change is of neither time nor yield."""
    slower = after.time_s > before.time_s
    if said.turns is not None or dosed:
        return slower is SLOWER[found]
    if said.longer_g:
        return (after.yield_g > before.yield_g) is (said.longer_g > 0) is (found == SOUR)
    return None


def rows(laws: tuple[str, ...] = LAWS, seeds: int = SEEDS) -> dict[str, list[bool | None]]:
    """For each change of each taste, whether it moved the pull the right way, pull by pull."""
    results: dict[str, list[bool | None]] = {}
    for law, seed, fast, long, dose in product(laws, range(seeds), NOTCHES, STOPS_G, DOSES_G):
        notches, stop_g, dose_g = NOTCHES[fast], RECIPE.yield_g + STOPS_G[long], RECIPE.dose_g + DOSES_G[dose]
        before = made(law, seed, notches, stop_g, dose_g)
        pull = Pull(id="p", at="2026-01-05T09:00:00+01:00", grinder="Left", coffee="House", setting=20, recipe=RECIPE, dose_g=dose_g,
                    yield_g=before.yield_g, time_s=before.time_s)
        for found in (SOUR, BITTER, BOTH, THIN, HARSH):
            said = taste(found, pull)
            dosed = "Dose" in said.change
            after = made(law, seed, notches + {"finer": -1, "coarser": 1, None: 0}[said.turns], stop_g + said.longer_g,
                         RECIPE.dose_g if dosed else dose_g)
            results.setdefault(f"{found}: {said.change}", []).append(moved_right(found, said, before, after, dosed))
    return results


def main() -> int:
    bars = Bars(f"The taste table on the practice puck: {len(LAWS)} laws of flow, {SEEDS} hands, fast to slow, short to long, three doses")
    for row, held in sorted(rows().items()):
        if None in held:
            print(f"        {row} ({len(held)} pulls)")
        else:
            bars.above(f"{row} ({len(held)} pulls)", sum(held) / len(held), 1.0)
    return bars.end()


if __name__ == "__main__":
    sys.exit(main())
