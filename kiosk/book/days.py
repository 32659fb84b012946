"""The days' files: those at hand in memory, the others read when asked for, damaged ones mended as they are met."""

import logging
import os
from collections import OrderedDict
from collections.abc import Callable, Iterable, Mapping
from datetime import time
from pathlib import Path
from threading import RLock
from typing import TYPE_CHECKING, Any

from tinydb.table import Table

from kiosk.bar.messages import Message, joined
from kiosk.bar.model import Corrected, is_day, service_day
from kiosk.book.daybook import DayRecords
from kiosk.book.disk import Disk
from kiosk.book.journal import DayDB, Journal, Records
from kiosk.book.keptsums import KeptSums
from kiosk.book.last import LastNumbers
from kiosk.book.mending import free_name, mend
from kiosk.book.stored_record import LOST, StoredRecord, line

if TYPE_CHECKING:               # a book opens without what adds days up
    from kiosk.book.sums import DaySums

log = logging.getLogger(__name__)

PIECE_BYTES = 1 << 16
AT_HAND = 4   # days kept in memory beside the one being written
STRANGERS = b'"station":'    # in the line of a record that another station made


class Days:
    """Every call may come from any thread; none but `write_out` waits for the disk to write."""

    def __init__(self, folder: Path, disk: Disk, read_only: bool):
        self._folder, self._aside, self._disk, self._read_only = folder / "days", folder / "aside", disk, read_only
        self._hands = RLock()
        self._journals: OrderedDict[str, Journal] = OrderedDict()
        self._views: dict[str, DayRecords] = {}
        self._sizes: dict[str, int] = {}
        self._last = LastNumbers(folder / "last")
        self._sums = KeptSums(folder / "sums", disk, read_only)
        self._sums_of: dict[str | None, KeptSums] = {None: self._sums}
        self._emptied: set[str] = set()
        self.notices: list[Message] = []

    def names(self) -> tuple[str, ...]:
        with self._hands:
            on_disk = {path.stem for path in self._folder.glob("*.log") if is_day(path.stem)}
            at_hand = {day for day, journal in self._journals.items() if journal.last_number}
            return tuple(sorted((on_disk | at_hand | self._sums.days()) - self._emptied))

    def containing(self, word: bytes) -> list[str]:
        """The days whose files hold `word`, found without reading them as records."""
        return [day for day in self.names() if self._contains(day, word)]

    def _contains(self, day: str, word: bytes) -> bool:
        """Looked for piece by piece: the room that a whole day takes is kept by the C library, once for each thread that asks."""
        try:
            with (self._folder / f"{day}.log").open("rb") as file:
                before = b""
                while piece := file.read(PIECE_BYTES):
                    if word in (both := before + piece):
                        return True
                    before = both[-len(word):]
        except OSError:
            pass
        return False

    def view(self, day: str) -> DayRecords:
        with self._hands:
            journal = self.journal(day)
            view = self._views.get(day)
            if view is None or view.last_number != journal.last_number:
                view = self._views[day] = DayRecords(day, *journal.held, grown_from=view)
            return view

    def table(self, day: str) -> Table:
        journal = self.journal(day)
        return DayDB(storage=lambda: journal).table(DayDB.default_table_name)

    def rewrite(self, day: str, change: Callable[[StoredRecord], StoredRecord]) -> int:
        """Write the day's file anew, each line as `change` gives it back; how many it changed. Raises OSError."""
        with self._hands:
            journal = self.journal(day)
            changed = journal.change(change)
            self._views.pop(day, None)
            journal.write_out()
            return changed

    def move(self, day: str, dated: Callable[[StoredRecord], dict[str, Any] | None], starts: time) -> int:
        """Each record of `day` that `dated` gives another time is kept with the service day of that; how many. In memory:
        `write_out` writes first where they went and then where they were. After a cut between the two it can be done
        again: what is there already is not added twice."""
        with self._hands:
            journal = self.journal(day)
            due = {each.number: made for each in journal.lines if each.kind != LOST and (made := dated(each))}
            goes = {made["id"]: service_day(made["at"], starts) for made in due.values()}
            for made in due.values():
                if made["kind"] == Corrected.__name__:      # it lies with what it corrects
                    goes[made["id"]] = goes.get(made["of"], day)
            for to in sorted({*goes.values()} - {day}):
                there = {each.id for each in self.journal(to).lines}
                Records(self.journal(to), at_once=False).insert_multiple(
                    made for made in due.values() if goes[made["id"]] == to and made["id"] not in there)
                self._emptied.discard(to)

            def put(each: StoredRecord) -> StoredRecord:
                made = due.get(each.number)
                if made is None:
                    return each
                to = goes[made["id"]]
                return line(each.number, made if to == day else {"kind": LOST, "to": each.number, "moved": to})
            self.journal(day).change(put)
            self._views.pop(day, None)
            return len(due)

    def hide_emptied(self, days: Iterable[str]) -> None:
        """Those of `days` whose records have all moved are no days any more."""
        self._emptied = {day for day in days if not len(self.view(day)) and not self.view(day).lost}

    def add(self, day: str, documents: Iterable[Mapping[str, Any]]) -> None:
        """Through TinyDB's own insert, into memory; `write_out` makes it durable. A day's first record has those before
        it summed, so that no one waits for a year of sums at once."""
        with self._hands:
            if not self.journal(day).last_number:
                self._sum_before(day)
            self._emptied.discard(day)
            Records(self.journal(day), at_once=False).insert_multiple(documents)

    def _sum_before(self, day: str) -> None:
        for closed in [each for each in self._last.days if each < day]:
            self.add_up(closed)

    def add_up(self, closed: str) -> None:
        """Keep the sums of a day that is over, each station's of its own; the book's own also where they come to nothing, since
        with them is kept whose records the day holds."""
        try:
            for station in (None, *(self.stations(closed) - {None})):
                self.sums(closed, True, station)
        except Exception as odd:   # whatever a record holds that does not add up, it holds up no pull
            log.warning("The sums of %s could not be reckoned: %s", closed, odd)

    def write_out(self) -> None:
        """Make durable whatever waits. Raises OSError where the disk refuses; call again when it may take it."""
        with self._hands:
            due = sorted((each for each in self._journals.values() if each.waiting), key=lambda each: each.changed)
        for journal in due:
            if last := journal.write_out():
                self._last.note(journal.day, last)

    @property
    def waiting(self) -> int:
        with self._hands:
            return sum(journal.waiting for journal in self._journals.values())

    def sums(self, day: str, closed: bool, station: str | None = None) -> "DaySums":
        """Of what the station recorded, None for the book's own."""
        with self._hands:
            at_hand = self._journals.get(day)
            whole = closed and not (at_hand and at_hand.waiting)        # what a cut may still take is not to be missed after it
            return self._kept_of(station).of(day, self._size(day), self.view, whole)

    def stations(self, day: str) -> frozenset[str | None]:
        """Whose records the day holds, None for the book's own; that too where damage left nobody's."""
        with self._hands:
            kept = self._sums.stations(day, self._size(day))
            if kept is None:
                read = day in self._journals or self._contains(day, STRANGERS)
                kept = self.view(day).stations if read else frozenset({None})
            return kept or frozenset({None})

    def _kept_of(self, station: str | None) -> KeptSums:
        if station not in self._sums_of:
            self._sums_of[station] = KeptSums(self._folder.parent / "sums", self._disk, self._read_only, station)
        return self._sums_of[station]

    def holding(self, id: str, first: str) -> str | None:
        """The day of the record with this id: `first`, then those at hand, then those whose sums allow it."""
        with self._hands:
            at_hand = (first, *reversed(self._journals))
            others = self._sums.days_that_may_hold(id, reversed(self.names()), self._size)
            seen = set()
            for days in (at_hand, others):
                for day in days:
                    if day not in seen and id in self.view(day):
                        return day
                    seen.add(day)
            return None

    def lines(self, day: str) -> tuple[StoredRecord, ...]:
        """The day's lines as they are kept."""
        with self._hands:
            return self.journal(day).lines

    def last(self, today: str) -> StoredRecord | None:
        """The record that was made last, of today's and of the days written last."""
        return next(reversed(self.latest(today)), None)

    def latest(self, today: str) -> list[StoredRecord]:
        """The last record of today and of each of the days written last, in the order in which they were made."""
        days = dict.fromkeys((today, *self._last.days, *self.names()[-1:]))
        return sorted((line for day in days for line in self.view(day).last), key=lambda line: line.id or "")

    def journal(self, day: str) -> Journal:
        if not is_day(day):
            raise ValueError(f"A day is written 2026-11-25, not {day!r}.")
        with self._hands:
            journal = self._journals.get(day)
            if journal is None or self._read_only and self._size(day) != self._sizes[day]:
                self._sizes[day] = self._size(day)
                journal = self._journals[day] = self._read(day)
                self._views.pop(day, None)
                self._let_go(but=day)
            self._journals.move_to_end(day)
            return journal

    def close(self) -> None:
        for journal in self._journals.values():
            journal.close()
        for sums in self._sums_of.values():
            sums.close()
        self._last.close()

    def _size(self, day: str) -> int:
        path = self._folder / f"{day}.log"
        return path.stat().st_size if path.exists() else 0

    def _read(self, day: str) -> Journal:
        path = self._folder / f"{day}.log"
        due = max(self._last.of(day), self._sums.last_number(day))
        try:
            journal = Journal(path, self._disk)
        except OSError as error:
            journal = self._without(path, error)
        if not journal.found.tidy or journal.last_number < due:
            journal, notice = mend(journal, due, self._disk, self._aside, keep=not self._read_only)
            if notice and notice not in self.notices:
                self.notices.append(notice)
        return journal

    def _without(self, path: Path, error: OSError) -> Journal:
        """The disk does not give the file back: out of the way with it, so that the day can be written."""
        sentence = Message("{day}: its file cannot be read ({why}).", day=path.stem, why=error.strerror)
        if not self._read_only:
            try:
                name = free_name(self._aside, path.stem)
                os.replace(path, self._aside / name)
                sentence = joined(" ", (sentence, Message("It is set aside as aside/{name}.", name=name)))
            except OSError:
                pass   # new records follow what is there, and are told from it by their numbers
        self.notices.append(sentence)
        return Journal(path, self._disk, b"")

    def _let_go(self, but: str) -> None:
        idle = [day for day, journal in self._journals.items()
                if not journal.waiting and day not in (but, *self._last.days[-1:])]
        for day in idle[:-AT_HAND]:
            self._journals.pop(day).close()
            self._views.pop(day, None)
