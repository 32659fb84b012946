"""What a port has to say, for whoever shows it."""

from typing import Any


class PortMessage(str):
    """`PortMessage("The port {url} is not there.", url="/dev/ttyUSB0")`: English as it stands, which keeps the `template` and the
    `values` that it was filled from, so that it can be said in another language. Without values the text is the template,
    braces and all.

    >>> PortMessage("Finding the bit rate: trying {rate}.", rate=9600)
    'Finding the bit rate: trying 9600.'
    """

    __slots__ = ("template", "values")
    template: str
    values: dict[str, Any]

    def __new__(cls, template: str, **values: Any) -> "PortMessage":
        words = super().__new__(cls, template.format(**values) if values else template)
        words.template, words.values = template, values
        return words


class WordedError(ValueError):
    """Something that was given is not taken; `words` say what to do instead."""

    def __init__(self, words: PortMessage):
        super().__init__(words)
        self.words = words
