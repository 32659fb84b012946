"""Readings of a scale, written out in a test as what stood on it and for how long."""

from collections.abc import Callable

from kiosk.bar.live import Sample, Sighting


class Scale:
    """Feeds a watch at `hz`; `told` are all sightings so far, each with when it was told."""

    def __init__(self, watch, hz: float = 10.0):
        self.watch, self.hz, self.readings = watch, hz, 0
        self.told: list[tuple[float, Sighting]] = []

    @property
    def t_s(self) -> float:
        return self.readings / self.hz

    def shows(self, grams: float | Callable[[float], float], for_s: float) -> None:
        """Tenths of a gram, as cheap scales send; a callable is given the seconds since it began."""
        began = self.readings
        while self.readings - began < round(for_s * self.hz):
            load_g = grams((self.readings - began) / self.hz) if callable(grams) else grams
            self.readings += 1
            self.heard(self.watch.saw(Sample(self.t_s, round(load_g, 1))))

    def heard(self, sightings: tuple[Sighting, ...]) -> None:
        self.told += [(self.t_s, sighting) for sighting in sightings]

    def all(self, kind: type) -> list[Sighting]:
        return [sighting for _, sighting in self.told if isinstance(sighting, kind)]
