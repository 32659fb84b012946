"""The practice bar as a lesson needs it: a pull is prepared with one hidden cause, runs, is seen, mended and made again.
No coffee. What it pours is the bar's own recipe."""

from dataclasses import dataclass, replace
from functools import lru_cache
from math import log
from random import Random

from hardware.practice import DARCY, NOTCH, TAMP_N, UPTAKE, Faults, PracticeBar, Puck, Stream, pull
from kiosk.bar.model import DOUBLE, Recipe, usual
from kiosk.bar.training import ALIKE, EYE_OFF_G, LAIN_MIN, Cause, Mend, SeenPull, named

COFFEE = "Practice"
LONGEST_S = 60.0        # then the pump stops by itself
AHEAD = 0.22            # of the stream goes over to one spout at a full tilt (chosen: flow goes as 1 / depth)
EYE = 0.015             # spread of what an eye makes of two even spouts
SPITS_S = 3.0           # a hot group's steam is gone by then (chosen)
SPURTS_FOR_S = 2.0
EYE_READS_G = 2 * EYE_OFF_G     # a cup is read to the nearest mark of a shot glass
EYE_TIMES_S = 0.5       # and of a first drop
DOSE_SD_G = 0.1         # of whoever dosed, where the dose is not the fault
PALES = 2.0, 3.5        # grams in the cup for each gram of coffee: the stream is golden from here, pale from there (from memory)
SWELLS = 0.12           # spread of how much water a coffee takes up before its first drop: no two bags are alike (chosen)
STOPS = 0.75, 1.0, 1.25     # of the time to the yield: a cause shows wherever the pump is stopped
DRAWS = 50              # a lesson whose cause does not show is drawn anew, so many times at most


@dataclass(frozen=True, slots=True, kw_only=True)
class Hidden:
    """What is secretly wrong with a pull, and how it comes out of the spouts."""

    faults: Faults = Faults()
    left: float = 0.5
    lain_min: float = 0.0
    old: bool = False
    cold: bool = False
    swells: float = 1.0


