"""The dose: what rests on the scale, less the empty portafilter under it."""

from collections import deque
from math import inf

from kiosk.bar.model import Recipe
from kiosk.bar.weighing.sightings import (
    DoseRead,
    DoseUnclear,
    PortafilterSet,
    Sample,
    Sighting,
)

REST_S = 0.5               # a load that kept still this long rests; leaves 0.5 s of the second in which a dose is told
REST_G_PER_S = 0.15        # slower than this is a scale finding its last tenth, not a grinder running
REST_SPREAD_G = 0.5
TENTH_G = 0.101            # one step of a cheap scale, which a resting one may still flicker between
NEW_VALUE_G = 0.15         # a tenth of a gram back and forth is flicker, not a new dose
SAME_EMPTY_G = 0.5         # drops of water and the last crumbs on an emptied portafilter
TARE_WAITS_S = 1.5         # for a load that still swings when a hand asks
PORTAFILTER_FROM_G = 100.0
DOSE_FROM_G, DOSE_TO_G = 1.0, 45.0
BARE_WITHIN_G = 2.0


def to_mend_g(recipe: Recipe, dose_g: float) -> float | None:
    """Grams to add (+) or to take out (−) to reach the recipe's dose; None where the dose is within tolerance."""
    return None if recipe.dose_fits(dose_g) else round(recipe.dose_g - dose_g, 2)


