"""What a late tap, a person or a resemblance between pulls does to the drift watch: `python -m tests.bench.evidence [days]`.

Days of pulls whose cause is known, through the watch alone. Times are log-normal about the recipe, doses weighed; people
pull in spells (a rush is one person's). Ranges are from memory. "tuned" days (`seed` even) were looked at while the rules
were made; the figures below are of the others, on another spread and other leans.
"""

import argparse
import sys
from collections.abc import Iterator
from math import exp
from random import Random

from kiosk.bar.drift import Watch
from kiosk.bar.model import NotchMoved, Pull, usual
from tests.bench import alike
from tests.bench.bars import Bars

RECIPE = usual("house", "double")
PEOPLE = ("Ada", "Ben", "Cleo")
PULLS, FROM = 90, 30


def pull(n: int, off: float, who: str | None, *, weighed: bool = True, **more) -> Pull:
    """The `n`th pull of the day, `off` (logarithm of the time) from its recipe."""
    minutes = 480 + 4 * n
    return Pull(id=f"{n:04}", at=f"2026-01-05T{minutes // 60:02}:{minutes % 60:02}:00+01:00", grinder="left", coffee="house",
                setting=10, recipe=RECIPE, barista=who, dose_g=RECIPE.dose_g if weighed else None,
                yield_g=RECIPE.yield_g if weighed else None, time_s=RECIPE.time_s * exp(off), **more)


def spells(rng: Random, many: int, people: tuple[str, ...] = PEOPLE) -> Iterator[str]:
    """Who pulls: one person for 3 to 12 pulls, then another."""
    who, left = rng.choice(people), rng.randint(3, 12)
    for _ in range(many):
        if not left:
            who, left = rng.choice([each for each in people if each != who]), rng.randint(3, 12)
        left -= 1
        yield who


def seasoned(rng: Random, leans: dict[str, float], spread: float, weighed: bool = True,
             people: tuple[str, ...] = PEOPLE) -> Watch:
    """A watch with 200 quiet pulls of these people behind it, and a notch turned since."""
    watch = Watch("left", "house")
    for n, who in enumerate(spells(rng, 200, people)):
        watch.update(pull(n % PULLS, leans.get(who, 0.0) + rng.gauss(0, spread), who, weighed=weighed))
    watch.moved(NotchMoved(id="m", at="", grinder="left", coffee="house", before=10, after=11))
    watch.moved(NotchMoved(id="m", at="", grinder="left", coffee="house", before=11, after=10))
    return watch


def day_of(watch: Watch, pulls: Iterator[Pull]) -> list:
    """The flags that the day raised."""
    return [verdict.flag for each in pulls if (verdict := watch.update(each)).flag is not None]


def leans_of(rng: Random) -> dict[str, float]:
    return {who: rng.gauss(0, 0.04) for who in PEOPLE}


def soft_tamp(seed: int, by: float = 2.5) -> list:
    rng = Random(f"tamp {seed}")
    spread, leans = rng.uniform(0.05, 0.08), leans_of(rng)
    culprit = rng.choice(PEOPLE)
    watch = seasoned(rng, leans, spread)
    return day_of(watch, (pull(n, leans[who] + rng.gauss(0, spread) - (by * spread if who == culprit and n >= FROM else 0),
                               who) for n, who in enumerate(spells(rng, PULLS)))), culprit


def true_step(seed: int, by: float = 2.5) -> list:
    rng = Random(f"step {seed}")
    spread, leans = rng.uniform(0.05, 0.08), leans_of(rng)
    watch, side = seasoned(rng, leans, spread), rng.choice((-1, 1))
    return day_of(watch, (pull(n, leans[who] + rng.gauss(0, spread) + (side * by * spread if n >= FROM else 0), who)
                          for n, who in enumerate(spells(rng, PULLS))))


