"""The shape of a stream in a cup: straight stretches, where one begins and where it ends.

Points are (seconds, grams), in order of time. Plain least squares; each bend is found by trying its time on a grid,
the other unknowns being linear once it is fixed (variable projection: Golub and Pereyra, Inverse Problems 19 (2003)).
"""

from math import exp, sqrt

GATHER_S = 0.3     # from the first drop to a full stream, as a time constant (common practice: spouts, a puck wet unevenly)
FALL_S = 0.5       # from a shut valve to the last of the stream, likewise

Points = list[tuple[float, float]]


def line(points: Points, at_s: float) -> tuple[float, float]:
    """(grams at `at_s`, grams per second) of the straight line through two or more points."""
    n = len(points)
    mean_t = sum(t for t, _ in points) / n
    mean_g = sum(g for _, g in points) / n
    spread = sum((t - mean_t) ** 2 for t, _ in points)
    slope = sum((t - mean_t) * (g - mean_g) for t, g in points) / spread if spread else 0.0
    return mean_g + slope * (at_s - mean_t), slope


def onset(points: Points, from_s: float, to_s: float) -> tuple[float, float]:
    """(when the stream began, ± seconds) of points that begin before it: a level, then a flow that gathers."""
    def basis(bend_s):
        rows = []
        for t, _ in points:
            u = max(0.0, t - bend_s)
            rows.append((1.0, u - GATHER_S * (1 - exp(-u / GATHER_S))))
        return rows
    return _bend(points, basis, from_s, to_s)


def ending(points: Points, from_s: float, to_s: float) -> tuple[float, float]:
    """(when the stream began to fall off, ± seconds): a straight rise that from the bend on dies away to a level."""
    def basis(bend_s):
        return [(1.0, min(0.0, t - bend_s) + FALL_S * (1 - exp(-max(0.0, t - bend_s) / FALL_S))) for t, _ in points]
    return _bend(points, basis, from_s, to_s)


def _bend(points: Points, basis, from_s: float, to_s: float) -> tuple[float, float]:
    """The bend with the least squared error on a grid made finer twice, and half the width in which it is as good."""
    tried: dict[float, float] = {}
    low, high = from_s, max(to_s, from_s + 0.05)
    for _ in range(3):
        step = (high - low) / 12
        for i in range(13):
            bend_s = low + i * step
            if bend_s not in tried:
                tried[bend_s] = _misfit(basis(bend_s), [g for _, g in points])
        best_s = min(tried, key=tried.get)
        low, high = max(from_s, best_s - step), min(to_s, best_s + step)
    least = tried[best_s]
    # Likelihood profile: within chi-squared(1) = 3.84 of the best, 0.05 g being what a tenth of a gram hides at least.
    noise2 = max(least / max(len(points) - 4, 1), 0.05**2)
    near = [bend_s for bend_s, misfit in tried.items() if misfit - least <= 3.84 * noise2]
    return best_s, (max(near) - min(near)) / 2


def _misfit(rows, grams) -> float:
    """Squared error left after the best combination of the rows' columns (normal equations)."""
    n = len(rows[0])
    a = [[sum(r[i] * r[j] for r in rows) + (1e-9 if i == j else 0.0) for j in range(n)] for i in range(n)]
    b = [sum(r[i] * g for r, g in zip(rows, grams)) for i in range(n)]
    for i in range(n):
        for k in range(i + 1, n):
            factor = a[k][i] / a[i][i]
            for j in range(i, n):
                a[k][j] -= factor * a[i][j]
            b[k] -= factor * b[i]
    x = [0.0] * n
    for i in reversed(range(n)):
        x[i] = (b[i] - sum(a[i][j] * x[j] for j in range(i + 1, n))) / a[i][i]
    return sum((sum(c * v for c, v in zip(x, r)) - g) ** 2 for r, g in zip(rows, grams))


def rms(points: Points) -> float:
    """Root mean square of the points about their own straight line, grams."""
    value, slope = line(points, points[-1][0])
    return sqrt(sum((g - value - slope * (t - points[-1][0])) ** 2 for t, g in points) / len(points))
