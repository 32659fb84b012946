"""One person's rush: pulls close in time that resemble each other, since the hands, the water and the beans are the same.

What a rush shares fades over a quarter of an hour and is gone with the next hands. How much of the spread it is, is learned
on each grinder: neighbouring pulls of one rush differ less than those of two (the variogram, Matheron, Economic Geology
58, 1963), which no level of the grinder disturbs. What is shared is then foreseen from the rush's pulls before (Kalman, 1960)
and taken out, so that each pull tells only what is new in it.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from math import exp, sqrt

FADES_MINUTES = 15.0        # how long one person's pulls resemble each other (from memory)
PACE_MINUTES = 2.0          # between pulls, where a table tells no times
LOOKED_BACK = 8             # pulls that each is set beside to learn the resemblance
ODD_AT = 3.0                # spreads; a difference, or a surprise, larger than this is taken to be this large
UNTIL_SEEN = 10.0           # what "not alike" counts for beforehand, in pairs of pulls
MOST = 0.7


@dataclass
class Resemblance:
    """Pairs of pulls: half their squared difference regressed on how much of a rush they share (0 to 1)."""

    pairs: float = 0.0
    shared: float = 0.0
    shared_squares: float = 0.0
    apart: float = 0.0
    apart_shared: float = 0.0

    @property
    def share(self) -> float:
        """The part of a pull's variance that it has in common with the one just before in its rush (0 to 0.7)."""
        if not self.pairs:
            return 0.0
        varied = self.shared_squares - self.shared ** 2 / self.pairs + UNTIL_SEEN
        slope = (self.apart_shared - self.shared * self.apart / self.pairs) / varied
        alone = (self.apart - slope * self.shared) / self.pairs
        return min(MOST, max(0.0, -slope / alone)) if alone > 0 else 0.0

    def observe(self, by: float, shared: float, unsure: float) -> None:
        """Two pulls lay so many spreads apart, of which `unsure` is the variance that the two persons' leans are not known
        to; `shared` is how much of a rush they share."""
        apart = (min(ODD_AT, abs(by)) ** 2 - unsure) / 2
        self.pairs += 1
        self.shared += shared
        self.shared_squares += shared * shared
        self.apart += apart
        self.apart_shared += shared * apart


class Rush:
    """The rush that goes on: what its pulls share, as far as they show it, in spreads."""

    def __init__(self) -> None:
        self.last: list[tuple[float, str | None, str, int]] = []     # the last pulls: off, who, when, in which rush
        self.number = 0
        self.begin()

    def begin(self) -> None:
        """Other hands are at work: nothing is shared with the pulls before. `foreseen` is what the rush's pulls so far
        foresee of the next, `told` what they would if each lay one spread off, `doubt` the variance of what is foreseen."""
        self.number += 1
        self.foreseen = self.told = 0.0
        self.doubt: float | None = None

    def pairs(self, who: str | None, at: str) -> Iterator[tuple[float, str | None, float]]:
        """Each of the last pulls: how far off it was, whose, and how much of a rush the next, by `who` then, shares with it."""
        number = self.number if self.last and self.last[-1][1] == who else None
        for off, before, when, rush in self.last:
            yield off, before, self._fade(when, at) if rush == number else 0.0

    def observe(self, x: float, who: str | None, at: str, share: float) -> tuple[float, float]:
        """(how far off the pull shows the grinder to be, the sd that blurs it beyond its own spread), `share` of its variance
        being what the rush has in common."""
        if not self.last or self.last[-1][1] != who:
            self.begin()
        if self.doubt is None:
            self.doubt = share
        else:
            fade = self._fade(self.last[-1][2], at)
            self.foreseen, self.told = self.foreseen * fade, self.told * fade
            self.doubt = self.doubt * fade * fade + share * (1 - fade * fade)
        total = self.doubt + 1 - share
        new = 1 - self.told
        shown, sd = (x - self.foreseen) / new, sqrt(total) / new
        gain = self.doubt / total
        self.foreseen += gain * max(-ODD_AT, min(ODD_AT, x - self.foreseen))
        self.told += gain * new
        self.doubt -= gain * self.doubt
        self.last = (self.last + [(x, who, at, self.number)])[-LOOKED_BACK:]
        return shown, sqrt(max(0.0, sd * sd - 1))

    @staticmethod
    def _fade(before: str, after: str) -> float:
        minutes = PACE_MINUTES
        if before and after:
            minutes = (datetime.fromisoformat(after) - datetime.fromisoformat(before)).total_seconds() / 60
        return exp(-minutes / FADES_MINUTES) if minutes >= 0 else 0.0       # a clock set back tells nothing

    def memory(self) -> dict:
        """As JSON can hold it."""
        return {"last": [list(each) for each in self.last], "number": self.number, "foreseen": self.foreseen,
                "told": self.told, "doubt": self.doubt}

    @classmethod
    def restored(cls, memory: dict) -> "Rush":
        """The rush that `memory` was taken from. Raises KeyError or TypeError where it is not whole."""
        rush = cls()
        rush.last = [(x, who, at, number) for x, who, at, number in memory["last"]]
        rush.number, rush.foreseen, rush.told, rush.doubt = (
            memory[name] for name in ("number", "foreseen", "told", "doubt"))
        return rush
