"""One stretch of pulls: where its centre is, whether it has moved, and how sure one can be after a handful of pulls.

Ordinary charts need twenty quiet pulls to learn a centre. Here the centre, the spread and the change are weighed
together, on a grid, from the first pull: every pair of a centre and a spread that is still likely carries its own
evidence for "no change", for "moved by so much" (several sizes, each way; a moved level may move on, which is how a
slow ramp is caught) and for "spread has grown". The sum of the evidence over every pull at which the change may have
come is the Shiryaev-Roberts statistic (Shiryaev, 1963; Roberts, Technometrics 8, 1966), here with the centre and the
spread averaged over what the past and the recipe say of them. In control it grows by one a pull on average, so the
mean number of pulls to a false alarm is at least the threshold (Pollak, Annals of Statistics 13, 1985).

Each pull is, with a small chance, an odd one that says nothing of the grinder: no single pull can raise the alarm.
All lengths are in units of the spread expected before the stretch, on a lattice of quarters.
"""

from dataclasses import dataclass
from math import exp, pi, sqrt

STEP = 0.25
REACH = 48                        # the centre lies within ± 48 quarters, 12 spreads, of the recipe
ODD, ODD_DENSITY = 0.05, 1 / 24   # share of odd pulls, and their density: anywhere in ± 12 spreads
SIZES = (0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0)
SIZE_WEIGHTS = (0.10, 0.20, 0.22, 0.18, 0.10, 0.06, 0.04, 0.03, 0.02, 0.02, 0.015, 0.015)
ONWARD = 0.08                     # chance, a pull, that a level that has moved moves on to the next size
WIDER, WIDER_WEIGHT = 1.9, 0.10
SPREADS = (-2.0, -1.0, 0.0, 1.0, 2.0)
SPREAD_WEIGHTS = (0.054, 0.242, 0.408, 0.242, 0.054)
HAZARD = 1 / 150                  # chance, a pull, that a real grinder moves: for the level, not for the alarm
UNLIKELY = 1e-6

_SHIFTS = tuple(round(size / STEP) for size in SIZES)
_N = len(SIZES)
_ROOT = 1 / sqrt(2 * pi)


@dataclass(frozen=True, slots=True)
class Sight:
    """What a stretch shows after a pull; lengths in units of the spread expected beforehand.

    `slower`, `faster`, `wider`: evidence (Shiryaev-Roberts) for each kind of change. `odd`: chance that this pull says
    nothing of the grinder. `levels`: the present level, as (value, probability); `centres`: where the stretch began.
    """

    slower: float
    faster: float
    wider: float
    odd: float
    spread: float
    centres: tuple[tuple[float, float], ...]
    levels: tuple[tuple[float, float], ...]

    @property
    def evidence(self) -> float:
        return self.slower + self.faster + self.wider


def mean_sd(weighed: tuple[tuple[float, float], ...]) -> tuple[float, float]:
    """Mean and standard deviation of (value, probability) pairs."""
    mean = sum(v * p for v, p in weighed)
    return mean, sqrt(max(0.0, sum((v - mean) ** 2 * p for v, p in weighed)))


