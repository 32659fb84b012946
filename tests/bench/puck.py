"""A puck of the benches' own, beside the laws of `hardware.practice`: flow grows with less than the pressure.

Flow goes as (pressure over resistance) to the power 0.75, the bed swells as it wets and washes out as it runs; a bad tamp
opens a channel past it. Nothing in `kiosk.bar` knows of it.
"""

from dataclasses import dataclass
from functools import lru_cache
from math import exp

from hardware import practice

POWER_LAW = "power"
LAWS = (POWER_LAW, *practice.LAWS)
YIELD_G = 50.4
DT_S = 0.1


@dataclass(frozen=True)
class Curve:
    """Grams in the cup at every step from pump on."""

    dt_s: float
    grams: tuple[float, ...]
    first_drop_s: float | None

    def time_to_s(self, grams: float) -> float:
        for n, (a, b) in enumerate(zip(self.grams, self.grams[1:])):
            if b >= grams:
                return (n + (grams - a) / (b - a)) * self.dt_s
        return len(self.grams) * self.dt_s

    def trace(self, until_s: float, every_s: float = 0.5) -> tuple[tuple[float, float], ...]:
        many, step = int(until_s / every_s) + 1, round(every_s / self.dt_s)
        return tuple((n * every_s, self.grams[min(n * step, len(self.grams) - 1)]) for n in range(many))


def run(law: str, dose_g: float, coarser: float, badly: float, seed: int, firmness: float = 1.0) -> Curve:
    """`coarser`: logarithm by which the bed lets more through; `badly`: 0 (level tamp) to 1; `firmness`: push, 1 usual."""
    if law == POWER_LAW:
        return _power(dose_g, coarser, badly, _bed() * firmness ** 0.15, 60.0)
    puck = practice.Puck(dose_g=dose_g, coarser=coarser / 0.08, tilt=badly, law=law, tamp_n=150.0 * firmness)
    poured = practice.pull(puck, seed=seed, until_s=42.0)
    return Curve(poured.dt_s, poured.cup_g, poured.first_drop_s)


@lru_cache
def _bed() -> float:
    low, high = 0.1, 10.0
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if _power(16.0, 0.0, 0.0, middle, 60.0).time_to_s(YIELD_G) < 25 else (low, middle)
    return low


def _power(dose_g: float, coarser: float, badly: float, bed: float, until_s: float) -> Curve:
    resistance = bed * exp(-coarser) * (dose_g / 16) ** 1.7
    thirst_g, drunk_g, channel_thirst_g, cup, first = 0.75 * dose_g, 0.0, badly, [0.0], None
    for n in range(1, int(until_s / DT_S) + 1):
        now_s = n * DT_S
        pressure = 1 - exp(-now_s / 0.7)
        out = 2.2 * (pressure / resistance) ** 0.75 * (1 + 0.35 * exp(-now_s / 5)) * (1 + 0.2 * (1 - exp(-cup[-1] / 25)))
        through = 0.9 * badly * pressure ** 0.5 * (0.4 + 1.2 * (1 - exp(-now_s / 12)))
        drunk_g += out * DT_S
        channel_thirst_g -= through * DT_S
        falls = (out * DT_S if drunk_g > thirst_g else 0.0) + (through * DT_S if channel_thirst_g < 0 else 0.0)
        if falls > 0 and first is None:
            first = now_s
        cup.append(cup[-1] + falls)
        if cup[-1] > 1.5 * YIELD_G:
            break
    return Curve(DT_S, tuple(cup), first)


@lru_cache
def seconds_per_coarser(law: str) -> float:
    """Seconds that a double takes less for each unit of `coarser`."""
    return (run(law, 16.0, -0.1, 0.0, 0).time_to_s(YIELD_G) - run(law, 16.0, 0.1, 0.0, 0).time_to_s(YIELD_G)) / 0.2


@lru_cache
def badness(law: str, tenths_s: int) -> float:
    """How bad a tamp shortens a double by so many tenths of a second."""
    right = run(law, 16.0, 0.0, 0.0, 0).time_to_s(YIELD_G)
    low, high = 0.0, 3.0
    for _ in range(14):
        middle = (low + high) / 2
        faster = right - run(law, 16.0, 0.0, middle, 0).time_to_s(YIELD_G)
        low, high = (middle, high) if faster < tenths_s / 10 else (low, middle)
    return high
