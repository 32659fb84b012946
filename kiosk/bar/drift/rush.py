"""One person's rush: pulls close in time that resemble each other, since the hands, the water and the beans are the same.

What a rush shares fades over a quarter of an hour and is gone with the next hands; what else a pull differs by is its own. How
wide pulls spread, and how much of that a rush shares, is learned on each grinder in turn, by the likelihood of what each pull
has new beside those before it (Schweppe, IEEE Transactions on Information Theory 11, 1965). What is shared is then foreseen from
the rush's pulls before (Kalman, 1960) and taken out, so that each pull tells only what is new in it.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from math import exp, log, log1p, pi, sqrt
from statistics import fmean
from typing import NamedTuple

from kiosk.bar.drift.change_detector import ODD, ODD_DENSITY, SLIGHT, WIDE
from kiosk.bar.drift.steps import change_at

FADES_MINUTES = 15.0        # how long one person's pulls resemble each other (from memory)
PACE_MINUTES = 2.0          # between pulls, where a table tells no times
ODD_AT = 3.0                # spreads; a surprise larger than this is taken to be this large
SHARES = (0.0, 0.12, 0.25, 0.40, 0.55, 0.70)        # of a pull's variance that its rush may have in common …
LIKELY_SHARES = (0.70, 0.10, 0.08, 0.06, 0.04, 0.02)       # … and how likely each is before a pull was seen
USUAL_SPREAD, USUAL_DOUBT = 0.08, 0.35      # of single pulls, as a fraction of the time: 2 s in 25 (common practice)
SPREADS = tuple(USUAL_SPREAD * exp(0.15 * n) for n in range(-12, 9))
REMEMBERED = 0.998          # of what a pull told is left after the next: a grinder of last month is another
LEAST = 5                   # pulls that tell anything of how they spread
MOVED = 0.025               # how likely it is, beside none, that the grinder moved once, at the pull where it looks likeliest
TAILS = (0.0, 0.06, 0.12, 0.18)                     # share of pulls that may lie wide …
LIKELY_TAILS = (0.65, 0.16, 0.12, 0.07)             # … and how likely each is
FLOOR = ODD * ODD_DENSITY * sqrt(2 * pi)            # density of an odd pull, in that of a normal's middle


class Seen(NamedTuple):
    """A pull: how far `off` the recipe, as a fraction of the time; the `fade`, what is left of what the pull before shared
    (0 where other hands begin); and the variance to which it is not known how those hands lean beside the ones before."""

    off: float
    fade: float
    lean_variance: float


def _at_first(likely: Sequence[float]) -> list[list[float]]:
    return [[log(each) - 0.5 * (log(spread / USUAL_SPREAD) / USUAL_DOUBT) ** 2 for spread in SPREADS] for each in likely]


@dataclass
class Resemblance:
    """How a grinder's pulls spread, how many of them lie wide, and how much of it a rush shares.

    `by_share` and `by_tail` are the logarithms of how likely each share, or tail, is with each spread. `share` and
    `tail` are the means of that; the logarithm of the spread has that of `spread` for its mean, and `doubt` for its standard deviation.
    """

    by_share: list[list[float]] = field(default_factory=lambda: _at_first(LIKELY_SHARES))
    by_tail: list[list[float]] = field(default_factory=lambda: _at_first(LIKELY_TAILS))
    share: float = 0.0
    tail: float = 0.0
    spread: float = USUAL_SPREAD
    doubt: float = USUAL_DOUBT

    def learn(self, run: Sequence[Seen]) -> None:
        """Take in pulls of one setting, in their order, among which the grinder may have moved once."""
        many = len(run)
        if many < LEAST:
            return
        offs = [seen.off for seen in run]
        mean, since = fmean(offs), change_at(offs)
        before, after = fmean(offs[:since]), fmean(offs[since:])
        # about levels taken from the pulls themselves, so a little too near to them
        still = [(off - mean) * sqrt(many / (many - 1)) for off in offs]
        moved = [(off - (before if n < since else after)) * sqrt(many / (many - 2)) for n, off in enumerate(offs)]
        for odds, share in zip(self.by_share, SHARES):
            _take_in(odds, self._likely(run, still, share, self.tail), self._likely(run, moved, share, self.tail), many)
        self.share = _mean(SHARES, self.by_share)
        for odds, tail in zip(self.by_tail, TAILS):
            _take_in(odds, self._likely(run, still, self.share, tail), self._likely(run, moved, self.share, tail), many)
        self.tail = _mean(TAILS, self.by_tail)
        by_spread, logs = list(zip(*self.by_tail)), [log(spread) for spread in SPREADS]
        middle = _mean(logs, by_spread)
        self.spread, self.doubt = exp(middle), sqrt(_mean([(each - middle) ** 2 for each in logs], by_spread))

    def _likely(self, run: Sequence[Seen], offs: Sequence[float], share: float, tail: float) -> list[float]:
        """Logarithm of how likely the pulls are by each spread, for a rush's share and a tail."""
        foreseen, unsure, most = 0.0, share, ODD_AT * self.spread
        shapes = []
        for seen, off in zip(run, offs):
            foreseen, unsure = foreseen * seen.fade, unsure * seen.fade ** 2 + share * (1 - seen.fade ** 2)
            if not seen.fade:
                unsure += min(1.0, seen.lean_variance / self.spread ** 2)
            new, total = off - foreseen, unsure + 1 - share
            shapes.append((1 / sqrt(total), -0.5 * new * new / total))
            foreseen += unsure / total * max(-most, min(most, new))
            unsure -= unsure * unsure / total
        found = []
        for spread in SPREADS:
            near, flat = 1 / spread ** 2, 1 / (WIDE * spread) ** 2
            if tail < SLIGHT:
                likely = [log((1 - ODD) * top * exp(bend * near) + FLOOR) for top, bend in shapes]
            else:
                likely = [log(top * ((1 - ODD - tail) * exp(bend * near) + tail / WIDE * exp(bend * flat)) + FLOOR)
                          for top, bend in shapes]
            found.append(sum(likely) - len(likely) * log(spread))
        return found


