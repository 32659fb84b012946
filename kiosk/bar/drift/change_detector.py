"""One setting run: where its centre is, whether it has moved, and how sure one can be after a handful of pulls.

Ordinary charts need twenty quiet pulls to learn a centre. Here centre, spread and change are weighed together, on a
grid, from the first pull: each likely pair of a centre and a spread carries its own evidence for "no change", for
"moved by so much" (several sizes, each way; a level that has moved may move on, which is how a slow ramp is caught) and
for "the spread has grown". Summed over every pull at which the change may have come, that is the Shiryaev-Roberts
statistic (Shiryaev, 1963; Roberts, Technometrics 8, 1966), its centre and spread averaged over what the recipe and the
past say of them. While nothing changes it grows by one a pull on average, so the mean number of pulls to a false alarm
is at least the threshold (Pollak, Annals of Statistics 13, 1985).

Each pull is, with a small chance, an odd one that says nothing of the grinder: no single pull can raise the alarm.
All lengths are in units of the spread expected before the setting run, on a lattice of quarters.
"""

from dataclasses import dataclass
from math import exp, pi, sqrt

STEP = 0.25
REACH = 40                        # the centre lies within ± 40 quarters, 10 spreads, of the recipe
FARTHEST = 11.5                   # a pull further off than this is taken to be this far off
ODD, ODD_DENSITY = 0.05, 1 / 24   # share of odd pulls, and their density: anywhere in ± 12 spreads
WIDE = 2.5                        # times as wide as the others are the pulls of a tail
SLIGHT = 0.005                    # a tail of fewer is none
SIZES = (0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 6.0, 8.5, 11.0)
SIZE_WEIGHTS = (0.04, 0.16, 0.34, 0.32, 0.10, 0.02, 0.008, 0.006, 0.003, 0.003)
ONWARD = 0.08                     # chance, a pull, that a level that has moved moves on to the next size
LATE, LATE_FROM, LATE_TO = 0.15, 1.5, 14.0    # share of taps that come late, and by how many spreads (common practice)
WIDER, WIDER_WEIGHT = 1.9, 0.05
SPREAD_STEP = 0.2                 # two spreads of the grid lie no further apart than this, in the logarithm
HAZARD = 1 / 150                  # chance, a pull, that a real grinder moves: for the level, not for the alarm
UNLIKELY = 1e-6
TRIMMED = 8                       # what counts for nothing is looked for on the first pulls and then on every so manieth
ENOUGH = 1e12                     # evidence past which more is not kept: a grinder left alone stays far past any alarm

_SHIFTS = tuple(side * round(size / STEP) for side in (1, -1) for size in SIZES)
_N = len(SIZES)
_FAR = max(_SHIFTS)
_ROOT = 1 / sqrt(2 * pi)


