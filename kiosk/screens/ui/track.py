"""How far a figure is from its window, seen as a shape: a groove that fills towards a gate.

The gate is the window, and stands at the same place on every track: so the two tracks of a pull, seconds over grams, run
even where the pull does. What is short of the gate leaves the gap to it open (hollow, once it is judged); what has run
through it stands out as a block twice as high as the groove. Neither needs a number or a colour to be seen.
"""

from kivy.graphics import Color, Line, Rectangle
from kivy.properties import BooleanProperty, ListProperty
from kivy.uix.widget import Widget

from kiosk.screens.ui.look import Colour, look
from kiosk.screens.ui.sheet import Flat, box, changed, frame

GATE = 0.8          # of the width: where the middle of the window stands


class Track(Widget):
    """`shown` is nothing, or where the groove begins, the value, and the window's two edges, in one unit."""

    shown = ListProperty()
    judged = BooleanProperty(False)     # the value grows no more by itself
    over = BooleanProperty(False)       # on the strong colour

    def __init__(self, **given):
        super().__init__(**given)
        self._ink, self._fill = Color(), Rectangle()
        self._warn, self._past, self._short = Color(), Rectangle(), Line(width=look.u)
        self._drawn: tuple = ()             # each of them costs something in every frame: only what is seen is there
        self._window: tuple = ()
        for cause in ("shown", "judged", "over", "pos", "size"):
            self.fbind(cause, self._draw)
        for cause in ("over", "pos", "size", "opacity", "parent"):
            self.fbind(cause, changed)

    def place(self, value: float) -> float:
        """Pixels from the left edge of the window."""
        start, _value, low, high = self.shown
        return self.x + self.width * min(1.0, max(0.0, GATE * (value - start) / ((low + high) / 2 - start)))

    @property
    def _groove(self) -> tuple[float, float]:
        """Its low edge and its height, in pixels."""
        return self.y + self.height * 0.25, self.height * 0.5

    def flats(self) -> list[Flat]:
        """The groove, and the gate: two posts with the ground of the window between them."""
        if not self.shown:
            return []
        _start, _value, low, high = self.shown
        left, right, (y, tall) = self.place(low), self.place(high), self._groove
        groove, aim, post = (Colour.on_next, Colour.next, Colour.on_next) if self.over else (Colour.line, Colour.aim, Colour.good)
        return [*frame(groove, self.x, y, self.width, tall, look.u), box(aim, left, self.y, right - left, self.height),
                *(box(post, x - look.u, self.y, 2 * look.u, self.height) for x in (left, right))]

    def _draw(self, *_):
        window = (self.shown[0], *self.shown[2:]) if self.shown else ()
        if window != self._window:
            self._window = window
            changed()
        if not self.shown or self.width < 2:
            return self._put()
        _start, value, low, high = self.shown
        y, tall = self._groove
        at, past = self.place(value), self.place(high)
        self._ink.rgba = Colour.on_next if self.over else Colour.good if low <= value <= high and self.judged else Colour.text
        self._warn.rgba = Colour.on_next if self.over else Colour.warn
        self._fill.pos, self._fill.size = (self.x, y), (min(at, past) - self.x, tall)
        if value > high:
            broad = max(at - past, 3 * look.u)
            self._past.pos, self._past.size = (past, self.y), (min(broad, self.x + self.width - past), self.height)
            return self._put(self._ink, self._fill, self._warn, self._past)
        if self.judged and value < low:
            self._short.rectangle = (at, y, max(self.place(low) - at, 2 * look.u), tall)
            return self._put(self._ink, self._fill, self._warn, self._short)
        return self._put(self._ink, self._fill)

    def _put(self, *drawn) -> None:
        if drawn != self._drawn:
            self._drawn = drawn
            self.canvas.clear()
            for each in drawn:
                self.canvas.add(each)
