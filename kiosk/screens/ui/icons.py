"""Icons of our own: each a few strokes on a square of 24, all of one breadth, drawn with the flat shapes of a room."""

from math import cos, pi, sin

from kiosk.screens.ui.sheet import Flat, stroke

GRID, BROAD = 24, 2.0
Stroke = tuple[tuple[float, float], ...]


def arc(x: float, y: float, radius: float, from_deg: float, to_deg: float, pieces: int = 10) -> Stroke:
    """Part of a circle, anticlockwise from the right."""
    return tuple((x + radius * cos(pi / 180 * (from_deg + (to_deg - from_deg) * n / pieces)),
                  y + radius * sin(pi / 180 * (from_deg + (to_deg - from_deg) * n / pieces))) for n in range(pieces + 1))


ICONS: dict[str, tuple[Stroke, ...]] = {
    "cup": (((4, 16), (5, 7), (8, 4), (13, 4), (16, 7), (17, 16), (4, 16)), arc(17, 11, 3.4, -80, 80)),
    "queue": (((3, 19), (21, 19)), ((3, 12), (21, 12)), ((3, 5), (13, 5))),
    "person": (arc(12, 16.5, 4, 0, 360), arc(12, 2, 8.5, 20, 160)),
    "collar": (arc(12, 14, 7.5, 0, 360, 20), ((12, 14), (16.2, 18.2)), ((2, 4), (6, 4)), ((18, 4), (22, 4)), ((20, 2), (20, 6))),
    "chart": (((3, 3), (3, 21)), ((3, 3), (21, 3)), ((6, 8), (11, 14), (15, 11), (21, 18))),
    "more": (((4, 12), (5, 12)), ((11.5, 12), (12.5, 12)), ((19, 12), (20, 12))),
    "note": (((5, 3), (5, 21), (19, 21), (19, 8), (14, 3), (5, 3)), ((9, 15), (15, 15)), ((9, 10), (13, 10))),
    "sound": (((3, 9), (7, 9), (12, 4), (12, 20), (7, 15), (3, 15), (3, 9)), arc(12, 12, 5, -50, 50), arc(12, 12, 9, -50, 50)),
    "silent": (((3, 9), (7, 9), (12, 4), (12, 20), (7, 15), (3, 15), (3, 9)), ((15, 9), (21, 15)), ((15, 15), (21, 9))),
    "learn": (((2, 15), (12, 20), (22, 15), (12, 10), (2, 15)), ((6, 12.5), (6, 7)), arc(12, 9, 6.3, 200, 340)),
    "sign": (((4, 4), (8, 5), (20, 17), (17, 20), (5, 8), (4, 4)),),
    "settings": (((3, 18), (21, 18)), ((3, 12), (21, 12)), ((3, 6), (21, 6)), ((8, 15.5), (8, 20.5)), ((16, 9.5), (16, 14.5)),
                 ((10, 3.5), (10, 8.5))),
    "scale": (((4, 4), (20, 4), (20, 8), (4, 8), (4, 4)), ((12, 8), (12, 12)), ((5, 12), (19, 12)), arc(12, 12, 5, 20, 160)),
    "undo": (((9, 19), (4, 14), (9, 9)), ((4, 14), (14, 14)), arc(14, 9.5, 4.5, 90, -90)),
    "wipe": (((4, 9), (4, 20), (20, 20), (20, 9), (4, 9)), ((4, 4), (9, 4)), ((12, 4), (20, 4)), ((8, 16), (16, 13))),
    "bin": (((5, 18), (19, 18)), ((7, 18), (8, 3), (16, 3), (17, 18)), ((10, 21), (14, 21))),
    "sun": (arc(12, 12, 4.5, 0, 360), ((12, 19), (12, 22)), ((12, 2), (12, 5)), ((2, 12), (5, 12)), ((19, 12), (22, 12)),
            ((5, 5), (7, 7)), ((17, 17), (19, 19)), ((5, 19), (7, 17)), ((17, 7), (19, 5))),
    "moon": (arc(12, 12, 8.5, 60, 330, 16), arc(17.5, 15, 7.5, 145, 258)),
    "cross": (((5, 5), (19, 19)), ((5, 19), (19, 5))),
    "drop": (((12, 21), (6.5, 12)), arc(12, 9, 6.2, 151, 389, 14), ((17.5, 12), (12, 21))),
}


def drawn(name: str, colour: list[float], x: float, y: float, side: float) -> list[Flat]:
    """The icon in a square with its lower left corner at `x`, `y`, in pixels. Raises KeyError for a name that is none."""
    unit = side / GRID
    return [flat for line in ICONS[name]
            for flat in stroke(colour, tuple((x + px * unit, y + py * unit) for px, py in line), BROAD * unit)]
