"""A grinder's day on the screen: even times off the recipe over the hours, with all that was done and noted."""

from datetime import datetime

from kivy.core.text import Label as Text
from kivy.graphics import Color, Line, Mesh, Rectangle, Triangle
from kivy.properties import ObjectProperty
from kivy.uix.widget import Widget

from kiosk.bar.evening import BEANS, BURRS, CLEANED, FLAG, NOTCH, PURGE, ROOM, SCALE
from kiosk.bar.messages import render
from kiosk.screens.ui.look import LEAST, Colour, look
from kiosk.screens.ui.words import spoken

REACH = 2.2             # windows above and below the recipe; what lies outside is drawn on the edge
SHORTEST_S = 3600.0
LETTERS = {BEANS: "B", ROOM: "R", CLEANED: "C", BURRS: "N", SCALE: "S"}     # under the plot: the legend has the words


class DayPlot(Widget):
    """Dots are pulls, crosses sink shots, hollow squares pulls that say nothing of the grinder. The band is the
    window, a thick line a stretch's level, thin ones its limits; upright lines are notches, squares purges, pennants
    flags."""

    chart = ObjectProperty(None, allownone=True)

    def __init__(self, **given):
        super().__init__(**given)
        for cause in ("chart", "pos", "size"):
            self.fbind(cause, self._draw)

    def _draw(self, *_):
        self.canvas.clear()
        chart = self.chart
        if chart is None or not (chart.points or chart.marks) or self.height < 10:
            return
        u, noted = look.u, [mark for mark in chart.marks if mark.kind in LETTERS]
        foot = 15 * u + (15 * u if noted else 0)
        left, bottom, wide, high = self.x + 34 * u, self.y + foot, self.width - 40 * u, self.height - foot - 14 * u
        seconds = [datetime.fromisoformat(each.at).timestamp() for each in (*chart.points, *chart.marks)]
        first, span = min(seconds), max(max(seconds) - min(seconds), SHORTEST_S)
        reach = chart.within_s * REACH

        def x(at: str) -> float:
            return left + (datetime.fromisoformat(at).timestamp() - first) / span * wide

        def y(off_s: float) -> float:
            return bottom + high / 2 + max(-1.0, min(1.0, off_s / reach)) * high / 2

        with self.canvas:
            Color(*Colour.good[:3], 0.22)
            Rectangle(pos=(left, y(-chart.within_s)), size=(wide, y(chart.within_s) - y(-chart.within_s)))
            Color(*Colour.line)
            Line(points=[left, y(0), left + wide, y(0)], width=1)
            for off_s in (-chart.within_s, 0, chart.within_s):
                _words(f"{off_s:+.0f} s" if off_s else "0", self.x + 30 * u, y(off_s), "right")
            self._hours(chart, x, left, wide, bottom, high)
            for level in chart.levels:
                a, b = x(level.since), max(x(level.until), x(level.since) + 2 * u)
                Color(*Colour.text)
                Line(points=[a, y(level.off_s), b, y(level.off_s + level.climbs_s)], width=1.6 * u)
                for limit_s in (level.low_s, level.high_s):
                    if limit_s is not None:
                        Color(*Colour.quiet)
                        Line(points=[a, y(limit_s), b, y(limit_s + level.climbs_s)], width=1, dash_length=4, dash_offset=4)
            self._done(chart, x, bottom, high)
            self._pulls(chart, x, y)
            for mark in noted:
                _words(LETTERS[mark.kind], x(mark.at), self.y + 7 * u, "middle")

    def _pulls(self, chart, x, y):
        """All dots in one mesh, all crosses in another: a thousand cost no more than ten."""
        r = 2.4 * look.u
        for colour, points in ((Colour.water, [p for p in chart.points if p.told and p.sink is None]),
                               (Colour.quiet, [p for p in chart.points if not p.told and p.sink is None])):
            _octagons([(x(p.at), y(p.off_s)) for p in points], r, colour)
        Color(*Colour.warn)
        for point in chart.points:
            if point.sink is not None:
                px, py = x(point.at), y(point.off_s)
                Line(points=[px - r, py - r, px + r, py + r], width=1.2)
                Line(points=[px - r, py + r, px + r, py - r], width=1.2)

    def _done(self, chart, x, bottom, high):
        u, free = look.u, float("-inf")
        for mark in chart.marks:
            at = x(mark.at)
            if mark.kind == NOTCH:
                Color(*Colour.next)
                Line(points=[at, bottom, at, bottom + high], width=1.2)
                if at > free:
                    _words(render(mark.words, spoken()), at, bottom + high + 7 * u, "middle")
                    free = at + 60 * u
            elif mark.kind == PURGE:
                Color(*Colour.next)
                Rectangle(pos=(at - 3 * u, bottom), size=(6 * u, 6 * u))
            elif mark.kind == FLAG:
                Color(*Colour.warn)
                top = bottom + high
                Triangle(points=(at, top, at + 9 * u, top - 5 * u, at, top - 10 * u))

    def _hours(self, chart, x, left, wide, bottom, high):
        """The hours by the wall clock, where a pull was near enough to one to tell."""
        free = left - 40 * look.u
        for point in sorted(chart.points, key=lambda point: datetime.fromisoformat(point.at).timestamp()):
            hour = point.at[:14] + "00:00" + point.at[-6:]
            at = x(hour)
            if at >= max(left, free):
                Color(*Colour.line[:3], 0.5)
                Line(points=[at, bottom, at, bottom + high], width=1)
                _words(point.at[11:13], at, bottom - 8 * look.u, "middle")
                free = at + 30 * look.u


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


def _words(text: str, x: float, y: float, side: str) -> None:
    drawn = Text(text=text, font_size=LEAST * look.u)
    drawn.refresh()
    width, height = drawn.texture.size
    Color(*Colour.quiet)
    Rectangle(texture=drawn.texture, size=(width, height),
              pos=(x - (width if side == "right" else width / 2), y - height / 2))
