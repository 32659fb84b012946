"""The languages the screens speak, each a gettext catalogue.

The bar, the book and the scale say their sentences in English, and keep them so. A catalogue knows such a sentence by
its template, numbers, names and all, and says it again in its own words.
"""

import re
from functools import cache
from gettext import GNUTranslations, NullTranslations
from string import Formatter

from kiosk.places import shipped
from kiosk.screens.phrases import PHRASES

LANGUAGES = {"en": "English", "de": "Deutsch"}
HEARD_MOST = 4000       # sentences remembered; live numbers make new ones all day
NUMBER, ANYTHING = r"[-+]?\d[\d.]*", r"[^;]+?"
# Where values would run together.
SHAPES = {"direction": "finer|coarser", "how": r"(?: \(.+?\))?", "grinder": "[^,;]+?"}
NAMES = ("name", "grinder", "coffee")       # given by the bar: said as they are, be it a word of ours
PIECES = re.compile(r"(?<=[.?;]) ")


@cache
def catalogue(language: str) -> NullTranslations:
    """The catalogue of one of LANGUAGES; English, what the program is written in, for any other."""
    if language == "en" or language not in LANGUAGES:
        return NullTranslations()
    with open(shipped("assets", "languages", language, "evenpull.mo"), "rb") as file:
        return Catalogue(file)


class Catalogue(GNUTranslations):

    def __init__(self, file):
        super().__init__(file)
        sentences = [text for text in self._catalog if text and "{" in text
                     and (text.endswith((".", "?")) or text in PHRASES)]
        # The more a template says itself, the surer it is: those are tried first.
        self._templates = [(_recogniser(text), text) for text in sorted(sentences, key=_own_words, reverse=True)]
        self._heard: dict[str, str] = {}

    def gettext(self, text: str) -> str:
        """`text` in this language; unchanged where it is not known."""
        if not text or text in self._catalog:
            return self._catalog.get(text, text) if text else text
        if text not in self._heard:
            if len(self._heard) >= HEARD_MOST:
                self._heard.clear()
            self._heard[text] = self._said_again(text)
        return self._heard[text]

    def _said_again(self, text: str) -> str:
        for recogniser, template in self._templates:
            found = recogniser.fullmatch(text)
            if found:
                return _filled(self._catalog[template], {
                    name: value if name in NAMES else self.gettext(value) for name, value in found.groupdict().items()})
        # What was put together of several sentences or phrases is said piece by piece.
        pieces = PIECES.split(text)
        if len(pieces) > 1:
            return " ".join(self.gettext(piece) for piece in pieces)
        if text.endswith((".", ";", ",")):
            return self.gettext(text[:-1]) + text[-1]
        pieces = text.split(", ")
        return ", ".join(self.gettext(piece) for piece in pieces) if len(pieces) > 1 else text


def _recogniser(template: str) -> re.Pattern:
    parts, seen = [], set()
    for words, name, form, _ in Formatter().parse(template):
        parts.append(re.escape(words))
        if name is None:
            continue
        kind = SHAPES.get(name) or (NUMBER if form and form[-1] in "dfg" else ANYTHING)
        parts.append(f"(?P={name})" if name in seen else f"(?P<{name}>{kind})")
        seen.add(name)
    return re.compile("".join(parts))


def _own_words(template: str) -> int:
    return sum(len(words) for words, *_ in Formatter().parse(template))


def _filled(template: str, values: dict[str, str]) -> str:
    """The template with values that are words already: what it says of their form has been done."""
    return "".join(words + (values[name] if name else "") for words, name, _, _ in Formatter().parse(template))
