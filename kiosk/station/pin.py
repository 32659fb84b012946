"""The manager's PIN at this station: kept beside the book, in no backup and no export. It closes the manager's rooms
alone; service never asks for it. A lost one is taken away at the machine itself: `python -m kiosk pin --remove`."""

import secrets
from collections.abc import Callable
from pathlib import Path
from typing import Any

from kiosk.bar.model import Noted
from kiosk.bar.model import pin as hashes
from kiosk.book import Book, Disk, snapshot
from kiosk.station.clock import Clock

FILE = "pin.json"


class Pin:
    """`by()` is whoever is at work. `wrong` tries are counted beside the hash, so that pulling the plug does not begin them anew; in memory, while the
    disk takes nothing.

    Every call may come from any thread; those that hash take half a second or so on a small board.
    """

    def __init__(self, book: Book, clock: Clock, by: Callable[[], str | None], disk: Disk | None = None):
        self._book, self._clock, self._by, self._disk = book, clock, by, disk or Disk()
        self._path: Path = book.folder / FILE
        self._refused_s: float | None = None
        self._counted: int | None = None                # what the disk did not take
        if self._wrong:
            self._refused_s = clock.s()                 # how long ago is not known: the wait begins again

    @property
    def there(self) -> bool:
        return "hash" in self._kept or self.damaged

    @property
    def damaged(self) -> bool:
        """Its file is there and cannot be read: the rooms stay closed until it is taken away at the machine."""
        return self._path.exists() and "hash" not in self._kept

    @property
    def left_s(self) -> float:
        """Seconds until the next try is taken."""
        if self._refused_s is None:
            return 0.0
        return max(0.0, self._refused_s + hashes.wait_s(self._wrong) - self._clock.s())

    def opens(self, pin: str) -> bool:
        """Try `pin`. A wrong one is counted and goes into the record; one that comes too early is not looked at."""
        if not self.there:
            return True
        if self.damaged:
            return False
        if self.left_s > 0:
            return False
        kept = self._kept
        wrong = self._wrong + 1
        self._count(wrong)                              # before it is looked at: no plug is pulled in time
        if hashes.matches(pin, kept):
            self._refused_s = None
            self._count(0)
            return True
        self._refused_s = self._clock.s()
        self._note("pin refused", wrong=wrong)
        return False

    def set(self, pin: str) -> None:
        """From now on this one. Raises Unfit with the sentence to show, OSError where it cannot be kept."""
        self._keep(hashes.hashed(pin, secrets.token_bytes(16)) | {"wrong": 0})
        self._refused_s = self._counted = None
        self._note("pin set")

    def remove(self) -> None:
        """Open the rooms to everyone. Raises OSError where the disk refuses."""
        remove(self._book.folder, self._disk)
        self._refused_s = self._counted = None
        self._note("pin removed")

    @property
    def _kept(self) -> dict:
        return snapshot.get(self._path) or {}

    @property
    def _wrong(self) -> int:
        return self._kept.get("wrong", 0) if self._counted is None else self._counted

    def _count(self, wrong: int) -> None:
        try:
            self._keep(self._kept | {"wrong": wrong})
            self._counted = None
        except OSError:
            self._counted = wrong

    def _keep(self, kept: dict) -> None:
        snapshot.put(self._disk, self._path, kept)

    def _note(self, what: str, **facts: Any) -> None:
        self._book.keep(Noted(id=self._book.new_id(), at=self._clock.at(), what=what, facts=facts, by=self._by()))


def remove(folder: Path, disk: Disk | None = None) -> bool:
    """Take away the PIN of the book in `folder`, whether the kiosk runs or not; False where there was none."""
    path = folder / FILE
    there = path.exists()
    path.unlink(missing_ok=True)
    if there:
        (disk or Disk()).sync_folder(folder)
    return there
