"""The sums of closed days, kept a line a day in a file a year, and reckoned again wherever they do not fit the day's file."""

from pathlib import Path
from typing import Callable, Iterable, Iterator

from kiosk.book.daybook import DayRecords
from kiosk.book.disk import Disk
from kiosk.book.journal import Journal
from kiosk.book.sums import RECKONING, DaySums, day_sums, plain_sums, sums_from


class KeptSums:
    """Derived, all of it: a damaged line is a day to reckon again."""

    def __init__(self, folder: Path, disk: Disk, read_only: bool):
        self._folder, self._disk, self._read_only = folder, disk, read_only
        self._years: dict[str, Journal] = {}
        self._known: dict[str, dict] = {}

    def of(self, day: str, path: Path, records: Callable[[str], DayRecords], closed: bool) -> DaySums:
        """The sums of `day`, whose file is `path`: kept ones where they fit it, else from `records(day)`.

        Those of a day that is not `closed` are not kept: the next pull would make them anew.
        """
        size = path.stat().st_size if path.exists() else 0
        kept = self._of_year(day).get(day)
        if kept is not None and kept["size"] == size and kept["reckoning"] == RECKONING:
            return sums_from(kept["sums"])
        view = records(day)
        reckoned = day_sums(view)
        if closed:
            self._keep(day, {"reckoning": RECKONING, "size": path.stat().st_size if path.exists() else 0,
                             "last": view.last_number, "ids": view.ids, "sums": plain_sums(reckoned)})
        return reckoned

    def last_number(self, day: str) -> int:
        """The number of the day's last record when it was summed; 0 where it was not."""
        return self._of_year(day).get(day, {}).get("last", 0)

    def days_that_may_hold(self, id: str, days: Iterable[str]) -> Iterator[str]:
        """Those of `days` whose ids may include `id`."""
        for day in days:
            kept = self._of_year(day).get(day)
            if kept is None or kept["ids"][0] <= id <= kept["ids"][1]:
                yield day

    def close(self) -> None:
        for year in self._years.values():
            year.close()

    def _of_year(self, day: str) -> dict[str, dict]:
        year = day[:4]
        if year not in self._years:
            journal = self._years[year] = Journal(self._folder / f"{year}.log", self._disk)
            for each in journal.lines:
                self._known[each.kind] = each.fields
        return self._known

    def _keep(self, day: str, kept: dict) -> None:
        self._known[day] = kept
        if not self._read_only:
            year = self._years[day[:4]]
            year.add({"kind": day, **kept})
            try:
                year.write_out()
            except OSError:
                pass   # reckoned again next time
