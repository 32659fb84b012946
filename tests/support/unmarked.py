"""Sentences in the code that nobody marked for the catalogues: shown, they would be English in every language."""

import ast
import re
from collections.abc import Iterator

from assets.languages.gather import MARKS, ROOT

# Of what is shown on the glass or stands on the page. What a command prints and what a file's reader answers it is English.
SHOWN = ("kiosk/*.py", "kiosk/bar/**/*.py", "kiosk/book/*.py", "kiosk/page/*.py", "kiosk/practice/*.py", "kiosk/station/*.py",
         "kiosk/screens/**/*.py", "hardware/*.py")
NOT_SHOWN = ("kiosk/book/backup.py", "kiosk/book/exchange.py", "kiosk/book/journal.py", "kiosk/places.py")
FOR_PROGRAMMERS = ("ValueError", "TypeError")
LOG = ("debug", "info", "warning", "error", "exception")
LETTERS = re.compile(r"[A-Za-z]{2,}")


def unmarked() -> list[str]:
    """Each with the file and the line that it stands in."""
    return [f"{path.relative_to(ROOT).as_posix()}:{line} {text}" for pattern in SHOWN for path in sorted(ROOT.glob(pattern))
            if path.relative_to(ROOT).as_posix() not in NOT_SHOWN for line, text in unmarked_in(path.read_text("utf-8"))]


def unmarked_in(source: str) -> Iterator[tuple[int, str]]:
    tree = ast.parse(source)
    seen = {id(part) for node in ast.walk(tree) for part in _seen_to(node)}
    for node in ast.walk(tree):
        match node:
            case ast.JoinedStr(values=values):
                text = "".join(each.value if isinstance(each, ast.Constant) else "…" for each in values)
            case ast.Constant(value=str(text)):
                pass
            case _:
                continue
        if id(node) not in seen and _is_sentence(text.strip()):
            yield node.lineno, text


def _seen_to(node: ast.AST) -> Iterator[ast.AST]:
    """What is marked, or never shown: docstrings, lines for the log, errors for fellow programmers, the inside of an f-string."""
    match node:
        case ast.Expr(value=ast.Constant() as docstring):
            yield docstring
        case ast.Call(func=ast.Name(id=name), args=[text, *_]) if name in MARKS:
            yield text
        case ast.Call(func=ast.Attribute(value=ast.Name(id="log"), attr=name)) if name in LOG:
            yield from ast.walk(node)
        case ast.Raise(exc=ast.Call(func=ast.Name(id=name))) if name in FOR_PROGRAMMERS:
            yield from ast.walk(node)
        case ast.JoinedStr(values=values):
            yield from values


def _is_sentence(text: str) -> bool:
    return text.endswith((".", "?")) and len(LETTERS.findall(text)) >= 2 and " " in text
