"""One kept record as one line, and a file of lines back into records, whatever happened to the file.

A line is `CHECKSUM NUMBER KIND JSON`: eight hexadecimal digits of CRC-32 (ISO 3309, as in zlib) over the rest of the line,
begun from the name of the file's day, so that a line that strayed from another day does not pass; the line's number in
its day, from 1, which tells a missing line and cures swapped ones; the record's kind; its fields as JSON in ASCII.
"""

import json
from dataclasses import dataclass, field
from typing import Any, Iterable, Mapping
from zlib import crc32

from kiosk.bar.record import Record, record

LOST = "lost"   # a line in the place of lost ones: {"to": last lost number, "aside": where the damaged file lies}


@dataclass(slots=True, eq=False)
class Line:
    """A line that passed its checksum. Its JSON is read when asked for, once."""

    number: int
    kind: str
    body: bytes
    _record: Record | None = field(default=None, repr=False)

    @property
    def fields(self) -> dict[str, Any]:
        return json.loads(self.body)

    @property
    def id(self) -> str | None:
        if self.body.startswith(b'{"id":"'):
            short = self.body[7:self.body.index(b'"', 7)]
            if b"\\" not in short:
                return short.decode()
        return self.fields.get("id")

    @property
    def record(self) -> Record:
        """The record. Raises ValueError where this program cannot read one that is whole."""
        if self._record is None:
            fields = self.fields
            if trace := fields.get("trace"):
                fields["trace"] = tuple(map(tuple, trace))
            self._record = record({"kind": self.kind, **fields})
        return self._record

    def encoded(self, day: str) -> bytes:
        rest = b"%d %s %s" % (self.number, self.kind.encode(), self.body)
        return b"%08x %s\n" % (_checksum(rest, day), rest)


def line(number: int, document: Mapping[str, Any]) -> Line:
    """The line for `document`, which JSON can hold; its "kind" stands apart."""
    fields = {name: value for name, value in document.items() if name != "kind"}
    return Line(number, document["kind"], json.dumps(fields, separators=(",", ":")).encode())


@dataclass(frozen=True, slots=True)
class Found:
    """What a day's file holds. `missing` are runs (first, last) of numbers that no line accounts for; `tidy` is False
    where the file is not exactly `lines` in turn; `torn` where it only ends in a line cut short, at byte `end`."""

    lines: tuple[Line, ...]
    missing: tuple[tuple[int, int], ...]
    tidy: bool
    torn: bool
    end: int


def found(data: bytes, day: str) -> Found:
    """Read a day's file. Never raises: what does not pass its checksum is not there."""
    whole, newline, tail = data.rpartition(b"\n")
    pieces = whole.split(b"\n") if newline else []
    read = [_read(piece, day) for piece in pieces]
    by_number = {each.number: each for each in read if each}
    lines = tuple(by_number[number] for number in sorted(by_number))
    tidy = len(lines) == len(read) and all(map(_is, lines, read))
    missing = tuple(_missing(lines))
    return Found(lines, missing, tidy and not tail and not missing, tidy and bool(tail) and not missing, len(data) - len(tail))


def _is(one: Line, other: Line | None) -> bool:
    return one is other


def _missing(lines: Iterable[Line]):
    due = 1
    for each in lines:
        if each.number > due:
            yield due, each.number - 1
        due = max(due, each.fields["to"] if each.kind == LOST else each.number) + 1


def _read(piece: bytes, day: str) -> Line | None:
    try:
        if int(piece[:8], 16) != _checksum(piece[9:], day) or piece[8:9] != b" ":
            return None
        number, kind, body = piece[9:].split(b" ", 2)
        return Line(int(number), kind.decode(), body)
    except ValueError:
        return None


def _checksum(rest: bytes, day: str) -> int:
    return crc32(rest, crc32(day.encode()))