class DoseWatch:
    """Watches one portafilter being dosed. `empties` are (name, grams) of the station's own, weighed once.

    A known portafilter needs no tare and no tap. Where it is not known, the first load above 100 g that rests is
    taken for the empty. A light load (a dosing cup, or a portafilter tared on the scale's own button) is the dose.
    `grams` is what lies on the scale, less whatever is tared; None while no reading has come.
    """

    def __init__(self, recipe: Recipe, empties: tuple[tuple[str, float], ...] = (), t_s: float = -inf):
        self.recipe, self.empties = recipe, tuple(empties)
        self.grams: float | None = None
        self._last_s = t_s
        self._recent: deque[Sample] = deque()
        self._zero_g = 0.0                   # what the scale shows with nothing on it that counts
        self._zero_by_hand = False
        self._tare_until_s = -inf
        self._empty_g: float | None = None   # of the portafilter at hand, tared
        self._name: str | None = None
        self._told_g: float | None = None
        self._stayed = False                 # the portafilter at hand has not left the plate since it was tared
        self.unclear = False                 # two portafilters could be it: which one, is to be shown

    @property
    def empty_g(self) -> float | None:
        """What the portafilter at hand weighs empty; None where there is none."""
        return self._empty_g

    @property
    def holds_empty(self) -> bool:
        """Whether what is on the scale now is the tared portafilter and next to nothing in it."""
        return self._empty_g is not None and self.grams is not None and abs(self.grams) < DOSE_FROM_G

    def tared(self, t_s: float) -> tuple[Sighting, ...]:
        """A hand asked for a tare at `t_s`: what rests on the scale then, or comes to rest there, counts as empty."""
        self._tare_until_s = t_s + TARE_WAITS_S
        load_g = self._resting_g()
        return () if load_g is None else self._rests(t_s, load_g)

    def lost(self, t_s: float) -> tuple[Sighting, ...]:
        """The scale went away; whatever is on it when it comes back has to rest anew."""
        self._recent.clear()
        self.grams = None
        return ()

    def observe(self, sample: Sample) -> tuple[Sighting, ...]:
        if sample.t_s <= self._last_s:
            return ()
        self._last_s = sample.t_s
        self._recent.append(sample)
        while sample.t_s - self._recent[0].t_s > REST_S + 0.05:
            self._recent.popleft()
        load_g = self._resting_g()
        if sample.grams - self._zero_g < PORTAFILTER_FROM_G:
            self._stayed = False
        seen = () if load_g is None else self._rests(sample.t_s, load_g)
        self.grams = sample.grams - self._zero_g - (self._empty_g or 0.0)
        return seen

    def _resting_g(self) -> float | None:
        grams = [sample.grams for sample in self._recent]
        if len(grams) < 3:
            return None
        span_s = self._recent[-1].t_s - self._recent[0].t_s
        spread_g = max(grams) - min(grams)
        if span_s < REST_S - 0.11 or spread_g > REST_SPREAD_G:
            return None
        half = len(grams) // 2
        drift_g = (sum(grams[-half:]) - sum(grams[:half])) / half
        still = spread_g <= TENTH_G or abs(drift_g) <= REST_G_PER_S * span_s / 2
        return sum(grams[-half:]) / half if still else None

    def _rests(self, t_s: float, load_g: float) -> tuple[Sighting, ...]:
        if t_s <= self._tare_until_s:
            self._tare_until_s = -inf
            return self._tared_by_hand(t_s, load_g)
        if abs(load_g) < BARE_WITHIN_G and not self._zero_by_hand:
            self._zero_g = load_g
            return ()
        above_g = load_g - self._zero_g
        if self._stayed and self._name is None and self._empty_g is not None \
                and DOSE_FROM_G <= above_g - self._empty_g <= DOSE_TO_G:
            return self._told(t_s, above_g - self._empty_g)      # it was shown empty a moment ago and has not left since
        dosed = tuple((name, grams) for name, grams in self.empties
                      if abs(above_g - grams - self.recipe.dose_g) <= self.recipe.dose_g / 2)
        bare = tuple((name, grams) for name, grams in self.empties if abs(above_g - grams) <= SAME_EMPTY_G)
        if len(dosed + bare) > 1:
            # Two could be it: the one that was shown empty before is.
            dosed = tuple(each for each in dosed if each[0] == self._name)
            if not dosed:
                return self._unclear(t_s, above_g)
        if dosed:
            if dosed[0][0] != self._name:
                self._told_g = None
            self._name, self._empty_g = dosed[0]
            return self._told(t_s, above_g - self._empty_g)
        if bare:
            return self._tare(t_s, above_g, bare[0][0])
        if self._empty_g is not None:
            dose_g = above_g - self._empty_g
            if abs(dose_g) < DOSE_FROM_G:
                return ()
            if DOSE_FROM_G <= dose_g <= DOSE_TO_G:
                return self._told(t_s, dose_g)
        if above_g > PORTAFILTER_FROM_G:
            return self._tare(t_s, above_g, None)
        if DOSE_FROM_G <= above_g <= 2 * self.recipe.dose_g:      # heavier, and it is a cup or a cloth
            self._name = self._empty_g = None
            return self._told(t_s, above_g)
        return ()

    def _tared_by_hand(self, t_s: float, load_g: float) -> tuple[Sighting, ...]:
        if load_g - self._zero_g > PORTAFILTER_FROM_G:
            return self._tare(t_s, load_g - self._zero_g, None)
        self._zero_g, self._zero_by_hand, self._empty_g, self._told_g = load_g, True, None, None
        return ()

    def _tare(self, t_s: float, empty_g: float, name: str | None) -> tuple[Sighting, ...]:
        again = self._empty_g is not None and name == self._name and abs(empty_g - self._empty_g) < DOSE_FROM_G
        self._empty_g, self._name, self._told_g, self.unclear, self._stayed = empty_g, name, None, False, True
        return () if again else (PortafilterSet(t_s, round(empty_g, 2), name),)

    def _told(self, t_s: float, dose_g: float) -> tuple[Sighting, ...]:
        self.unclear = False
        if self._told_g is not None and abs(dose_g - self._told_g) < NEW_VALUE_G:
            return ()
        self._told_g = dose_g
        return (DoseRead(t_s, round(dose_g, 2), self._name),)

    def _unclear(self, t_s: float, above_g: float) -> tuple[Sighting, ...]:
        if self._told_g is not None and abs(above_g - self._told_g) < NEW_VALUE_G:
            return ()
        self._told_g, self.unclear = above_g, True
        near = self.recipe.dose_g * 1.5
        could_be = tuple(name for name, grams in self.empties if -SAME_EMPTY_G <= above_g - grams <= near)
        return (DoseUnclear(t_s, could_be),)
