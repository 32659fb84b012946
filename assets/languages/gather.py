"""What there is to translate: each text that the code marks where it is written, and the files that mark it."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
MARKS = ("_", "N_", "Message", "PortMessage")     # screens: said now, and said later; the bar and the book; hardware
MARKED = ("kiosk/screens/**/*.py", "kiosk/screens/**/*.kv", "kiosk/*.py", "kiosk/bar/**/*.py", "kiosk/book/*.py", "kiosk/page/*.py",
          "kiosk/practice/*.py", "kiosk/station/*.py", "kiosk/commands/*.py", "hardware/*.py")
IN_A_RULE = re.compile(r'\b_\("((?:[^"\\]|\\.)*)"\)')


def gather(root: Path = ROOT) -> dict[str, tuple[str, ...]]:
    """Every text to translate, in a steady order, and the files that say it."""
    found: dict[str, list[str]] = {}
    for path in (path for pattern in MARKED for path in sorted(root.glob(pattern))):
        name = path.relative_to(root).as_posix()
        for text in (in_rules if path.suffix == ".kv" else marked)(path.read_text("utf-8")):
            if text and name not in found.setdefault(text, []):
                found[text].append(name)
    return {text: tuple(names) for text, names in found.items()}


def marked(source: str) -> Iterator[str]:
    """Texts given to one of MARKS in Python, inside an f-string too."""
    for node in ast.walk(ast.parse(source)):
        match node:
            case ast.Call(func=ast.Name(id=name), args=[ast.Constant(value=str(text)), *_]) if name in MARKS:
                yield text


def in_rules(source: str) -> Iterator[str]:
    """Texts given to `_` in a file of layout rules."""
    for text in IN_A_RULE.findall(source):
        yield ast.literal_eval(f'"{text}"')
