"""A till's ticket, read with what the bar has said its words mean: drinks, counts, changes, the number; never a guess.

A line is taken apart into a count, a price and words. What the words mean is looked up in what was taught, whole; a drink's
own name and a change's own name need no teaching. A line that is none of these makes the drink before it unclear, since it
may be a change of it: that drink is shown and not ordered, and so is the line.
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from kiosk.bar.model.order import APART

DRINK, CHANGE, NUMBER, VOID, NOTHING = "drink", "change", "number", "void", "nothing"
MEANINGS = (DRINK, CHANGE, NUMBER, VOID, NOTHING)
MOST = 99                   # of one drink on one line; more is a price or a number
MONEY = r"[€$£]?\s*-?\d{1,5}[.,]\d{2}\s*[€$£]?(?:\s*(?:EUR|GBP|USD|CHF))?"
PRICE = re.compile(rf"(?:\s|^)@?\s*{MONEY}(?:\s*[A-Z*])?\s*$")
COUNT_FIRST = re.compile(r"^\s*(?:(\d{1,2})\s*(?:[x×*]\s*|[\s.:_\-)]+)|[(\[]\s*(\d{1,2})\s*[x×*]?\s*[)\]]\s*)(?=\D)",
                         re.IGNORECASE)
TIMES_FIRST = re.compile(r"^\s*[x×*]\s*(\d{1,2})\s+", re.IGNORECASE)
COUNT_LAST = re.compile(r"\s+(?:[x×*]\s*(\d{1,2})|(\d{1,2})\s*[x×*]|\(\s*(\d{1,2})\s*\)|(\d{1,2}))\s*$", re.IGNORECASE)
COUNT_ALONE = re.compile(r"^\W*(?:[x×]\s*)?\d{1,2}(?:\s*[x×])?\W*$", re.IGNORECASE)
LEADER = re.compile(r"^[\s\-+>*•·.,:~=_/|#!?]+")
TRAILER = re.compile(r"[\s\-+>*•·.,:~=_/|#!?]+$")
DIGITS = re.compile(r"\d+")
BETWEEN = re.compile(r"\s+w/\s*|\s*[,;:+/&|]\s*|\s*[()\[\]]\s*|\s+-\s+|\s{3,}")
CLOCK = re.compile(r"\b[0-2]?\d[:h][0-5]\d(?::[0-5]\d)?\b")
DATE = re.compile(r"\b\d{1,4}[-./]\d{1,2}[-./]\d{1,4}\b")


@dataclass(frozen=True, slots=True)
class Item:
    """So many of a drink, under the name it is sold by. `lines` are the places of the ticket's lines that say it."""

    name: str
    count: int
    lines: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Understood:
    """What a ticket says. `unclear` are the places of lines that nobody has said the meaning of, and of the drinks that they
    may concern; `number` is the line that names the order, as printed; `told` is what tells one ticket from another."""

    items: tuple[Item, ...] = ()
    unclear: tuple[int, ...] = ()
    number: str = ""
    void: bool = False
    told: bool = False


@dataclass(slots=True)
class _Told:
    """A drink whose changes may still follow."""

    base: str
    count: int
    lines: list[int]
    changes: list[tuple[str, int | None]] = field(default_factory=list)
    unclear: bool = False


def words_of(line: str, known: Mapping[str, str] = MappingProxyType({})) -> str:
    """What of a line is to be said the meaning of: small letters, no price, no count, no marks, figures as one sign, no full
    stops. Of a line of several parts it is the first that is not `known` yet (`vocabulary`)."""
    if _meaning(line, known)[2] is None:
        for part in _parts(line):
            if part not in known and _spells(part):
                return part
    return _apart(line)[1]


def meaning_of(line: str, known: Mapping[str, str]) -> str:
    """What all of a line means, as `known` has it; "" where something of it is not known yet."""
    return _meaning(line, known)[2] or ""


def vocabulary(taught: Mapping[str, str], drinks: Iterable[str], changes: Iterable[str]) -> dict[str, str]:
    """Words and their meanings: the menu's own names, and what was taught, which goes first."""
    return ({_key(name): f"{CHANGE}:{name}" for name in changes} | {_key(name): f"{DRINK}:{name}" for name in drinks}
            | dict(taught))


