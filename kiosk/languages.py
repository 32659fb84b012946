"""The languages the kiosk speaks, each a gettext catalogue.

What the bar says is English, and carries the template it was filled from (kiosk.bar.messages), in the book too: a catalogue has
that template in its own words. A text without values is its own template.
"""

import logging
from functools import cache
from gettext import GNUTranslations
from typing import Any

from kiosk.bar.messages import English, Message, number, render
from kiosk.places import shipped

LANGUAGES = {"en": "English", "de": "Deutsch"}
ONE_AND_A_HALF = Message("1.5")        # as a language writes it: what stands between the figures parts its decimals
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

    def gettext(self, text: str) -> str:
        """A template or a text in this language; unchanged where it is not known."""
        return self._words.get(text) or Worded(text, self._point)

    def number(self, value: float, form: str) -> str:
        return number(value, form).replace(".", self._point)

    def render(self, text: str) -> str:
        """Any text in this language: a Message, or a text without values, which is its own template."""
        return self._words.get(text, text) if getattr(text, "template", None) is None else render(text, self)


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
