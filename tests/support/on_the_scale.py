"""Readings of a scale, written out in a test as what stood on it and for how long."""

from collections.abc import Callable
from math import exp

from kiosk.bar.weighing import Sample, Sighting


class Scale:
    """Feeds a watch at `hz`, filtered as scales do (time constant `lag_s`); `told` is (when, sighting) so far."""

    def __init__(self, watch, hz: float = 10.0, lag_s: float = 0.15):
        self.watch, self.hz, self.readings = watch, hz, 0
        self._keeps, self._shown_g = exp(-1 / hz / lag_s), 0.0
        self.shown: list[tuple[float, float]] = []
        self.told: list[tuple[float, Sighting]] = []

    @property
    def t_s(self) -> float:
        return self.readings / self.hz

    @property
    def rests_since_s(self) -> float:
        """Since when it has shown what it shows now, give or take a tenth."""
        return next((t for t, g in reversed(self.shown) if abs(g - self.shown[-1][1]) > 0.101), 0.0) + 1 / self.hz

    def shows(self, grams: float | Callable[[float], float], for_s: float) -> None:
        """Tenths of a gram, as cheap scales send; a callable is given the seconds since it began."""
        began = self.readings
        while self.readings - began < round(for_s * self.hz):
            load_g = grams((self.readings - began) / self.hz) if callable(grams) else grams
            self.readings += 1
            self._shown_g = load_g + (self._shown_g - load_g) * self._keeps
            self.shown.append((self.t_s, round(self._shown_g, 1)))
            self.heard(self.watch.observe(Sample(*self.shown[-1])))

    def heard(self, sightings: tuple[Sighting, ...]) -> None:
        self.told += [(self.t_s, sighting) for sighting in sightings]

    def all(self, kind: type) -> list[Sighting]:
        return [sighting for _, sighting in self.told if isinstance(sighting, kind)]
