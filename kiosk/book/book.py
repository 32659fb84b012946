"""The book: what the bar did, kept so that nothing loses it.

    book.json             version of the store, the station's name of its own, how often it was opened
    days/2026-11-25.log   a service day, a line a record (`line`, `journal`)
    sums/2026.log         what closed days came to; reckoned again where it is missing
    settings.json         the settings as they are now, and settings.before.json, as they were a change ago
    memory/NAME.json      small states that can be rebuilt from the days
    last                  number of the last record of the day being written: tells a file cut short from a quiet day
    aside/                damaged files, as they were found
"""

import time as clocks
from collections import OrderedDict
from copy import deepcopy
from datetime import datetime, time
from pathlib import Path
from threading import RLock
from typing import Any, Callable, Iterator

from tinydb.table import Table

from kiosk.bar.day import STARTS, service_day
from kiosk.bar.record import Corrected, Record, SettingChanged, plain
from kiosk.book import snapshot
from kiosk.book.daybook import DayRecords
from kiosk.book.disk import Disk
from kiosk.book.identity import Identity
from kiosk.book.journal import DayDB, Journal
from kiosk.book.keptsums import KeptSums
from kiosk.book.lock import Lock
from kiosk.book.mending import LastNumber, mend
from kiosk.book.settings import Settings
from kiosk.book.sums import DaySums
from kiosk.book.trouble import Trouble

DAYS_AT_HAND = 8


def wall() -> datetime:
    return datetime.now().astimezone()


