"""Text that fits its place, and text that runs.

Kivy's own label draws each text as a picture, anew with each change. Here a text is put together from signs that are
drawn once a font, in lines that are broken here.
"""

import re
from collections.abc import Callable, Iterator
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

from kivy.core.text import Label
from kivy.graphics import Color, Mesh
from kivy.graphics.texture import Texture
from kivy.lang import Builder
from kivy.properties import (
    BooleanProperty,
    ColorProperty,
    NumericProperty,
    OptionProperty,
    StringProperty,
)
from kivy.uix.widget import Widget

from kiosk.screens.ui.look import LEAST, Colour, Type
from kiosk.screens.ui.sheet import before_the_frame, changed, quads

BLANK, RAISED = 1.32, 0.07   # how far a line of figures may outgrow its place, and is raised, in parts of its height
BARE, COMMA = 1.5, 0.65        # the same of one that says no unit: nothing but a comma reaches below the line, by less
DIGIT = re.compile(r"\d")    # figures are all of one width, so a running timer is measured once
WORD = re.compile(r"\S*\d (?:s|g|kg|min)\b\S*|\S+")      # a figure keeps its unit
FIGURES = "0123456789.,"
SIGNED = set(FIGURES + "+−–?")
FACES = ("Roboto", False), ("Roboto", True), ("RobotoMono-Regular", False)     # what texts are set in: (font, bold)
A_ROW = 16                   # signs in a row of their picture: no broader than any panel's processor can take
BETWEEN = 4 * " "            # two signs, so that none reaches into the other's place
APART = 1                    # pixels of its neighbourhood that come with a sign: some reach over their own width


class Words(Widget):
    """Text that shrinks to fit its place, down to the least size; then it reaches out of it, and is not `whole`."""

    text = StringProperty()
    size_u = NumericProperty(Type.body)
    bold = BooleanProperty(False)
    color = ColorProperty(Colour.text)
    halign = OptionProperty("center", options=("left", "center", "right"))
    valign = OptionProperty("middle", options=("top", "middle", "bottom"))
    font_name = StringProperty("Roboto")
    u = NumericProperty(1.0)            # as the look has it
    tight = BooleanProperty(False)      # figures: the blank over and under the signs may reach out of the place

    def __init__(self, **given):
        self._letters = None
        super().__init__(**given)
        for cause in ("text", "size_u", "bold", "color", "halign", "valign", "font_name", "u", "pos", "size", "opacity",
                      "parent"):
            self.fbind(cause, self._changed)
        self._changed()

    _changed = staticmethod(changed)

    @property
    def placed(self) -> bool:
        """There is something to say, and a place for it: text without either is not drawn."""
        return bool(self.text.strip()) and min(self.size) >= 2

    @property
    def fitted(self) -> "Fitted":
        return fitted(DIGIT.sub("0", self.text), self.font_name, self.bold, round(self.width),
                      round(self.height * (1 if not self.tight else BARE if self._bare else BLANK)),
                      self.size_u, self.u)

    @property
    def _bare(self) -> bool:
        return SIGNED.issuperset(self.text)

    @property
    def signs(self) -> tuple["Signs", str]:
        """Of which font it is made, and of which signs."""
        return Signs.of(self.font_name, self.fitted.font_size, self.bold), self.text

    @property
    def whole(self) -> bool:
        """All of the text is there to be read."""
        return not self.placed or self.fitted.whole

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """What the text itself takes up on the window: left, low, right, high."""
        _signs, corners = self.set_in_lines()
        return min(corners[0::4]), min(corners[1::4]), max(corners[0::4]), max(corners[1::4])

    def letters(self) -> tuple["Signs", list[float]] | None:
        """For the sheet: eight numbers a corner of each sign: where on the window, where in the picture, its colour."""
        if not self.placed:
            return None
        signs, text = self.signs
        wanted = (signs, signs.knows(text), self.text, *self.pos, *self.size, *self.color, self.halign, self.valign)
        if self._letters is None or self._letters[0] != wanted:
            self._letters = wanted, self.set_in_lines(self.color)[1]
        return signs, self._letters[1]

    def set_in_lines(self, colour=()) -> tuple["Signs", list[float]]:
        """The signs, and the corners of each of the text's: where on the window, where in the picture, then `colour`."""
        (signs, text), lines = self.signs, self.fitted.lines
        signs.knows(text)
        left = {"left": 0.0, "center": 0.5, "right": 1.0}[self.halign]
        above = {"top": 0.0, "middle": 0.5, "bottom": 1.0}[self.valign] * (self.height - len(lines) * signs.tall)
        if self.tight:              # a descender must not reach what stands below, nor a comma
            above -= (0 if self._bare and "," not in self.text else COMMA if self._bare else 1) * RAISED * signs.tall
        top, corners = int(self.y + self.height - above), []
        for n, (start, end) in enumerate(lines, 1):
            corners += signs.line(text[start:end], top - n * signs.tall,
                                  lambda broad: int(self.x + left * (self.width - broad)), colour)
        return signs, corners


