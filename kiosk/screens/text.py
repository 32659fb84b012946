"""Text that fits its place, and text that runs.

Kivy's own label draws each text as a picture, anew with each change. Here a line of text is put together from signs
that are drawn once a font; only what needs several lines is a picture.
"""

import re
from functools import lru_cache

from kivy.core.text import Label as CoreLabel
from kivy.graphics import Color, InstructionGroup, Mesh, Rectangle
from kivy.graphics.texture import Texture
from kivy.lang import Builder
from kivy.properties import BooleanProperty, NumericProperty
from kivy.uix.label import Label

from kiosk.screens.look import LEAST, Type
from kiosk.screens.sheet import changed, quads

DIGIT = re.compile(r"\d")    # figures are all of one width, so a running timer is measured once
FIGURES = "0123456789.,"
A_ROW = 16                   # signs in a row of their picture: no broader than any panel's processor can take
APART = 1                    # pixels of its neighbourhood that come with a sign: some reach over their own width


class Words(Label):
    """Text that shrinks to fit its place, down to the least size; then it is cut."""

    size_u = NumericProperty(Type.body)
    u = NumericProperty(1.0)            # as the look has it
    whole = BooleanProperty(True)       # all of the text is there to be read

    def __init__(self, **given):
        super().__init__(**given)
        self._fitted, self._one_line, self._letters = None, False, None
        self._group, self._drawn = InstructionGroup(), ()
        self._white, self._picture = Color(1, 1, 1, 1), Rectangle()
        self.canvas.add(self._group)
        for cause in ("text", "size", "size_u", "bold", "u"):
            self.fbind(cause, self._fit)
        for cause in ("pos", "size"):
            self.fbind(cause, self._place)
        for cause in ("opacity", "parent"):
            self.fbind(cause, changed)
        self._fit()

    def letters(self) -> tuple["Signs", list[float]] | None:
        """For the sheet, its line of text. Eight numbers a corner: where on the window, where in the picture, colour."""
        if not self._one_line or not self.placed:
            return None
        signs = Signs.of(self.font_name, self.font_size, self.bold)
        wanted = self.text, tuple(self.pos), tuple(self.size), tuple(self.color), signs.knows(self.text)
        if self._letters is None or self._letters[0] != (signs, wanted):
            self._letters = (signs, wanted), signs.line(self.text, self._corner, self.color)
        return signs, self._letters[1]

    @property
    def placed(self) -> bool:
        """There is something to say, and a place for it: text without either is not drawn."""
        return bool(self.text) and min(self.size) >= 2

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """What the text itself takes up on the window: left, low, right, high."""
        if not self._one_line:
            (left, low), (width, height) = self._picture.pos, self._picture.size
            return left, low, left + width, low + height
        signs = Signs.of(self.font_name, self.font_size, self.bold)
        signs.knows(self.text)
        corners = signs.line(self.text, self._corner)
        return min(corners[0::4]), min(corners[1::4]), max(corners[0::4]), max(corners[1::4])

    def _fit(self, *_):
        wanted = (self.text, tuple(self.size), self.size_u, self.bold, self.u)
        if wanted != self._fitted:
            self._fitted = wanted
            self.font_size, self.whole, self._one_line = fitting(
                DIGIT.sub("0", self.text), self.font_name, self.bold, round(self.width), round(self.height),
                self.size_u, self.u)
            self.text_size = (None, None) if self._one_line else (self.width, None)
            self._stale()

    def _stale(self) -> None:
        """Its line on the sheet is not what it was: it reads otherwise, or needs several lines now."""
        changed()

    def texture_update(self, *_):
        if self._one_line:
            self.texture = None
        else:
            super().texture_update()
            unscaled(self.texture)
        self._place()

    def _place(self, *_):
        if self.texture is None or not self.placed:
            self._draw()
            changed()
            return
        self._picture.texture, self._picture.size = self.texture, self.texture_size
        self._picture.pos = self._corner(*self.texture_size)
        self._draw(self._white, self._picture)

    def _corner(self, width: float, height: float) -> tuple[int, int]:
        """The lower left corner of a text of that many pixels."""
        over, above = self.width - width, self.height - height
        return (int(self.x + {"left": 0, "right": over}.get(self.halign, over / 2)),
                int(self.y + {"bottom": 0, "top": above}.get(self.valign, above / 2)))

    def _draw(self, *instructions):
        if instructions != self._drawn:
            self._drawn = instructions
            self._group.clear()
            for each in instructions:
                self._group.add(each)


