"""What a finger meets: keys, the row of steps, the curve of a pull."""

from math import ceil
from pathlib import Path
from time import monotonic

from kivy.graphics import Color, Line
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
from kivy.uix.widget import Widget

from kiosk.screens.ui.icons import drawn
from kiosk.screens.ui.look import Colour, Type, look
from kiosk.screens.ui.sheet import Flat, box, changed, frame, ringed, rounded, stroke
from kiosk.screens.ui.text import Running, Words  # noqa: F401  the rules of the rooms use both
from kiosk.screens.ui.track import Track  # noqa: F401
from kiosk.screens.ui.words import window

BAR, FOOT, RING = 5, 2, 4       # u: the bars under the steps, a key's foot, the ring round what is chosen
UNDER = 0.75            # how high a key's second line is beside its first: the two stand together in the key's middle
LONGER_BY = 10.0        # s, g: of a curve's axes that a pull has outrun
POINTS = 60             # of a curve, more than the eye tells apart
AGAIN_S = 0.3           # a wet finger bounces: nothing takes a second tap sooner, nor a key that has just come under it


class Key(ButtonBehavior, BoxLayout):
    """A thing to touch. Orange is the one to touch next; what may be touched has a face with a foot under it, what is
    chosen an orange ring round it; what cannot be touched now has no foot. Answers as the finger comes down."""

    text = StringProperty("")
    under = StringProperty("")
    icon = StringProperty("")           # a name in `icons`, "" for none
    kind = OptionProperty("plain", options=("next", "plain", "warn", "quiet", "over"))
    size_u = NumericProperty(Type.body)
    on = BooleanProperty(False)
    shown = BooleanProperty(True)
    says_under = True                   # a kind of key with a place of its own for that line draws it there
    again_s = NumericProperty(AGAIN_S)
    opened_s = float("-inf")            # when another room was opened under the finger: its bounce is for no key there
    fill = ColorProperty(Colour.key)
    rim = ColorProperty(None, allownone=True)
    ink = ColorProperty(Colour.text)

    def __init__(self, **given):
        self.register_event_type("on_tap")
        self._last_tap = monotonic()
        self._under: Words | None = None
        super().__init__(**given)
        for cause in ("kind", "on", "disabled", "state"):
            self.fbind(cause, self._paint)
        for cause in ("text", "icon", "on", "pos", "size", "opacity", "parent", "fill", "rim"):
            self.fbind(cause, changed)
        self.fbind("under", self._say_under)
        self._paint()
        self._say_under()

    def flats(self) -> list[Flat]:
        place, u = (*self.pos, *self.size), look.u
        if self.on and not self.disabled:
            shapes = ringed(Colour.next, self.fill, *place, look.round, RING * u)
        elif self.rim:                  # a foot: the same shape, seen under the face
            x, y, width, height = place
            shapes = [rounded(self.rim, x, y, width, 2 * look.round, look.round),
                      rounded(self.fill, x, y + FOOT * u, width, height - FOOT * u, look.round)]
        else:
            shapes = [rounded(self.fill, *place, look.round)]
        if self.icon:
            side = look.icon
            top = self.top - look.gap - side
            words = self.y + look.gap + UNDER / (1 + UNDER) * (top - look.gap - self.y) if self.under else self.center_y - self.size_u * look.u
            over = self.center_y - side / 2 if not self.text else min(top, words + 1.3 * self.size_u * look.u + look.gap)
            shapes += drawn(self.icon, self.ink, self.center_x - side / 2, over, side)
        return shapes

    @property
    def ground(self) -> list[float]:
        """What its words stand on."""
        return self.fill

    def _say_under(self, *_):
        """The second line is there only when it says something: an empty text costs as much to draw as a full one."""
        if self.under and self._under is None and self.says_under:
            self._under = Words(size_u=Type.small, halign="center", valign="top", size_hint_y=UNDER, color=self.ink)
            self.add_widget(self._under)
        if self._under is not None:
            self._under.text = self.under
            if not self.under:
                self.remove_widget(self._under)
                self._under = None

    def _paint(self, *_):
        self.fill, self.rim, self.ink = {
            "next": (Colour.next, None, Colour.on_next), "plain": (Colour.key, Colour.rim, Colour.text),
            "warn": (Colour.key, Colour.warn, Colour.warn), "quiet": (Colour.surface, Colour.line, Colour.quiet),
            "over": (Colour.over, None, Colour.text)}[self.kind]
        if self.disabled:
            self.fill, self.rim, self.ink = Colour.surface, None, Colour.faint
        elif self.state == "down":
            self.fill, self.rim, self.ink = Colour.text, None, Colour.ground
        if self._under is not None:
            self._under.color = self.ink

    def on_press(self):
        now = monotonic()
        if now - self._last_tap >= self.again_s and now - Key.opened_s >= AGAIN_S:
            self._last_tap = now
            self.dispatch("on_tap")

    def on_tap(self):
        pass


