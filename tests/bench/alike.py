"""Quiet days whose pulls resemble each other, with heavy tails: `python -m tests.bench.alike [days]`.

What a person's rush shares fades over 10 to 20 minutes and is gone with the next hands; single pulls have the tails of Student's
t with 3 degrees, of standard deviation 0.03 to 0.08. A flag is false from the 201st pull on. The watch is held against a
two-sided CUSUM (k 0.5) told everything, the law too: centre, spread, leans, and how much a rush shares and how fast that
fades; its limit is set to the same run length. Days of even `seed` were looked at while constants were chosen; these are odd.

Two things were defined otherwise at first: a flag that took the place of another counted as well, which is printed beside, and
people's leans did not add up to nothing, so that a quiet grinder began off its recipe, which is no false alarm to flag.
"""

import argparse
import sys
from collections.abc import Sequence
from math import exp, sqrt
from random import Random
from statistics import NormalDist, fmean
from typing import NamedTuple

import numpy as np
from scipy.stats import t as student

from kiosk.bar.drift import Watch
from kiosk.bar.model import NotchMoved, Pull, usual
from tests.bench.bars import Bars
from tests.bench.drift import limit_for
from tests.support.charts import cusum

RECIPE = usual("house", "double")
PEOPLE = ("Ada", "Ben", "Cleo")
TAUGHT, AFTER = 200, 300
GAP = (1.5, 3.0)            # minutes between one person's pulls
NORMAL, DEGREES = NormalDist(), 3
SCORES = np.linspace(-6, 6, 4001)
OFFS = student.ppf(student.cdf(0, DEGREES) + [NORMAL.cdf(z) - 0.5 for z in SCORES], DEGREES) / sqrt(DEGREES)


class Slot(NamedTuple):
    """A pull's minute and who makes it; whether a rush begins with it."""

    minute: float
    who: str
    begins: bool


class Quiet:
    """A day's law: when and by whom, and each pull's normal score. `share` of a score's variance is the rush's."""

    def __init__(self, rng: Random, alike: float, pulls: int = TAUGHT + AFTER):
        self.fades = rng.uniform(10, 20)
        self.share = alike * exp(fmean(GAP) / self.fades)
        self.slots = list(self._slots(rng, pulls))
        self.scores = list(self._scores(rng))

    @staticmethod
    def _slots(rng: Random, pulls: int):
        minute, who, left = 0.0, "", 0
        for _ in range(pulls):
            begins = not left
            if begins:
                who, left = rng.choice([each for each in PEOPLE if each != who]), rng.randint(3, 12)
            minute, left = minute + (rng.uniform(3, 10) if begins else rng.uniform(*GAP)), left - 1
            yield Slot(minute, who, begins)

    def _scores(self, rng: Random):
        shared = last = 0.0
        for slot in self.slots:
            fade = 0.0 if slot.begins else exp(-(slot.minute - last) / self.fades)
            shared, last = fade * shared + rng.gauss(0, sqrt(self.share * (1 - fade * fade))), slot.minute
            yield shared + rng.gauss(0, sqrt(1 - self.share))

    def new_in(self, scores: Sequence[float]) -> list[float]:
        """The scores with what the rush's own ones before foresee taken out: independent and of spread one."""
        found, foreseen, doubt, last = [], 0.0, self.share, 0.0
        for slot, score in zip(self.slots, scores):
            fade = 0.0 if slot.begins else exp(-(slot.minute - last) / self.fades)
            foreseen, doubt, last = fade * foreseen, fade * fade * doubt + self.share * (1 - fade * fade), slot.minute
            total = doubt + 1 - self.share
            found.append((score - foreseen) / sqrt(total))
            foreseen, doubt = foreseen + doubt / total * (score - foreseen), doubt - doubt ** 2 / total
        return found


