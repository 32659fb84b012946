"""`python -m tests.bench.lesson`: can every fault of the practice bar be told from what is on its screen?

200 lessons a fault, with a scale and without. The perfect hire looks at everything that is shown. The average hire looks at
each sign only seven times in ten and takes one not looked at for right; the guesser looks at nothing: policies, drawn by
seed, that stand for nobody. All stop the pump by the cup, a moment late. Laws of flow beside the practice bar's own are
tried too. Without a scale, too fine looks like too much coffee and too coarse like too little: how often the best answer
can be right is reckoned from lessons of another seed (a normal density of pace and first drop for each cause, the more
likely one taken). Every sentence is held against the pull's hidden truth (tests.support.lesson_truth).
"""

import sys
from dataclasses import dataclass, replace
from functools import cache
from math import log
from random import Random

import numpy as np
from scipy.stats import multivariate_normal

from hardware.practice import DARCY, LAWS
from kiosk.bar.training import ALIKE, CAUSES, Cause, Score, SeenPull, named, score
from kiosk.practice.practice_bar import LONGEST_S, Hidden, Practising
from tests.bench.bars import Bars
from tests.support.lesson_truth import untrue

EACH = 200              # lessons a cause
ALIKE_EACH = 800        # of those alike by eye: two shares near each other need more
LOOKS = 0.7             # how often the average hire looks at a sign
LATE_S = 0.4, 0.4       # mean and spread of the moment from "enough" to the switch (common practice)
LEARNED_FROM = 400      # lessons a cause, of another seed, that the best is reckoned from
NEAR = 0.03             # below the best that can be reckoned, and still as good


@dataclass(frozen=True, slots=True)
class Lesson:
    cause: Cause
    seen: SeenPull
    hidden: Hidden


def pulled(practice: Practising, cause: Cause, chance: Random) -> Lesson:
    """A lesson's pull, stopped by hand about when the recipe's yield is reached."""
    cause = practice.prepare(cause)
    practice.begin()
    enough_s = practice.poured.stop_for(practice.recipe.yield_g)
    practice.stop(min(LONGEST_S, max(1.0, enough_s + chance.gauss(*LATE_S))))
    return Lesson(cause, practice.seen(), practice.hidden)


def perfect(seen: SeenPull, _chance: Random) -> Cause:
    return named(seen)


RIGHT = {"spat": False, "left": 0.5, "first_drop_s": None, "spurted_s": None, "thin": False, "lain_min": 0.5, "cold": False}


def average(seen: SeenPull, chance: Random) -> Cause:
    signs = RIGHT | ({"dose_g": seen.recipe.dose_g} if seen.weighed else {})
    return named(replace(seen, **{sign: right for sign, right in signs.items() if chance.random() > LOOKS}))


def guesser(_seen: SeenPull, chance: Random) -> Cause:
    return chance.choice(CAUSES)


@cache
def lessons(weighed: bool = True, law: str = DARCY, each: int = EACH, seed: int = 1, causes: tuple = CAUSES) -> tuple[Lesson, ...]:
    chance, practice = Random(seed), Practising(seed, law, weighed=weighed)
    return tuple(pulled(practice, cause, chance) for _ in range(each) for cause in causes)


def taught(hire, given: tuple[Lesson, ...], seed: int = 1) -> Score:
    """What `hire` makes of the lessons."""
    chance = Random(seed)
    return score((each.cause, hire(each.seen, chance)) for each in given)


def best_by_eye(given: tuple[Lesson, ...], learned_from: int = LEARNED_FROM) -> dict[Cause, float]:
    """How often each cause that looks like another can be told by eye at best, as the lessons of another seed teach it."""
    def at(seen: SeenPull) -> tuple[float, float]:
        return log(seen.even_s), log(seen.first_drop_s)

    known = lessons(False, each=learned_from, seed=1001, causes=tuple(ALIKE))
    density = {}
    for cause in ALIKE:
        points = np.array([at(each.seen) for each in known if each.cause is cause])
        density[cause] = multivariate_normal(points.mean(axis=0), np.cov(points.T))
    return {cause: float(np.mean([density[cause].pdf(at(each.seen)) > density[other].pdf(at(each.seen))
                                  for each in given if each.cause is cause])) for cause, other in ALIKE.items()}


def table(found: Score) -> None:
    print("  " + " " * 10 + "".join(f"{cause:>9}" for cause in CAUSES))
    for cause in CAUSES:
        print(f"  {cause:<10}" + "".join(f"{found.table.get((cause, said), 0) or '·':>9}" for said in CAUSES))


def main() -> int:
    bars = Bars(f"Faults told from what is on the screen, {EACH} lessons a cause")
    for law in LAWS:
        given = lessons(law=law)
        best = taught(perfect, given)
        print(f" {law}, with a scale, the perfect hire (down: what it was, across: what it was named)")
        table(best)
        bars.above(f"{law}, with a scale: the perfect hire", best.share, 1.0)
        bars.above(f"{law}: named rightly, the worst cause", min(best.right(cause) / best.met(cause) for cause in CAUSES), 1.0)
    for weighed in (True, False):
        how, given = "with a scale" if weighed else "without", lessons(weighed)
        wrong = [sentence for each in given for sentence in untrue(each.cause, each.seen, each.hidden)]
        for sentence in sorted(set(wrong))[:10]:
            print(f"   untrue: {sentence}")
        bars.below(f"{how}: sentences untrue of the numbers shown", len(wrong), 0)
        usual = taught(average, given)
        print(f" {how}, the average hire")
        table(usual)
        bars.above(f"{how}: the average hire", usual.share, 0.6)
        bars.below(f"{how}: the average hire", usual.share, 0.85)
        bars.below(f"{how}: the guesser", taught(guesser, given).share, 0.2)
    told = taught(perfect, lessons(False))
    print(" without a scale, the perfect hire")
    table(told)
    share, alike = told.share, lessons(False, each=ALIKE_EACH, seed=2, causes=tuple(ALIKE))
    best, told = best_by_eye(alike), taught(perfect, alike)
    for pair in ((Cause.FINE, Cause.OVER), (Cause.COARSE, Cause.UNDER)):
        can, does = (sum(each) / 2 for each in zip(*((best[cause], told.right(cause) / told.met(cause)) for cause in pair)))
        bars.above(f"without: {' and '.join(pair)}, the best that can be told is {can:.2f}", does, can - NEAR)
    can = sum(best.get(cause, 1.0) for cause in CAUSES) / len(CAUSES)
    bars.above(f"without: all causes, the best that can be told is {can:.3f}", share, can - NEAR)
    return bars.end()


if __name__ == "__main__":
    sys.exit(main())