class Running(Words):
    """A text that changes many times a second: it has a drawing of its own, so that nothing else is gathered anew."""

    def __init__(self, **given):
        self._ink, self._mesh = Color(), Mesh(mode="triangles")
        super().__init__(**given)
        self.canvas.add(self._ink)
        self.canvas.add(self._mesh)

    def letters(self):
        return None

    @property
    def signs(self) -> tuple["Signs", str]:
        signs, text = super().signs
        signs.knows(FIGURES)
        return signs, text

    def _changed(self, *_):
        before_the_frame(self._set)

    def _set(self) -> None:
        if not self.placed:
            self._mesh.indices = []
            return
        signs, corners = self.set_in_lines()
        self._ink.rgba = self.color
        self._mesh.texture, self._mesh.vertices = signs.picture, corners
        if len(self._mesh.indices) != 6 * len(corners) // 16:
            self._mesh.indices = quads(len(corners) // 16)


class Fitted(NamedTuple):
    font_size: float                        # pixels
    whole: bool                             # at this size it has room
    lines: tuple[tuple[int, int], ...]      # from which of its signs to which


@lru_cache(maxsize=2000)
def fitted(text: str, font: str, bold: bool, width: int, height: int, size_u: float, u: float) -> Fitted:
    """`text` as large as it fits into `width` × `height` pixels: `size_u`, or less, down to the least."""
    for size in sizes(size_u, u):
        signs = Signs.of(font, size, bold)
        lines = broken(text, width + 1, signs.extent)
        whole = len(lines) * signs.tall <= height + 1 and all(signs.extent(word) <= width + 1 for word in text.split())
        if whole:
            break
    return Fitted(size, whole, lines)


def sizes(size_u: float, u: float) -> Iterator[float]:
    """In pixels, those that a text of `size_u` may have, down to the least: whole u, so that all texts shrink through the same fonts."""
    return (n * u for n in range(max(round(size_u), LEAST), LEAST - 1, -1))


def broken(text: str, width: float, extent: Callable[[str], float]) -> tuple[tuple[int, int], ...]:
    """Where lines of `text` begin and end, each no broader than `width`: between words, or within one too broad."""
    lines, at = [], 0
    for part in text.split("\n"):
        start = end = None
        for word in WORD.finditer(part):
            first, last = at + word.start(), at + word.end()
            if start is not None and extent(text[start:last]) <= width:
                end = last
                continue
            if start is not None:
                lines.append((start, end))
            while extent(text[first:last]) > width and (room := _room(text[first:last], width, extent)) < last - first:
                lines.append((first, first + room))
                first += room
            start, end = first, last
        lines.append((at, at) if start is None else (start, end))
        at += len(part) + 1
    return tuple(lines)


def _room(word: str, width: float, extent: Callable[[str], float]) -> int:
    """How many signs of the word fit, at least one."""
    return max([1, *(n for n in range(2, len(word) + 1) if extent(word[:n]) <= width)])


class Signs:
    """The signs of one font and size that were ever asked for, in one picture."""

    def __init__(self, **font):
        self._font, self._known, self._learned = font, "", 0
        self._measure = Label(**font)
        self._measure.resolve_font_name()
        self.tall = self._measure.get_extents("0")[1]       # pixels, of a line
        self._places: dict[str, tuple[float, ...]] = {}     # how wide, from where to where in line and picture
        self._wide: dict[str, int] = {}                     # of a sign alone: the font is asked once

    @classmethod
    @lru_cache(maxsize=200)
    def of(cls, font: str, size: float, bold: bool) -> "Signs":
        return cls(font_name=font, font_size=size, bold=bold)

    def extent(self, text: str) -> int:
        """How broad the text is in one line, in pixels."""
        return self._measure.get_extents(text)[0]

    def alone(self, sign: str) -> int:
        """How broad one sign is."""
        if sign not in self._wide:
            self._wide[sign] = self.extent(sign)
        return self._wide[sign]

    def knows(self, text: str) -> int:
        """Learn what is new in `text`; how often anything was learned: the picture is another each time."""
        if not set(text) <= self._places.keys():
            self._learn(text)
        return self._learned

    def line(self, text: str, y: float, begins: Callable[[int], float], colour=()) -> list[float]:
        """The corners of each sign of a line over `y`: where on the window, where in the picture, then `colour`.
        `begins(width)` says where on the window it begins."""
        starts, broad = spaced(self, DIGIT.sub("0", text)) if text else ((), 0)
        x, corners = begins(broad), []
        for each, start in zip(text, starts):
            wide, low, high, from_u, to_u, from_v, to_v = self._places[each]
            left, right, bottom, top = x + start - APART, x + start + wide + APART, y + low, y + high
            corners += (left, bottom, from_u, from_v, *colour, right, bottom, to_u, from_v, *colour,
                        right, top, to_u, to_v, *colour, left, top, from_u, to_v, *colour)
        return corners

    def _learn(self, text: str) -> None:
        self._known = "".join(sorted(set(self._known + text) - {"\n"}))
        rows = [BETWEEN.join(self._known[n:n + A_ROW]) for n in range(0, len(self._known), A_ROW)]
        drawn = Label(text="\n".join(f".{BETWEEN}{row}{BETWEEN}." for row in rows), **self._font)
        drawn.refresh()
        self.picture = unscaled(drawn.texture)
        (u, v), (broad, high) = self.picture.uvpos, self.picture.uvsize
        width, height, alpha = *self.picture.size, self.picture.pixels[3::4]
        for n, each in enumerate(self._known):
            row, place = divmod(n, A_ROW)
            wide = self.alone(each)
            left = self.extent(f".{BETWEEN}{rows[row][:(1 + len(BETWEEN)) * place + 1]}") - wide
            top = row * self.tall
            blank, begins = bytes(wide), width * top + left
            inked = [y for y in range(self.tall) if alpha[begins + width * y:begins + width * y + wide] != blank] or [0]
            first, last = top + inked[0], top + inked[-1] + 1           # rows of the picture, from its top
            self._places[each] = (
                wide, top + self.tall - last, top + self.tall - first,
                u + broad * (left - APART) / width, u + broad * (left + wide + APART) / width,
                v + high * (1 - last / height), v + high * (1 - first / height))
        self._places["\n"] = (0,) * 7
        self._learned += 1


@lru_cache(maxsize=2000)
def spaced(signs: Signs, text: str) -> tuple[tuple[int, ...], int]:
    """How far each sign of the text begins from its left edge, as the font has them side by side; and its width."""
    extents = [signs.extent(text[:n + 1]) for n in range(len(text))]
    return tuple(extent - signs.alone(each) for extent, each in zip(extents, text)), extents[-1]


def unscaled(texture: Texture) -> Texture:
    """A text is drawn pixel on pixel, so none is reckoned from its neighbours: half the cost of filling it."""
    texture.mag_filter = texture.min_filter = "nearest"
    return texture


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