class Stretch:
    """`anchors`: (weight, centre, sd) of what is thought of the centre beforehand, e.g. the recipe and the stretch before.

    `spread_doubt`: how unsure the spread is, as a standard deviation of its logarithm (0.05–0.5).
    """

    def __init__(self, anchors: tuple[tuple[float, float, float], ...], spread_doubt: float):
        self.pulls = 0
        self.ratios = tuple(exp(node * spread_doubt) for node in SPREADS)
        prior = [sum(w / sd * exp(-0.5 * ((i * STEP - c) / sd) ** 2) for w, c, sd in anchors)
                 for i in range(-REACH, REACH + 1)]
        total = sum(prior)
        # a cell: centre and spread → [no change, moved slower by each size, moved faster by each size, wider]
        self.cells = {(i, j): [p / total * SPREAD_WEIGHTS[j]] + [0.0] * (2 * _N + 1)
                      for i, p in zip(range(-REACH, REACH + 1), prior) for j in range(len(SPREADS))
                      if p / total > UNLIKELY}

    def memory(self) -> dict:
        return {"pulls": self.pulls, "ratios": list(self.ratios),
                "cells": [[i, j, *cell] for (i, j), cell in self.cells.items()]}

    @classmethod
    def resumed(cls, memory: dict) -> "Stretch":
        """The stretch that `memory` was taken from. Raises KeyError or TypeError where it is not whole."""
        stretch = cls.__new__(cls)
        stretch.pulls, stretch.ratios = memory["pulls"], tuple(memory["ratios"])
        stretch.cells = {(i, j): cell for i, j, *cell in memory["cells"]}
        return stretch

    def update(self, x: float, blur: float = 0.0) -> Sight:
        """One pull, `x` off the recipe, blurred by a further `blur` of noise that is known to be there."""
        self.pulls += 1
        lowest = min(i for i, _ in self.cells) - _SHIFTS[-1]
        highest = max(i for i, _ in self.cells) + _SHIFTS[-1]
        floor = ODD * ODD_DENSITY
        tables, wides = [], []
        for ratio in self.ratios:
            sd = sqrt(ratio ** 2 + blur ** 2)
            top, bend = (1 - ODD) * _ROOT / sd, -0.5 / sd ** 2
            tables.append([top * exp(bend * (x - i * STEP) ** 2) + floor for i in range(lowest, highest + 1)])
            sd = sqrt((WIDER * ratio) ** 2 + blur ** 2)
            top, bend = (1 - ODD) * _ROOT / sd, -0.5 / sd ** 2
            wides.append((top, bend))
        stay = 1 - ONWARD
        still = 0.0
        after = {}
        for (i, j), cell in self.cells.items():
            density, at = tables[j], i - lowest
            calm = cell[0]
            new = [calm * density[at]]
            for side in (1, -1):
                start = 1 if side == 1 else _N + 1
                before = 0.0
                for k in range(_N):
                    held = cell[start + k]
                    keep = stay if k < _N - 1 else 1.0
                    new.append((held * keep + ONWARD * before + 0.5 * SIZE_WEIGHTS[k] * calm)
                               * density[at + side * _SHIFTS[k]])
                    before = held
            top, bend = wides[j]
            new.append((cell[-1] + WIDER_WEIGHT * calm) * (top * exp(bend * (x - i * STEP) ** 2) + floor))
            still += new[0]
            after[i, j] = new
        cells = {}
        for key, cell in after.items():
            cell = [c / still for c in cell]
            if cell[0] + sum(cell) * HAZARD > UNLIKELY:
                cells[key] = cell
        self.cells = cells
        return self._sight(floor / still)

    def _sight(self, odd: float) -> Sight:
        centres, levels, spread = {}, {}, 0.0
        slower = faster = wider = 0.0
        for (i, j), cell in self.cells.items():
            centres[i] = centres.get(i, 0.0) + cell[0]
            levels[i] = levels.get(i, 0.0) + cell[0] + HAZARD * cell[-1]
            spread += self.ratios[j] * cell[0]
            slower += sum(cell[1:_N + 1])
            faster += sum(cell[_N + 1:2 * _N + 1])
            wider += cell[-1]
            for k, shift in enumerate(_SHIFTS):
                levels[i + shift] = levels.get(i + shift, 0.0) + HAZARD * cell[1 + k]
                levels[i - shift] = levels.get(i - shift, 0.0) + HAZARD * cell[_N + 1 + k]
        total = sum(levels.values())
        return Sight(slower, faster, wider, min(1.0, odd), spread,
                     tuple((i * STEP, p) for i, p in sorted(centres.items())),
                     tuple((i * STEP, p / total) for i, p in sorted(levels.items())))
