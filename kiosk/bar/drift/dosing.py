"""A grinder that doses by time: how many tenths of a second its timer wants, from the doses that were weighed.

The grams that a second grinds are learned: first from the doses at one time, then from each change of the timer, too (a step of
Kalman's filter, 1960, on a constant). A notch changes what a second grinds, so that doses of before it say nothing any more.
"""

from dataclasses import dataclass, field
from math import sqrt
from statistics import NormalDist, fmean, stdev

from kiosk.bar.messages import Message
from kiosk.bar.model import DOSES_G, SINGLE, Pull

LEAST = 4               # weighed doses at one time, before anything is said
LATEST = 10             # the last of them that count
SURE = NormalDist().inv_cdf(0.975)
WORTH_SAYING_G = 0.2    # off by less than that is within what a dose wanders (common practice)
TENTH_S = 0.1
UNSURE = 0.2            # of grams a second while the timer was never changed: grinders run up first (common practice)
DOSE_SD_G = 0.15        # of a timed dose, where too few were weighed to tell (common practice)


@dataclass(frozen=True, slots=True)
class Timed:
    """`tenths` of a second to add to the timer (take away: < 0) for doses that lie `off_g` off over `doses` of them, at
    `g_per_s` grams a second."""

    tenths: int
    off_g: float
    doses: int
    g_per_s: float

    @property
    def sentence(self) -> Message:
        """What to do, and why."""
        said = {"n": self.doses, "g": abs(self.off_g), "rate": self.g_per_s, "s": abs(self.tenths) * TENTH_S}
        if self.tenths > 0:
            return Message("The last {n:d} doses were {g:.1f} g light: add {s:.1f} s to the timer, which grinds {rate:.1f} g a "
                           "second. Weigh the next dose.", **said)
        return Message("The last {n:d} doses were {g:.1f} g heavy: take {s:.1f} s off the timer, which grinds {rate:.1f} g a "
                       "second. Weigh the next dose.", **said)


@dataclass
class Dosing:
    """The doses of one grinder and coffee that a timer ground. `timer_s` 0 is a grinder that does not dose by time.

    `g_per_s` and its sd are 0 until they are known.
    """

    timer_s: float = 0.0
    g_per_s: float = 0.0
    g_per_s_sd: float = 0.0
    last_g: list[float] = field(default_factory=list)
    off_g: list[float] = field(default_factory=list)
    before: tuple[float, float, int] | None = None      # timer, mean dose and how many, before the timer was changed

    def set_timer(self, timer_s: float) -> None:
        """The timer stands at another time: what its doses change by tells the grams a second."""
        if abs(timer_s - self.timer_s) < TENTH_S / 2:
            return
        self._learn()
        if len(self.last_g) >= LEAST:       # else it is being stepped on, from where the doses before were weighed
            self.before = self.timer_s, fmean(self.last_g), len(self.last_g)
        self.timer_s, self.last_g, self.off_g = timer_s, [], []

    def turned(self) -> None:
        """The collar was turned: the timer's next doses are other ones."""
        self.before, self.last_g, self.off_g = None, [], []

    def takes(self, pull: Pull) -> bool:
        """Whether its dose tells of the timer: one weighed, of the larger basket, which the timer is set for."""
        return bool(self.timer_s) and pull.dose_g is not None and pull.dose_g >= DOSES_G[0] and pull.basket != SINGLE

    def observe(self, pull: Pull) -> None:
        """Take in a dose, if it tells of the timer."""
        if pull.dose_g is None or not self.takes(pull):
            return
        self.last_g = (self.last_g + [pull.dose_g])[-LATEST:]
        self.off_g = (self.off_g + [pull.dose_g - pull.recipe.dose_g])[-LATEST:]
        self._learn()

    def _learn(self) -> None:
        if self.timer_s <= 0 or len(self.last_g) < LEAST:
            return
        if not self.g_per_s:
            self.g_per_s = fmean(self.last_g) / self.timer_s
            self.g_per_s_sd = UNSURE * self.g_per_s
        if self.before is not None and len(self.last_g) == LEAST:
            before_s, before_g, many = self.before
            by_s = self.timer_s - before_s
            if abs(by_s) < TENTH_S / 2:         # there and back
                self.before = None
                return
            seen, noise = (fmean(self.last_g) - before_g) / by_s, DOSE_SD_G ** 2 * (1 / many + 1 / LEAST) / by_s ** 2
            gain = self.g_per_s_sd ** 2 / (self.g_per_s_sd ** 2 + noise)
            whole = fmean(self.last_g) / self.timer_s
            self.g_per_s = min(2 * whole, max(whole / 2, self.g_per_s + gain * (seen - self.g_per_s)))
            self.g_per_s_sd *= sqrt(1 - gain)
            self.before = None

    @property
    def wanted(self) -> Timed | None:
        """What the timer wants; None where its doses are right, or too few to tell."""
        if not self.timer_s or len(self.off_g) < LEAST or not self.g_per_s:
            return None
        off_g, many = fmean(self.off_g), len(self.off_g)
        within_g = SURE * max(DOSE_SD_G, stdev(self.off_g)) / sqrt(many)
        tenths = round(-off_g / self.g_per_s / TENTH_S)
        if abs(off_g) < max(within_g, WORTH_SAYING_G) or tenths == 0:
            return None
        return Timed(tenths, off_g, many, self.g_per_s)
