"""The sums of closed days: a line a day in a file a year and station, reckoned again where they do not fit the day's file."""

from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from kiosk.book.daybook import DayRecords
from kiosk.book.disk import Disk
from kiosk.book.journal import Journal
from kiosk.book.stored_record import StoredRecord

if TYPE_CHECKING:               # a book opens without what adds days up
    from kiosk.book.sums import DaySums

RECKONING = 13  # raised when what is kept of a day changes its meaning: sums reckoned otherwise are reckoned again


class KeptSums:
    """Those of one station, None for the book's own. Derived, all of it, and so never synced: a damaged line is a day to
    reckon again."""

    def __init__(self, folder: Path, disk: Disk, read_only: bool, station: str | None = None):
        self._folder, self._disk, self._read_only, self._station = folder, disk, read_only, station
        self._ending = ".log" if station is None else f".{quote(station, safe='')}.log"
        self._years: dict[str, Journal] = {}
        self._all_read = False
        self._lines: dict[str, StoredRecord] = {}

    def of(self, day: str, size: int, records: Callable[[str], DayRecords], closed: bool) -> "DaySums":
        """The sums of `day`, whose file has `size` bytes: kept ones where they fit it, else from `records(day)`,
        which are everybody's.

        Those of a day that is not `closed` are not kept: the next pull would make them anew.
        """
        from kiosk.book.sums import day_sums, plain_sums, sums_from

        kept = self._fitting(day, size)
        if kept:
            return sums_from(kept["sums"])
        whole = records(day)
        view = whole.of_station(self._station)
        reckoned = day_sums(view)
        if closed:
            self._keep(day, {"reckoning": RECKONING, "size": size, "last": whole.last_number, "ids": whole.ids,
                             "stations": sorted(each or "" for each in whole.stations), "sums": plain_sums(reckoned)})
        return reckoned

    def stations(self, day: str, size: int) -> frozenset[str | None] | None:
        """Whose records the day held when it was summed, None for the book's own; None where its sums do not fit its file."""
        kept = self._fitting(day, size)
        return frozenset(each or None for each in kept["stations"]) if kept else None

    def days(self) -> set[str]:
        """The days that were summed, whether their files are still there or not."""
        if not self._all_read:
            for path in self._folder.glob("*.log"):
                self._year(path.stem)
            self._all_read = True
        return set(self._lines)

    def last_number(self, day: str) -> int:
        """The number of the day's last record when it was summed; 0 where it was not."""
        return self._kept(day).get("last", 0)

    def days_that_may_hold(self, id: str, days: Iterable[str], size: Callable[[str], int]) -> Iterator[str]:
        """Those of `days` whose ids may include `id`; `size(day)` is how many bytes its file has now."""
        for day in days:
            kept = self._fitting(day, size(day))
            if kept is None or kept["ids"][0] <= id <= kept["ids"][1]:
                yield day

    def close(self) -> None:
        for year in self._years.values():
            year.close()

    def _fitting(self, day: str, size: int) -> dict[str, Any] | None:
        kept = self._kept(day)
        return kept if kept.get("size") == size and kept["reckoning"] == RECKONING else None

    def _kept(self, day: str) -> dict[str, Any]:
        self._year(day)
        line = self._lines.get(day)
        return line.fields if line else {}

    def _year(self, day: str) -> Journal:
        name = day[:4]
        if name not in self._years:
            path = self._folder / f"{name}{self._ending}"
            try:
                journal = Journal(path, self._disk)
            except OSError:
                journal = Journal(path, self._disk, b"")
            self._years[name] = journal
            self._lines.update((line.kind, line) for line in journal.lines)
        return self._years[name]

    def _keep(self, day: str, kept: dict[str, Any]) -> None:
        year = self._year(day)
        self._lines[day] = year.add({"kind": day, **kept})
        if not self._read_only:
            try:
                year.write_out(sync=False)
            except OSError:
                pass   # reckoned again next time