class Day:
    """A watch taught by 200 pulls, and 300 more of which none is false, or all from the `at`th on are `step` spreads off."""

    def __init__(self, seed: int, alike: float, step: float = 0.0, at: int = 0):
        rng = Random(f"quiet {alike} {seed}")
        self.spread, leans = rng.uniform(0.03, 0.08), {who: rng.gauss(0, 0.04) for who in PEOPLE}
        self.leans = {who: lean - fmean(leans.values()) for who, lean in leans.items()}     # a quiet grinder is on its recipe
        self.law, side = Quiet(rng, alike), rng.choice((-1, 1))
        self.offs = [float(np.interp(score, SCORES, OFFS)) + (side * step if n >= TAUGHT + at else 0.0)
                     for n, score in enumerate(self.law.scores)]

    def pull(self, n: int) -> Pull:
        slot = self.law.slots[n]
        day, seconds = divmod(int(slot.minute * 60), 86400)
        return Pull(
            id=f"{n:05}", at=f"2026-01-{5 + day:02}T{seconds // 3600:02}:{seconds // 60 % 60:02}:{seconds % 60:02}+01:00",
            grinder="left", coffee="house", setting=10, recipe=RECIPE, barista=slot.who, dose_g=RECIPE.dose_g,
            yield_g=RECIPE.yield_g, time_s=RECIPE.time_s * exp(self.leans[slot.who] + self.spread * self.offs[n]))

    def flags(self) -> list[tuple[int, bool]]:
        """Numbers of the pulls (1 …), once the watch was taught, that raised a flag, and whether none stood: one that takes the
        place of another says the same alarm in other words."""
        watch, found = Watch("left", "house"), []
        for n in range(len(self.offs)):
            if n == TAUGHT:
                for before, after in ((10, 11), (11, 10)):
                    watch.moved(NotchMoved(id="m", at="", grinder="left", coffee="house", before=before, after=after))
            stood = watch.standing is not None
            if watch.update(self.pull(n)).flag and n >= TAUGHT:
                found.append((n - TAUGHT + 1, not stood))
        return found

    def told_everything(self, limit: float) -> int | None:
        """The pull (1 …) at which the CUSUM that knows all finds something."""
        scores = np.clip(np.interp(self.offs, OFFS, SCORES), -6, 6)
        new = self.law.new_in([float(score) for score in scores])[TAUGHT:]
        return next((n for n, point in enumerate(cusum(new, 0.0, 0.5, limit), 1) if point.signal), None)


def run_length(alike: float, seeds: Sequence[int]) -> tuple[float, float]:
    """Pulls a false flag; and where one that takes the place of another counts, too."""
    anew = [none_stood for seed in seeds for _, none_stood in Day(seed, alike).flags()]
    return AFTER * len(seeds) / max(1, sum(anew)), AFTER * len(seeds) / max(1, len(anew))


def shown(bars: Bars, seeds: Sequence[int]) -> None:
    """The figures, each with its bar."""
    runs = {}
    for alike, least in ((0.0, 370), (0.2, 370), (0.4, 300)):
        runs[alike], every = run_length(alike, seeds)
        bars.above(f"quiet, tails of Student's t, pulls of a rush alike by {alike}: pulls a false flag", runs[alike], least)
        print(f"  and {every:.0f} where a flag that takes the place of another counts, too")
    limit, at = limit_for(min(runs[0.4], 2000.0), 0.5), 20
    for step in (1.5, 2.0):
        found, told = [], []
        for seed in seeds:
            day = Day(seed, 0.4, step, at)
            ours = next((n for n, none_stood in day.flags() if none_stood and n > at), AFTER)
            theirs = day.told_everything(limit)
            found.append(min(ours - at, 100))
            if theirs is None or theirs > at:
                told.append(min((theirs or AFTER) - at, 100))
        print(f"  step of {step} σ, alike by 0.4: {fmean(found):.1f} pulls to a flag, told everything {fmean(told):.1f}")
        bars.below(f"the same as a multiple of the chart told everything, step of {step} σ", fmean(found) / fmean(told), 1.7)


def main(argv: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.alike", description=__doc__)
    parser.add_argument("days", type=int, nargs="?", default=100)
    days = parser.parse_args(argv).days
    bars = Bars(f"{days} days of each")
    shown(bars, range(1, 2 * days, 2))
    return bars.end()


if __name__ == "__main__":
    sys.exit(main())