@dataclass(frozen=True, slots=True)
class Sight:
    """What a setting run shows after a pull; lengths in units of the spread expected beforehand.

    `slower`, `faster`, `wider`: evidence (Shiryaev-Roberts) for each kind of change. `odd`: chance that this pull says
    nothing of the grinder. `spread`: of single pulls. `centres`: where the setting run began, `levels`: where it is now,
    each as (value, probability).
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


class ChangeDetector:
    """`anchors`: (weight, centre, sd) of what the recipe and the setting run before say of the centre.

    `doubt`: how unsure the spread is, as a standard deviation of its logarithm (0.05–0.5). `tail`: the share of pulls that
    lie wide (0–0.2).
    """

    def __init__(self, anchors: tuple[tuple[float, float, float], ...], doubt: float, tail: float = 0.0) -> None:
        self.tail = tail
        self.pulls, self.still = 0, 1.0        # `still`: what `calm` adds up to, by which all that is kept is divided
        each_side = max(1, round(sqrt(3) * doubt / SPREAD_STEP))
        nodes = [k * sqrt(3) / each_side for k in range(-each_side, each_side + 1)]
        weights = [exp(-0.5 * node ** 2) for node in nodes]
        self.ratios = [exp(node * doubt) for node in nodes]
        self.lowest = -REACH
        prior = [sum(w / sd * exp(-0.5 * ((i * STEP - c) / sd) ** 2) for w, c, sd in anchors)
                 for i in range(-REACH, REACH + 1)]
        # for each spread, over the centres from `lowest` up: no change; moved, by each shift; wider
        total = sum(prior) * sum(weights)
        self.calm = [[w * p / total for p in prior] for w in weights]
        self.moved = [[[0.0] * len(prior) for _ in _SHIFTS] for _ in nodes]
        self.wider = [[0.0] * len(prior) for _ in nodes]
        self._trim()

    def memory(self) -> dict:
        """As JSON can hold it, to four figures: ten kilobytes or so."""
        short = [[_short(row, self.still) for row in rows] for rows in (self.calm, self.wider, *self.moved)]
        return {"pulls": self.pulls, "tail": self.tail, "ratios": self.ratios, "lowest": self.lowest, "calm": short[0],
                "wider": short[1], "moved": short[2:]}

    @classmethod
    def restored(cls, memory: dict) -> "ChangeDetector":
        """The setting run that `memory` was taken from. Raises KeyError where it is not whole."""
        detector = cls.__new__(cls)
        for name in ("pulls", "tail", "ratios", "lowest", "calm", "moved", "wider"):
            setattr(detector, name, memory[name])
        detector.still = sum(map(sum, detector.calm))
        return detector

    def update(self, x: float, blur: float = 0.0, tapped: bool = False) -> Sight:
        """One pull, `x` off the recipe, blurred by a further `blur` of noise that is known to be there. `tapped`: its
        end was told by a finger alone, which may have come late."""
        self.pulls += 1
        x = max(-FARTHEST, min(FARTHEST, x))
        width, scale = len(self.calm[0]), 1 / self.still
        for j, ratio in enumerate(self.ratios):
            near = _densities(x, sqrt(ratio ** 2 + blur ** 2), self.lowest - _FAR, width + 2 * _FAR, tapped, scale, self.tail)
            wide = _densities(x, sqrt((WIDER * ratio) ** 2 + blur ** 2), self.lowest, width, tapped, scale, self.tail)
            calm, moved = self.calm[j], self.moved[j]
            self.wider[j] = [(e + WIDER_WEIGHT * c) * f for e, c, f in zip(self.wider[j], calm, wide)]
            after = []
            for n, shift in enumerate(_SHIFTS):
                weight, first, last = 0.5 * SIZE_WEIGHTS[n % _N], n % _N == 0, n % _N == _N - 1
                stay, density = 1.0 if last else 1 - ONWARD, near[_FAR + shift:_FAR + shift + width]
                if first:
                    after.append([(e * stay + weight * c) * f for e, c, f in zip(moved[n], calm, density)])
                else:
                    after.append([(e * stay + less * ONWARD + weight * c) * f
                                  for e, less, c, f in zip(moved[n], moved[n - 1], calm, density)])
            self.moved[j] = after
            self.calm[j] = [c * f for c, f in zip(calm, near[_FAR:_FAR + width])]
        self.still = sum(map(sum, self.calm))
        changed = sum(map(sum, self.wider)) + sum(sum(map(sum, rows)) for rows in self.moved)
        if changed > ENOUGH * self.still:
            self._hold(ENOUGH * self.still / changed)
        if self.pulls < TRIMMED or self.pulls % TRIMMED == 0:
            self._trim(changed / self.still)
        return self.sight(min(1.0, ODD * ODD_DENSITY / self.still))

    def _hold(self, share: float) -> None:
        """Keep only that share of the evidence for a change."""
        self.wider = [[e * share for e in row] for row in self.wider]
        self.moved = [[[e * share for e in row] for row in rows] for rows in self.moved]

    def _trim(self, changed: float = 1.0) -> None:
        """Drop the centres at either end that count for nothing, changed or not."""
        calm = [sum(column) for column in zip(*self.calm)]
        rest = [sum(column) for column in zip(*self.wider, *(row for rows in self.moved for row in rows))]
        share = 1 / max(1.0, min(changed, ENOUGH))
        likely = [i for i, (c, r) in enumerate(zip(calm, rest)) if c + r * share > UNLIKELY * self.still]
        start, stop = likely[0], likely[-1] + 1
        if stop - start < len(calm):
            self.lowest += start
            self.calm = [row[start:stop] for row in self.calm]
            self.wider = [row[start:stop] for row in self.wider]
            self.moved = [[row[start:stop] for row in rows] for rows in self.moved]

    def sight(self, odd: float = 0.0) -> Sight:
        """What the setting run shows now; `odd` is the chance that its last pull says nothing of the grinder."""
        norm, width = 1 / self.still, len(self.calm[0])
        centres = [norm * sum(column) for column in zip(*self.calm)]
        wider = [norm * sum(column) for column in zip(*self.wider)]
        moved = [norm * sum(sum(rows[n]) for rows in self.moved) for n in range(2 * _N)]
        levels = [0.0] * (width + 2 * _FAR)
        levels[_FAR:_FAR + width] = [c + HAZARD * w for c, w in zip(centres, wider)]
        for n, shift in enumerate(_SHIFTS):
            if HAZARD * moved[n] > UNLIKELY:
                for i, column in enumerate(zip(*(rows[n] for rows in self.moved)), _FAR + shift):
                    levels[i] += HAZARD * norm * sum(column)
        total = sum(levels)
        return Sight(
            slower=sum(moved[:_N]), faster=sum(moved[_N:]), wider=sum(wider), odd=odd, spread=self._spread(),
            centres=tuple((i * STEP, c) for i, c in enumerate(centres, self.lowest)),
            levels=tuple((i * STEP, p / total) for i, p in enumerate(levels, self.lowest - _FAR) if p))

    def _spread(self) -> float:
        """Of single pulls, where a change has come as often as real grinders move."""
        weights = [sum(calm) + HAZARD * (sum(wide) + sum(map(sum, rows)))
                   for calm, wide, rows in zip(self.calm, self.wider, self.moved)]
        return sum(r * w for r, w in zip(self.ratios, weights)) / sum(weights)


def _short(row: list[float], still: float) -> list[float]:
    return [float(f"{e / still:.4g}") if e > 1e-8 * still else 0 for e in row]


def _densities(x: float, sd: float, lowest: int, many: int, tapped: bool, scale: float, tail: float) -> list[float]:
    """Density of a pull at `x` about each of `many` lattice points from `lowest` up, times `scale`."""
    late = LATE if tapped else 0.0
    top, bend, floor = scale * (1 - ODD - late - tail) * _ROOT / sd, -0.5 / sd ** 2, scale * ODD * ODD_DENSITY
    squares = [(x - i * STEP) ** 2 for i in range(lowest, lowest + many)]
    if tail < SLIGHT:
        near = [top * exp(bend * square) + floor for square in squares]
    else:
        wide, flat = scale * tail * _ROOT / sd / WIDE, bend / WIDE ** 2
        near = [top * exp(bend * square) + wide * exp(flat * square) + floor for square in squares]
    if tapped:
        for n in range(many):
            if LATE_FROM <= x - (lowest + n) * STEP <= LATE_TO:
                near[n] += scale * late / (LATE_TO - LATE_FROM)
    return near
