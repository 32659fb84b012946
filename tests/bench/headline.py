"""What the evening's first sentence says of drift, and the interval behind it: `python -m tests.bench.headline [days]`.

Quiet days on which two people hand over at noon to two who lean the other way (0.05 in the logarithm of the time), and days
with a ramp of 1 to 4 spreads in all, by three people in spells. Each is judged pull by pull by a watch that has 200 pulls
of these people behind it, and summed up as the kiosk does. "Drift" is that the sentence names a grinder as drifted; a ramp
exceeds twice its standard error where the day's own regression finds it so. Ranges are from memory, no constant was tuned
here. Days of even `seed` were looked at while it was made, the figures are of the others.
"""

import argparse
import sys
from collections.abc import Iterator
from dataclasses import replace
from math import exp
from random import Random
from typing import NamedTuple

from kiosk.bar.evening.evening import evening
from kiosk.bar.evening.trend import Trend, t_quantile
from kiosk.bar.model import FlagRaised
from tests.bench.bars import Bars
from tests.bench.evidence import PEOPLE, RECIPE, leans_of, pull, seasoned, spells

DAY, PULLS, HOURS = "2026-01-05", 110, 9.0
MORNING, AFTERNOON = ("Ada", "Ben"), ("Dot", "Eve")
SURE = 0.975


class Told(NamedTuple):
    """What a day's evening says: whether the sentence names a grinder as drifted, and the day's trend."""

    drifted: bool
    trend: Trend | None


def told(watch, offs: Iterator[tuple[float, str]]) -> Told:
    """A day of pulls, each `off` in the logarithm of the time and somebody's, judged and summed up."""
    kept: list = []
    for n, (off, who) in enumerate(offs):
        minutes = 480 + round(60 * HOURS * n / PULLS)
        made = replace(pull(n % 90, off, who, order_id="o"), id=f"d{n:04}",
                       at=f"{DAY}T{minutes // 60:02}:{minutes % 60:02}:00+01:00")
        kept.append(made)
        flag = watch.update(made).flag
        if flag is not None:
            kept.append(FlagRaised(id=f"f{n:04}", at=made.at, grinder="left", coffee="house", setting=10, what=flag.kind,
                                   direction=flag.direction, sentence=flag.sentence, evidence=flag.evidence, pull_id=made.id))
    found = evening(kept, DAY).summary
    return Told(" drifted " in found.sentence, found.figures.grinders[0].drift)


def noon(seed: int, lean: float = 0.05) -> Told:
    rng = Random(f"headline noon {seed}")
    spread, side = rng.uniform(0.05, 0.08), rng.choice((-1, 1))
    leans = {who: side * (lean if who in MORNING else -lean) for who in MORNING + AFTERNOON}
    watch = seasoned(rng, leans, spread, people=MORNING + AFTERNOON)
    return told(watch, ((leans[who] + rng.gauss(0, spread), who) for who in (
        rng.choice(MORNING if n < PULLS // 2 else AFTERNOON) for n in range(PULLS))))


def ramp(seed: int) -> tuple[Told, float]:
    """What is told of a ramp, and how many seconds an hour it is."""
    rng = Random(f"headline ramp {seed}")
    spread, leans = rng.uniform(0.05, 0.08), leans_of(rng)
    in_all = rng.choice((-1, 1)) * rng.uniform(1, 4) * spread
    watch = seasoned(rng, leans, spread)
    found = told(watch, ((leans[who] + in_all * n / PULLS + rng.gauss(0, spread), who)
                         for n, who in enumerate(spells(rng, PULLS))))
    return found, RECIPE.time_s * (exp(in_all) - 1) / HOURS


def main(argv: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.headline", description=__doc__)
    parser.add_argument("days", type=int, nargs="?", default=200)
    days = parser.parse_args(argv).days
    bars, seeds = Bars(f"{days} days of each"), range(1, 2 * days, 2)
    shown(bars, seeds)
    return bars.end()


def shown(bars: Bars, seeds: range) -> None:
    bars.below("quiet, hands change at noon: drift in the first sentence, share of days",
               sum(noon(seed).drifted for seed in seeds) / len(seeds), 0.05)
    ramps = [ramp(seed) for seed in seeds]
    known = [(found, found.trend, truth) for found, truth in ramps if found.trend is not None]
    covered = sum(trend.low <= truth <= trend.high for _, trend, truth in known) / max(1, len(known))
    bars.above("ramps: share of days whose 95 % interval holds the truth", covered, 0.90)
    bars.below("the same, not more than", covered, 0.98)
    clear = [found for found, trend, _ in known if abs(trend.s_per_hour) > 2 * _error(trend)]
    bars.above(f"ramps: drift in the first sentence, share of the {len(clear)} days that exceed twice their standard error",
               sum(found.drifted for found in clear) / max(1, len(clear)), 0.90)


def _error(trend: Trend) -> float:
    """By Student's t with the degrees of freedom of a level, a slope, and a lean for each person but one."""
    return (trend.high - trend.low) / 2 / t_quantile(SURE, trend.pulls - 1 - len(PEOPLE))


if __name__ == "__main__":
    sys.exit(main())
