"""`python -m tests.bench.lesson`: can every fault of the practice bar be told from what is on its screen?

The perfect hire looks at everything that is shown. The average hire looks at each sign (dose, steam, spouts, first
drop) only three times in five and takes one not looked at for right: a policy, drawn by seed, that stands for nobody.
Both stop the pump by the weight, a moment late. Laws of flow beside the practice bar's own are tried too.
"""

import sys
from dataclasses import replace
from random import Random

from hardware.practice import DARCY, LAWS
from kiosk.bar.training import CAUSES, Cause, Score, SeenPull, named, score
from kiosk.practice.practice_bar import LONGEST_S, Practising
from tests.bench.bars import Bars

EACH = 100              # lessons a cause
LOOKS = 0.6             # how often the average hire looks at a sign
LATE_S = 0.4, 0.4       # mean and spread of the moment from "enough" to the switch (common practice)
TOLD = 0.9


def pulled(practice: Practising, cause: Cause, chance: Random) -> SeenPull:
    """A lesson's pull, stopped by hand about when the recipe's yield is reached."""
    practice.prepare(cause)
    practice.begin()
    enough_s = practice.poured.stop_for(practice.recipe.yield_g)
    practice.stop(min(LONGEST_S, max(1.0, enough_s + chance.gauss(*LATE_S))))
    return practice.seen()


def perfect(seen: SeenPull, _chance: Random) -> Cause:
    return named(seen)


def average(seen: SeenPull, chance: Random) -> Cause:
    signs = {"dose_g": seen.recipe.dose_g, "spat": False, "left": 0.5, "first_drop_s": None}
    return named(replace(seen, **{sign: right for sign, right in signs.items() if chance.random() > LOOKS}))


def taught(hire, law: str = DARCY, each: int = EACH, seed: int = 1) -> Score:
    """What `hire` makes of `each` lessons of every cause."""
    chance, practice = Random(seed), Practising(seed, law)
    return score((cause, hire(pulled(practice, cause, chance), chance)) for _ in range(each) for cause in CAUSES)


def table(found: Score) -> None:
    print("  " + " " * 10 + "".join(f"{cause:>10}" for cause in CAUSES))
    for cause in CAUSES:
        print(f"  {cause:<10}" + "".join(f"{found.table.get((cause, said), 0) or '·':>10}" for said in CAUSES))


def main() -> int:
    bars = Bars(f"Faults told from what is on the screen, {EACH} lessons a cause and law")
    for law in LAWS:
        best = taught(perfect, law)
        print(f" {law}, the perfect hire (down: what it was, across: what it was named)")
        table(best)
        for cause in CAUSES:
            bars.above(f"{law}, {cause}: named rightly", best.right(cause) / best.met(cause), TOLD)
    best, usual = taught(perfect), taught(average)
    print(f" {DARCY}, the average hire")
    table(usual)
    bars.above("the perfect hire's score", best.share, TOLD)
    bars.below("the average hire's score, below the perfect hire's", usual.share, best.share - 0.1)
    bars.above("the average hire's score, above guessing", usual.share, 1 / len(CAUSES) + 0.1)
    return bars.end()


if __name__ == "__main__":
    sys.exit(main())