def read_ticket(lines: Iterable[str], known: Mapping[str, str]) -> Understood:
    """`known` (`vocabulary`) maps the words of a line (`words_of`) to a meaning, or to "drink:Latte", "change:oat milk"."""
    lines = tuple(lines)
    found: list[_Told] = []
    unclear: set[int] = set()
    number, void, told, counted = "", False, False, False
    for place, line in enumerate(lines):
        count, words, kind = _meaning(line, known)
        told = told or bool(CLOCK.search(line))
        if COUNT_ALONE.match(line):             # of the drink before it, or of the one after?
            unclear.add(place)
            counted = True
            if found:
                found[-1].unclear = True
            continue
        if not words or kind == NOTHING:
            continue
        if kind is None and not _spells(DATE.sub("", CLOCK.sub("", line))):
            continue                            # figures and marks alone: when it was printed, a line across
        if kind == NUMBER:
            number, told = number or line.strip(), told or any(sign.isdigit() for sign in line)
        elif kind == VOID:
            void = True
        elif kind is not None and kind.startswith(DRINK):
            base, *own = kind.removeprefix(DRINK + ":").split(APART)
            found.append(_Told(base, count or 1, [place], [(each, None) for each in own], counted))
            counted = False
        elif kind is not None and kind.startswith(CHANGE) and found:
            found[-1].changes.append((kind.removeprefix(CHANGE + ":"), count))
            found[-1].lines.append(place)
        else:
            unclear.add(place)
            if found:
                found[-1].unclear = True
                found[-1].lines.append(place)
    items = []
    for each in found:
        made = None if each.unclear else _items(each)
        if made is None:
            unclear |= set(each.lines)
        else:
            items += made
    return Understood(tuple(items), tuple(sorted(unclear)), number, void, told)


def _items(each: _Told) -> list[Item] | None:
    """The drinks of a line with its changes; a change with a count of its own is of so many of them. None where the counts
    do not say of which."""
    parts: list[tuple[int, tuple[str, ...]]] = [(each.count, ())]
    for change, count in each.changes:
        if count is None or count == each.count or (count == 1 and each.count == 1):
            parts = [(n, (*changes, change)) for n, changes in parts]
        elif count < parts[-1][0] and len(parts) < 3:
            n, changes = parts.pop()
            parts[:0] = [(count, (*changes, change))]
            parts.append((n - count, changes))
        elif count == parts[-1][0]:
            n, changes = parts.pop()
            parts.append((n, (*changes, change)))
        else:
            return None
    return [Item(APART.join((each.base, *changes)), n, tuple(each.lines)) for n, changes in parts]


def _meaning(line: str, known: Mapping[str, str]) -> tuple[int | None, str, str | None]:
    """Count, words, and meaning: of the whole line, or of a drink with changes after it on the same line."""
    count, words = _apart(line)
    if words in known:
        return count, words, known[words]
    whole = _key(line)
    if whole in known:                          # a name that looks like a count or a price
        return None, whole, known[whole]
    alike = [known.get(words.rstrip(" #") + figures) for figures in ("", " #", " ##")]
    if (kind := next((each for each in alike if each in (NUMBER, NOTHING, VOID)), None)) is not None:
        return count, words, kind               # "Order 99" was taught, "Order 100" comes: its figures are its own
    parts = _parts(line)
    kinds = [known.get(part) or (None if _spells(part) else NOTHING) for part in parts]
    if len(parts) > 1 and all(kinds):
        said = [kind for kind in kinds if kind and kind != NOTHING]
        if not said or set(said) <= {NUMBER} or set(said) <= {VOID}:
            return count, words, said[0] if said else NOTHING
        if all(kind.startswith(CHANGE) for kind in said[1:]) and said[0].partition(":")[0] in (DRINK, CHANGE):
            count = count or _apart(BETWEEN.split(_bare(line))[0])[0]
            return count, words, APART.join([said[0], *(kind.removeprefix(CHANGE + ":") for kind in said[1:])])
    drinks = (key for key, kind in known.items() if kind.startswith(DRINK) and words.startswith(key + " "))
    drink = max(drinks, key=len, default=None)
    if drink is not None and (change := known.get(words[len(drink) + 1:])) and change.startswith(CHANGE):
        return count, words, known[drink] + APART + change.removeprefix(CHANGE + ":")
    return count, words, None


def _parts(line: str) -> list[str]:
    """What stands between commas, brackets and the like, as it is looked up; the first may end in a count."""
    first, *others = BETWEEN.split(_bare(line))
    return [key for key in (_apart(first)[1], *map(_key, others)) if key]


def _spells(text: str) -> bool:
    return any(sign.isalpha() for sign in text)


def _bare(line: str) -> str:
    """The line without marks before and after, price and count."""
    bare = PRICE.sub("", line)
    bare = PRICE.sub("", bare)                  # a price each, and their sum
    bare = LEADER.sub("", bare)
    for pattern in (COUNT_FIRST, TIMES_FIRST):
        bare = pattern.sub("", bare, count=1)
    return TRAILER.sub("", LEADER.sub("", COUNT_LAST.sub("", bare, count=1)))


def _apart(line: str) -> tuple[int | None, str]:
    bare = LEADER.sub("", PRICE.sub("", PRICE.sub("", line)))
    count = None
    for pattern in (COUNT_FIRST, TIMES_FIRST):
        if count is None and (there := pattern.match(bare)):
            count, bare = int(next(each for each in there.groups() if each)), bare[there.end():]
    if there := COUNT_LAST.search(bare):
        last = int(next(each for each in there.groups() if each))
        if count is None:
            count = last
            bare = bare[:there.start()]
    return (count if count and count <= MOST else None), _key(bare)


def _key(text: str) -> str:
    text = DIGITS.sub("#", TRAILER.sub("", LEADER.sub("", text)).replace(".", " ").casefold())
    return " ".join(text.split())
