"""A puck of ground coffee with hot water driven through it.

Darcy's law: a bed of permeability k (m²), depth L and cross-section A lets through k·A·Δp / (μ·L) cubic metres a
second. Before the first drop the water has to wet the bed; its front, driven by the same pressure through the part
already wet, gets as far as √(2 ∫k·Δp/μ dt / uptake) (Green and Ampt, Journal of Agricultural Science 4, 1911, 1–24).
A soft or a tilted tamp leaves a channel: a second, narrow column beside the first, looser, and washed wider as it runs.

No law is the truth. Whatever is estimated from a pull is to be tested against all of `LAWS`.
"""

from dataclasses import dataclass, replace
from functools import lru_cache
from math import exp, pi, sqrt
from random import Random

from hardware.practice.stream import Stream
from hardware.practice.water import density_kg_per_m3, viscosity_pa_s

DARCY, FINES, DISSOLVING = "darcy", "fines", "dissolving"
LAWS = (DARCY, FINES, DISSOLVING)
BORE_M = {"double": 0.058, "single": 0.041}       # common practice; the single's is half the double's area
USUAL_DOSE_G = {"double": 16.0, "single": 8.0}
TAMP_N = 150.0                                    # about 15 kg of push, common practice
BED_KG_PER_M3 = 420.0                             # dry, tamped (from memory)
UPTAKE = 0.5                                      # share of the bed's volume that fills before a drop falls (chosen)
PACKING = 0.8                                     # plain Darcy gives 1.7 s a gram; common practice is nearer 3
NOTCH = 0.08                                      # a notch coarser lets 8 % more through: 4 % larger grains, as k ∝ d²
CRACK_SHARE, CRACK_LETS = 0.05, 16.0              # of the bed, and how much more runs there: the stream doubles or so (chosen)
TURBULENCE = 1.0e13                               # Pa·s²/m³, in the law with turbulence (chosen)
STEAM_C = 99.0                                    # first water at least so hot spits
LONGEST_S = 60.0
DT_S = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Puck:
    """What was locked in. `coarser` is how many notches coarser its grounds are than the right grind (finer: < 0).

    `tamp_n` is the push of the tamp in newtons; `tilt` is 0 (level) to 1 (a finger's breadth off). `cracks_s` is when the
    water breaks a way through a bed that was not spread level, in seconds from pump on (None: it holds).
    """

    basket: str = "double"
    dose_g: float = 16.0
    coarser: float = 0.0
    tamp_n: float = TAMP_N
    tilt: float = 0.0
    law: str = DARCY
    cracks_s: float | None = None
    uptake: float = UPTAKE

    @property
    def area_m2(self) -> float:
        return pi * BORE_M[self.basket] ** 2 / 4

    @property
    def depth_m(self) -> float:
        return self.dose_g / 1000 / (BED_KG_PER_M3 * self.area_m2)

    @property
    def permeability_m2(self) -> float:
        packed = (self.dose_g / USUAL_DOSE_G[self.basket]) ** -PACKING
        tamped = (max(self.tamp_n, 10.0) / TAMP_N) ** -0.12
        return permeability_for(self.law) * exp(NOTCH * self.coarser) * packed * tamped

    @property
    def unevenness(self) -> float:
        """How badly it is packed: 0 for a level tamp of at least half the usual push, about 1 for a spoilt one."""
        return max(self.tilt, 0.0) + max(0.0, 1 - 2 * self.tamp_n / TAMP_N)


@dataclass(frozen=True, slots=True, kw_only=True)
class PracticeGroup:
    """The group and its pump. `first_water_c` is what stands in the group at pump on: not `water_c` if not purged.

    `ramp_s` is the time constant of the pressure's rise, `relief_s` of its fall after the stop, `spout_s` that of the
    spouts' draining.
    """

    pressure_pa: float = 9e5
    water_c: float = 93.0
    first_water_c: float = 93.0
    ramp_s: float = 0.5
    relief_s: float = 0.25
    spout_s: float = 0.35


@dataclass(slots=True)
class _Column:
    """A part of the puck while water runs through it."""

    area_m2: float
    k_m2: float
    widens: float = 0.0                           # relative gain in permeability a second, once wet
    wetted: float = 0.0                           # ∫k·Δp/μ dt, m²
    wet_s: float | None = None
    passed_kg: float = 0.0
    cracks_s: float | None = None


def pull(puck: Puck, group: PracticeGroup = PracticeGroup(), seed: int = 0, until_s: float = LONGEST_S) -> Stream:
    """Run the pump on `puck`; stop it later with `Poured.stopped`. The same seed gives the same pull.

    Raises ValueError where the basket or the law is not known, or the dose is not above zero.
    """
    if puck.basket not in BORE_M or puck.law not in LAWS or puck.dose_g <= 0:
        raise ValueError(f"no such puck: {puck}")
    return _run(puck, puck.permeability_m2, group, Random(seed), until_s)


