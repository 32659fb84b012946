"""The settings as they are now: the changes of every day, folded, and kept whole so as not to read every day."""

from collections.abc import Callable, Iterable
from copy import deepcopy
from pathlib import Path
from threading import RLock
from typing import Any

from kiosk.bar.messages import Message
from kiosk.bar.model import SettingChanged
from kiosk.book import snapshot
from kiosk.book.disk import Disk


class Settings:
    """A nested dictionary; a dotted path names a place in it. The records are what counts: a file that is damaged is
    made again from them."""

    def __init__(self, folder: Path, disk: Disk):
        self._path, self._before, self._disk = folder / "settings.json", folder / "settings.before.json", disk
        self._one_at_a_time = RLock()
        self._now: dict[str, Any] = {}
        self._kept: dict[str, Any] | None = None
        self._upto = ""   # id of the last change folded in
        self.waiting = False
        self.notices: list[Message] = []

    def load(self, changes: Callable[[], Iterable[SettingChanged]]) -> None:
        """From the file; where it is damaged, from the one before it, or from nothing, and the `changes` since."""
        self._kept = snapshot.get(self._path)
        older = self._kept or snapshot.get(self._before)
        if older is not None:
            self._now, self._upto = deepcopy(older["settings"]), older["upto"]
        if self._kept is None:
            due = [change for change in changes() if change.id > self._upto]
            for change in sorted(due, key=lambda change: change.id):   # ids sort as they were made
                self.apply(change)
            self.waiting = True   # from here on a missing file is a lost one
            if due or older or self._path.exists():
                self.notices.append(Message("The settings' file was damaged. The settings were made again from the record of changes."))

    def copy(self) -> dict[str, Any]:
        with self._one_at_a_time:
            return deepcopy(self._now)

    def at(self, path: str) -> Any:
        """What `path` names; None where there is nothing."""
        place: Any = self.copy()
        for name in path.split("."):
            if not isinstance(place, dict) or name not in place:
                return None
            place = place[name]
        return place

    def apply(self, change: SettingChanged) -> None:
        *above, last = change.path.split(".")
        with self._one_at_a_time:
            place = self._now
            for name in above:
                if not isinstance(place.get(name), dict):
                    place[name] = {}
                place = place[name]
            if change.after is None:
                place.pop(last, None)
            else:
                place[last] = deepcopy(change.after)
            self._upto, self.waiting = change.id, True

    def write_out(self) -> None:
        """Raises OSError where the disk refuses."""
        with self._one_at_a_time:
            if not self.waiting:
                return
            kept, self.waiting = {"settings": deepcopy(self._now), "upto": self._upto}, False
        try:
            if self._kept is not None:
                snapshot.put(self._disk, self._before, self._kept)
            snapshot.put(self._disk, self._path, kept)
        except OSError:
            self.waiting = True
            raise
        self._kept = kept
