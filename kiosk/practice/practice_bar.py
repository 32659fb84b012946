"""The practice bar as a lesson needs it: a pull is prepared with one hidden cause, runs, and is seen. No coffee."""

from random import Random

from hardware.practice import DARCY, Faults, PracticeBar, Stream
from kiosk.bar.model import DOUBLE, Recipe, usual
from kiosk.bar.training import Cause, SeenPull

COFFEE = "Practice"
LONGEST_S = 60.0        # then the pump stops by itself
AHEAD = 0.22            # of the stream goes over to one spout at a full tilt (chosen: flow goes as 1 / depth)
EYE = 0.015             # spread of what an eye makes of two even spouts
SPITS_S = 3.0           # a hot group's steam is gone by then (chosen)


class Practising:
    """One pull at a time: `prepare`, `begin`, look `at` it, `stop`. The same seed and causes give the same pulls."""

    def __init__(self, seed: int, law: str = DARCY):
        self._chance, self._law = Random(seed), law
        self.recipe: Recipe = usual(COFFEE, DOUBLE)
        self.poured: Stream | None = None
        self.dose_g = 0.0
        self.stopped_s: float | None = None

    def prepare(self, cause: Cause) -> None:
        """Someone has dosed, tamped and locked in, and perhaps not well."""
        chance = self._chance
        faults, self._left = Faults(), 0.5
        match cause:
            case Cause.FINE:
                faults = Faults(coarser=-chance.uniform(5, 6.5))
            case Cause.COARSE:
                faults = Faults(coarser=chance.uniform(5, 6.5))
            case Cause.OVER:
                faults = Faults(dose_g=chance.uniform(1.5, 2.5))
            case Cause.UNDER:
                faults = Faults(dose_g=-chance.uniform(1.5, 2.5))
            case Cause.SOFT:
                faults = Faults(tamp_n=chance.uniform(25, 45))
            case Cause.CROOKED:
                faults = Faults(tilt=chance.uniform(0.7, 1.0))
                self._left += AHEAD * faults.tilt * chance.choice((-1, 1))
            case Cause.UNPURGED:
                faults = Faults(purge_skipped=True)
        self._left += chance.gauss(0, EYE)
        self._spits = cause is Cause.UNPURGED
        self._bar = PracticeBar(faults=faults, law=self._law, seed=chance.getrandbits(32))
        self.dose_g = round(self._bar.dose(self.recipe.dose_g), 1)
        self._bar.purge_group()
        self.poured = self.stopped_s = None

    def begin(self) -> None:
        self.poured = self._bar.begin_pull(basket=DOUBLE)

    def stop(self, at_s: float) -> None:
        self.poured, self.stopped_s = self._bar.stop_pump(at_s), at_s

    # ---- what is to be seen `t_s` seconds after pump on -----------------------------------------------------------

    def grams(self, t_s: float) -> float:
        return round(self.poured(t_s), 1)

    def streams(self, t_s: float) -> tuple[float, float]:
        """Grams a second out of the left and the right spout."""
        flow = max(0.0, self.poured.flow_g_per_s(t_s))
        return flow * self._left, flow * (1 - self._left)

    def spits(self, t_s: float) -> bool:
        return self._spits and t_s < min(SPITS_S, self.poured.first_drop_s or SPITS_S)

    def first_drop_s(self, t_s: float) -> float | None:
        drop_s = self.poured.first_drop_s
        return drop_s if drop_s is not None and drop_s <= t_s else None

    @property
    def left(self) -> float:
        """The left spout's share of the stream."""
        return self._left

    @property
    def spat(self) -> bool:
        return self._spits

    def seen(self) -> SeenPull:
        """The pull once it is over. Raises RuntimeError while its pump runs."""
        if self.stopped_s is None:
            raise RuntimeError("the pump is still running: stop it first")
        return SeenPull(recipe=self.recipe, dose_g=self.dose_g, time_s=self.stopped_s,
                    yield_g=round(self.poured.settled_g, 1), first_drop_s=self.first_drop_s(self.stopped_s),
                    left=round(self._left, 2), spat=self._spits)
