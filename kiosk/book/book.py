"""The book: what the bar did, kept so that nothing loses it.

    book.json             version of the store, the station's own name, how often it was opened
    days/2026-11-25.log   a service day, a line a record (`line`, `journal`)
    sums/2026.log         what closed days came to; reckoned again where it is missing
    settings.json         the settings as they are now, and settings.before.json, as they were a change ago
    memory/NAME.json      small states that can be rebuilt from the days
    last                  numbers of the last records of the days being written: tells a file cut short from a quiet day
    aside/                damaged files, as they were found
"""

import time as clocks
from collections.abc import Callable, Iterable, Iterator
from copy import deepcopy
from datetime import datetime, time
from errno import EIO
from pathlib import Path
from threading import Event, RLock, Thread
from typing import TYPE_CHECKING, Any

from tinydb.table import Table

from kiosk.bar.model import STARTS, Corrected, Pull, Record, SettingChanged, service_day, to_json
from kiosk.book import backup, forget, snapshot
from kiosk.book.daybook import DayRecords
from kiosk.book.days import Days
from kiosk.book.disk import Disk
from kiosk.book.identity import Identity, letters
from kiosk.book.jumps import Jumps
from kiosk.book.lock import BookBusy, Lock
from kiosk.book.settings import Settings
from kiosk.book.trouble import DiskTrouble
from kiosk.book.unset_clock import UnsetClock, this_run
from kiosk.book.upgrade import upgrade

if TYPE_CHECKING:               # a book opens without what adds days up
    from kiosk.book.sums import DaySums

HANGS_S = 10.0       # on closing, the disk is waited for so long


def wall() -> datetime:
    return datetime.now().astimezone()


