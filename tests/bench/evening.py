"""The evening's words and intervals on simulated days whose truth is known: `python -m tests.bench.evening`.

Each day is played by the practice bar under one of its flow laws, none of which the summary knows, with one cause of
trouble or a steady drift. Takes about three minutes.
"""

import sys
import time
from dataclasses import replace
from datetime import datetime, timedelta, timezone
from random import Random

from scipy import stats

from hardware.practice import LAWS, PracticeBar, PracticeGrinder, Puck, pull
from kiosk.bar.evening import as_text
from kiosk.bar.evening.summary import summary
from kiosk.bar.model import Pull, usual
from tests.bench.bars import Bars

DAY = "2026-10-23"
OPENS = datetime(2026, 10, 23, 7, tzinfo=timezone(timedelta(hours=2)))
HOURS = 10
RECIPE = usual("House", "double")
SAID = {"coarse": "Start Left one notch finer", "fine": "Start Left one notch coarser", "dose": "Weigh each dose",
        "tamp": "Tamp level, same pressure", "quiet": ""}


def played(law: str, seed: int, cause: str = "quiet", *, per_hour: float = 0.0, pulls: int = 80) -> list[Pull]:
    """A day's pulls, with a grinder two notches off, a fifth of the doses short, or a seventh of the tamps tilted."""
    chance = Random(seed)
    off = {"coarse": 2, "fine": -2}.get(cause, 0)
    bar = PracticeBar(seed=seed, law=law, tamp_sd=0.4 if cause == "tamp" else 0.1,
                      grinder=PracticeGrinder(right_notch=20 - off, chute_coarser=off, per_hour=per_hour))
    kept = []
    for n in range(pulls):
        bar.running_h = HOURS * n / pulls + chance.uniform(0, 0.1)
        dose_g = bar.dose(RECIPE.dose_g)
        if cause == "dose" and chance.random() < 0.2:
            dose_g = bar.mend_dose(-1.8)
        bar.purge_group()
        tilted = cause == "tamp" and chance.random() < 0.15
        poured = bar.begin_pull(tilt=chance.uniform(0.4, 1.0) if tilted else 0.0)
        poured = bar.stop_pump(min(poured.stop_for(RECIPE.yield_g + chance.gauss(0, 0.5)), 45.0))
        kept.append(Pull(
            id=f"p{n}", at=(OPENS + timedelta(hours=bar.running_h)).isoformat(), grinder="Left", coffee="House",
            setting=20, recipe=RECIPE, order_id="o", dose_g=round(dose_g, 1), yield_g=round(poured.settled_g, 1), purged=True,
            time_s=round(poured.stop_s, 2), first_drop_s=round(poured.first_drop_s + chance.gauss(0, 0.1), 2)))
    return kept


def said_right(law: str, seed: int, cause: str) -> bool:
    things = summary(played(law, seed, cause), DAY).to_do
    return things[0].what.startswith(SAID[cause]) if things and SAID[cause] else not things and not SAID[cause]


def drift_covered(law: str, seed: int) -> bool:
    """Whether the day's interval holds the slope of pulls that differ in nothing but the grinder."""
    per_hour = Random(seed).uniform(-0.3, 0.3)
    hours = range(0, HOURS + 1, 2)
    truth = stats.linregress(hours, [pull(Puck(law=law, coarser=per_hour * h)).stop_for(RECIPE.yield_g) for h in hours])
    drift = summary(played(law, seed, per_hour=per_hour), DAY).figures.grinders[0].drift
    return drift.low <= truth.slope <= drift.high


def main() -> int:
    bars = Bars("The evening on simulated days")
    right = [(cause, said_right(law, seed, cause)) for seed in range(14) for law in LAWS for cause in SAID]
    for cause in SAID:
        of_it = [hit for each, hit in right if each == cause]
        print(f"  {cause}: right on {sum(of_it)} of {len(of_it)} days")
    hits = [hit for _, hit in right]
    bars.above("share of days whose first thing to do is what was wrong", sum(hits) / len(hits), 0.90)
    covered = [drift_covered(law, 1000 + seed) for seed in range(67) for law in LAWS]
    share = sum(covered) / len(covered)
    bars.above(f"share of {len(covered)} days whose 95 % interval holds the drift", share, 0.90)
    bars.below("the same, not more than", share, 0.98)
    long_day = [replace(each, id=f"{n}-{each.id}") for n in range(13) for each in played(LAWS[0], n)][:1000]
    began = time.perf_counter()
    as_text(summary(long_day, DAY))
    bars.below("seconds to sum up a day of 1,000 pulls in words", time.perf_counter() - began, 0.3)
    return bars.end()


if __name__ == "__main__":
    sys.exit(main())