def _run(puck: Puck, k_m2: float, group: PracticeGroup, chance: Random, until_s: float) -> Stream:
    depth_m, dose_kg, uneven = puck.depth_m, puck.dose_g / 1000, puck.unevenness
    if group.first_water_c >= STEAM_C:
        uneven += 0.3                             # water flashing to steam breaks the top of the puck
    share = min(0.07 * uneven, 0.2)
    columns = [_Column(puck.area_m2 * (1 - share), k_m2)]
    if uneven > 0:
        columns.append(_Column(puck.area_m2 * share, (1.6 + 1.6 * uneven) * k_m2, widens=chance.uniform(0.04, 0.08)))
    if puck.cracks_s is not None:
        cracked = CRACK_SHARE * puck.area_m2
        columns[0].area_m2 -= cracked
        columns.append(_Column(cracked, k_m2, cracks_s=puck.cracks_s))

    left_g, cup_g, first_drop_s = [0.0], [0.0], None
    for i in range(1, int(until_s / DT_S) + 1):
        now_s = i * DT_S
        pressure_pa = group.pressure_pa * (1 - exp(-now_s / group.ramp_s))
        water_c = group.water_c + (group.first_water_c - group.water_c) * exp(-now_s / 6)
        mu, rho = viscosity_pa_s(water_c), density_kg_per_m3(water_c)
        out_kg = 0.0
        for column in columns:
            running_s = DT_S
            if column.wet_s is None:
                step = column.k_m2 * pressure_pa / mu * DT_S
                missing = puck.uptake * depth_m**2 / 2 - column.wetted
                column.wetted += step
                if step < missing:
                    continue
                column.wet_s = now_s - DT_S * (1 - missing / step)
                running_s = now_s - column.wet_s
                if first_drop_s is None or column.wet_s < first_drop_s:
                    first_drop_s = column.wet_s
            washed_m2 = column.k_m2 * exp(min(column.widens * (now_s - column.wet_s), 1.5))
            if column.cracks_s is not None and now_s >= column.cracks_s:
                washed_m2 *= CRACK_LETS
            part_kg = dose_kg * column.area_m2 / puck.area_m2
            clogs = 0.0 if column.widens else column.passed_kg / part_kg   # a channel is washed clean
            speed = _speed_m_per_s(puck.law, washed_m2, pressure_pa / depth_m, mu, clogs)
            passed_kg = speed * column.area_m2 * rho * running_s
            column.passed_kg += passed_kg
            out_kg += passed_kg
        left_g.append(left_g[-1] + out_kg * 1000)
        # the spouts drain at their own pace: exact for a constant inflow over the step
        hanging_g, keeps = left_g[-2] - cup_g[-1], exp(-DT_S / group.spout_s)
        hanging_g = hanging_g * keeps + out_kg * 1000 / DT_S * group.spout_s * (1 - keeps)
        cup_g.append(left_g[-1] - hanging_g)

    drips = tuple((round(chance.uniform(0.8, 4.5), 2), round(chance.uniform(0.03, 0.08), 3))
                  for _ in range(chance.randint(0, 4)))
    return Stream(dt_s=DT_S, left_g=tuple(left_g), cup_g=tuple(cup_g), first_drop_s=first_drop_s,
                  relief_s=group.relief_s, spout_s=group.spout_s, drips=drips)


def _speed_m_per_s(law: str, k_m2: float, pa_per_m: float, mu: float, passed: float) -> float:
    """Water's speed through a wet column, `passed` being the grams that already ran through for each gram of coffee."""
    if law == DARCY:
        return k_m2 * pa_per_m / mu
    if law == DISSOLVING:                         # what dissolves leaves room: the flow grows to 1.6 times its first
        return k_m2 * (0.8 + 0.48 * min(passed / 3, 1.0)) * pa_per_m / mu
    # fines are washed down and clog the holes, and turbulence costs pressure, about a seventh of it at the usual flow:
    # Forchheimer's law, Zeitschrift des Vereins deutscher Ingenieure 45 (1901) 1782–1788
    k_m2 *= 0.8 + 0.6 * exp(-passed / 0.7)
    linear = mu / k_m2
    return (sqrt(linear**2 + 4 * TURBULENCE * pa_per_m) - linear) / (2 * TURBULENCE)


@lru_cache
def permeability_for(law: str, settled_g: float = 50.4, time_s: float = 25.0) -> float:
    """The permeability, m², with which the usual double settles at `settled_g` when stopped after `time_s`.

    It is what the right grind is taken to be under that law. Raises ValueError where no puck could do it.
    """
    low_m2, high_m2 = 1e-16, 1e-12
    puck = Puck(law=law)

    def settles_g(k_m2: float) -> float:
        return replace(_run(puck, k_m2, PracticeGroup(), Random(0), time_s + 1), drips=()).stopped(time_s).settled_g

    if not settles_g(low_m2) <= settled_g <= settles_g(high_m2):
        raise ValueError(f"no puck gives {settled_g} g in {time_s} s")
    while high_m2 / low_m2 > 1.00001:
        middle_m2 = sqrt(low_m2 * high_m2)
        if settles_g(middle_m2) < settled_g:
            low_m2 = middle_m2
        else:
            high_m2 = middle_m2
    return high_m2
