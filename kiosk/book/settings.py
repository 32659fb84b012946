"""The settings as they are now: the changes of every day, folded; kept whole beside the days so as not to read them all."""

from copy import deepcopy
from pathlib import Path
from threading import RLock
from typing import Any, Callable, Iterable

from kiosk.bar.record import SettingChanged
from kiosk.book import snapshot
from kiosk.book.daybook import DayRecords
from kiosk.book.disk import Disk


class Settings:
    """`now` is the nested dictionary; a dotted path names a place in it. The records are what counts: a file that is
    missing or damaged is made again from them."""

    def __init__(self, folder: Path, disk: Disk):
        self._path, self._before, self._disk = folder / "settings.json", folder / "settings.before.json", disk
        self._one_at_a_time = RLock()
        self.now: dict[str, Any] = {}
        self.notices: list[str] = []
        self.waiting = False
        self._kept: dict[str, Any] | None = None
        self._upto = ("", "")   # day and id of the last change folded in

    def load(self, days: Callable[[], Iterable[str]], day: Callable[[str], DayRecords]) -> None:
        """From the file; where it is damaged, from the one before it, or from nothing, and the changes since."""
        self._kept = snapshot.get(self._path)
        if self._kept is not None:
            self.now, self._upto = self._kept["settings"], tuple(self._kept["upto"])
            return
        there = self._path.exists()
        older = snapshot.get(self._before)
        if older is not None:
            self.now, self._upto = older["settings"], tuple(older["upto"])
        from_day, from_id = self._upto
        for each_day in days():
            if each_day >= from_day:
                for change in day(each_day).of(SettingChanged):
                    if each_day > from_day or change.id > from_id:
                        self.apply(change, each_day)
        if there:
            self.notices.append("The settings' file was damaged. The settings were made again from the record of changes.")

    def at(self, path: str) -> Any:
        with self._one_at_a_time:
            place: Any = self.now
            for name in path.split("."):
                if not isinstance(place, dict) or name not in place:
                    return None
                place = place[name]
            return deepcopy(place)

    def copy(self) -> dict[str, Any]:
        with self._one_at_a_time:
            return deepcopy(self.now)

    def apply(self, change: SettingChanged, day: str) -> None:
        *above, last = change.path.split(".")
        with self._one_at_a_time:
            place = self.now
            for name in above:
                if not isinstance(place.get(name), dict):
                    place[name] = {}
                place = place[name]
            place[last] = deepcopy(change.after)
            self._upto, self.waiting = (day, change.id), True

    def write_out(self) -> None:
        """Raises OSError where the disk refuses."""
        with self._one_at_a_time:
            if not self.waiting:
                return
            kept, self.waiting = {"settings": deepcopy(self.now), "upto": list(self._upto)}, False
        try:
            if self._kept is not None:
                snapshot.put(self._disk, self._before, self._kept)
            snapshot.put(self._disk, self._path, kept)
        except OSError:
            self.waiting = True
            raise
        self._kept = kept
