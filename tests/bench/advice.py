"""The next notch, followed to the letter: from a wrong setting to the window, and through a week that drifts.

    python -m tests.bench.advice

The bars simulated here are not the watch's: time goes as the exponential of the notches, each bar has notches of its own
size, noise multiplies, one dose in sixteen is a gram or two off, and one pull in twenty-five runs away. "The fewest
moves" is one notch a move to the nearest setting whose mean time is in the window.
"""

import sys
from collections import Counter
from dataclasses import dataclass
from math import exp
from random import Random
from statistics import fmean

from kiosk.bar.drift import FINER, NOTCH, Watch
from kiosk.bar.model import NotchMoved, Pull, usual

RECIPE = usual("house", "double")
LOW_S, HIGH_S = RECIPE.time_window_s
PULLS_A_DAY, DAYS = 120, 6


@dataclass
class Bar:
    """`coarser`: notches coarser than right, collar and drift together; `notch`: of the logarithm of time."""

    rng: Random
    notch: float
    noise: float
    coarser: float = 0.0
    setting: int = 20

    def mean_s(self, coarser: float | None = None) -> float:
        return RECIPE.time_s * exp(-self.notch * (self.coarser if coarser is None else coarser))

    def pull(self, at: str) -> Pull:
        dose_g = RECIPE.dose_g + self.rng.gauss(0, 0.3)
        if self.rng.random() < 0.06:
            dose_g += self.rng.choice((-1, 1)) * self.rng.uniform(0.8, 2.0)
        yield_g = RECIPE.yield_g + self.rng.gauss(0, 1.2)
        made_even_s = self.mean_s() * exp(self.rng.gauss(0, self.noise))
        if self.rng.random() < 0.04:
            made_even_s *= self.rng.uniform(0.5, 0.8)       # a soft tamp, a crack, a skipped step
        time_s = made_even_s * (dose_g / RECIPE.dose_g) ** 1.9 * (0.15 + 0.85 * yield_g / RECIPE.yield_g)
        return Pull(id="p", at=at, grinder="left", coffee="house", setting=self.setting, recipe=RECIPE,
                    barista=self.rng.choice("ABC"), dose_g=round(dose_g, 1), yield_g=round(yield_g, 1),
                    time_s=min(time_s, 90.0))

    def turn(self, notches: int):
        self.setting += notches
        self.coarser += notches


def a_bar(rng: Random) -> Bar:
    return Bar(rng, notch=rng.uniform(0.06, 0.13), noise=rng.uniform(0.055, 0.085))


def follow(watch: Watch, bar: Bar, verdict) -> int:
    """Turn the collar as advised; the notches turned (coarser: > 0)."""
    if verdict.advice.act != NOTCH:
        return 0
    notches = verdict.advice.notches * (-1 if verdict.advice.direction == FINER else 1)
    watch.moved(NotchMoved(id="m", at="", grinder="left", coffee="house", before=bar.setting, after=bar.setting + notches))
    bar.turn(notches)
    return notches


def from_wrong(rng: Random, wrong: int, allowed: int = 1, pulls: int = 60) -> dict:
    """A new bar set `wrong` notches coarse (fine: < 0), its watch never having seen it."""
    bar, watch = a_bar(rng), Watch("left", "house", notches_at_opening=allowed)
    bar.coarser = float(wrong)
    side = 1 if wrong > 0 else -1
    fewest = next(n for n in range(20) if LOW_S <= bar.mean_s(wrong - side * n) <= HIGH_S)
    moves = past = 0
    took, reached = (0, 0) if fewest == 0 else (None, None)
    for n in range(1, pulls + 1):
        verdict = watch.update(bar.pull("2026-01-05T07:00:00+01:00"))
        if follow(watch, bar, verdict):
            moves += 1
            if took is None and LOW_S <= bar.mean_s() <= HIGH_S:
                took, reached = moves, n
        past = max(past, -side * bar.coarser)
    return {"fewest": fewest, "took": took, "pulls": reached, "past": past, "moves": moves}