class Running(Words):
    """A text that changes many times a second: it has a drawing of its own, so that nothing else is gathered anew."""

    def __init__(self, **given):
        self._ink, self._line = Color(), Mesh(mode="triangles")
        super().__init__(**given)

    def letters(self):
        return None

    def _stale(self) -> None:
        """Nothing of it is on the sheet."""

    def _place(self, *_):
        if self.texture is not None or not self.placed:
            super()._place()
            return
        signs = Signs.of(self.font_name, self.font_size, self.bold)
        signs.knows(self.text + FIGURES)
        self._ink.rgba = self.color
        self._line.texture, self._line.vertices = signs.picture, signs.line(self.text, self._corner)
        if len(self._line.indices) != 6 * len(self.text):
            self._line.indices = quads(len(self.text))
        self._draw(self._ink, self._line)


class Signs:
    """The signs of one font and size that were ever asked for, in one picture."""

    def __init__(self, **font):
        self._font, self._known, self._learned = font, "", 0
        self._places: dict[str, tuple[float, ...]] = {}     # how wide, from where to where in line and picture
        self._spaced: dict[str, tuple[list[int], int]] = {}

    @classmethod
    @lru_cache(maxsize=200)
    def of(cls, font: str, size: float, bold: bool) -> "Signs":
        return cls(font_name=font, font_size=size, bold=bold)

    def knows(self, text: str) -> int:
        """Learn what is new in `text`; how often anything was learned: the picture is another each time."""
        if not set(text) <= self._places.keys():
            self._learn(text)
        return self._learned

    def line(self, text: str, corner, colour=()) -> list[float]:
        """The corners of each sign of `text`: where on the window, where in the picture, then `colour`.
        `corner(width, height)` says where the text begins."""
        starts, whole = self._starts(DIGIT.sub("0", text))
        x, y = corner(whole, self._tall)
        vertices = []
        for each, start in zip(text, starts):
            wide, low, high, from_u, to_u, from_v, to_v = self._places[each]
            left, right, bottom, top = x + start - APART, x + start + wide + APART, y + low, y + high
            vertices += (left, bottom, from_u, from_v, *colour, right, bottom, to_u, from_v, *colour,
                         right, top, to_u, to_v, *colour, left, top, from_u, to_v, *colour)
        return vertices

    def _starts(self, text: str) -> tuple[list[int], int]:
        """How far each sign of the text begins from its left edge, as the font has them side by side; and its width."""
        if text not in self._spaced:
            extents = [self._extent(text[:n + 1]) for n in range(len(text))]
            self._spaced[text] = [extent - self._extent(each) for extent, each in zip(extents, text)], extents[-1]
        return self._spaced[text]

    def _extent(self, text: str) -> int:
        return self._label.get_extents(text)[0]

    def _learn(self, text: str) -> None:
        self._known = "".join(sorted(set(self._known + text)))
        rows = ["  ".join(self._known[n:n + A_ROW]) for n in range(0, len(self._known), A_ROW)]
        self._label = CoreLabel(text="\n".join(f".{row}" for row in rows), **self._font)
        self._label.refresh()
        self._label.resolve_font_name()
        self.picture = unscaled(self._label.texture)
        (u, v), (broad, high) = self.picture.uvpos, self.picture.uvsize
        width, height, pixels = *self.picture.size, self.picture.pixels
        self._tall = height // len(rows)
        for n, each in enumerate(self._known):
            row, place = divmod(n, A_ROW)
            wide = self._extent(each)
            left = self._extent("." + rows[row][:3 * place + 1]) - wide
            top = row * self._tall
            inked = [y for y in range(self._tall)
                     if any(pixels[4 * (width * (top + y) + left) + 3:4 * (width * (top + y) + left + wide):4])] or [0]
            first, last = top + inked[0], top + inked[-1] + 1           # rows of the picture, from its top
            self._places[each] = (
                wide, top + self._tall - last, top + self._tall - first,
                u + broad * (left - APART) / width, u + broad * (left + wide + APART) / width,
                v + high * (1 - last / height), v + high * (1 - first / height))
        self._learned += 1


def unscaled(texture: Texture | None) -> Texture | None:
    """A text is drawn pixel on pixel, so none is reckoned from its neighbours: half the cost of filling it."""
    if texture is not None:
        texture.mag_filter = texture.min_filter = "nearest"
    return texture


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


Builder.load_string("""
#:import Colour kiosk.screens.look.Colour
#:import look kiosk.screens.look.look

<-Words>:
    u: look.u
    color: Colour.text
    disabled_color: self.color
    valign: "middle"
""")