def noon(seed: int, lean: float = 0.05) -> list:
    """Quiet: two people in the morning, two others after noon, leaning the other way."""
    rng = Random(f"noon {seed}")
    spread, side = rng.uniform(0.05, 0.08), rng.choice((-1, 1))
    people = ("Ada", "Ben", "Dot", "Eve")
    watch = seasoned(rng, {who: side * (lean if who in people[:2] else -lean) for who in people}, spread, people=people)
    flags = []
    for n in range(PULLS):
        early = n < PULLS // 2
        who = rng.choice(("Ada", "Ben") if early else ("Dot", "Eve"))
        verdict = watch.update(pull(n, side * (lean if early else -lean) + rng.gauss(0, spread), who))
        flags += [verdict.flag] if verdict.flag else []
    return flags


def late(seed: int, many: int, by_s: float) -> list:
    """Quiet, nothing weighed, and so many taps in a row that much late."""
    rng = Random(f"late {seed} {many} {by_s}")
    spread = rng.uniform(0.05, 0.08)
    watch = seasoned(rng, {}, spread, weighed=False)
    at, flags = rng.randint(12, 30), []
    for n in range(40):
        off = rng.gauss(0, spread)
        made = pull(n, off, "Ada", weighed=False)
        if at <= n < at + many:
            made = pull(n, off, "Ada", weighed=False)
            object.__setattr__(made, "time_s", made.time_s + by_s)
        verdict = watch.update(made)
        flags += [verdict.flag] if verdict.flag else []
    return flags


def found_after(seed: int, share_late: float, by: float = 2.0) -> int:
    """Pulls from a true step until it is flagged, unweighed, with so many taps late."""
    rng = Random(f"found {seed}")
    spread = rng.uniform(0.05, 0.08)
    watch = seasoned(rng, {}, spread, weighed=False)
    for n in range(20 + 100):
        off = rng.gauss(0, spread) + (by * spread if n >= 20 else 0)
        late_s = rng.choice((3, 10, 20)) if Random(f"{seed} {n}").random() < share_late else 0
        made = pull(n % 90, off, "Ada", weighed=False)
        object.__setattr__(made, "time_s", made.time_s + late_s)
        if watch.update(made).flag and n >= 20:
            return n - 19
    return 100


def main(argv: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.evidence", description=__doc__)
    parser.add_argument("days", type=int, nargs="?", default=200)
    asked = parser.parse_args(argv)
    bars, days = Bars(f"{asked.days} days of each"), range(1, 2 * asked.days, 2)
    named = told = 0
    for seed in days:
        flags, culprit = soft_tamp(seed)
        named += any(flag.kind == "drifting" for flag in flags)
        told += any(flag.kind == "hands" and flag.evidence.get("who") == culprit for flag in flags)
    bars.below("one person of three tamps softly: grinder named, share of days", named / len(days), 0.05)
    bars.above("one person of three tamps softly: the person told, share of days", told / len(days), 0.90)
    steps = [true_step(seed) for seed in days]
    bars.above("true step of 2.5 spreads: grinder named, share of days",
               sum(any(flag.kind in ("drifting", "began_off") for flag in flags) for flags in steps) / len(days), 0.95)
    bars.below("hands change at noon, leans of 0.05: grinder named, share of days",
               sum(any(flag.kind in ("drifting", "began_off") for flag in noon(seed)) for seed in days) / len(days), 0.05)
    for many in (1, 2, 3):
        for by_s in (3, 10, 20):
            share = sum(bool(late(seed, many, by_s)) for seed in days) / len(days)
            bars.below(f"{many} taps in a row {by_s} s late among 40: flag, share of days", share, 40 / 370)
    asks = sum(any(flag.kind == "late_stops" for flag in late(seed, 5, 15)) for seed in days) / len(days)
    bars.above("5 taps in a row 15 s late: asked, share of days", asks, 0.80)
    without = [found_after(seed, 0.0) for seed in days]
    with_late = [found_after(seed, 0.1) for seed in days]
    bars.below("true step of 2 spreads with 10 % late taps, pulls to a flag as a multiple of without",
               sum(with_late) / sum(without), 1.3)
    alike.shown(bars, list(days)[:max(4, asked.days // 2)])
    return bars.end()


if __name__ == "__main__":
    sys.exit(main())
