"""One grinder, one group and whoever stands there: what a practice shift and a new hire's practice are played on."""

from dataclasses import dataclass, replace
from random import Random

from hardware.practice.grinder import PracticeGrinder
from hardware.practice.platform import Platform
from hardware.practice.puck import DARCY, TAMP_N, UPTAKE, PracticeGroup, Puck, pull
from hardware.practice.stream import Stream


@dataclass(frozen=True, slots=True, kw_only=True)
class Faults:
    """What is secretly wrong. `coarser`: the collar's notches off (finer: < 0). `dose_g`: added to each dose unseen.
    `cracks_s`: when the water breaks through a bed that was not spread."""

    coarser: float = 0.0
    dose_g: float = 0.0
    tamp_n: float = TAMP_N
    tilt: float = 0.0
    purge_skipped: bool = False
    cracks_s: float | None = None


class PracticeBar:
    """Grind, dose, tamp, purge, pull, with chance by `seed` and time by `scale`'s clock or by `now_s`.

    With a scale, a pull pours onto it as long as something stands there. `idle_water_c` is what an unpurged group
    gives first. `dose_sd_g`, `tamp_sd` (relative) and `grind_sd` (notches) are how much a steady hand and grinder
    wander from pull to pull. `uptake` is the share of the bed that fills before a drop falls.
    """

    def __init__(self, *, scale: Platform | None = None, grinder: PracticeGrinder = PracticeGrinder(),
                 group: PracticeGroup = PracticeGroup(), faults: Faults = Faults(), law: str = DARCY, seed: int = 0,
                 dose_sd_g: float = 0.15, tamp_sd: float = 0.1, grind_sd: float = 0.2, idle_water_c: float = 103.0,
                 uptake: float = UPTAKE):
        self.scale, self.grinder, self.group, self.faults, self.law = scale, grinder, group, faults, law
        self.dose_sd_g, self.tamp_sd, self.grind_sd, self.idle_water_c = dose_sd_g, tamp_sd, grind_sd, idle_water_c
        self.uptake = uptake
        self.purged = False
        self.running_h = 0.0              # hours since the grinder was switched on: set it to let the day go by
        self.wasted_g = 0.0
        self.poured: Stream | None = None
        self._began_s: float | None = None
        self._dosed_g: float | None = None
        self._coarser = 0.0
        self._chance = Random(seed)

    def dose(self, target_g: float) -> float:
        """Grind for one pull; the true grams that ended up in the basket. Put them on the scale yourself."""
        dosed_g = max(1.0, self._chance.gauss(target_g + self.faults.dose_g, self.dose_sd_g))
        self.grinder, coarser = self.grinder.ground(dosed_g, self.running_h)
        self._coarser = coarser + self.faults.coarser + self._chance.gauss(0, self.grind_sd)
        self._dosed_g = dosed_g
        return dosed_g

    def mend_dose(self, grams: float) -> float:
        """Add `grams` to the dose, or take them out (< 0); the true grams it is then."""
        self._dosed_g = max(1.0, self._need_dose() + grams)
        self.wasted_g += max(0.0, -grams)
        return self._dosed_g

    def move_notch(self, notches: int) -> int:
        """Turn the collar, coarser for more than 0; where it then stands."""
        self.grinder = self.grinder.moved(notches)
        return self.grinder.notch

    def purge_grounds(self, grams: float) -> None:
        """Grind `grams` into the bin, so that the next dose is of the new setting."""
        self.grinder, _ = self.grinder.ground(grams, self.running_h)
        self.wasted_g += grams

    def purge_group(self) -> None:
        """Flush the group: the next pull begins with water as hot as the rest. Nothing, where that is the fault."""
        self.purged = not self.faults.purge_skipped

    def begin_pull(self, *, basket: str = "double", tamp_n: float | None = None, tilt: float | None = None) -> Stream:
        """Lock in what was dosed and start the pump. What is poured goes by the scale's clock, where there is one.

        Raises RuntimeError if nothing was dosed since the last pull.
        """
        tamp_n = self.faults.tamp_n if tamp_n is None else tamp_n
        puck = Puck(basket=basket, dose_g=self._need_dose(), coarser=self._coarser, law=self.law, uptake=self.uptake,
                    cracks_s=self.faults.cracks_s,
                    tamp_n=max(20.0, tamp_n * self._chance.gauss(1, self.tamp_sd)),
                    tilt=self.faults.tilt if tilt is None else tilt)
        first_c = self.group.water_c if self.purged else self.idle_water_c
        self.poured = pull(puck, replace(self.group, first_water_c=first_c), seed=self._chance.getrandbits(32))
        self._dosed_g, self.purged = None, False
        if self.scale:
            self._began_s = self.scale.now_s()
            self.scale.pour(self.poured, self._began_s)
        return self.poured

    def stop_pump(self, at_s: float | None = None) -> Stream:
        """Stop the pump `at_s` seconds after it started (now, by the scale's clock, if left out). What falls in all."""
        if at_s is None and self.scale is not None and self._began_s is not None:
            at_s = self.scale.now_s() - self._began_s
        if self.poured is None or at_s is None:
            raise RuntimeError("no pump is running, or there is no scale whose clock says when it stops")
        self.poured = self.poured.stopped(at_s)
        if self.scale:
            self.scale.pour(self.poured, self._began_s)
        return self.poured

    def _need_dose(self) -> float:
        if self._dosed_g is None:
            raise RuntimeError("nothing has been dosed since the last pull: dose first")
        return self._dosed_g
