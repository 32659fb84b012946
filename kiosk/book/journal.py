"""A day's records: a TinyDB storage on a file that only ever grows, a line a record.

TinyDB's stock storage writes the whole file again for every insert. Here an insert appends one line and syncs it, so
that its cost does not grow with the day, and a power cut can cost no more than the line being written. All of TinyDB's
reading works unchanged; of its writing, `insert` and `insert_multiple`: what happened is never edited.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from threading import RLock
from typing import Any

from tinydb import TinyDB
from tinydb.storages import Storage
from tinydb.table import Table

from kiosk.book.disk import Disk
from kiosk.book.packed import RUN, Packed, pack, unpacked
from kiosk.book.stored_record import LOST, StoredRecord, found, line

RECORDS = "records"   # the one table of a day


class NeverEdited(TypeError):
    """Something tried to change or remove a kept record."""

    def __init__(self) -> None:
        super().__init__("What happened is never edited. Keep a correction that names the old record.")


class Journal(Storage):
    """One day's file. `read` gives TinyDB the records; `add` appends; `write_out` makes durable, or raises OSError and
    can be called again: what could not be written waits in memory, in order, and is never written twice.

    `data` stands for the file's content where the caller has it. Raises OSError where the file cannot be read.
    """

    def __init__(self, path: Path, disk: Disk, data: bytes | None = None):
        self.path, self.day, self._disk = path, path.stem, disk
        self._memory, self._writing = RLock(), RLock()
        if data is None:
            data = path.read_bytes() if path.exists() else b""
        self.found = found(data, self.day)
        self._lines = list(self.found.lines)
        self._runs: tuple[Packed, ...] = ()                             # of the others, packed
        self._unwritten: list[StoredRecord] = []
        self._file: int | None = None
        self._size = self.found.end if self.found.torn else len(data)   # bytes known to be good
        self._anew = False
        self._changed = False                                           # its lines are others than those on the medium
        self._failed = False                                            # a write of ours may have left a piece behind
        self._cut_off = bool(data) and not self.found.torn and not data.endswith(b"\n")

    @property
    def lines(self) -> tuple[StoredRecord, ...]:
        with self._memory:
            return unpacked(self._runs, self._lines)

    @property
    def held(self) -> tuple[tuple[StoredRecord, ...], tuple[Packed, ...]]:
        """The same as memory has them: the last line is no packed one."""
        with self._memory:
            return tuple(self._lines), self._runs

    @property
    def last_number(self) -> int:
        """The number of the last record, kept or lost; 0 where there is none."""
        with self._memory:
            return self._lines[-1].end if self._lines else 0

    @property
    def waiting(self) -> int:
        """How many records are in memory alone; one more where the file is to be written anew."""
        return len(self._unwritten) + self._changed

    def add(self, document: Mapping[str, Any]) -> StoredRecord:
        """Append to memory; `write_out` makes it durable."""
        with self._memory:
            made = line(self.last_number + 1, document)
            self._lines.append(made)
            self._unwritten.append(made)
            if made.number % (RUN // 2) == 0 and (run := pack(self._lines)):    # a day read at a start catches up
                self._runs += (run,)
                self.found = replace(self.found, lines=())      # which would hold them as they were
            return made

    @property
    def changed(self) -> bool:
        """Whether lines that are on the medium are to be others."""
        return self._changed

    def change(self, change: Callable[[StoredRecord], StoredRecord]) -> int:
        """Each line as `change` gives it back, its number as it was, in memory; `write_out` puts the whole file in the
        place of the old one. How many it changed."""
        with self._writing, self._memory:
            before = self.lines
            lines = [change(each) for each in before]
            changed = sum(one is not other and one.body != other.body for one, other in zip(before, lines))
            if changed:
                waiting = len(self._unwritten)
                self._lines, self._runs, self._changed = lines, (), True
                self._unwritten = lines[len(lines) - waiting:]
            return changed

    def write_out(self, sync: bool = True) -> int:
        """Write whatever waits, in the order it came; the number of the last record written, or 0 where none waited.

        What a write cut short has left behind goes first. On the medium when this returns, unless `sync` is False.
        Raises OSError where the disk refuses.
        """
        with self._writing:
            if self._changed:
                return self._replace()
            with self._memory:
                due = tuple(self._unwritten)
            if not due and not self.found.torn:
                return 0
            try:
                if self._file is None:
                    self._file = self._disk.open(self.path)
                data = self._cut_back(self._file) + b"".join(each.encoded(self.day) for each in due)
                self._disk.write(self._file, data)
                if sync:
                    self._disk.sync(self._file)
            except OSError:
                self._give_up()
                raise
            self._size, self._cut_off, self._anew, self._failed = self._size + len(data), False, False, False
            with self._memory:
                del self._unwritten[:len(due)]
            return due[-1].number if due else 0

    def _replace(self) -> int:
        with self._memory:
            lines = self.lines
            due, self._changed = len(self._unwritten), False
        data = b"".join(each.encoded(self.day) for each in lines)
        try:
            self.close()
            self._disk.replace(self.path, data)
        except OSError:
            self._changed = True
            raise
        self._size, self._cut_off, self._anew, self._failed = len(data), False, False, False
        with self._memory:
            del self._unwritten[:due]
        return lines[-1].number if due else 0

    def read(self) -> dict[str, Mapping[str, Any]]:     # type: ignore[override]  # documents are made as they are asked for
        return {RECORDS: _Documents(self.lines)}

    def write(self, data: dict[str, dict[str, Any]]) -> None:
        raise NeverEdited()

    def close(self) -> None:
        with self._writing:
            if self._file is not None:
                self._disk.close(self._file)
                self._file = None

    def _cut_back(self, file: int) -> bytes:
        """To the last byte that is known to be good, since after a failed write or sync anything may follow it; what to
        write before what waits. A file that lost some of its good bytes meanwhile is written anew, from memory."""
        size = self._disk.size(file)
        self._anew = self._anew or size < self._size
        if self._anew:
            self._disk.truncate(file, 0)
            with self._memory:
                lines = self.lines
                written = lines[:len(lines) - len(self._unwritten)]
            self._size = 0
            return b"".join(each.encoded(self.day) for each in written)
        if size > self._size and not self._failed and not self.found.torn:
            self._size, self._cut_off = size, True      # somebody else's: it is never cut, what follows begins anew
        elif size != self._size:
            self._disk.truncate(file, self._size)
        return b"\n" if self._cut_off else b""

    def _give_up(self) -> None:
        """After a failed sync the kernel may call the page clean and forget it: close, cut back and write it again."""
        self._failed = True
        if self._file is not None:
            file, self._file = self._file, None
            try:
                self._disk.close(file)
            except OSError:
                pass   # the descriptor is gone either way, and the records still wait in memory


class Records(Table):
    """TinyDB's table over a journal: an insert costs one line, whatever the table holds, and is durable on return.
    With `at_once` False it is in memory, and the caller writes out."""

    _storage: Journal

    def __init__(self, storage: Journal, name: str = RECORDS, at_once: bool = True):
        super().__init__(storage, name, cache_size=0)   # records also arrive past this table: remember no answer
        self._at_once = at_once

    def _get_next_id(self) -> int:
        return self._storage.last_number + 1

    def _update_table(self, updater: Callable[[Any], None]) -> None:
        updater(_Additions(self._storage))
        if self._at_once:
            self._storage.write_out()


class _Additions:
    """What an updater of TinyDB's may do to the table: add."""

    def __init__(self, journal: Journal):
        self._journal = journal

    def __contains__(self, number: int) -> bool:
        return number <= self._journal.last_number

    def __setitem__(self, number: int, document: dict) -> None:
        if number != self._journal.last_number + 1:
            raise NeverEdited()
        self._journal.add(document)

    def __getattr__(self, name: str) -> None:
        raise NeverEdited()

    def __getitem__(self, number: int) -> None:
        raise NeverEdited()

    __delitem__ = __getitem__


class _Documents(Mapping):
    """A table as TinyDB reads it: the number of a line to its record, each read from JSON only when asked for."""

    def __init__(self, lines: tuple[StoredRecord, ...]):
        self._lines = {str(each.number): each for each in lines if each.kind != LOST}

    def __getitem__(self, number: str) -> dict[str, Any]:
        each = self._lines[number]
        return {"kind": each.kind, **each.fields}

    def __iter__(self) -> Iterator[str]:
        return iter(self._lines)

    def __len__(self) -> int:
        return len(self._lines)


class DayDB(TinyDB):
    """TinyDB over one day; its default table is the day's records."""

    table_class = Records       # type: ignore[assignment]  # TinyDB means any kind of Table
    default_table_name = RECORDS