class Book:
    """The store of one station, in `folder`. Made by `Book.open`; every call may come from any thread."""

    @classmethod
    def open(cls, folder: Path, *, now: Callable[[], datetime] = wall, starts: time = STARTS, read_only: bool = False,
             behind: bool = False, disk: Disk | None = None, ticks: Callable[[], float] = clocks.monotonic,
             run: str | None = None) -> "Book":
        """Open the book in `folder`, made where there is none. `now` gives wall times with an offset; a service day
        begins at `starts`. Read-only books may be open while another writes; they see what was kept when they ask.
        Of one opened `behind`, a thread of its own writes: nothing that is kept, set or remembered waits for the disk, and
        `waiting` says what is not on it yet. `disk` and `ticks` (seconds, monotonic) are for whoever wants to see a disk fail or slow down;
        `run` names the time since the computer was switched on.

        Raises BookBusy where another kiosk writes to it, BookNewer where a later program wrote it: untouched.

        >>> from tempfile import TemporaryDirectory
        >>> from kiosk.bar.model import Noted
        >>> with TemporaryDirectory() as folder:
        ...     with Book.open(Path(folder) / "book") as book:
        ...         book.keep(Noted(id=book.new_id(), at=book.at(), what="cleaned", facts={}))
        ...     with Book.open(Path(folder) / "book", read_only=True) as again:
        ...         [note.what for note in again.today().of(Noted)]
        ['cleaned']
        """
        if not read_only:
            backup.finish(Path(folder))
        return cls(Path(folder), now, starts, read_only, behind, disk or Disk(), ticks, this_run() if run is None else run)

    def __init__(self, folder: Path, now: Callable[[], datetime], starts: time, read_only: bool, behind: bool, disk: Disk,
                 ticks: Callable[[], float], run: str) -> None:
        self.folder, self.read_only, self._behind = folder, read_only, behind
        self._ticks, self._run = ticks, run
        self._waits_since_s: float | None = None
        self._memory_due: dict[str, dict[str, Any]] = {}
        self._now, self._starts, self._disk = now, starts, disk
        self._order, self._writing = RLock(), RLock()
        self._trouble = DiskTrouble(ticks)
        self._soon, self._closing = Event(), Event()
        self._hand: Thread | None = None
        self._identity, self._lock, self._ready = Identity(folder, disk), Lock(folder), read_only
        if not read_only:
            with self._trouble.over():
                self._make_ready()
        self._noticed: tuple[str, ...] = ()
        self._read_anew()
        if not read_only and (folder / forget.NOTE).exists():
            with self._trouble.over():
                self._forget_noted()
        if not read_only:
            self.retry()

    # What is kept

    def keep(self, record: Record) -> None:
        """Keep `record`: on the medium when this returns, or else waiting in memory, and `trouble` says so. In a book
        opened `behind`, on the medium once `waiting` is 0."""
        self._add((record,))
        self.nudge()

    def keep_all(self, records: Iterable[Record], station: str | None = None) -> None:
        """Keep several in turn, with one wait for the disk. `station` made them, where it is another."""
        self._add(records, station)
        self.nudge()

    def jot(self, record: Record) -> None:
        """Keep `record` without waiting: in its place among the others at once, on the medium within moments, or with
        the next `keep`. For what a power cut may take, where the screen must not wait for a slow card."""
        self._add((record,))
        self._wake()

    def nudge(self) -> None:
        """Write what waits now, or, in a book opened `behind`, as soon as the disk lets it: nobody waits for that."""
        if self._behind:
            self._wake()
        else:
            self.retry()

    def _wake(self) -> None:
        with self._order:
            if self._hand is None:
                self._hand = Thread(target=self._write_soon, name="book", daemon=True)
                self._hand.start()
        self._soon.set()

    def retry(self) -> None:
        """Write what waits, where the disk takes it again."""
        with self._writing:
            if self._days.waiting or self._settings.waiting or self._unset_clock.waiting or not self._ready:
                try:
                    with self._trouble.over():
                        self._make_ready()
                        self._lock.take()
                        self._unset_clock.write_out()
                        self._days.write_out()
                        self._unset_clock.done()
                        self._unset_clock.write_out()
                        self._settings.write_out()
                        self._trouble.cure()
                except BookBusy as busy:   # both began while nothing could be written, and the other was first
                    self._trouble.say(busy.message, busy)
            self._remember_due()
        with self._order:
            if not self.waiting:
                self._waits_since_s = None

    @property
    def trouble(self) -> str | None:
        """A sentence for the screen while the disk does not take what it is given; None when all is well."""
        return self._trouble.sentence

    @property
    def not_kept(self) -> str | None:
        """`trouble` where something was not taken; a disk that is only slow has taken it all."""
        return self.trouble if self.waiting or self._settings.waiting else None

    @property
    def waiting(self) -> int:
        """How many records are in memory alone."""
        return self._days.waiting

    @property
    def waits_s(self) -> float:
        """For how many seconds something kept has not been on the medium; 0 where all of it is."""
        since_s = self._waits_since_s
        return 0.0 if since_s is None else self._ticks() - since_s

    @property
    def notices(self) -> tuple[str, ...]:
        """What was found amiss with the files, and with the clock, so far and what became of it: a sentence each."""
        now = (*self._days.notices, *self._settings.notices, *self._unset_clock.notices, *self._jumps.notices)
        return tuple(dict.fromkeys((*self._noticed, *now)))

    def new_id(self) -> str:
        """An id no other record of any station has; later ones sort later, whatever the clock does."""
        with self._order:
            return self._identity.new_id()

    def at(self) -> str:
        """Now, as records have it: ISO 8601 with the offset from UTC."""
        return self._now().isoformat(timespec="milliseconds")

    @property
    def clock_unset(self) -> bool:
        """Whether the clock says a time that cannot be: before this program was made, or, since this opening, before the
        last record. What is kept meanwhile is marked."""
        return self._unset_clock.unset

    def look_at_clock(self) -> int | None:
        """To be asked while the kiosk serves: where the clock was not set and now is, what was kept meanwhile is put in
        its day; how many records. None where nothing turned."""
        now = self._now()
        with self._order:
            if not self._unset_clock.look(now) or self._unset_clock.unset:
                return None
            moved = self._unset_clock.known(self._days, now)
            self._jumps.known(now)
        self.nudge()
        return moved

    @property
    def station(self) -> str:
        """This store's own name, made with it: tells its records from those of a chain's other stations."""
        return self._identity.station

    # What is read

    def days(self) -> tuple[str, ...]:
        """Every service day with a record, the earliest first."""
        return self._days.names()

    def day(self, day: str) -> DayRecords:
        """The records of service day `day` ("YYYY-MM-DD"); none where nothing was kept."""
        return self._days.view(day)

    def stations_of(self, day: str) -> frozenset[str | None]:
        """Whose records the service day holds; None for those made here."""
        return self._days.stations(day)

    def today(self) -> DayRecords:
        """The records of the service day that it is now."""
        return self.day(self.day_now())

    def day_now(self) -> str:
        return service_day(self.at(), self._starts)

    def day_of(self, record: Record) -> str:
        """The service day that `record` is kept with. A correction lies with what it corrects, whenever it was made."""
        holding = self._days.holding(record.of, first=self.day_now()) if isinstance(record, Corrected) else None
        return holding or service_day(record.at, self._starts)

    def records(self, first_day: str, last_day: str) -> Iterator[Record]:
        """Every record of the days from `first_day` to `last_day`, both included, as corrected, in the order kept."""
        for day in self.days():
            if first_day <= day <= last_day:
                yield from self.day(day).all

    def find(self, id: str) -> Record | None:
        """The record with this id, as corrected; None where there is none or it is void."""
        day = self._days.holding(id, first=self.day_now())
        return self.day(day).find(id) if day else None

    def is_ours(self, id: str) -> bool:
        """Whether the record with this id was made here, and not taken in from another station; True where there is
        none."""
        day = self._days.holding(id, first=self.day_now())
        return day is None or self.day(day).is_ours(id)

    def station_of(self, id: str) -> str | None:
        """The station that made the record with this id; None where there is no such record."""
        day = self._days.holding(id, first=self.day_now())
        return None if day is None else self.day(day).station_of(id) or self.station

    def table(self, day: str | None = None) -> Table:
        """TinyDB's own table over a day's records, as kept: `book.table().search(where("kind") == "Pull")`.

        An insert is durable when it returns, or raises OSError; update, remove and truncate raise NeverEdited.
        """
        return self._days.table(day or self.day_now())

    def sums(self, first_day: str, last_day: str, station: str | None = None) -> "tuple[DaySums, ...]":
        """The sums of each day from `first_day` to `last_day`, both included, with records of `station`, None for those made
        here."""
        now = self.day_now()
        return tuple(self._days.sums(day, day != now, station) for day in self.days()
                     if first_day <= day <= last_day and station in self._days.stations(day))

    def add_up(self, last_day: str = "9999-12-31") -> None:
        """Keep the sums of every station's closed days up to `last_day`: who asks for a year waits for no day to be summed."""
        now = self.day_now()
        for day in (each for each in self.days() if each <= last_day and each != now):
            self._days.add_up(day)

    # Settings and memory

    @property
    def settings(self) -> dict[str, Any]:
        """The settings as they are: a copy."""
        return self._settings.copy()

    def set_setting(self, path: str, value: Any, by: str | None = None) -> SettingChanged:
        """Set what the dotted `path` names ("grinders.left.name") to `value`, which JSON can hold; None takes it away.
        The change is kept as a record."""
        with self._order:
            change = SettingChanged(id=self.new_id(), at=self.at(), path=path, before=self._settings.at(path),
                                    after=deepcopy(value), by=by)
            self._add((change,))
            self._settings.apply(change)
        self.nudge()
        return change

    def memory(self, name: str) -> dict[str, Any] | None:
        """What was remembered under `name`; None where nothing was, or where it is damaged: rebuild it."""
        path = self._memory_path(name)
        with self._order:
            due = self._memory_due.get(name)
        return deepcopy(due) if due is not None else snapshot.get(path)

    def remember(self, name: str, value: dict[str, Any]) -> None:
        """Remember `value` under `name`, whole or not at all. Not synced: a power cut may leave the one before."""
        self._memory_path(name)
        with self._order:
            self._memory_due[name] = deepcopy(value) if self._behind else value
        if self._behind:
            self._wake()
        else:
            self._remember_due()

    def _remember_due(self) -> None:
        while self._memory_due:
            with self._order:
                due = dict(self._memory_due)
            for name, value in due.items():
                try:
                    snapshot.put(self._disk, self._memory_path(name), value, durable=False)
                except OSError:
                    pass   # it can be rebuilt, and the next record says that the disk fails
                with self._order:
                    if self._memory_due.get(name) is value:
                        del self._memory_due[name]

    def close(self) -> None:
        """Write what waits and let another open the book."""
        self._closing.set()
        self._soon.set()
        if self._hand is not None:
            self._hand.join(HANGS_S if self._behind else None)
            if self._hand.is_alive():
                return                  # the disk hangs: what it has not taken is lost, and no way out waits for it
        if not self.read_only:
            self.retry()
        self._days.close()
        self._lock.release()

    def __enter__(self) -> "Book":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def forget(self, name: str) -> int:
        """Put a pseudonym in the place of a person's name wherever it is kept; the number of records that held it.

        Backups, exports and reports made before still have the name. Raises OSError where the disk refuses: what is
        left is then done at the next opening.
        """
        with self._order, self._writing:
            self.retry()
            if self.trouble and self.waiting:
                raise OSError(EIO, self.trouble)
            forget.note(self.folder, name, f"someone-{letters(4)}", self._disk)
            return self._forget_noted()

    # How

    def _read_anew(self) -> None:
        self._days = Days(self.folder, self._disk, self.read_only)
        self._settings = Settings(self.folder, self._disk)
        self._settings.load(self._setting_changes)
        self._unset_clock = UnsetClock(self._memory_path("unset-clock"), self._disk, self._run, self._ticks, self._starts)
        self._unset_clock.load(self._days, self.day_now(), self._now(), self.read_only)
        self._jumps = Jumps(self._last_time())
        if not self.read_only:
            self._jumps.look(self._now())

    def _last_time(self) -> datetime | None:
        try:
            kept = self._days.last(self.day_now())
            last = datetime.fromisoformat(kept.fields["at"]) if kept is not None else None
        except (TypeError, ValueError, LookupError, AttributeError):
            return None
        return last if last is not None and last.tzinfo else None

    def _setting_changes(self) -> list[SettingChanged]:
        days = self._days.containing(b" SettingChanged ")
        return [change for day in days for change in self.day(day).of(SettingChanged)]

    def _forget_noted(self) -> int:
        try:
            return forget.forget_noted(self.folder, self._days, self._disk)
        finally:
            self._noticed = self.notices
            self._days.close()
            self._read_anew()

    def _make_ready(self) -> None:
        if self._ready:
            return
        self._disk.folder(self.folder)
        self._lock.take()
        self._identity.read()   # as the last writer left it
        for part in ("days", "sums", "memory", "aside"):
            self._disk.folder(self.folder / part)
        upgrade(self.folder, self._identity.version, self._disk)
        self._identity.write()
        self._ready = True

    def _add(self, records: Iterable[Record], station: str | None = None) -> None:
        if self.read_only:
            raise TypeError("This book was opened to be read. Open it to write.")
        with self._order:
            self._jumps.look(self._now())
            for record in records:
                if station is None and isinstance(record, Pull) and self._days.holding(record.id, first=self.day_now()):
                    continue                # it is there: a pull is made once, whatever a clock or a restart did
                kept, day = to_json(record), self.day_of(record)
                self._days.add(day, (self._unset_clock.marked(kept, day) if station is None else {**kept, "station": station},))
            if self._waits_since_s is None:
                self._waits_since_s = self._ticks()

    def _memory_path(self, name: str) -> Path:
        if not name.replace("-", "").replace("_", "").isalnum():
            raise ValueError(f"A memory's name is letters, figures, - and _, not {name!r}.")
        return self.folder / "memory" / f"{name}.json"

    def _write_soon(self) -> None:
        while not self._closing.is_set():
            self._soon.wait()
            self._soon.clear()
            self.retry()