class StepRow(Widget):
    """The steps, always visible: each a word with a shape under it. `marks` are done, now, ahead, skipped, or
    untold: nobody told it and nothing showed it."""

    names = ListProperty()
    marks = ListProperty()
    narrow = BooleanProperty(False)
    bare = BooleanProperty(False)       # the shapes alone
    touchable = BooleanProperty(False)

    def __init__(self, **given):
        self.register_event_type("on_label")
        super().__init__(**given)
        self._words: list[Words] = []
        for cause in ("names", "marks", "pos", "size", "narrow", "bare"):
            self.fbind(cause, self._say)
        for cause in ("names", "marks", "pos", "size", "opacity", "parent"):
            self.fbind(cause, changed)

    def on_label(self, place: int):
        """The label of the step in that place was touched."""

    def on_touch_down(self, touch):
        if not self.touchable or not self.names or self.opacity == 0 or not self.collide_point(*touch.pos):
            return super().on_touch_down(touch)
        self.dispatch("on_label", min(len(self.names) - 1, int((touch.x - self.x) / self.width * len(self.names))))
        return True

    def _say(self, *_):
        while len(self._words) < len(self.names):
            words = Words(size_u=Type.small, halign="center", valign="middle")
            self._words.append(words)
            self.add_widget(words)
        for surplus in self._words[len(self.names):]:
            self.remove_widget(surplus)
        del self._words[len(self.names):]
        if not self.names:
            return
        u, width = look.u, self.width / len(self.names)
        foot = BAR * u + 2 * u
        high = (self.height - foot) / (2 if self.narrow else 1)
        for n, (words, name, mark) in enumerate(zip(self._words, self.names, self.marks)):
            middle, broad = self.x + (n + 0.5) * width, width
            if self.narrow:             # the words take turns, one above, one below, each with room to its sides
                broad = self.width / 3 if n % 2 == 0 else 2 * width
            x = min(max(middle - broad / 2, self.x), self.x + self.width - broad)
            words.pos = x + u, self.y + foot + (high if self.narrow and n % 2 == 0 else 0)
            words.size = broad - 2 * u, high
            words.text = "" if self.bare else name
            words.bold = mark == "now"
            words.color = {"now": Colour.next, "done": Colour.text, "ahead": Colour.quiet, "skipped": Colour.warn, "untold": Colour.quiet}[mark]

    def flats(self) -> list[Flat]:
        u, shapes = look.u, []
        width = self.width / max(1, len(self.marks))
        for n, mark in enumerate(self.marks):
            x, broad = self.x + n * width + 2 * u, width - 4 * u
            if mark == "skipped":       # broken in two
                shapes += [box(Colour.warn, x, self.y, broad * 0.35, BAR * u),
                           box(Colour.warn, x + broad * 0.65, self.y, broad * 0.35, BAR * u)]
            elif mark == "untold":      # three dots, each as wide as it is high
                shapes += [box(Colour.quiet, x + broad * share - BAR * u / 2, self.y, BAR * u, BAR * u)
                           for share in (0.25, 0.5, 0.75)]
            elif mark == "ahead":       # thin
                shapes.append(box(Colour.line, x, self.y + BAR * u / 3, broad, BAR * u / 3))
            elif mark == "done":
                shapes.append(box(Colour.good, x, self.y, broad, BAR * u))
            else:                       # with a point to it
                middle, top = x + broad / 2, self.y + BAR * u
                shapes += [box(Colour.next, x, self.y, broad, BAR * u),
                           (Colour.next, ((middle - 6 * u, top), (middle + 6 * u, top), (middle, top + 7 * u)))]
        return shapes


