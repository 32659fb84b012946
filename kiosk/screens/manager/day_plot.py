"""A grinder's day on the screen: adjusted times off the recipe over the hours, with all that was done and noted, each named."""

from collections.abc import Callable
from datetime import datetime

from kivy.core.text import Label as Text
from kivy.graphics import Color, Line, Mesh, Rectangle, Triangle
from kivy.properties import ObjectProperty
from kivy.uix.widget import Widget

from kiosk.bar.evening import BEANS, BURRS, CLEANED, FLAG, NOTCH, PURGE, ROOM, SCALE
from kiosk.bar.messages import render
from kiosk.screens.ui.look import Colour, Type, look
from kiosk.screens.ui.words import N_, _, spoken

REACH = 2.2             # windows above and below the recipe; what lies outside is drawn on the edge
SHORTEST_S = 3600.0
LETTERS = {BEANS: "B", ROOM: "R", CLEANED: "C", BURRS: "N", SCALE: "S"}     # under the plot: the legend has the words
ROW, SIDE = 20, 44      # u: of a row of words, and of the seconds beside the plot
NAMED = {"pull": N_("pull"), "quiet": N_("not judged"), "sink": N_("into the sink"), "level": N_("mean of a setting"),
         PURGE: N_("purge"), FLAG: N_("flag")}


class DayPlot(Widget):
    """Dots are pulls, crosses sink shots, pale dots pulls that say nothing of the grinder. The band is the window, a thick
    line a setting's mean, broken ones its limits; upright lines are turns of the collar, squares purges, pennants flags."""

    chart = ObjectProperty(None, allownone=True)

    def __init__(self, **given):
        super().__init__(**given)
        for cause in ("chart", "pos", "size"):
            self.fbind(cause, self._draw)

    def _draw(self, *_changed):
        self.canvas.clear()
        chart = self.chart
        if chart is None or not (chart.points or chart.marks) or self.height < 10:
            return
        u, noted = look.u, [mark for mark in chart.marks if mark.kind in LETTERS]
        with self.canvas:
            foot = self._legend(chart, noted) + (2 if noted else 1) * ROW * u
        left, bottom, wide, high = self.x + SIDE * u, self.y + foot, self.width - (SIDE + 8) * u, self.height - foot - ROW * u
        if high < ROW * u:
            return
        seconds = [datetime.fromisoformat(each.at).timestamp() for each in (*chart.points, *chart.marks)]
        first, span = min(seconds), max(max(seconds) - min(seconds), SHORTEST_S)
        reach = chart.within_s * REACH

        def x(at: str) -> float:
            return left + (datetime.fromisoformat(at).timestamp() - first) / span * wide

        def y(off_s: float) -> float:
            return bottom + high / 2 + max(-1.0, min(1.0, off_s / reach)) * high / 2

        with self.canvas:
            Color(*Colour.aim)
            Rectangle(pos=(left, y(-chart.within_s)), size=(wide, y(chart.within_s) - y(-chart.within_s)))
            Color(*Colour.good)             # the window's ends, where a band alone is too dark to be found
            for off_s in (-chart.within_s, chart.within_s):
                Line(points=[left, y(off_s), left + wide, y(off_s)], width=1)
            Color(*Colour.faint)
            Line(points=[left, y(0), left + wide, y(0)], width=1)
            for off_s in (-chart.within_s, 0, chart.within_s):
                _words(f"{off_s:+.0f} s" if off_s else "0", left - 6 * u, y(off_s), "right")
            self._hours(chart, x, left, wide, bottom, high)
            for level in chart.levels:
                a, b = x(level.since), max(x(level.until), x(level.since) + 2 * u)
                Color(*Colour.text)
                Line(points=[a, y(level.off_s), b, y(level.off_s + level.climbs_s)], width=1.6 * u)
                for limit_s in (level.low_s, level.high_s):
                    if limit_s is not None:
                        Color(*Colour.quiet)
                        Line(points=[a, y(limit_s), b, y(limit_s + level.climbs_s)], width=1, dash_length=4, dash_offset=4)
            self._done(chart, x, left, bottom, high, wide)
            self._pulls(chart, x, y)
            for mark in noted:
                _words(LETTERS[mark.kind], x(mark.at), bottom - 1.5 * ROW * u, "middle")

    def _legend(self, chart, noted) -> float:
        """What stands on this chart, each beside its name, in as many rows as that takes; their height in pixels."""
        u, x, row = look.u, self.x, 0
        kinds = {mark.kind for mark in chart.marks}
        there = {"pull": any(p.told and p.sink is None for p in chart.points),
                 "quiet": any(not p.told and p.sink is None for p in chart.points),
                 "sink": any(p.sink is not None for p in chart.points), "level": bool(chart.levels),
                 PURGE: PURGE in kinds, FLAG: FLAG in kinds}
        shown = [("band", _("window ± {s:.0f} s").format(s=chart.within_s)), *((kind, _(words)) for kind, words in NAMED.items() if there[kind])]
        shown += [(None, f"{LETTERS[kind]}  {_(kind)}") for kind in LETTERS if any(mark.kind == kind for mark in noted)]
        placed = []
        for kind, words in shown:
            text, sign = _drawn(words), 0 if kind is None else ROW * u
            broad = sign + text.texture.size[0] + 14 * u
            if x + broad > self.x + self.width and x > self.x:
                x, row = self.x, row + 1
            placed.append((kind, text, x, row))
            x += broad
        for kind, text, at, n in placed:
            middle = self.y + (row - n + 0.5) * ROW * u
            if kind is not None:
                SIGNS[kind](at + 7 * u, middle, u)
            _put(text, at + (0 if kind is None else ROW * u), middle, "left")
        return (row + 1) * ROW * u

    def _pulls(self, chart, x, y):
        """All dots in one mesh, all crosses in another: a thousand cost no more than ten."""
        r = DOT * look.u
        for colour, points in ((Colour.water, [p for p in chart.points if p.told and p.sink is None]),
                               (Colour.quiet, [p for p in chart.points if not p.told and p.sink is None])):
            _octagons([(x(p.at), y(p.off_s)) for p in points], r, colour)
        for point in chart.points:
            if point.sink is not None:
                _cross(x(point.at), y(point.off_s), look.u)

    def _done(self, chart, x, left, bottom, high, wide):
        """Turns are named over their line, from what to what; one too near the last keeps its line alone."""
        u, free = look.u, float("-inf")
        for mark in chart.marks:
            at = x(mark.at)
            if mark.kind == NOTCH:
                Color(*Colour.next)
                Line(points=[at, bottom, at, bottom + high], width=1.2)
                text = _drawn(_("turn {how}").format(how=render(mark.words, spoken())))
                half = text.texture.size[0] / 2
                middle = min(max(at, left + half), left + wide - half)
                if middle - half > free:
                    _put(text, middle, bottom + high + ROW * u / 2, "middle")
                    free = middle + half + 6 * u
            elif mark.kind == PURGE:
                _square(at, bottom + 3 * u, u)
            elif mark.kind == FLAG:
                _pennant(at, bottom + high - 5 * u, u)

    def _hours(self, chart, x, left, wide, bottom, high):
        """The hours by the wall clock, where a pull was near enough to one to tell."""
        free = left - 40 * look.u
        for point in sorted(chart.points, key=lambda point: datetime.fromisoformat(point.at).timestamp()):
            hour = datetime.fromisoformat(point.at).replace(minute=0, second=0, microsecond=0)
            at = x(hour.isoformat())
            if at >= max(left, free):
                Color(*Colour.grid)
                Line(points=[at, bottom, at, bottom + high], width=1)
                _words(f"{hour:%H}:00", at, bottom - ROW * look.u / 2, "middle")
                free = at + 52 * look.u