def _take_in(odds: list[float], still: Sequence[float], moved: Sequence[float], many: int) -> None:
    """Let what earlier pulls said fade, and add, for each spread, how likely these `many` are: the grinder stood still, or moved once."""
    for n, (a, b) in enumerate(zip(still, moved)):
        b += log(MOVED)
        odds[n] = REMEMBERED ** many * odds[n] + max(a, b) + log1p(exp(-abs(a - b)))


def _mean(values: Sequence[float], odds: Sequence[Sequence[float]]) -> float:
    """Of one value a row, by how likely the rows are."""
    likeliest = max(map(max, odds))
    weights = [sum(exp(each - likeliest) for each in row) for row in odds]
    return sum(value * weight for value, weight in zip(values, weights)) / sum(weights)


class Rush:
    """The rush that goes on: what its pulls share, as far as they show it, in spreads.

    `foreseen` is what the rush's pulls so far foresee of the next, `told` what they would if each lay one spread off, `unsure`
    the variance of what is foreseen.
    """

    def __init__(self) -> None:
        self.last: tuple[str | None, str] | None = None         # the last pull: who, when
        self.foreseen = self.told = self.unsure = 0.0

    def fade(self, who: str | None, at: str) -> float:
        """What is left, at `who`'s pull then, of what the pull before shared (0 to 1)."""
        if self.last is None or self.last[0] != who:
            return 0.0
        before, minutes = self.last[1], 0.0
        if before and at:
            minutes = (datetime.fromisoformat(at) - datetime.fromisoformat(before)).total_seconds() / 60
        if minutes < 0:                 # a clock set back tells nothing
            return 0.0
        return exp(-(minutes or PACE_MINUTES) / FADES_MINUTES)

    def observe(self, x: float, who: str | None, at: str, share: float) -> tuple[float, float]:
        """(how far off the pull shows the grinder to be, the sd that blurs it beyond its own spread), `share` of its variance
        being what the rush has in common."""
        fade = self.fade(who, at)
        foreseen, told = self.foreseen * fade, self.told * fade
        unsure = self.unsure * fade * fade + share * (1 - fade * fade)
        total, new = unsure + 1 - share, 1 - told
        gain = unsure / total
        self.foreseen = foreseen + gain * max(-ODD_AT, min(ODD_AT, x - foreseen))
        self.told = told + gain * new
        self.unsure = unsure - gain * unsure
        self.last = who, at
        return (x - foreseen) / new, sqrt(max(0.0, total / (new * new) - 1))

    def memory(self) -> dict:
        """As JSON can hold it."""
        return {"last": list(self.last) if self.last else None, "foreseen": self.foreseen, "told": self.told,
                "unsure": self.unsure}

    @classmethod
    def restored(cls, memory: dict) -> "Rush":
        """The rush that `memory` was taken from. Raises KeyError or TypeError where it is not whole."""
        rush = cls()
        rush.last = (memory["last"][0], memory["last"][1]) if memory["last"] else None
        rush.foreseen, rush.told, rush.unsure = (memory[name] for name in ("foreseen", "told", "unsure"))
        return rush
