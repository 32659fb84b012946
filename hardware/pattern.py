"""The station's own pattern for a line, in the part of regular expressions that cannot hang.

The standard library's matcher goes back over what it has read, holds the interpreter while it does, and cannot be
stopped: one unlucky pattern would freeze the kiosk. This one walks all ways through the pattern side by side, one
byte at a time (Thompson, Communications of the ACM 11 (1968) 419–422; with groups as in Pike's virtual machine), so
a line costs at most (bytes + 1) × (steps of the pattern) whatever is in either, and never more than
(256 + 1) × LARGEST. What it takes, it matches as `re.fullmatch` does.
"""

import re
from typing import Any

from hardware.port_message import PortMessage, WordedError

LONGEST = 200     # characters of a pattern
LARGEST = 300     # steps it may come to, repeats written out
DEEPEST = 12      # brackets inside brackets
NAMES = ("weight", "sign", "unit", "stable", "moving", "overload")

_ALL = frozenset(map(chr, range(128))) - {"\n"}
_DIGITS, _BLANKS = frozenset("0123456789"), frozenset(" \t\n\r\f\v\x1c\x1d\x1e\x1f")
_LETTERS = _DIGITS | frozenset("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ_")
_ANY = frozenset(map(chr, range(128)))
_SETS = {"d": _DIGITS, "D": _ANY - _DIGITS, "s": _BLANKS, "S": _ANY - _BLANKS, "w": _LETTERS, "W": _ANY - _LETTERS,
         "t": frozenset("\t"), "r": frozenset("\r"), "n": frozenset("\n")}
_COUNT = re.compile(r"\{(\d{1,3})(?:(,)(\d{1,3})?)?\}")
_NAME = re.compile(r"\(\?P<([a-z]+)>")


class BadPattern(WordedError):
    """A pattern that is not taken."""