class Book:
    """The store of one station, in `folder`. Made by `Book.open`. Every call may come from any thread."""

    @classmethod
    def open(cls, folder: Path, *, now: Callable[[], datetime] = wall, starts: time = STARTS, read_only: bool = False,
             disk: Disk | None = None, ticks: Callable[[], float] = clocks.monotonic) -> "Book":
        """Open the book in `folder`, made where there is none. `now` gives wall times with an offset; a service day
        begins at `starts`. Read-only books may be open while another writes; they see what was kept when they ask.

        Raises BookBusy where another kiosk writes to it, BookNewer where a later program wrote it: untouched.
        """
        return cls(Path(folder), now, starts, read_only, disk or Disk(), ticks)

    def __init__(self, folder, now, starts, read_only, disk, ticks):
        self.folder, self.read_only = folder, read_only
        self._now, self._starts, self._disk = now, starts, disk
        self._at_once = RLock()
        self._trouble = Trouble(ticks)
        self._journals: OrderedDict[str, Journal] = OrderedDict()
        self._views: dict[str, DayRecords] = {}
        self.notices: list[str] = []
        self._lock = None
        self._identity = Identity(folder, disk)
        if not read_only:
            with self._trouble.over():
                for part in (folder, folder / "days", folder / "sums", folder / "memory", folder / "aside"):
                    disk.folder(part)
            self._lock = Lock(folder)
            with self._trouble.over():
                self._identity.count_opening()
        self._last = LastNumber(folder / "last")
        self._sums = KeptSums(folder / "sums", disk, read_only)
        self._settings = Settings(folder, disk)
        self._journal(self._day_now())
        self._settings.load(self.days, self.day)
        self.notices += self._settings.notices

    # What is kept

    def keep(self, record: Record) -> None:
        """Keep `record`: on the medium when this returns, or else waiting in memory, and `trouble` says so."""
        with self._at_once:
            day = self._day_of(record)
            journal = self._journal(day)
            with self._trouble.over():
                self._table(journal).insert(plain(record))
            self._views.pop(day, None)
            self.retry()
            if not journal.waiting:
                self._last.note(day, journal.next_number - 1)

    def retry(self) -> None:
        """Write what waits, where the disk takes it again."""
        with self._at_once:
            if self._trouble.sentence is None and not self.waiting and not self._settings.waiting:
                return
            with self._trouble.over():
                for journal in self._journals.values():
                    journal.write_out()
                self._settings.write_out()
                self._trouble.cure()

    @property
    def trouble(self) -> str | None:
        """A sentence for the screen while the disk does not take what it is given; None when all is well."""
        return self._trouble.sentence

    @property
    def waiting(self) -> int:
        """How many records are in memory alone."""
        return sum(journal.waiting for journal in self._journals.values())

    def new_id(self) -> str:
        """An id no other record of any station has; later ones sort later, whatever the clock does."""
        with self._at_once:
            return self._identity.new_id()

    def at(self) -> str:
        """Now, as records have it: ISO 8601 with the offset from UTC."""
        return self._now().isoformat(timespec="milliseconds")

    @property
    def station(self) -> str:
        """This store's own name, made with it: tells its records from those of a chain's other stations."""
        return self._identity.station

    # What is read

    def days(self) -> tuple[str, ...]:
        """Every service day with a record, the earliest first."""
        with self._at_once:
            here = {path.stem for path in (self.folder / "days").glob("????-??-??.log")}
            return tuple(sorted(here | {day for day, journal in self._journals.items() if journal.lines}))

    def day(self, day: str) -> DayRecords:
        """The records of service day `day` ("YYYY-MM-DD"); none where nothing was kept."""
        with self._at_once:
            journal = self._journal(day)
            view = self._views.get(day)
            if view is None:
                view = self._views[day] = DayRecords(day, journal.lines)
            return view

    def today(self) -> DayRecords:
        """The records of the service day that it is now."""
        return self.day(self._day_now())

    def records(self, first_day: str, last_day: str) -> Iterator[Record]:
        """Every record of the days from `first_day` to `last_day`, both included, as corrected, in the order kept."""
        for day in self.days():
            if first_day <= day <= last_day:
                yield from self.day(day).all

    def find(self, id: str) -> Record | None:
        """The record with this id, as corrected; None where there is none or it is void."""
        day = self._holding(id)
        return self.day(day).find(id) if day else None

    def table(self, day: str | None = None) -> Table:
        """TinyDB's own table over a day's records, as kept: `book.table().search(where("kind") == "Pull")`.

        An insert into it is kept like any record; update, remove and truncate raise NeverEdited.
        """
        with self._at_once:
            return self._table(self._journal(day or self._day_now()))

    def sums(self, first_day: str, last_day: str) -> tuple[DaySums, ...]:
        """The sums of each day with records from `first_day` to `last_day`, both included."""
        with self._at_once:
            return tuple(self._sums.of(day, self._journal_path(day), self.day, closed=day != self._day_now())
                         for day in self.days() if first_day <= day <= last_day)

    # Settings and memory

    @property
    def settings(self) -> dict[str, Any]:
        """The settings as they are: a copy."""
        return deepcopy(self._settings.now)

    def settle(self, path: str, value: Any, by: str | None = None) -> SettingChanged:
        """Set what the dotted `path` names ("grinders.left.name") to `value`, which JSON can hold; the change is kept."""
        with self._at_once:
            change = SettingChanged(id=self.new_id(), at=self.at(), path=path, before=self._settings.at(path),
                                    after=value, by=by)
            self.keep(change)
            self._settings.apply(change, self._day_of(change))
            with self._trouble.over():
                self._settings.write_out()
            return change

    def memory(self, name: str) -> dict[str, Any] | None:
        """What was remembered under `name`; None where nothing was, or where it is damaged: rebuild it."""
        return snapshot.get(self._memory_path(name))

    def remember(self, name: str, value: dict[str, Any]) -> None:
        """Remember `value` under `name`, whole or not at all. Not synced: after a power cut it may be the one before."""
        with self._trouble.over():
            snapshot.put(self._disk, self._memory_path(name), value, durable=False)

    def close(self) -> None:
        """Write what waits and let another open the book."""
        with self._at_once:
            if not self.read_only:
                self.retry()
            for journal in self._journals.values():
                journal.close()
            self._sums.close()
            self._last.close()
            if self._lock:
                self._lock.release()

    def __enter__(self) -> "Book":
        return self

    def __exit__(self, *_) -> None:
        self.close()

    # How

    def _day_now(self) -> str:
        return service_day(self.at(), self._starts)

    def _day_of(self, record: Record) -> str:
        """A correction lies with what it corrects, so that a day is read from one file."""
        holding = self._holding(record.of) if isinstance(record, Corrected) else None
        return holding or service_day(record.at, self._starts)

    def _holding(self, id: str) -> str | None:
        with self._at_once:
            near = [self._day_now(), *reversed(self._journals)]
            rest = self._sums.days_that_may_hold(id, reversed(self.days()))
            return next((day for day in dict.fromkeys((*near, *rest)) if id in self.day(day)), None)

    def _table(self, journal: Journal) -> Table:
        return DayDB(storage=lambda: journal).table(DayDB.default_table_name)

    def _journal_path(self, day: str) -> Path:
        return self.folder / "days" / f"{day}.log"

    def _memory_path(self, name: str) -> Path:
        if not name.replace("-", "").replace("_", "").isalnum():
            raise ValueError(f"A memory's name is letters, figures, - and _, not {name!r}.")
        return self.folder / "memory" / f"{name}.json"

    def _journal(self, day: str) -> Journal:
        journal = self._journals.get(day)
        if journal is None or self.read_only and journal.outgrown:
            path = self._journal_path(day)
            journal = Journal(path, self._disk)
            self._views.pop(day, None)
            due = max(self._last.of(day), self._sums.last_number(day))
            if not journal.found.tidy or journal.next_number <= due:
                journal, notice = mend(journal, due, self._disk, self.folder / "aside", keep=not self.read_only)
                if notice:
                    self.notices.append(notice)
            self._journals[day] = journal
            self._let_go()
        self._journals.move_to_end(day)
        return journal

    def _let_go(self) -> None:
        idle = [day for day, journal in self._journals.items() if not journal.waiting and day != self._last.day]
        for day in idle[:max(0, len(self._journals) - DAYS_AT_HAND)]:
            self._journals.pop(day).close()
            self._views.pop(day, None)
