"""The languages the kiosk speaks, each a gettext catalogue.

What the bar says is English, and carries the template it was filled from (kiosk.bar.messages): a catalogue has that
template in its own words. Of a sentence that came back out of the book only the English is left. A catalogue knows it
by its template, numbers, names and all, and says it again too.
"""

import logging
import re
from functools import cache
from gettext import GNUTranslations
from string import Formatter
from typing import Any

from kiosk.bar.messages import English, Message, number
from kiosk.phrases import PHRASES
from kiosk.places import shipped

LANGUAGES = {"en": "English", "de": "Deutsch"}
ONE_AND_A_HALF = Message("1.5")        # as a language writes it: what stands between the figures parts its decimals
HEARD_MOST = 4000       # sentences remembered; live numbers make new ones all day
NUMBER, ANYTHING = r"[-+]?\d[\d.]*", r"[^;]+?"
# Where values would run together.
SHAPES = {"direction": "finer|coarser", "how": r"(?: \(.+?\))?", "grinder": "[^,;]+?"}
NAMES = ("name", "grinder", "coffee")       # given by the bar: said as they are, be it a word of ours
PIECES = re.compile(r"(?<=[.?;]) ")
log = logging.getLogger(__name__)
_unread: list[str] = []


@cache
def catalogue(language: str) -> "English | Catalogue":
    """The catalogue of one of LANGUAGES; English, what the program is written in, for any other, and for one whose file
    is missing or damaged: `notices` says so."""
    if language == "en" or language not in LANGUAGES:
        return English()
    try:
        with open(shipped("assets", "languages", language, "evenpull.mo"), "rb") as file:
            return Catalogue(file, language)
    except Exception:                   # a damaged file fails in many ways, and a bar is served in English too
        log.exception("the words of %s", language)
        _unread.append(language)
        return English()


def notices() -> tuple[str, ...]:
    """A sentence for each language that was asked for and cannot be spoken."""
    return tuple(Message("The words for {language} are missing or damaged, and English is spoken. Install Evenpull again.",
                      language=LANGUAGES[each]) for each in _unread)


class Catalogue(GNUTranslations):
    """A Language out of a file. `code` is its own (BCP 47)."""

    def __init__(self, file, code: str):
        super().__init__(file)
        self.code = code
        self._point = super().gettext(ONE_AND_A_HALF)[1]
        self._words = {text: Worded(said, self._point) for text, said in self._catalog.items() if text}
        sentences = [text for text in self._words
                     if "{" in text and (text.endswith((".", "?")) or text in PHRASES)]
        # The more a template says itself, the surer it is: those are tried first.
        self._templates = [(_recogniser(text), text) for text in sorted(sentences, key=_own_words, reverse=True)]
        self._heard: dict[str, str] = {}

    def gettext(self, text: str) -> str:
        """A template or a text in this language; unchanged where it is not known."""
        return self._words.get(text) or Worded(text, self._point)

    def number(self, value: float, form: str) -> str:
        return number(value, form).replace(".", self._point)

    def render(self, text: str) -> str:
        """Any text in this language, be it a Message or the plain English of a record."""
        if isinstance(text, Message):
            return text.render(self)
        if not text or text in self._words:
            return self._words[text] if text else text
        heard = self._heard.get(text)
        if heard is None:
            if len(self._heard) >= HEARD_MOST:
                self._heard.clear()
            heard = self._heard[text] = self._said_again(text)
        return heard            # the screens and the thread that writes the evening share what was heard

    def _said_again(self, text: str) -> str:
        for recogniser, template in self._templates:
            found = recogniser.fullmatch(text)
            if found:
                return self._filled(template, found.groupdict())
        # What was put together of several sentences or phrases is said piece by piece.
        pieces = PIECES.split(text)
        if len(pieces) > 1:
            return " ".join(self.render(piece) for piece in pieces)
        if text.endswith((".", ";", ",")):
            return self.render(text[:-1]) + text[-1]
        pieces = text.split(", ")
        return ", ".join(self.render(piece) for piece in pieces) if len(pieces) > 1 else text

    def _filled(self, template: str, found: dict[str, str]) -> str:
        """`template` in this language, with values that are words already: what it says of their form has been done."""
        numbers = {name for _, name, form, _ in Formatter().parse(template) if name and _is_number(form)}
        values = {name: value.replace(".", self._point) if name in numbers else value if name in NAMES
                  else self.render(value) for name, value in found.items()}
        return "".join(words + (values[name] if name else "")
                       for words, name, _, _ in Formatter().parse(self._words[template]))


class Worded(str):
    """A text in a language, which writes numbers as that language does when it is filled."""

    __slots__ = ("_point",)
    _point: str

    def __new__(cls, text: str, point: str):
        words = super().__new__(cls, text)
        words._point = point
        return words

    def format(self, **values: Any) -> str:     # type: ignore[override]  # filled by name alone
        return super().format(**{name: _Number(value, self._point) if isinstance(value, (int, float)) else value
                                 for name, value in values.items()})


class _Number:
    def __init__(self, value: float, point: str):
        self._value, self._point = value, point

    def __format__(self, form: str) -> str:
        return format(self._value, form).replace(".", self._point)


def _recogniser(template: str) -> re.Pattern:
    parts, seen = [], set()
    for words, name, form, _ in Formatter().parse(template):
        parts.append(re.escape(words))
        if name is None:
            continue
        kind = SHAPES.get(name) or (NUMBER if _is_number(form) else ANYTHING)
        parts.append(f"(?P={name})" if name in seen else f"(?P<{name}>{kind})")
        seen.add(name)
    return re.compile("".join(parts))


def _is_number(form: str) -> bool:
    return bool(form) and form[-1] in "dfg"


def _own_words(template: str) -> int:
    return sum(len(words) for words, *_ in Formatter().parse(template))
