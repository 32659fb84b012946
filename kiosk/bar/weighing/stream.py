"""The shape of a stream in a cup: straight stretches, where one begins and where it ends.

Points are (seconds, grams), in order of time. Plain least squares; each bend is found by trying its time on a grid,
the other unknowns being linear once it is fixed (variable projection: Golub and Pereyra, Inverse Problems 19 (2003)).
"""

from collections.abc import Callable
from math import exp, sqrt

GATHER_S = 0.3     # from the first drop to a full stream, as a time constant: spouts, a puck wet unevenly (from memory)
FALL_S = 0.5       # from a shut valve to the last of the stream, likewise
FALLS_S = (0.15, 0.25, 0.4, 0.6, 0.9)     # and what a scale's own filter makes of it
BENDS = 10         # and one: the places of a bend that have their say
BEND_WITHIN_S = 0.3     # of a pump's own stop, as the signal told it and the group's bends taught
TAILS_S, SURELY_A_TAIL = (0.1, 0.15, 0.25, 0.4), 0.6      # a scale's filter; how much less it must leave unexplained
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


def begun_at(points: Points, at_s: float) -> float:
    """Grams at `at_s`, before the points, of the straight line that they come to lie on as a scale's filter dies away."""
    slope_free, base_g = _past_a_tail(points, at_s, None)
    for tail_s in TAILS_S:
        misfit, grams = _past_a_tail(points, at_s, tail_s)
        if misfit < SURELY_A_TAIL * slope_free:
            slope_free, base_g = misfit / SURELY_A_TAIL, grams
    return base_g


def _past_a_tail(points: Points, at_s: float, tail_s: float | None) -> tuple[float, float]:
    """(squared error, grams at `at_s`) of a straight line, on top of a tail that dies away over `tail_s`."""
    n = len(points)
    times, grams = [t - at_s for t, _ in points], [g for _, g in points]
    tails = [exp(-(t - times[0]) / tail_s) for t in times] if tail_s else [0.0] * n
    mean_t, mean_g, mean_x = sum(times) / n, sum(grams) / n, sum(tails) / n
    t, g, x = ([each - mean for each in row] for row, mean in ((times, mean_t), (grams, mean_g), (tails, mean_x)))
    tt, tx, xx = _dot(t, t), _dot(t, x), _dot(x, x)
    tg, xg, det = _dot(t, g), _dot(x, g), tt * xx - tx * tx
    pace, tail = ((tg * xx - xg * tx) / det, (xg * tt - tg * tx) / det) if det > 1e-9 else (tg / tt, 0.0)
    misfit = sum((c - pace * a - tail * b) ** 2 for a, b, c in zip(t, x, g))
    return misfit, mean_g - pace * mean_t - tail * mean_x


def _dot(a: list[float], b: list[float]) -> float:
    return sum(x * y for x, y in zip(a, b))


def onset(points: Points, from_s: float, to_s: float) -> tuple[float, float, float]:
    """(when the stream began, ± seconds, grams left over) of points that begin before it.

    A level, then a flow that gathers; the root mean square of what is left over says how well that describes them.
    """
    def shape(u: float) -> float:
        return u - GATHER_S * (1 - exp(-u / GATHER_S)) if u > 0 else 0.0
    bend_s, within_s = _bend(points, shape, from_s, to_s)
    left = _left(points, shape, bend_s)
    far_g = max(FAR_G, 3 * _root_mean_square(left))
    near = [point for point, g in zip(points, left) if abs(g) < far_g]
    if len(near) < len(points):      # the tail of a knock, once found, has no say
        bend_s, within_s = _bend(near, shape, from_s, to_s)
    return bend_s, within_s, _root_mean_square(_left(near, shape, bend_s))


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