# ---- the signs: each the same on the plot and in the legend -------------------------------------------------------------

DOT = 2.8               # u


def _cross(x: float, y: float, u: float) -> None:
    r = DOT * u
    Color(*Colour.warn)
    Line(points=[x - r, y - r, x + r, y + r], width=1.2)
    Line(points=[x - r, y + r, x + r, y - r], width=1.2)


def _square(x: float, y: float, u: float) -> None:
    Color(*Colour.next)
    Rectangle(pos=(x - 3 * u, y - 3 * u), size=(6 * u, 6 * u))


def _pennant(x: float, y: float, u: float) -> None:
    Color(*Colour.warn)
    Triangle(points=(x, y + 5 * u, x + 10 * u, y, x, y - 5 * u))


def _band(x: float, y: float, u: float) -> None:
    Color(*Colour.aim)
    Rectangle(pos=(x - 7 * u, y - 6 * u), size=(14 * u, 12 * u))
    Color(*Colour.good)
    for edge in (y - 6 * u, y + 6 * u):
        Line(points=[x - 7 * u, edge, x + 7 * u, edge], width=1)


def _level(x: float, y: float, u: float) -> None:
    Color(*Colour.text)
    Line(points=[x - 7 * u, y, x + 7 * u, y], width=1.6 * u)


SIGNS: dict[str, Callable[[float, float, float], None]] = {
    "band": _band, "level": _level, "sink": _cross, PURGE: _square, FLAG: _pennant,
    "pull": lambda x, y, u: _octagons([(x, y)], DOT * u, Colour.water),
    "quiet": lambda x, y, u: _octagons([(x, y)], DOT * u, Colour.quiet)}


def _octagons(centres: list[tuple[float, float]], r: float, colour) -> None:
    """Filled dots, as triangles; a mesh holds 65,535 corners."""
    Color(*colour)
    ring = ((r, 0), (0.7 * r, 0.7 * r), (0, r), (-0.7 * r, 0.7 * r), (-r, 0), (-0.7 * r, -0.7 * r), (0, -r),
            (0.7 * r, -0.7 * r))
    for start in range(0, len(centres), 4000):
        corners, indices = [], []
        for n, (cx, cy) in enumerate(centres[start:start + 4000]):
            for dx, dy in ring:
                corners += (cx + dx, cy + dy, 0, 0)
            for k in range(1, 7):
                indices += (8 * n, 8 * n + k, 8 * n + k + 1)
        if corners:
            Mesh(vertices=corners, indices=indices, mode="triangles")


def _drawn(text: str) -> Text:
    drawn = Text(text=text, font_size=Type.small * look.u)
    drawn.refresh()
    return drawn


def _words(text: str, x: float, y: float, side: str) -> None:
    _put(_drawn(text), x, y, side)


def _put(drawn: Text, x: float, y: float, side: str) -> None:
    width, height = drawn.texture.size
    Color(*Colour.quiet)
    Rectangle(texture=drawn.texture, size=(width, height),
              pos=(round(x - {"left": 0, "middle": width / 2, "right": width}[side]), round(y - height / 2)))
