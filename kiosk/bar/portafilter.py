"""The dose: what rests on the scale, less the empty portafilter under it."""

from collections import deque

from kiosk.bar.live import DoseRead, DoseUnclear, PortafilterSet, Sample, Sighting
from kiosk.bar.recipe import Recipe

REST_S = 0.6               # a load that kept still this long rests; leaves 0.4 s of the second in which a dose is told
REST_FLOW_G_PER_S = 0.15   # slower than this is a scale finding its last tenth, not a grinder running
REST_SPREAD_G = 0.25
NEW_VALUE_G = 0.15         # a tenth of a gram back and forth is flicker, not a new dose
SAME_EMPTY_G = 0.5         # drops of water and the last crumbs on an emptied portafilter
PORTAFILTER_FROM_G = 100.0
DOSE_FROM_G, DOSE_TO_G = 1.0, 45.0
BARE_WITHIN_G = 2.0


def to_mend_g(recipe: Recipe, dose_g: float) -> float | None:
    """Grams to add (+) or to take out (−) to reach the recipe's dose; None where the dose is within tolerance."""
    low_g, high_g = recipe.dose_window_g
    # The scale shows tenths: 16.5 read as 16.500000000000028 is still the edge of the window, not outside it.
    return None if low_g - 1e-6 <= dose_g <= high_g + 1e-6 else round(recipe.dose_g - dose_g, 2)


class DoseWatch:
    """Watches one portafilter being dosed. `empties` are (name, grams) of the station's own, weighed once.

    A known portafilter needs no tare and no tap. Where it is not known, the first load above 100 g that rests is
    taken for the empty. A light load (a dosing cup, or a portafilter tared on the scale's own button) is the dose.
    """

    def __init__(self, recipe: Recipe, empties: tuple[tuple[str, float], ...] = (), t_s: float = 0.0):
        self.recipe, self.empties = recipe, tuple(empties)
        self.since_s = t_s
        self.grams: float | None = None      # on the scale now, less whatever is tared
        self._recent: deque[Sample] = deque()
        self._zero_g = 0.0
        self._tare: tuple[float, str | None] | None = None
        self._by_hand = False
        self._told_g: float | None = None

    @property
    def holds_empty(self) -> bool:
        """An empty portafilter is on the scale and tared: grind into it, or lift it and bring it back dosed."""
        return self._tare is not None and self.grams is not None and abs(self.grams) < DOSE_FROM_G

    @property
    def holds_empty(self) -> bool:
        """Whether what is on the scale now is the tared portafilter and next to nothing in it."""
        return self._tare is not None and self.grams is not None and abs(self.grams) < DOSE_FROM_G

    def tared(self, t_s: float) -> tuple[Sighting, ...]:
        """A hand asked for a tare at `t_s`: what is on the scale now counts as empty from here on."""
        if not self._recent:
            return ()
        load_g = self._recent[-1].grams
        self._tare, self._by_hand, self._told_g = (load_g, None), True, None
        self._recent.clear()
        return (PortafilterSet(t_s, load_g),)

    def lost(self, t_s: float) -> tuple[Sighting, ...]:
        """The scale went away; whatever is on it when it comes back has to rest anew."""
        self._recent.clear()
        self.grams = None
        return ()

    def saw(self, sample: Sample) -> tuple[Sighting, ...]:
        if self._recent and sample.t_s <= self._recent[-1].t_s:
            return ()
        self._recent.append(sample)
        while sample.t_s - self._recent[0].t_s > REST_S + 0.05:
            self._recent.popleft()
        self.grams = sample.grams - (self._tare[0] if self._tare else self._zero_g)
        load_g = self._resting_g()
        return () if load_g is None else self._rests(sample.t_s, load_g)

    def _resting_g(self) -> float | None:
        seen = self._recent
        span_s = seen[-1].t_s - seen[0].t_s
        if len(seen) < 3 or span_s < REST_S - 0.11:
            return None
        half = len(seen) // 2
        early, late = [s.grams for s in seen][:half], [s.grams for s in seen][-half:]
        drift = (sum(late) - sum(early)) / half / (span_s / 2)
        spread = max(s.grams for s in seen) - min(s.grams for s in seen)
        if abs(drift) > REST_FLOW_G_PER_S or spread > REST_SPREAD_G:
            return None
        return sum(late) / half

    def _rests(self, t_s: float, load_g: float) -> tuple[Sighting, ...]:
        if abs(load_g) < BARE_WITHIN_G and not self._by_hand:
            self._zero_g = load_g
            self._told_g = None
            return ()
        above_g = load_g - self._zero_g
        if self._tare:
            if DOSE_FROM_G <= load_g - self._tare[0] <= DOSE_TO_G:
                return self._told(t_s, load_g - self._tare[0], self._tare[1])
            if self._by_hand or abs(load_g - self._tare[0]) < DOSE_FROM_G:
                return ()
        empty = [(name, grams) for name, grams in self.empties if abs(above_g - grams) <= SAME_EMPTY_G]
        fits = [(name, grams) for name, grams in self.empties
                if abs(above_g - grams - self.recipe.dose_g) <= self.recipe.dose_g / 2]
        if len(fits) == 1 and not empty:
            return self._told(t_s, above_g - fits[0][1], fits[0][0])
        if len(empty) == 1 and not fits:
            self._tare, self._told_g = (load_g, empty[0][0]), None
            return (PortafilterSet(t_s, above_g, empty[0][0]),)
        if fits:
            return self._unclear(t_s, above_g, tuple(name for name, _ in dict(empty + fits).items()))
        if above_g > PORTAFILTER_FROM_G:
            self._tare, self._told_g = (load_g, None), None
            return (PortafilterSet(t_s, above_g),)
        if DOSE_FROM_G <= above_g <= DOSE_TO_G:
            return self._told(t_s, above_g, None)
        return ()

    def _told(self, t_s: float, dose_g: float, portafilter: str | None) -> tuple[Sighting, ...]:
        if self._told_g is not None and abs(dose_g - self._told_g) < NEW_VALUE_G:
            return ()
        self._told_g = dose_g
        return (DoseRead(t_s, round(dose_g, 2), portafilter),)

    def _unclear(self, t_s: float, above_g: float, names: tuple[str, ...]) -> tuple[Sighting, ...]:
        if self._told_g is not None and abs(above_g - self._told_g) < NEW_VALUE_G:
            return ()
        self._told_g = above_g
        return (DoseUnclear(t_s, names),)
