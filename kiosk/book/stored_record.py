"""One kept record as one line, and a file of lines back into records, whatever happened to the file.

A line is `CHECKSUM NUMBER KIND JSON`, and where the record has a trace a tab and the trace as JSON after it, so that a
day can be summed without reading its curves. CHECKSUM is eight hexadecimal digits of CRC-32 (as in zlib and ISO 3309)
over the rest of the line, begun from the name of the file's day, so that a line that strayed from another day does not
pass. NUMBER counts the day's lines from 1: it tells a missing line and cures swapped ones.
"""

import json
from codecs import BOM_UTF8, BOM_UTF16_BE, BOM_UTF16_LE
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from sys import intern
from typing import Any
from zlib import compress, crc32, decompress

from kiosk.bar.model import GuideEvent, Pull, Record, from_json
from kiosk.book.older_sentences import upgraded

LOST = "lost"   # a line in the place of lost ones: {"to": last lost number, "aside": where the damaged file lies}, or of
#                 one that moved to its own day: {"to": its number, "moved": that day}
FORMAT = 2      # of a store. 1 had the trace among the other fields, which this reads too


@dataclass(slots=True, eq=False)
class StoredRecord:
    """A line that passed its checksum. Its JSON is read when asked for, once, but for traces and what a guide saw: read, a curve is
    ten times its text, and a day's are seldom asked for twice. Of a line made here the curve, half of a day's text, is held
    compressed."""

    number: int
    kind: str
    _text: bytes
    _curve: bytes | None = field(default=None, repr=False)
    _without_trace: Record | None = field(default=None, repr=False)

    @property
    def body(self) -> bytes:
        """Its JSON as the file has it, with the trace after a tab."""
        return self._text if self._curve is None else b"\t".join((self._text, decompress(self._curve)))

    @property
    def fields(self) -> dict[str, Any]:
        rest, tab, trace = self.body.partition(b"\t")
        fields = json.loads(rest.decode())
        if tab:
            fields["trace"] = json.loads(trace.decode())
        return fields

    @property
    def end(self) -> int:
        """The last number that this line accounts for."""
        return self.fields["to"] if self.kind == LOST else self.number

    @property
    def id(self) -> str | None:
        if self._text.startswith(b'{"id":"'):
            short = self._text[7:self._text.index(b'"', 7)]
            if b"\\" not in short:
                return short.decode()
        return self.fields.get("id")

    @property
    def station(self) -> str | None:
        """The station that it was taken in from; None for one made here."""
        return self.fields.get("station") if b'"station":' in self._text else None

    @property
    def record(self) -> Record:
        """The record; one whose trace is none, without it. Raises ValueError where this program cannot read one that is whole."""
        if self.kind != Pull.__name__:
            return self.without_trace
        try:
            fields = self.fields
            if trace := fields.get("trace"):
                fields["trace"] = tuple(map(tuple, trace))
            return upgraded(from_json({"kind": self.kind, **fields}))
        except (ValueError, TypeError):
            return self.without_trace

    @property
    def without_trace(self) -> Record:
        """The record with its trace left empty, in a fifth of the time. Raises ValueError as `record` does."""
        if self._without_trace is not None:
            return self._without_trace
        rest, _, _ = self._text.partition(b"\t")
        fields = json.loads(rest.decode())
        fields.pop("trace", None)
        record = upgraded(from_json({"kind": self.kind, **fields}))
        if self.kind != GuideEvent.__name__:        # most of a day's lines, and read but once, at a start
            self._without_trace = record
        return record

    def encoded(self, day: str) -> bytes:
        rest = b"%d %s %s" % (self.number, self.kind.encode(), self.body)
        return b"%08x %s\n" % (crc32(rest, crc32(day.encode())), rest)


def line(number: int, document: Mapping[str, Any]) -> StoredRecord:
    """The line for `document`, which JSON can hold; its "kind" stands apart, and so does its "trace"."""
    fields = dict(document)
    kind, trace = fields.pop("kind"), fields.pop("trace", None)
    return StoredRecord(number, kind, _json(fields), compress(_json(trace)) if trace is not None else None)


@dataclass(frozen=True, slots=True)
class Found:
    """What a day's file holds. `missing` are runs (first, last) of numbers that no line accounts for; `tidy` is False
    where the file is not exactly `lines` in turn; `torn` where it only ends in a line cut short, at byte `end`."""

    lines: tuple[StoredRecord, ...]
    missing: tuple[tuple[int, int], ...]
    tidy: bool
    torn: bool
    end: int


def found(data: bytes, day: str) -> Found:
    """Read a day's file. Never raises: what does not pass its checksum is not there.

    Two different records under one number, as a file leaves that was unreadable for a while, are both kept: the later
    one goes to the end.
    """
    given, data = data, as_written(data)
    whole, newline, tail = data.rpartition(b"\n")
    pieces = whole.split(b"\n") if newline else []
    by_number: dict[int, StoredRecord] = {}
    again, in_turn, last = [], True, 0
    for each in _passing(pieces, crc32(day.encode())):
        in_turn = in_turn and each is not None and each.number > last
        if each is not None:
            other = by_number.setdefault(each.number, each)
            if other is not each and each.kind != LOST and (other.kind, other.body) != (each.kind, each.body):
                again.append(each)
            last = each.number
    lines = [by_number[number] for number in sorted(by_number)]
    for each in again:
        each.number = lines[-1].end + 1
        lines.append(each)
    missing = tuple(_missing(lines))
    in_turn = in_turn and not missing and data is given
    return Found(tuple(lines), missing, in_turn and not tail, in_turn and bool(tail), len(data) - len(tail))


def as_written(data: bytes) -> bytes:
    """The file as the kiosk writes it, where an editor has saved it anew: lines that end in CR and LF, UTF-16, a byte order mark.
    `data` itself where none did."""
    try:
        if data.startswith((BOM_UTF16_LE, BOM_UTF16_BE)):
            data = data.decode("utf-16").encode()
    except UnicodeDecodeError:
        return data
    if data.startswith(BOM_UTF8) or b"\r\n" in data:           # no line of ours has a bare CR: JSON writes it as \r
        data = data.removeprefix(BOM_UTF8).replace(b"\r\n", b"\n")
    return data


def _passing(pieces: Iterable[bytes], seed: int) -> Iterator[StoredRecord | None]:
    for piece in pieces:
        try:
            checksum, number, kind, body = piece.split(b" ", 3)
            passes = checksum == b"%08x" % crc32(piece[9:], seed)
            yield StoredRecord(int(number), intern(kind.decode()), body) if passes else None
        except ValueError:
            yield None


def _missing(lines: Iterable[StoredRecord]) -> Iterator[tuple[int, int]]:
    due = 1
    for each in lines:
        if each.number > due:
            yield due, each.number - 1
        due = max(due, each.end + 1) if each.kind == LOST else each.number + 1


def _json(value: Any) -> bytes:
    return json.dumps(value, separators=(",", ":")).encode()
