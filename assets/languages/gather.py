"""What there is to translate: texts marked on the screens and Message by the bar, and sentences that are English only."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

from kiosk.bar.model import USUAL_MENU, Grinder
from kiosk.bar.model.order import USUAL_CHANGES
from kiosk.bar.model.tasks import USUAL

ROOT = Path(__file__).resolve().parents[2]
MARKS = ("_", "N_", "Message")
MARKED = ("kiosk/screens/**/*.py", "kiosk/screens/**/*.kv", "kiosk/phrases.py", "kiosk/languages.py", "kiosk/bar/**/*.py",
          "kiosk/page/*.py", "kiosk/station/evenings.py", "kiosk/station/notes.py", "kiosk/station/till.py",
          "kiosk/station/refusal.py", "kiosk/station/backups.py", "kiosk/book/identity.py", "kiosk/book/lock.py",
          "kiosk/book/unset_clock.py")
SPEAKING = ("kiosk/bar/**/*.py", "kiosk/station/station.py", "kiosk/station/signals.py", "kiosk/station/weighing.py",
            "kiosk/station/backups.py", "kiosk/station/evenings.py",
            "kiosk/book/trouble.py", "kiosk/book/jumps.py", "hardware/scale.py", "hardware/ports.py", "hardware/serial_settings.py",
            "hardware/contact.py", "hardware/ticket.py")
MUTE = ("kiosk/bar/model/record.py", "kiosk/bar/messages.py", "kiosk/bar/weighing/plate.py")     # words for a file or a fellow coder
IN_A_RULE = re.compile(r'\b_\("((?:[^"\\]|\\.)*)"\)')
LETTERS = re.compile(r"[A-Za-z]{2,}")


def gather(root: Path = ROOT) -> dict[str, tuple[str, ...]]:
    """Every text to translate, in a steady order, and the files that say it."""
    found: dict[str, list[str]] = {}
    for patterns, texts_of in ((MARKED, marked), (SPEAKING, spoken)):
        for path in (path for pattern in patterns for path in sorted(root.glob(pattern))):
            name = path.relative_to(root).as_posix()
            for text in () if name in MUTE else (in_rules if path.suffix == ".kv" else texts_of)(path.read_text("utf-8")):
                if name not in found.setdefault(text, []):
                    found[text].append(name)
    for text in of_the_menu():
        found.setdefault(text, []).append("kiosk/bar/model/order.py")
    usual = Grinder(name="any")
    for text in (usual.finer_words, usual.coarser_words):
        found.setdefault(text, []).append("kiosk/bar/model/setup.py")
    return {text: tuple(names) for text, names in found.items()}


def marked(source: str) -> Iterator[str]:
    """Texts given to `_` or `N_` in Python."""
    for node in ast.walk(ast.parse(source)):
        match node:
            case ast.Call(func=ast.Name(id=name), args=[ast.Constant(value=str(text)), *_]) if name in MARKS:
                yield text


def in_rules(source: str) -> Iterator[str]:
    """Texts given to `_` in a file of layout rules."""
    for text in IN_A_RULE.findall(source):
        yield ast.literal_eval(f'"{text}"')


def spoken(source: str) -> Iterator[str]:
    """Whole sentences in the code, those with values in them as templates."""
    tree = ast.parse(source)
    silent = {id(part) for each in ast.walk(tree) for part in _silent(each)}
    for node in ast.walk(tree):
        if id(node) in silent:
            continue
        match node:
            case ast.JoinedStr():
                text = template(node).strip()
            case ast.Constant(value=str(text)):
                text = text.strip()
            case _:
                continue
        if _is_sentence(text):
            yield text


def template(node: ast.JoinedStr) -> str:
    """`f"{self.name}: {abs(g):.0f} g."` as "{name}: {g:.0f} g."."""
    parts, names = [], []
    for part in node.values:
        if isinstance(part, ast.Constant):
            parts.append(part.value.replace("{", "{{").replace("}", "}}"))
            continue
        name = _name(part.value)
        name = name if name not in names else f"{name}{names.count(name) + 1}"
        names.append(name)
        given = part.format_spec.values if part.format_spec else ()
        form = "".join(each.value for each in given if isinstance(each, ast.Constant))
        parts.append(f"{{{name}:{form}}}" if form else f"{{{name}}}")
    return "".join(parts)


def of_the_menu() -> tuple[str, ...]:
    texts = [text for drink in USUAL_MENU for text in (drink.name, drink.cup, drink.beside, drink.after)]
    texts += [text for change in USUAL_CHANGES for text in (change.name, change.cup, change.allergen)]
    texts += [task.name for tasks in USUAL.values() for task in tasks]
    return tuple(dict.fromkeys(text for text in texts if text))


def _silent(node: ast.AST) -> Iterator[ast.AST]:
    """What is never shown: docstrings, lines for the log, the inside of a template."""
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
        yield node.value
    match node:
        case ast.Call(func=ast.Attribute(attr="warning" | "info" | "error")):
            yield from ast.walk(node)
    if isinstance(node, ast.JoinedStr):
        yield from (part for part in ast.walk(node) if part is not node)


def _is_sentence(text: str) -> bool:
    return text.endswith((".", "?")) and len(LETTERS.findall(text)) >= 2 and " " in text


def _name(value: ast.expr) -> str:
    match value:
        case ast.Name(id=name) | ast.Attribute(attr=name):
            return name
        case ast.Call(args=[first, *_]):
            return _name(first)
        case ast.Call(func=func):
            return _name(func)
        case ast.BinOp(left=left):
            return _name(left)
        case ast.Subscript(value=inner):
            return _name(inner)
    return "word"
