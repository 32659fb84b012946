"""The evening's words and intervals on simulated days whose truth is known: `python -m tests.bench.evening`.

Each day is played by the practice bar under one of its flow laws, none of which the summary knows, with one cause of
trouble or a steady drift. The first sentence is read on 200 more, judged pull by pull by the station's own watch: what
drifted, from when (steps of 3 s; ramps that end two spreads off), and how far off it stands. Takes about five minutes.
"""

import sys
import tempfile
import time
from dataclasses import replace
from datetime import datetime, timedelta, timezone
from pathlib import Path
from random import Random
from statistics import fmean

from scipy import stats

from hardware.practice import LAWS, PracticeBar, PracticeGrinder, Puck, pull
from kiosk.bar.evening import as_text
from kiosk.bar.evening.onset import TOGETHER, onset
from kiosk.bar.evening.summary import Summary
from kiosk.bar.model import Pull, usual
from kiosk.languages import LANGUAGES, catalogue
from tests.bench.bars import Bars
from tests.support.judged_day import PEOPLE, Day
from tests.support.opening import OPENING
from tests.support.summed import summary

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


SENTENCES = 200
BUSY_S = 240.0              # between pulls of one grinder
SPREAD_S = 1.3              # of pulls alike, as the judged day has them


def words_of_ten_seconds(of: Summary) -> int:
    """Words of the sentence and of the first thing to do, in the language that takes more."""
    told = [of.sentence, *(thing.what for thing in of.to_do[:1])]
    return max(sum(len(catalogue(code).render(text).split()) for text in told) for code in LANGUAGES)


def first_sentence(seed: int) -> tuple[str, bool, bool, bool, int]:
    """One judged day: its cause ("step", "ramp", "hands" or "quiet"), whether the sentence named what drifted and nothing else,
    whether since when was right within an hour, whether the interval of how far off it stands now held the truth, and the words
    of the first ten seconds."""
    chance = Random(seed)
    cause = ("step", "ramp", "hands", "quiet")[seed % 4]
    pulls = round(HOURS * 3600 / BUSY_S)
    at_h, way = chance.uniform(2, 7), chance.choice((-1, 1))
    with tempfile.TemporaryDirectory() as folder:
        day, truth = Day(Path(folder), seed, apart_s=BUSY_S), []
        for n in range(pulls):
            hours, who = (n + 1) * BUSY_S / 3600, day.chance.choice(PEOPLE)
            off_s = {"step": 3.0 * (hours >= at_h), "ramp": 2 * SPREAD_S * max(0.0, hours - at_h) / (HOURS - at_h),
                     "hands": 3.0 * (hours >= at_h and who == "Ben"), "quiet": 0.0}[cause]
            truth.append(way * off_s)
            day.pull(way * off_s, who, **({"sink": "spilt"} if n == 0 else {}))       # so that something was lost
        told = day.evening(price_per_kg=28.0, currency="EUR").summary
    found = onset(told.figures.grinders[0])
    drifted = cause in ("step", "ramp")
    right = (found is not None) == drifted and (" drifted " in told.sentence) == drifted
    if found is None or not drifted:
        return cause, right, False, False, words_of_ten_seconds(told)
    since = datetime.fromisoformat(f"{OPENING.date()}T{found.since[11:19]}").replace(tzinfo=OPENING.tzinfo)
    within = abs((since - OPENING).total_seconds() / 3600 - at_h) <= 1
    held = abs(found.now_s - fmean(truth[-TOGETHER:])) <= found.within_s
    return cause, right, within, held, words_of_ten_seconds(told)


def sentences(bars: Bars) -> None:
    read = [first_sentence(seed) for seed in range(SENTENCES)]
    for cause in ("step", "ramp", "hands", "quiet"):
        of_it = [right for each, right, *_ in read if each == cause]
        print(f"  {cause}: what drifted is right on {sum(of_it)} of {len(of_it)} days")
    bars.above(f"share of {SENTENCES} days whose first sentence names what drifted, and nothing that did not",
               fmean(right for _, right, *_ in read), 0.90)
    bars.below("words of the first ten seconds, sentence and first thing to do, at most, English or German",
               max(words for *_, words in read), 40)
    for cause, least in (("step", 0.90), ("ramp", 0.70)):
        bars.above(f"share of {cause}s told whose beginning is right within an hour",
                   fmean(within for each, right, within, *_ in read if each == cause and right), least)
    held = fmean(held for each, right, _, held, _ in read if each in ("step", "ramp") and right)
    bars.above("share of days whose interval holds how far off it stands", held, 0.90)
    bars.below("the same, not more than", held, 0.98)


def main() -> int:
    bars = Bars("The evening on simulated days")
    sentences(bars)
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