class Pattern:
    """A checked pattern. Raises BadPattern where `text` is not one.

    It describes the whole line, with the blanks around it taken away. Named groups say what is what: `weight` (must
    be there; digits with a point or comma, a sign allowed), `sign`, `unit` (g, kg, mg, oz, lb), `stable` (something
    in it: at rest), `moving` (something in it: not at rest), `overload` (something in it: no weight). Taken: letters,
    `.`, `[...]`, `\\d \\s \\w` and their capitals, `(...)`, `(?:...)`, `(?P<name>...)`, `|`, and the repeats
    `* + ? {2} {2,} {2,5}`, each with `?` for as few as possible. `^` first and `$` last change nothing.
    """

    def __init__(self, text: str):
        if len(text) > LONGEST:
            raise BadPattern(PortMessage("The pattern is longer than {n:d} characters. Make it shorter.", n=LONGEST))
        if not text.isascii() or not text.isprintable():
            raise BadPattern(PortMessage("The pattern has characters that a scale does not send. Use plain letters."))
        self.text = text
        self._rest = text.removeprefix("^")
        if self._rest.endswith("$") and not self._rest.endswith("\\$"):
            self._rest = self._rest[:-1]
        self.names: list[str] = []
        tree = self._either(0)
        if self._rest:
            raise BadPattern(PortMessage("A bracket is closed that was never opened. Take it out, or write \\) for the character."))
        if "weight" not in self.names:
            raise BadPattern(PortMessage("The pattern does not say which part is the weight. Put (?P<weight>...) around it."))
        self._steps: list[tuple] = []
        self._write(tree)
        self._emit("end")

    def match(self, line: str) -> dict[str, str | None] | None:
        """What each named group holds (None: not met) where the whole line fits, otherwise None."""
        ways = self._reach([(0, (None,) * (2 * len(self.names)))], 0)
        for at, char in enumerate(line):
            ways = self._reach([(step + 1, marks) for step, marks in ways
                                if self._steps[step][0] == "take" and char in self._steps[step][1]], at + 1)
            if not ways:
                return None
        for step, marks in ways:
            if self._steps[step][0] == "end":
                return {name: None if marks[2 * i + 1] is None else line[marks[2 * i]:marks[2 * i + 1]]
                        for i, name in enumerate(self.names)}
        return None

    def _reach(self, ways: list[tuple], at: int) -> list[tuple]:
        """Where `ways` lead without taking a byte, each step once, best first."""
        seen, reached, waiting = set(), [], ways[::-1]
        while waiting:
            step, marks = waiting.pop()
            if step in seen:
                continue
            seen.add(step)
            kind, *what = self._steps[step]
            if kind == "mark":
                waiting.append((step + 1, marks[:what[0]] + (at,) + marks[what[0] + 1:]))
            elif kind == "fork":
                waiting += [(to, marks) for to in what[::-1]]
            else:
                reached.append((step, marks))
        return reached

    # Reading the pattern: each of these takes its part off `self._rest` and gives a tree.

    def _either(self, depth: int) -> tuple:
        if depth > DEEPEST:
            raise BadPattern(PortMessage("The brackets stand too deep inside one another. Make the pattern simpler."))
        ways = [self._run(depth)]
        while self._rest.startswith("|"):
            self._rest = self._rest[1:]
            ways.append(self._run(depth))
        return ("either", ways) if len(ways) > 1 else ways[0]

    def _run(self, depth: int) -> tuple:
        parts = []
        while self._rest and self._rest[0] not in "|)":
            parts.append(self._repeated(self._one(depth)))
        return "run", parts

    def _repeated(self, tree: tuple) -> tuple:
        if counted := _COUNT.match(self._rest):
            least = int(counted[1])
            most = least if not counted[2] else int(counted[3]) if counted[3] else None
            self._rest = self._rest[counted.end():]
        elif self._rest[:1] and self._rest[0] in "*+?":
            least, most = {"*": (0, None), "+": (1, None), "?": (0, 1)}[self._rest[0]]
            self._rest = self._rest[1:]
        else:
            return tree
        if most is not None and most < least:
            raise BadPattern(PortMessage("A repeat ends before it begins. Put the smaller count first."))
        if most != 1 and _may_be_empty(tree):
            raise BadPattern(PortMessage("Something that may be nothing is repeated. Take one of the two repeats away."))
        few = self._rest.startswith("?")
        self._rest = self._rest[few:]
        if self._rest[:1] and self._rest[0] in "*+?" or _COUNT.match(self._rest):
            raise BadPattern(PortMessage("Two repeats stand side by side. Take one away, or put brackets between."))
        return "repeat", tree, least, most, few

    def _one(self, depth: int) -> tuple:
        char = self._rest[0]
        if char == "(":
            return self._group(depth)
        if char == "[":
            return "take", self._choice()
        self._rest = self._rest[1:]
        if char == "\\":
            return "take", self._escaped()
        if char in "*+?{}^$":
            raise BadPattern(PortMessage("The sign {char} stands where it repeats nothing. Write \\{char} for the character itself.", char=char))
        return "take", _ALL if char == "." else frozenset(char)

    def _group(self, depth: int) -> tuple:
        slot = None
        if named := _NAME.match(self._rest):
            if named[1] not in NAMES:
                raise BadPattern(PortMessage("A group is called {name}. The names are {names}.", name=named[1], names=", ".join(NAMES)))
            if named[1] in self.names:
                raise BadPattern(PortMessage("Two groups are called {name}. Keep one.", name=named[1]))
            slot = len(self.names)
            self.names.append(named[1])
            self._rest = self._rest[named.end():]
        elif self._rest.startswith("(?:"):
            self._rest = self._rest[3:]
        elif self._rest.startswith("(?"):
            raise BadPattern(PortMessage("Looking ahead or back, and switches, are not taken. Use (?P<name>...), (?:...) or (...)."))
        else:
            self._rest = self._rest[1:]
        tree = self._either(depth + 1)
        if not self._rest.startswith(")"):
            raise BadPattern(PortMessage("A bracket is opened and never closed. Close it, or write \\( for the character."))
        self._rest = self._rest[1:]
        return tree if slot is None else ("named", slot, tree)

    def _choice(self) -> frozenset:
        without = self._rest.startswith("[^")
        self._rest = self._rest[1 + without:]
        chars: set[str] = set()
        first = True
        while first or not self._rest.startswith("]"):
            first = False
            low = self._member()
            if self._rest.startswith("-") and self._rest[1:2] not in ("]", ""):
                self._rest = self._rest[1:]
                high = self._member()
                if len(low) != 1 or len(high) != 1 or max(low) > max(high):
                    raise BadPattern(PortMessage("A range in [...] runs backwards. Put the smaller end first."))
                chars.update(map(chr, range(ord(max(low)), ord(max(high)) + 1)))
            else:
                chars |= low
        self._rest = self._rest[1:]
        return frozenset(_ANY - chars if without else chars)

    def _member(self) -> frozenset:
        if not self._rest:
            raise BadPattern(PortMessage("A [ is opened and never closed. Close it, or write \\[ for the character."))
        char, self._rest = self._rest[0], self._rest[1:]
        return self._escaped() if char == "\\" else frozenset(char)

    def _escaped(self) -> frozenset:
        char, self._rest = self._rest[:1], self._rest[1:]
        if char in _SETS:
            return _SETS[char]
        if not char or char.isalnum():
            raise BadPattern(PortMessage("A \\ stands before {char}. Use \\d, \\s, \\w, \\t, or one before a sign.",
                                         char=char or PortMessage("nothing")))
        return frozenset(char)

    # Writing the steps.

    def _emit(self, *step: Any) -> int:
        self._steps.append(step)
        if len(self._steps) > LARGEST:
            raise BadPattern(PortMessage("The pattern comes to more than {n:d} steps. Repeat less.", n=LARGEST))
        return len(self._steps) - 1

    def _write(self, tree: tuple) -> None:
        kind, *what = tree
        if kind == "take":
            self._emit("take", what[0])
        elif kind == "run":
            for part in what[0]:
                self._write(part)
        elif kind == "named":
            self._emit("mark", 2 * what[0])
            self._write(what[1])
            self._emit("mark", 2 * what[0] + 1)
        elif kind == "either":
            self._write_either(what[0])
        else:
            self._write_repeat(*what)

    def _write_either(self, ways: list[tuple]) -> None:
        leaving = []
        for way in ways[:-1]:
            fork = self._emit("fork")
            self._write(way)
            leaving.append(self._emit("fork"))
            self._steps[fork] = ("fork", fork + 1, len(self._steps))
        self._write(ways[-1])
        for step in leaving:
            self._steps[step] = ("fork", len(self._steps))

    def _write_repeat(self, tree: tuple, least: int, most: int | None, few: bool) -> None:
        for _ in range(least):
            self._write(tree)
        forks = []
        for _ in range(1 if most is None else most - least):
            forks.append(self._emit("fork"))
            self._write(tree)
        if most is None:
            self._emit("fork", forks[0])
        for fork in forks:
            ways = (fork + 1, len(self._steps))
            self._steps[fork] = ("fork", *(ways[::-1] if few else ways))


def _may_be_empty(tree: tuple) -> bool:
    kind, *what = tree
    if kind == "take":
        return False
    if kind == "run":
        return all(map(_may_be_empty, what[0]))
    if kind == "either":
        return any(map(_may_be_empty, what[0]))
    return _may_be_empty(what[1]) if kind == "named" else what[1] == 0 or _may_be_empty(what[0])
