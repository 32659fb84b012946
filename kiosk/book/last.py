"""The numbers of the last records of the days written last, in one small file, written over in place and never synced.

A day's file that was cut short at the end of a line looks like a quieter day; this tells. It may lag behind after a
power cut, and is never ahead of the records. What is damaged of it is not known.
"""

import os
from pathlib import Path

from kiosk.book.stored_record import StoredRecord, found

PLACES, PLACE_BYTES = 4, 64   # today, and a few that were corrected or that a wrong clock made


class LastNumbers:
    """A day a place; a new day takes the place of the one that was written longest ago."""

    def __init__(self, path: Path):
        self._path = path
        self._file: int | None = None
        try:
            data = path.read_bytes()
        except OSError:
            data = b""
        places = range(PLACES)
        held = ((place, found(data[place * PLACE_BYTES:][:PLACE_BYTES], "last").lines) for place in places)
        self._numbers = {lines[0].kind: (lines[0].number, place) for place, lines in held if lines}

    @property
    def days(self) -> tuple[str, ...]:
        """The one written last comes last, as far as this opening knows."""
        return tuple(self._numbers)

    def of(self, day: str) -> int:
        """0 where it is not known."""
        return self._numbers.get(day, (0, 0))[0]

    def note(self, day: str, number: int) -> None:
        """Records up to `number` of `day` are on the medium."""
        _, place = self._numbers.pop(day, (0, None))
        if place is None and len(self._numbers) < PLACES:
            place = min(set(range(PLACES)) - {taken for _, taken in self._numbers.values()})
        elif place is None:
            _, place = self._numbers.pop(next(iter(self._numbers)))
        self._numbers[day] = number, place
        try:
            if self._file is None:
                self._file = os.open(self._path, os.O_WRONLY | os.O_CREAT | os.O_CLOEXEC, 0o600)
            os.pwrite(self._file, StoredRecord(number, day, b"{}").encoded("last").ljust(PLACE_BYTES), place * PLACE_BYTES)
        except OSError:
            pass   # a hint alone: the book says itself that the disk fails

    def close(self) -> None:
        if self._file is not None:
            os.close(self._file)
            self._file = None
