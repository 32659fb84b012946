"""What a finger meets: keys, text that fits its place, the row of steps, the curve of a pull."""

import re
from functools import lru_cache
from time import monotonic

from kivy.core.text import Label as CoreLabel
from kivy.graphics import Color, Line, Rectangle, RoundedRectangle, Triangle
from kivy.lang import Builder
from kivy.properties import (
    BooleanProperty,
    ColorProperty,
    ListProperty,
    NumericProperty,
    OptionProperty,
    StringProperty,
)
from kivy.uix.behaviors import ButtonBehavior
from kivy.uix.boxlayout import BoxLayout
from kivy.uix.label import Label
from kivy.uix.widget import Widget

from kiosk.screens.look import LEAST, Colour, look

AGAIN_S = 0.3           # a wet finger bounces: the same key takes no second tap sooner


class Words(Label):
    """Text that shrinks to fit its place, down to the least size; then it is cut with dots."""

    size_u = NumericProperty(18)
    whole = BooleanProperty(True)       # all of the text is there to be read

    def __init__(self, **given):
        super().__init__(**given)
        for cause in ("text", "size", "size_u"):
            self.fbind(cause, self._fit)
        look.fbind("u", self._fit)
        self._fitted = None
        self._fit()

    def _fit(self, *_):
        wanted = (self.text, tuple(self.size), self.size_u, look.u)
        if wanted != self._fitted:
            self._fitted = wanted
            self.font_size, self.whole, one_line = fitting(DIGIT.sub("0", self.text), self.font_name, self.bold, round(self.width),
                                                 round(self.height), self.size_u, look.u)
            # The texture is no larger than the text needs: drawing it, and sending it to the panel, is what a frame costs.
            if self.valign != "middle":
                self.text_size = self.size
            else:
                self.text_size = (None, None) if one_line and self.halign == "center" else (self.width, None)


DIGIT = re.compile(r"\d")    # figures are all of one width, so a running timer is measured once


@lru_cache(maxsize=2000)
def fitting(text: str, font: str, bold: bool, width: int, height: int, size_u: float,
            u: float) -> tuple[float, bool, bool]:
    """The font size, in pixels, at which `text` fits into `width` × `height`; whether even the least one does; whether
    it is then one line."""
    size, least = size_u * u, LEAST * u
    if width < 2 or height < 2:
        return size, True, False
    label = CoreLabel(text=text, font_name=font, bold=bold, text_size=(width, None))
    label.resolve_font_name()
    while True:
        label.options["font_size"] = size
        label._size_texture = None
        tall = label.render()[1] <= height + 1
        broad = all(label.get_extents(word)[0] <= width + 1 for word in text.split())
        if (tall and broad) or size <= least:
            return max(size, least), tall and broad, "\n" not in text and label.get_extents(text)[0] <= width
        size = max(least, size - max(1.0, u))


class Key(ButtonBehavior, BoxLayout):
    """A thing to touch: `kind` is next (the one to touch next), plain, or warn. Answers as the finger comes down."""

    text = StringProperty("")
    under = StringProperty("")
    kind = OptionProperty("plain", options=("next", "plain", "warn", "quiet"))
    size_u = NumericProperty(22)
    on = BooleanProperty(False)
    shown = BooleanProperty(True)
    again_s = NumericProperty(AGAIN_S)
    opened_s = float("-inf")            # when another room was opened under the finger: its bounce is for no key there
    ground = ColorProperty(Colour.raised)
    ink = ColorProperty(Colour.text)

    def __init__(self, **given):
        self.register_event_type("on_tap")
        self._last_tap = float("-inf")
        self._grounds: list[RoundedRectangle] = []
        self._under: Words | None = None
        super().__init__(**given)
        for cause in ("kind", "on", "disabled", "state"):
            self.fbind(cause, self._paint)
        for cause in ("on", "pos", "size"):
            self.fbind(cause, self._lay)
        self.fbind("under", self._say_under)
        self._paint()
        self._say_under()

    def _lay(self, *_):
        """The ground under the words; with an edge, a larger one under it: an outline costs far more to draw."""
        edges = (0, 3 * look.u) if self.on else (0,)
        if len(self._grounds) != len(edges):
            self._lay_anew(len(edges))
        for ground, edge in zip(self._grounds, edges):
            ground.pos, ground.size = (self.x + edge, self.y + edge), (self.width - 2 * edge, self.height - 2 * edge)
            ground.radius = [8 * look.u - edge / 2]

    def _lay_anew(self, many: int):
        self.canvas.before.clear()
        with self.canvas.before:
            if many == 2:
                Color(*Colour.next)
                self._grounds = [RoundedRectangle(segments=4)]
            else:
                self._grounds = []
            self._colour = Color(*self.ground)
            self._grounds.append(RoundedRectangle(segments=4))

    def _say_under(self, *_):
        """The second line is there only when it says something: an empty text costs as much to draw as a full one."""
        if self.under and self._under is None:
            self._under = Words(size_u=15, halign="center", size_hint_y=0.62, color=self.ink)
            self.add_widget(self._under)
        if self._under is not None:
            self._under.text = self.under
            if not self.under:
                self.remove_widget(self._under)
                self._under = None

    def _paint(self, *_):
        ground, ink = {"next": (Colour.next, Colour.on_next), "plain": (Colour.raised, Colour.text),
                       "warn": (Colour.raised, Colour.warn), "quiet": (Colour.card, Colour.quiet)}[self.kind]
        if self.disabled:
            ground, ink = Colour.card, Colour.line
        elif self.state == "down":
            ground, ink = Colour.text, Colour.ground
        self.ground, self.ink = ground, ink
        self._lay()
        self._colour.rgba = ground
        if self._under is not None:
            self._under.color = ink

    def on_press(self):
        now = monotonic()
        if now - self._last_tap >= self.again_s and now - Key.opened_s >= AGAIN_S:
            self._last_tap = now
            self.dispatch("on_tap")

    def on_tap(self):
        pass