class Week:
    """A week that every adviser goes through alike: warming up in the morning, ageing beans, damp, nights between."""

    def __init__(self, seed: int):
        rng = Random(seed)
        self.seed, level, self.drift = seed, 0.0, []
        for _ in range(DAYS):
            level += rng.gauss(0, 1.2)
            warm, ageing = rng.uniform(-1.5, 1.5), rng.gauss(0, 0.012)
            day = []
            for n in range(PULLS_A_DAY):
                level += ageing + rng.gauss(0, 0.04)
                if rng.random() < 0.004:
                    level += rng.choice((-1.5, 1.5))      # another bag of beans
                day.append(level + warm * (1 - exp(-n / 25)))
            level = day[-1]
            self.drift.append(day)

    def share(self, adviser: str) -> tuple[float, int]:
        """Share of the week's pulls in the time window, and the notches turned."""
        bar, watch = a_bar(Random(self.seed)), Watch("left", "house")
        good = moves = 0
        for day, drift in enumerate(self.drift):
            for n, level in enumerate(drift):
                bar.coarser = bar.setting - 20 + level
                if adviser == "all-knowing" and round(bar.coarser):
                    moves += abs(round(bar.coarser))
                    bar.turn(-round(bar.coarser))
                pull = bar.pull(f"2026-01-{5 + day:02d}T{7 + n // 10:02d}:{n % 10 * 6:02d}:00+01:00")
                good += LOW_S <= pull.time_s <= HIGH_S
                if adviser == "the kiosk":
                    moves += abs(follow(watch, bar, watch.update(pull)))
                elif adviser == "after every bad pull" and not LOW_S <= pull.time_s <= HIGH_S:
                    bar.turn(1 if pull.time_s > HIGH_S else -1)
                    moves += 1
        return good / DAYS / PULLS_A_DAY, moves


def main(bars: int = 40, weeks: int = 24) -> int:
    short = 0

    def line(what: str, figure: str, bar: str, holds: bool):
        nonlocal short
        short += not holds
        print(f"{'PASS ' if holds else 'SHORT'}  {what:<40} {figure:<56} bar {bar}", flush=True)

    print(f"From a wrong setting: {bars} bars for each, half of them coarse, each new to its watch")
    for wrong in range(1, 7):
        runs = [from_wrong(Random(100 * wrong + n), wrong if n % 2 else -wrong) for n in range(bars)]
        extra = Counter("never" if run["took"] is None else run["took"] - run["fewest"] for run in runs)
        worst = max((99 if k == "never" else k) for k in extra)
        past = max(run["past"] for run in runs)
        pulls = fmean(run["pulls"] for run in runs if run["took"] is not None)
        line(f"{wrong} notches wrong", f"moves past the fewest: {dict(extra)}; {pulls:.0f} pulls", "≤ 2", worst <= 2)
        line("", f"past the right setting by at most {past:.0f} notches", "≤ 1", past <= 1)
    runs = [from_wrong(Random(900 + n), 6 if n % 2 else -6, allowed=4) for n in range(bars)]
    print(f"       6 notches wrong, 4 a move allowed at opening: {fmean(run['moves'] for run in runs):.1f} moves, "
          f"{fmean(run['pulls'] for run in runs if run['pulls'] is not None):.0f} pulls, "
          f"past by at most {max(run['past'] for run in runs):.0f}")

    print(f"A week that drifts: {weeks} weeks of {DAYS} × {PULLS_A_DAY} pulls, share in the time window")
    shares = {}
    for adviser in ("no advice", "after every bad pull", "the kiosk", "all-knowing"):
        told = [Week(seed).share(adviser) for seed in range(weeks)]
        shares[adviser] = fmean(share for share, _ in told)
        print(f"       {adviser:<40} {shares[adviser]:.1%}, {fmean(moves for _, moves in told):.0f} notches a week", flush=True)
    ours = shares["the kiosk"]
    line("ahead of no advice", f"{ours - shares['no advice']:+.1%}", "> 0", ours > shares["no advice"])
    line("ahead of a notch after every bad pull", f"{ours - shares['after every bad pull']:+.1%}", "> 0",
         ours > shares["after every bad pull"])
    line("behind the all-knowing", f"{shares['all-knowing'] - ours:.1%}", "≤ 5 points", shares["all-knowing"] - ours <= 0.05)
    return 1 if short else 0


if __name__ == "__main__":
    sys.exit(main())