class Curve(Widget):
    """Grams over seconds, against the window where the pull should end."""

    points = ListProperty()                     # (seconds, grams)
    window = ListProperty([20, 30, 45, 55])     # seconds low, high, grams low, high
    before = ListProperty()                     # the last pull of this lane, pale behind it
    over = BooleanProperty(False)               # on the strong colour

    def __init__(self, **given):
        super().__init__(**given)
        self._scale = 0, 0
        self._seconds, self._grams = (Words(size_u=Type.small, halign=halign) for halign in ("center", "right"))
        self.add_widget(self._seconds)
        self.add_widget(self._grams)
        self._ink, self._line = Color(*Colour.water), Line(width=2.5 * look.u)
        self._drawn = False                     # a line without a point costs as much in every frame
        self.fbind("points", self._draw)
        for cause in ("over", "before", "window", "pos", "size", "opacity"):
            self.fbind(cause, self._lay_out)
        self.fbind("parent", changed)

    def _across_and_up(self) -> tuple[float, float]:
        """Pixels a second, pixels a gram. A pull that runs on makes the axes longer by a part at a time, not with each reading."""
        _, to_s, _, to_g = self.window
        last_s, last_g = self.points[-1] if self.points else (0, 0)
        return self.width / max(to_s * 1.2, LONGER_BY * ceil(last_s / LONGER_BY)), self.height / max(to_g * 1.15, LONGER_BY * ceil(last_g / LONGER_BY))

    def flats(self) -> list[Flat]:
        """The axes, the window, and the last pull."""
        from_s, to_s, from_g, to_g = self.window
        (across, up), (x, y) = self._scale, self.pos
        window = x + from_s * across, y + from_g * up, (to_s - from_s) * across, (to_g - from_g) * up
        axis, edge = (Colour.on_next, Colour.on_next) if self.over else (Colour.rim, Colour.good)
        ground = [] if self.over else [box(Colour.aim, *window)]
        return [box(axis, x, y, self.width, look.u), box(axis, x, y, look.u, self.height), *ground,
                *frame(edge, *window, 2 * look.u),
                *([] if self.over else stroke(Colour.faint, self._along(self.before), 3 * look.u))]

    def _along(self, points) -> tuple[tuple[float, float], ...]:
        """Where on the window those points lie, so many as the eye tells apart."""
        (across, up), (x, y) = self._scale, self.pos
        return tuple((x + min(max(0, s) * across, self.width), y + min(max(0, g) * up, self.height))
                     for s, g in [*points[::max(1, len(points) // POINTS)], *points[-1:]])

    def _name_window(self, *_):
        """The window's two numbers: its grams over it, to the right of where a pull runs that is too fast; its seconds under it
        on the axis."""
        from_s, to_s, from_g, to_g = self.window
        (across, up), there = self._scale, self.opacity and self.width > look.row_key / 2
        middle, half = self.x + (from_s + to_s) / 2 * across, look.row_key / 2
        rightmost = self.right - 2 * half
        for words, x, y, told in (
                (self._seconds, min(max(middle - half, self.x), rightmost), self.y + look.u, f"{window(from_s, to_s)} s"),
                (self._grams, min(middle, rightmost), min(self.y + to_g * up + look.u, self.top - look.foot), f"{window(from_g, to_g)} g")):
            words.pos, words.size = (x, y), (2 * half, look.foot)
            words.text, words.color = told if there else "", Colour.on_next if self.over else Colour.quiet

    def _lay_out(self, *_):
        """All of it, where its place, its window or its scale is another."""
        self._scale = self._across_and_up()
        changed()
        self._name_window()
        self._draw()

    def _draw(self, *_):
        """What runs in it."""
        if self._across_and_up() != self._scale:
            return self._lay_out()
        self._ink.rgba = Colour.on_next if self.over else Colour.water
        self._line.points = [part for place in self._along(self.points) for part in place]
        if self._drawn != bool(self.points):
            self._drawn = bool(self.points)
            for each in (self._ink, self._line):
                (self.canvas.add if self._drawn else self.canvas.remove)(each)


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
