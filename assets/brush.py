"""A brush for flat pictures, and nothing but the standard library: shapes in, a transparent PNG out.

A shape is a list of (x, y) points, or a path of absolute M, L, Q, C and Z in the notation of SVG 1.1 (W3C).
The sheet is 512 × 512 with y downwards. Shapes given together are united, whichever way round they run.
"""

import math
import struct
import zlib
from contextlib import contextmanager
from itertools import accumulate
from pathlib import Path

SIZE = 512
FINE = 8        # scan lines a pixel; across a line the cover is exact, so this is all the softening an edge needs
CURVE = 32      # chords a curve
CORNER = 36     # sides of the disc that rounds a corner: off by less than a tenth of a pixel
SHEER = 1e-6    # less cover than this is an error of rounding

Point = tuple[float, float]
Shape = list[Point]


class Sheet:
    """A transparent picture that is painted on. `colour` is "#RRGGBB"; None cuts away what is there."""

    def __init__(self):
        self.rgb = [[(0.0, 0.0, 0.0)] * SIZE for _ in range(SIZE)]
        self.alpha = [[0.0] * SIZE for _ in range(SIZE)]
        self._place = (1.0, 0.0, 0.0, 0.0)   # the complex numbers m and c of z → m·z + c, each in two parts
        self._window: dict[int, list[float]] | None = None

    @contextmanager
    def at(self, x: float, y: float, scale: float = 1.0, turn: float = 0.0):
        """Within it, the origin lies at (x, y), enlarged by `scale` and turned clockwise by `turn` degrees."""
        before = self._place
        m, c = complex(*before[:2]), complex(*before[2:])
        shift = m * complex(x, y) + c
        m *= scale * complex(math.cos(math.radians(turn)), math.sin(math.radians(turn)))
        self._place = (m.real, m.imag, shift.real, shift.imag)
        yield
        self._place = before

    @contextmanager
    def within(self, shape: Shape | str):
        """Within it, only what falls inside the shape is painted."""
        self._window = dict(_cover([self._placed(points) for points in outlines(shape)]))
        yield
        self._window = None

    def fill(self, colour: str | None, *shapes: Shape | str, soft: float = 0.0):
        """Paint the shapes; `soft` rounds every corner by that radius, outwards."""
        for_all = [points for shape in shapes for points in outlines(shape)]
        if soft:
            for_all += [piece for points in for_all for piece in _stroke(points + points[:1], soft)]
        self._paint(colour, for_all)

    def line(self, colour: str | None, width: float, *shapes: Shape | str, closed: bool = False):
        """Draw along the shapes with round ends and corners."""
        pieces = []
        for shape in shapes:
            for points in outlines(shape):
                pieces += _stroke(points + points[:1] if closed else points, width / 2)
        self._paint(colour, pieces)

    def _paint(self, colour: str | None, shapes: list[Shape]):
        ink = tuple(int(colour[i:i + 2], 16) for i in (1, 3, 5)) if colour else None
        for y, cover in _cover([self._placed(shape) for shape in shapes]):
            if self._window is not None:
                cover = [share * seen for share, seen in zip(cover, self._window.get(y, [0.0] * SIZE))]
            rgb, alpha = self.rgb[y], self.alpha[y]
            for x, share in enumerate(cover):
                if share < SHEER:
                    continue
                if ink is None:
                    alpha[x] *= 1 - share
                elif share > 1 - SHEER:
                    alpha[x], rgb[x] = 1.0, ink
                else:
                    under = alpha[x] * (1 - share)
                    alpha[x] = share + under
                    rgb[x] = tuple((i * share + r * under) / alpha[x] for i, r in zip(ink, rgb[x]))

    def _placed(self, shape: Shape) -> Shape:
        a, b, c, d = self._place
        return [(a * x - b * y + c, b * x + a * y + d) for x, y in shape]

    def bytes(self) -> bytes:
        """Rows of RGBA, eight bits each, colour not multiplied by alpha."""
        rows = bytearray()
        for rgb, alpha in zip(self.rgb, self.alpha):
            for (r, g, b), share in zip(rgb, alpha):
                opaque = round(255 * share)
                rows += bytes((round(r), round(g), round(b), opaque)) if opaque else b"\0\0\0\0"
        return bytes(rows)

    def save(self, path: Path):
        """Write a PNG (ISO/IEC 15948): each row as its difference from the row above, which flat pictures like."""
        flat, stride = self.bytes(), SIZE * 4
        above, lines = bytes(stride), bytearray()
        for start in range(0, len(flat), stride):
            row = flat[start:start + stride]
            lines += b"\2" + bytes((n - o) & 255 for n, o in zip(row, above))
            above = row

        def chunk(name: bytes, body: bytes) -> bytes:
            return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

        path.write_bytes(b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", SIZE, SIZE, 8, 6, 0, 0, 0))
                         + chunk(b"IDAT", zlib.compress(bytes(lines), 9)) + chunk(b"IEND", b""))


