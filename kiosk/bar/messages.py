"""What the bar says: English as it stands, and what it was made of, so that any language can say it again."""

import re
from collections.abc import Sequence
from string import Formatter
from typing import Any, Protocol

FORM = re.compile(r"\+?(\.\d)?[dfg]?")        # of a number in a template


class Language(Protocol):
    """`gettext` gives a template in the language, unchanged where it has none; what it gives writes numbers as the
    language does when it is filled (`format`). `number` writes a single one. `render` gives any text, be it a Message or a text
    without values. `code` is the language's own (BCP 47)."""

    code: str

    def gettext(self, text: str) -> str: ...

    def number(self, value: float, form: str) -> str: ...

    def render(self, text: str) -> str: ...


class Message(str):
    """`Message("{n:d} pulls, all in their window", n=40)`: a str that reads "40 pulls, all in their window".

    Being a str, it goes into files as English. `template` and `values` are kept: numbers, names (which are the same in
    every language), and other messages. Without values the text is the template, braces and all.
    """

    __slots__ = ("template", "values")
    template: str
    values: dict[str, Any]

    def __new__(cls, template: str, **values: Any) -> "Message":
        said = super().__new__(cls, template.format(**values) if values else template)
        said.template, said.values = template, values
        return said

    def render(self, language: Language) -> str:
        """This in another language, with what is in it."""
        return render(self, language)

    def __getnewargs_ex__(self) -> tuple[tuple[str], dict[str, Any]]:
        return (self.template,), self.values


class English:
    """The language that everything is written in."""

    code = "en"

    def gettext(self, text: str) -> str:
        return text

    def number(self, value: float, form: str) -> str:
        return number(value, form)

    def render(self, text: str) -> str:
        return render(text, self)


ENGLISH = English()


def render(value: Any, language: Language) -> Any:
    """A Message, or whatever else keeps its `template` and `values`, in that language, with what is in it; anything else as it
    is: a number, a name."""
    template = getattr(value, "template", None)
    if template is None:
        return value
    text = language.gettext(template)
    return text.format(**{name: render(each, language) for name, each in value.values.items()}) if value.values else text


def joined(joint: str, parts: Sequence[str], end: str = "") -> Message:
    """Several things said one after the other: a template of places alone, the same in every language."""
    names = [f"part_{n}" for n in range(len(parts))]
    return Message(joint.join(f"{{{name}}}" for name in names) + end, **dict(zip(names, parts)))


def to_json(text: str) -> Any:
    """As JSON holds it without forgetting what it was made of; `from_json` makes it what it was."""
    return {"template": text.template, "values": {name: to_json(value) for name, value in text.values.items()}} \
        if isinstance(text, Message) else text


def from_json(text: Any) -> Any:
    """What `to_json` was given. Raises ValueError, KeyError or TypeError for what never was one: a file may come from anywhere."""
    if not isinstance(text, dict):
        return text
    if not isinstance(text["values"], dict):
        raise ValueError("the values of a message have names")
    template, values = text["template"], {name: from_json(value) for name, value in text["values"].items()}
    for _, name, form, conversion in Formatter().parse(template):
        if name is not None and (name not in values or conversion or not FORM.fullmatch(form or "")):
            raise ValueError(f"{{{name}}} is no place of a message")
    return Message(template, **values)


def number(value: float, form: str) -> str:
    text = f"{value:{form}}"
    return text.lstrip("+-") if float(text) == 0 else text       # no "-0.0"
