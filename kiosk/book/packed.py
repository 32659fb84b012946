"""What guides saw, packed: most of a day's lines, and nobody asks for them before the next start.

Each as it is takes twice its text in memory; compressed with others of its kind, a tenth of it.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import islice
from zlib import compress, decompress

from kiosk.bar.model import GuideEvent
from kiosk.book.stored_record import StoredRecord

RUN = 64        # lines


@dataclass(frozen=True, slots=True, eq=False)
class Packed:
    """A run of a day's lines; `ids` are the first and the last of theirs in sorting order."""

    text: bytes
    ids: tuple[str, str]

    def __len__(self) -> int:
        return RUN

    def lines(self) -> list[StoredRecord]:
        apart = (each.split(b" ", 1) for each in decompress(self.text).split(b"\n"))
        return [StoredRecord(int(number), GuideEvent.__name__, body) for number, body in apart]

    def find(self, id: str) -> StoredRecord | None:
        first, last = self.ids
        return next((each for each in self.lines() if each.id == id), None) if first <= id <= last else None


def pack(lines: list[StoredRecord]) -> Packed | None:
    """The oldest run of what guides saw, taken out of `lines`; None where they hold less than two: the latest stay."""
    seen = (each for each in lines if each.kind == GuideEvent.__name__ and each.station is None)
    run = list(islice(seen, RUN))
    if len(list(islice(seen, RUN))) < RUN:
        return None
    gone, ids = set(run), [each.id or "" for each in run]
    lines[:] = [each for each in lines if each not in gone]
    return Packed(compress(b"\n".join(b"%d %s" % (each.number, each.body) for each in run)), (min(ids), max(ids)))


def unpacked(runs: Iterable[Packed], lines: Iterable[StoredRecord]) -> tuple[StoredRecord, ...]:
    """All of them by their numbers."""
    return tuple(sorted((*(each for run in runs for each in run.lines()), *lines), key=lambda each: each.number))
