"""`python -m tests.bench.fading`: after how many pulls a hire's help fades, by what the pulls were.

A steady hire's hands settle over the first ten pulls or so: doses to 0.2–0.5 g, times to 2–5 s, a step forgotten now and then
(common practice). Nonsense is taps without coffee: hasty, at random times, with doses or cups far off, with steps left out.
All are drawn by seed. Nonsense that keeps every step's pace and stops in time with nothing weighed cannot be told from work
without a scale, and is not among them.
"""

import sys
from collections.abc import Callable
from random import Random
from statistics import median

from kiosk.bar.model import EVERY_STEP, Pull, usual
from kiosk.bar.training import Brief, brief, steadiness
from tests.bench.bars import Bars

HIRES, LONGEST = 1000, 200
RECIPE = usual("House", "double")


def made(n: int, time_s: float, dose_g: float | None, yield_g: float | None, step_s: float, skipped: tuple[str, ...] = ()) -> Brief:
    return brief(Pull(
        id=f"p{n:03}", at="2026-10-23T10:00:00+02:00", grinder="Left", coffee="House", setting=20, barista="Tomo", recipe=RECIPE,
        dose_g=dose_g, skipped=skipped, step_s=tuple((str(step), step_s) for step in EVERY_STEP), time_s=time_s, yield_g=yield_g))


def steady(n: int, chance: Random) -> Brief:
    sure = min(1.0, 0.4 + n / 15)
    forgot = ("rim",) if chance.random() < 0.3 * (1 - sure) else ()
    return made(n, 25 + chance.gauss(0, 2 / sure), 16 + chance.gauss(0, 0.2 / sure), RECIPE.yield_g + chance.gauss(0, 1.5 / sure),
                chance.uniform(4, 9), forgot)


def steady_by_eye(n: int, chance: Random) -> Brief:
    sure = min(1.0, 0.4 + n / 15)
    return made(n, 25 + chance.gauss(0, 2 / sure), None, None, chance.uniform(4, 9))


NONSENSE: dict[str, Callable[[int, Random], Brief]] = {
    "5.6 s, 0.6 s a step": lambda n, chance: made(n, 5.6, None, None, 0.6),
    "in time, 0.6 s a step": lambda n, chance: made(n, chance.gauss(25, 1), None, None, 0.6),
    "stopped at any time": lambda n, chance: made(n, chance.uniform(3, 60), None, None, chance.uniform(2, 9)),
    "any dose, in time": lambda n, chance: made(n, chance.gauss(25, 2), chance.uniform(12, 20), None, chance.uniform(2, 9)),
    "an empty cup on the scale": lambda n, chance: made(n, chance.gauss(25, 2), 16.0, chance.uniform(0, 5), chance.uniform(2, 9)),
    "two steps left out": lambda n, chance: made(n, chance.gauss(25, 2), 16.0, 50.0, 5.0, ("level", "purge")),
}


def fades_after(hire: Callable[[int, Random], Brief], seed: int, longest: int = LONGEST) -> int | None:
    """The pull after which the help fades; None where it never does."""
    chance, so_far = Random(seed), []
    for n in range(longest):
        so_far.append(hire(n, chance))
        if steadiness(n + 1, so_far).holds:
            return n + 1
    return None


def main() -> int:
    bars = Bars(f"Pulls until the help fades, {HIRES} simulated hires each, {LONGEST} pulls at most")
    for name, hire in (("steady", steady), ("steady, no scale", steady_by_eye)):
        after = [fades_after(hire, seed) or LONGEST for seed in range(HIRES)]
        print(f" {name}: the middle hire after {median(after):.0f}")
        bars.above(f"{name}: the soonest", min(after), 15)
        bars.below(f"{name}: the latest", max(after), 40)
    for name, hire in NONSENSE.items():
        bars.below(f"nonsense ({name}): hires whose help fades", sum(fades_after(hire, seed) is not None for seed in range(HIRES)), 0)
    return bars.end()


if __name__ == "__main__":
    sys.exit(main())
