"""What a command prints may hold names and cells out of files: what would steer the terminal is shown, not done."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stderr, redirect_stdout
from typing import Any, TextIO
from unicodedata import category


def harmless(text: str) -> str:
    """Controls, and signs that turn the line about, as JSON writes them, so that JSON stays what it was."""
    return text if text.isprintable() else "\r\n".join("".join(map(_shown, line)) for line in text.split("\r\n"))


def _shown(sign: str) -> str:
    if sign.isprintable() or sign in "\n\t" or category(sign) == "Zs":
        return sign
    units = sign.encode("utf-16-be", "surrogatepass").hex()
    return "".join(rf"\u{units[n:n + 4]}" for n in range(0, len(units), 4))


class _Harmless:
    def __init__(self, stream: TextIO):
        self._stream = stream

    def write(self, text: str) -> int:
        return self._stream.write(harmless(text))

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)


@contextmanager
def steered_by_nothing() -> Iterator[None]:
    with redirect_stdout(_Harmless(sys.stdout)), redirect_stderr(_Harmless(sys.stderr)):    # type: ignore[type-var]  # it writes, which is all that print asks of it
        yield