def outlines(shape: Shape | str) -> list[Shape]:
    """The shape's runs of points; a path may have several."""
    if not isinstance(shape, str):
        return [list(shape)]
    words, runs, i = shape.replace(",", " ").split(), [], 0

    def take(count: int) -> list[Point]:
        nonlocal i
        points = [(float(words[i + 2 * k]), float(words[i + 2 * k + 1])) for k in range(count)]
        i += 2 * count
        return points

    while i < len(words):
        order = words[i]
        i += 1
        if order == "M":
            runs.append(take(1))
        elif order == "L":
            runs[-1] += take(1)
        elif order in "QC":
            runs[-1] += _curve(runs[-1][-1], *take(2 if order == "Q" else 3))
        elif order == "Z":
            runs[-1].append(runs[-1][0])
        else:
            raise ValueError(f"{order!r} is no order of a path. Use M, L, Q, C or Z.")
    return runs


def _curve(*knots: Point) -> Shape:
    points = []
    for step in range(1, CURVE + 1):
        t, level = step / CURVE, list(knots)
        while len(level) > 1:   # de Casteljau
            level = [(p[0] + (q[0] - p[0]) * t, p[1] + (q[1] - p[1]) * t) for p, q in zip(level, level[1:])]
        points += level
    return points


def arc(x: float, y: float, r: float, start: float, end: float, flat: float = 1.0) -> Shape:
    """Part of a circle; degrees clockwise from twelve o'clock. `flat` squeezes its height."""
    steps = max(8, round(abs(end - start) / 360 * (CORNER if r < 24 else 2 * CORNER)))
    turns = [math.radians(start + (end - start) * k / steps) for k in range(steps + 1)]
    return [(x + r * math.sin(t), y - r * flat * math.cos(t)) for t in turns]


def disc(x: float, y: float, r: float, flat: float = 1.0) -> Shape:
    return arc(x, y, r, 0, 360, flat)


def box(left: float, top: float, right: float, bottom: float) -> Shape:
    return [(left, top), (right, top), (right, bottom), (left, bottom)]


def _stroke(points: Shape, half: float) -> list[Shape]:
    """A line of width 2·half: a slab a chord, a disc a corner."""
    pieces = [disc(*points[0], half)]
    for (x0, y0), (x1, y1) in zip(points, points[1:]):
        length = math.hypot(x1 - x0, y1 - y0)
        if length < 1e-9:
            continue
        across, up = (y0 - y1) / length * half, (x1 - x0) / length * half
        pieces.append([(x0 + across, y0 + up), (x1 + across, y1 + up), (x1 - across, y1 - up), (x0 - across, y0 - up)])
        pieces.append(disc(x1, y1, half))
    return pieces


def _cover(shapes: list[Shape]):
    """(row, how much of each pixel lies inside the union of the shapes), by scan lines and the nonzero rule."""
    crossings: dict[int, list[tuple[float, int]]] = {}
    for shape in shapes:
        edges = list(zip(shape, shape[1:] + shape[:1]))
        way = 1 if sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in edges) > 0 else -1
        for (x0, y0), (x1, y1) in edges:
            if y0 == y1:
                continue
            wind, (xa, ya, xb, yb) = (way, (x0, y0, x1, y1)) if y0 < y1 else (-way, (x1, y1, x0, y0))
            for scan in range(max(0, math.ceil(ya * FINE - 0.5)), min(SIZE * FINE, math.ceil(yb * FINE - 0.5))):
                y = (scan + 0.5) / FINE
                crossings.setdefault(scan, []).append((xa + (xb - xa) * (y - ya) / (yb - ya), wind))
    for row in sorted({scan // FINE for scan in crossings}):
        steps = [0.0] * (SIZE + 2)   # how the cover changes from one pixel to the next
        for scan in range(row * FINE, (row + 1) * FINE):
            winding = 0
            for x, wind in sorted(crossings.get(scan, ())):
                if winding == 0 or winding + wind == 0:
                    x = min(max(x, 0.0), float(SIZE))
                    pixel, share = int(x), (1 if winding == 0 else -1) / FINE
                    steps[pixel] += share * (pixel + 1 - x)
                    steps[pixel + 1] += share * (x - pixel)
                winding += wind
        yield row, list(accumulate(steps[:SIZE]))