class Practising:
    """One pull at a time: `prepare`, `begin`, look, `stop`, `mend`. The same seed, causes and mends give the same pulls.

    `weighed` is whether the bar has a scale: without one a dose is not known, and cup and first drop are read by eye.
    """

    def __init__(self, seed: int, law: str = DARCY, recipe: Recipe | None = None, weighed: bool = True):
        self._chance, self._law = Random(seed), law
        self.recipe, self.weighed = recipe or usual(COFFEE, DOUBLE), weighed
        self._right, self._uptake = right_grind(self.recipe, law)
        self.poured: Stream | None = None
        self.true_dose_g = 0.0
        self.stopped_s: float | None = None
        self.hidden = Hidden()

    def prepare(self, cause: Cause) -> Cause:
        """Someone has dosed, tamped and locked in, and perhaps not well. A lesson teaches nothing unless its cause shows:
        one that does not is drawn again. Return the cause that shows; another than asked for only where the recipe's windows
        are so narrow or wide that this one cannot."""
        for _ in range(DRAWS):
            self.hidden = self._draw(cause)
            self.again()
            if self._shows(cause):
                return cause
        stop_s = min(LONGEST_S, self._stream.stop_for(self.recipe.yield_g))
        return named(self._seen(self._stream.stopped(stop_s), stop_s, weighed=True))

    def _shows(self, cause: Cause) -> bool:
        """Whether it shows wherever the pump is stopped, as far as the scale there is, or none, can tell it at all; and a
        right pull's first drop is right, too."""
        recipe, enough_s = self.recipe, self._stream.stop_for(self.recipe.yield_g)
        for share in STOPS:
            stop_s = min(LONGEST_S, share * enough_s)
            poured = self._stream.stopped(stop_s)
            seen = self._seen(poured, stop_s, weighed=True)
            by_eye = named(self._seen(poured, stop_s, self.weighed))
            if named(seen) is not cause or by_eye not in (cause, ALIKE.get(cause)):
                return False
        return cause is not Cause.NONE or recipe.first_drop_from_s <= seen.first_drop_s <= recipe.first_drop_to_s

    def _draw(self, cause: Cause) -> Hidden:
        chance, even, recipe = self._chance, 0.5 + self._chance.gauss(0, EYE), self.recipe
        wide, most_off_g = recipe.time_within_s / recipe.time_s, 1.3 * recipe.dose_within_g
        hidden = Hidden(left=even, lain_min=chance.uniform(0.2, 1.0), swells=max(0.5, chance.gauss(1, SWELLS)))
        match cause:
            case Cause.FINE:
                return replace(hidden, faults=Faults(coarser=-log(1 + wide) / NOTCH - chance.uniform(1.2, 2.2)))
            case Cause.COARSE:
                return replace(hidden, faults=Faults(coarser=-log(1 - wide) / NOTCH + chance.uniform(1.1, 2.5)))
            case Cause.OVER:
                return replace(hidden, faults=Faults(dose_g=max(most_off_g, chance.uniform(0.15, 0.21) * recipe.dose_g)))
            case Cause.UNDER:
                return replace(hidden, faults=Faults(dose_g=-max(most_off_g, chance.uniform(0.15, 0.21) * recipe.dose_g)))
            case Cause.SOFT:
                return replace(hidden, faults=Faults(tamp_n=chance.uniform(25, 45)))
            case Cause.CROOKED:
                faults = Faults(tilt=chance.uniform(0.7, 1.0))
                return replace(hidden, faults=faults, left=even + AHEAD * faults.tilt * chance.choice((-1, 1)))
            case Cause.CHANNEL:
                return replace(hidden, faults=Faults(cracks_s=recipe.time_s * chance.uniform(0.35, 0.5)))
            case Cause.UNPURGED:
                return replace(hidden, faults=Faults(purge_skipped=True))
            case Cause.STALE:
                return replace(hidden, lain_min=chance.uniform(15, 60), faults=Faults(coarser=chance.uniform(0, 0.6)))
            case Cause.OLD:
                return replace(hidden, old=True, faults=Faults(coarser=chance.uniform(0.3, 1.0)))
            case Cause.COLD:
                return replace(hidden, cold=True)
            case Cause.BLOCKED:
                return replace(hidden, left=float(chance.random() < 0.5))
        return hidden

    def again(self) -> None:
        """The same hands, grinder and cup make the next pull."""
        faults = replace(self.hidden.faults, coarser=self.hidden.faults.coarser + self._right)
        bar = PracticeBar(faults=faults, law=self._law, seed=self._chance.getrandbits(32), dose_sd_g=DOSE_SD_G,
                          uptake=self._uptake * self.hidden.swells)
        self.true_dose_g = round(bar.dose(self.recipe.dose_g), 1)
        bar.purge_group()
        self._stream = bar.begin_pull(basket=self.recipe.basket)
        self.poured = self.stopped_s = None

    def mend(self, what: Mend, much: float = 1) -> None:
        """Change one thing by `much` notches or grams, and make the next pull: it may be wrong, too little or too much."""
        hidden = self.hidden
        faults = hidden.faults
        match what:
            case Mend.COARSER | Mend.FINER:
                faults = replace(faults, coarser=faults.coarser + (much if what is Mend.COARSER else -much))
            case Mend.ADD | Mend.TAKE:
                faults = replace(faults, dose_g=faults.dose_g + (much if what is Mend.ADD else -much))
            case Mend.FIRM:
                faults = replace(faults, tamp_n=max(faults.tamp_n, TAMP_N))
            case Mend.STRAIGHT:
                faults = replace(faults, tilt=0.0)
                hidden = replace(hidden, left=hidden.left if self._blocked else 0.5 + self._chance.gauss(0, EYE))
            case Mend.SPREAD:
                faults = replace(faults, cracks_s=None)
            case Mend.FLUSH:
                faults = replace(faults, purge_skipped=False)
            case Mend.CLEAN:
                hidden = replace(hidden, left=0.5 + self._chance.gauss(0, EYE) if self._blocked else hidden.left)
            case Mend.GRIND_NEW:
                hidden = replace(hidden, lain_min=0.5)
            case Mend.BAG:
                hidden = replace(hidden, old=False)
            case Mend.WARM:
                hidden = replace(hidden, cold=False)
        self.hidden = replace(hidden, faults=faults)
        self.again()

    @property
    def _blocked(self) -> bool:
        return self.hidden.left in (0.0, 1.0)

    def begin(self) -> None:
        self.poured = self._stream

    def stop(self, at_s: float) -> None:
        self.poured, self.stopped_s = self._stream.stopped(at_s), at_s

    # ---- what is to be seen `t_s` seconds after pump on -----------------------------------------------------------

    def grams(self, t_s: float) -> float:
        """In the cup, as a scale has it or an eye."""
        return _in_the_cup(self.poured(t_s), self.weighed)

    @property
    def dose_g(self) -> float | None:
        """What the scale wrote down; None without one."""
        return self.true_dose_g if self.weighed else None

    def streams(self, t_s: float) -> tuple[float, float]:
        """Grams a second out of the left and the right spout."""
        flow = max(0.0, self.poured.flow_g_per_s(t_s))
        return flow * self.hidden.left, flow * (1 - self.hidden.left)

    def pale(self, t_s: float) -> float:
        """How pale the stream is, 0 (dark) to 1: the more has run through each gram of coffee; at once where it spurts."""
        golden, pale = PALES
        share = (self.poured(t_s) / self.true_dose_g - golden) / (pale - golden)
        broken = self.spurted_s(t_s) is not None
        return min(1.0, max(0.0, share, 0.8 if broken else 0.0))

    def spits(self, t_s: float) -> bool:
        return self.spat and t_s < min(SPITS_S, self.poured.first_drop_s or SPITS_S)

    def spurts(self, t_s: float) -> bool:
        began_s = self.spurted_s(t_s)
        return began_s is not None and t_s < began_s + SPURTS_FOR_S

    def spurted_s(self, t_s: float) -> float | None:
        cracks_s = self.hidden.faults.cracks_s
        return cracks_s if cracks_s is not None and cracks_s <= t_s else None

    def first_drop_s(self, t_s: float) -> float | None:
        drop_s = self.poured.first_drop_s
        return None if drop_s is None or drop_s > t_s else _timed(drop_s, self.weighed)

    @property
    def left(self) -> float:
        """The left spout's share of the stream."""
        return self.hidden.left

    @property
    def spat(self) -> bool:
        return self.hidden.faults.purge_skipped

    @property
    def thin(self) -> bool:
        """Whether the crema is: of old beans, or of grounds that lay."""
        return self.hidden.old or self.hidden.lain_min > LAIN_MIN

    def seen(self) -> SeenPull:
        """The pull once it is over. Raises RuntimeError while its pump runs."""
        if self.stopped_s is None:
            raise RuntimeError("the pump is still running: stop it first")
        return self._seen(self.poured, self.stopped_s, self.weighed)

    def _seen(self, poured: Stream, stopped_s: float, weighed: bool) -> SeenPull:
        drop_s = poured.first_drop_s
        return SeenPull(
            recipe=self.recipe, dose_g=self.true_dose_g if weighed else None, time_s=round(stopped_s, 1),
            yield_g=_in_the_cup(poured.settled_g, weighed), left=round(self.hidden.left, 2), spat=self.spat, thin=self.thin,
            first_drop_s=None if drop_s is None or drop_s > stopped_s else _timed(drop_s, weighed),
            spurted_s=self.spurted_s(stopped_s), lain_min=self.hidden.lain_min, cold=self.hidden.cold)


def _in_the_cup(true_g: float, weighed: bool) -> float:
    return round(true_g, 1) if weighed else EYE_READS_G * round(true_g / EYE_READS_G)


def _timed(drop_s: float, weighed: bool) -> float:
    return round(drop_s, 1) if weighed else EYE_TIMES_S * round(drop_s / EYE_TIMES_S)


@lru_cache
def right_grind(recipe: Recipe, law: str) -> tuple[float, float]:
    """How many notches off the usual grind, and what uptake of the bed, give `recipe` in the middle of its windows."""
    drop_s, uptake = (recipe.first_drop_from_s + recipe.first_drop_to_s) / 2, UPTAKE
    for _ in range(4):
        low, high = -60.0, 60.0
        while high - low > 0.02:
            coarser = (low + high) / 2
            found = pull(Puck(basket=recipe.basket, dose_g=recipe.dose_g, coarser=coarser, law=law, uptake=uptake),
                         until_s=recipe.time_s + 1)
            low, high = (coarser, high) if replace(found, drips=()).stopped(recipe.time_s).settled_g < recipe.yield_g else (low, coarser)
        if found.first_drop_s is not None:
            uptake *= drop_s / found.first_drop_s
    return coarser, uptake
