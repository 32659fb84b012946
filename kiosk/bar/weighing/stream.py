"""The shape of a stream in a cup: straight stretches, where one begins and where it ends.

Points are (seconds, grams), in order of time. Plain least squares; each bend is found by trying its time on a grid,
the other unknowns being linear once it is fixed (variable projection: Golub and Pereyra, Inverse Problems 19 (2003)).
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import exp, log, sqrt

GATHER_S = 0.3     # from the first drop to a full stream, as a time constant: spouts, a puck wet unevenly (from memory)
FALL_S = 0.5       # from a shut valve to the last of the stream, likewise
FALLS_S = (0.15, 0.25, 0.4, 0.6, 0.9)     # and what a scale's own filter makes of it
BENDS = 10         # and one: the places of a bend that have their say
BEND_WITHIN_S = 0.3     # of a pump's own stop, as the signal told it and the group's bends taught
TAILS_S = (0.1, 0.15, 0.2, 0.3, 0.4, 0.55)     # a scale's filter
SET_DOWN_POINTS = 40       # at most: many fits are tried, while the screen waits
RAN_BEFORE_S, BEGINS_EVERY_S, SEEN_STREAM_S = 2.0, 0.1, 0.8      # beginnings that are tried: from before the cup until so long ago
NEXT_TO_NOTHING_G = 0.1
ALIKE = 3.0        # readings so near each other tell as much as a third of them would
FAR_G = 0.4        # from the fitted curve: more than hum and tenths make

Points = list[tuple[float, float]]


def line(points: Points, at_s: float) -> tuple[float, float]:
    """(grams at `at_s`, grams per second) of the straight line through two or more points."""
    n = len(points)
    mean_t = sum(t for t, _ in points) / n
    mean_g = sum(g for _, g in points) / n
    spread = sum((t - mean_t) ** 2 for t, _ in points)
    slope = sum((t - mean_t) * (g - mean_g) for t, g in points) / spread if spread else 0.0
    return mean_g + slope * (at_s - mean_t), slope


@dataclass(frozen=True, slots=True)
class SetDown:
    """A cup that was set down shortly before a stream began, or under one: what it weighs, ± 19 times in 20, when the scale had
    done with it, and when the stream began."""

    grams: float
    within_g: float
    settled_s: float
    begun_s: float


def set_down(points: Points, at_s: float) -> SetDown:
    """What was set down at `at_s`, of points that were seen since, over a second or more of stream.

    A scale's filter brings them up to a level, or to a stream that ran already, on which the stream gathers. Every such filter and
    every beginning has its say by how well it fits: where the stream hides the level, ± is wide.
    """
    points = thinned(points, SET_DOWN_POINTS)
    from_s, shown = points[0][0], _about_mean([g for _, g in points])
    tails = [(tail_s, _about_mean([exp((from_s - t) / tail_s) if tail_s else 0.0 for t, _ in points])) for tail_s in (0.0, *TAILS_S)]
    found, begins_s = [], at_s - RAN_BEFORE_S
    while begins_s <= points[-1][0] - SEEN_STREAM_S:
        stream = _about_mean([_gathering(t - begins_s) for t, _ in points])
        for tail_s, tail in tails:
            misfit, grams, square, size_g = _best(shown, stream, tail, _gathering(at_s - begins_s))
            gone_s = tail_s * max(0.0, log(abs(size_g) / NEXT_TO_NOTHING_G)) if size_g else 0.0
            found.append((misfit, grams, square, from_s + gone_s, begins_s))
        begins_s += BEGINS_EVERY_S
    least = min(misfit for misfit, *_ in found)
    noise2 = max(least / max(len(points) - 5, 1), 0.03**2)
    weights = [exp(-(misfit - least) / (2 * ALIKE * noise2)) for misfit, *_ in found]
    grams, square, settled_s, begun_s = (sum(w * each[i] for w, each in zip(weights, found)) / sum(weights) for i in (1, 2, 3, 4))
    spread2 = sum(w * (each[1] - grams) ** 2 for w, each in zip(weights, found)) / sum(weights)
    return SetDown(grams, 2 * sqrt(spread2 + ALIKE * noise2 * square), settled_s, begun_s)


def thinned(points: Points, to: int) -> Points:
    """Every so many of them, so that at most `to` are left."""
    return points[::-(-len(points) // to)]


@dataclass(frozen=True, slots=True)
class _Centred:
    mean: float
    about: list[float]      # each less the mean
    square: float


def _about_mean(values: list[float]) -> _Centred:
    mean = sum(values) / len(values)
    about = [each - mean for each in values]
    return _Centred(mean, about, _dot(about, about))


def _best(shown: _Centred, stream: _Centred, tail: _Centred, at: float) -> tuple[float, float, float, float]:
    """The best level + pace × stream + size × tail: (squared error, grams where the stream's column stands `at` and the tail is over,
    their variance in that of a reading, size)."""
    crossed, on_stream, on_tail = _dot(stream.about, tail.about), _dot(stream.about, shown.about), _dot(tail.about, shown.about)
    det = stream.square * tail.square - crossed**2
    far, over = at - stream.mean, -tail.mean
    if det > 1e-9:
        pace, size = (on_stream * tail.square - on_tail * crossed) / det, (on_tail * stream.square - on_stream * crossed) / det
        square = (far**2 * tail.square - 2 * far * over * crossed + over**2 * stream.square) / det
    else:
        pace, size = on_stream / stream.square if stream.square else 0.0, 0.0
        square = far**2 / stream.square if stream.square else 0.0
    misfit = max(0.0, shown.square - pace * on_stream - size * on_tail)
    return misfit, shown.mean + pace * far + size * over, 1 / len(shown.about) + square, size


def _gathering(u: float) -> float:
    """A flow of one from 0 on that gathers."""
    return u - GATHER_S * (1 - exp(-u / GATHER_S)) if u > 0 else 0.0


def _dot(a: list[float], b: list[float]) -> float:
    return sum(x * y for x, y in zip(a, b))


def onset(points: Points, from_s: float, to_s: float) -> tuple[float, float, float]:
    """(when the stream began, ± seconds, grams left over) of points that begin before it.

    A level, then a flow that gathers; the root mean square of what is left over says how well that describes them.
    """
    bend_s, within_s = _bend(points, _gathering, from_s, to_s)
    left = _left(points, _gathering, bend_s)
    far_g = max(FAR_G, 3 * _root_mean_square(left))
    near = [point for point, g in zip(points, left) if abs(g) < far_g]
    if len(near) < len(points):      # the tail of a knock, once found, has no say
        bend_s, within_s = _bend(near, _gathering, from_s, to_s)
    return bend_s, within_s, _root_mean_square(_left(near, _gathering, bend_s))


def ending(points: Points, from_s: float, to_s: float) -> tuple[float, float]:
    """(when the stream began to fall off, ± seconds): a straight rise that from the bend on dies away to a level."""
    return _bend(points, _dying(FALL_S), from_s, to_s)


def tail(points: Points, from_s: float, to_s: float, at_s: float) -> tuple[float, float]:
    """(grams at `at_s`, ± 19 times in 20) of points that may end while a stopped stream still dies away.

    It stopped between `from_s` and `to_s`. Every bend and every pace of dying away has its say by how well it fits.
    """
    found = []
    for fall_s in FALLS_S:
        for i in range(BENDS + 1):
            bend_s = from_s + (to_s - from_s) * i / BENDS
            found.append(_fitted(points, bend_s, fall_s, at_s))
    least = min(misfit for misfit, _ in found)
    noise2 = max(least / max(len(points) - 4, 1), 0.05**2)
    weighed = [(exp(-(misfit - least) / (2 * ALIKE * noise2)), grams) for misfit, grams in found]
    weight = sum(each for each, _ in weighed)
    mean = sum(each * grams for each, grams in weighed) / weight
    spread = sqrt(sum(each * (grams - mean) ** 2 for each, grams in weighed) / weight)
    return mean, 2 * sqrt(spread**2 + ALIKE * noise2 / len(points))


def likelier_end(points: Points, a_s: float, b_s: float) -> float:
    """Log of the odds that a stream died away from `b_s` on and not from `a_s`, each known to `BEND_WITHIN_S`."""
    least = [min(_fitted(points, at_s + BEND_WITHIN_S * i, fall_s, at_s)[0] for fall_s in FALLS_S for i in (-1, -0.5, 0, 0.5, 1))
             for at_s in (a_s, b_s)]
    noise2 = max(min(least) / max(len(points) - 4, 1), 0.1**2)
    return (least[0] - least[1]) / (2 * ALIKE * noise2)


def _fitted(points: Points, bend_s: float, fall_s: float, at_s: float) -> tuple[float, float]:
    """(squared error, grams at `at_s`) of the best rise that from the bend on dies away over `fall_s`."""
    shape = _dying(fall_s)
    level, pace, left = _fit(points, shape, bend_s)
    return sum(g * g for g in left), level + pace * shape(at_s - bend_s)


def _dying(fall_s: float) -> Callable[[float], float]:
    """A straight rise that from 0 on dies away to a level."""
    return lambda u: fall_s * (1 - exp(-u / fall_s)) if u > 0 else u


def _bend(points: Points, shape: Callable[[float], float], from_s: float, to_s: float) -> tuple[float, float]:
    """The bend with the least squared error on a grid made finer twice, and half the width in which it is as good."""
    tried: dict[float, float] = {}
    low, high = from_s, (to_s := max(to_s, from_s + 0.05))
    for _ in range(3):
        step = (high - low) / 12
        for i in range(13):
            bend_s = low + i * step
            if bend_s not in tried:
                tried[bend_s] = sum(g * g for g in _left(points, shape, bend_s))
        best_s = min(tried, key=tried.__getitem__)
        low, high = max(from_s, best_s - step), min(to_s, best_s + step)
    least = tried[best_s]
    # Likelihood profile: within chi-squared(1) = 3.84 of the best, 0.05 g being what a tenth of a gram hides at least.
    noise2 = max(least / max(len(points) - 3, 1), 0.05**2)
    near = [bend_s for bend_s, misfit in tried.items() if misfit - least <= 3.84 * noise2]
    return best_s, (max(near) - min(near)) / 2


def _fit(points: Points, shape: Callable[[float], float], bend_s: float) -> tuple[float, float, list[float]]:
    """The best level + pace × shape(seconds since the bend): level, pace, and what is left of each point's grams."""
    rows = [shape(t - bend_s) for t, _ in points]
    n = len(points)
    mean_x, mean_g = sum(rows) / n, sum(g for _, g in points) / n
    spread = sum((x - mean_x) ** 2 for x in rows)
    pace = sum((x - mean_x) * (g - mean_g) for x, (_, g) in zip(rows, points)) / spread if spread > 1e-12 else 0.0
    level = mean_g - pace * mean_x
    return level, pace, [g - level - pace * x for x, (_, g) in zip(rows, points)]


def _left(points: Points, shape: Callable[[float], float], bend_s: float) -> list[float]:
    """What is left of each point's grams by that."""
    return _fit(points, shape, bend_s)[2]


def rms(points: Points) -> float:
    """Root mean square of the points about their own straight line, grams."""
    value, slope = line(points, points[-1][0])
    return _root_mean_square([g - value - slope * (t - points[-1][0]) for t, g in points])


def _root_mean_square(grams: list[float]) -> float:
    return sqrt(sum(g * g for g in grams) / len(grams))