class StepRow(Widget):
    """The steps, always visible: each a word with a shape under it. `marks` are done, now, ahead or skipped."""

    names = ListProperty()
    marks = ListProperty()
    narrow = BooleanProperty(False)

    def __init__(self, **given):
        super().__init__(**given)
        self._words: list[Words] = []
        for cause in ("names", "marks", "pos", "size", "narrow"):
            self.fbind(cause, self._draw)

    def _draw(self, *_):
        while len(self._words) < len(self.names):
            words = Words(size_u=16, halign="center", valign="middle")
            self._words.append(words)
            self.add_widget(words)
        for surplus in self._words[len(self.names):]:
            self.remove_widget(surplus)
        del self._words[len(self.names):]
        self.canvas.before.clear()
        if not self.names:
            return
        u, width = look.u, self.width / len(self.names)
        bar = 5 * u
        high = (self.height - bar - 2 * u) / (2 if self.narrow else 1)
        with self.canvas.before:
            for n, (words, name, mark) in enumerate(zip(self._words, self.names, self.marks)):
                left = self.x + n * width
                if self.narrow:             # the words take turns, one above, one below, each with room to its sides
                    middle, broad = left + width / 2, min(2 * width, self.width / 2) - 2 * u
                    x = min(max(middle - broad / 2, self.x), self.right - broad)
                    words.pos, words.size = (x, self.y + bar + 2 * u + (n % 2 == 0) * high), (broad, high)
                else:
                    words.pos, words.size = (left + u, self.y + bar + 2 * u), (width - 2 * u, high)
                words.text = name
                words.bold = mark == "now"
                words.color = {"now": Colour.next, "done": Colour.text, "ahead": Colour.quiet, "skipped": Colour.warn}[mark]
                Color(*{"now": Colour.next, "done": Colour.good, "ahead": Colour.line, "skipped": Colour.warn}[mark])
                inner = (left + 2 * u, width - 4 * u)
                if mark == "skipped":       # broken in two
                    Rectangle(pos=(inner[0], self.y), size=(inner[1] * 0.35, bar))
                    Rectangle(pos=(inner[0] + inner[1] * 0.65, self.y), size=(inner[1] * 0.35, bar))
                elif mark == "ahead":       # thin
                    Rectangle(pos=(inner[0], self.y + bar / 3), size=(inner[1], bar / 3))
                else:
                    Rectangle(pos=(inner[0], self.y), size=(inner[1], bar))
                if mark == "now":           # a point to it
                    mid = left + width / 2
                    Triangle(points=(mid - 6 * u, self.y + bar, mid + 6 * u, self.y + bar, mid, self.y + bar + 7 * u))


class Curve(Widget):
    """Grams over seconds, against the window where the pull should end."""

    points = ListProperty()                     # (seconds, grams)
    window = ListProperty([20, 30, 45, 55])     # seconds low, high, grams low, high

    def __init__(self, **given):
        super().__init__(**given)
        with self.canvas:
            Color(*Colour.line)
            self._axes = Line(width=1)
            Color(Colour.good[0], Colour.good[1], Colour.good[2], 0.35)
            self._box = Rectangle()
            Color(*Colour.good)
            self._edge = Line(width=1.2)
            Color(*Colour.water)
            self._line = Line(width=2)
        for cause in ("points", "window", "pos", "size"):
            self.fbind(cause, self._draw)

    def _draw(self, *_):
        from_s, to_s, from_g, to_g = self.window
        last = self.points[-1] if self.points else (0, 0)
        across = self.width / max(to_s * 1.2, last[0])
        up = self.height / max(to_g * 1.15, last[1])
        x, y = self.pos
        self._axes.points = [x, self.top, x, y, self.right, y]
        box = x + from_s * across, y + from_g * up, (to_s - from_s) * across, (to_g - from_g) * up
        self._box.pos, self._box.size = box[:2], box[2:]
        self._edge.rectangle = box
        self._line.points = [c for s, g in self.points for c in (x + max(0, s) * across, y + max(0, g) * up)]


Builder.load_string("""
#:import look kiosk.screens.look.look
#:import Colour kiosk.screens.look.Colour
#:import _ kiosk.screens.words._

<Words>:
    color: Colour.text
    valign: "middle"
    shorten: False

<Key>:
    orientation: "vertical"
    padding: 6 * look.u, 4 * look.u
    Words:
        text: root.text
        size_u: root.size_u
        bold: True
        color: root.ink
        halign: "center"
""")
