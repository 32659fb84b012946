"""Who this store is, which version it has, and ids that no other record has."""

import secrets
from collections.abc import Iterator
from pathlib import Path

from kiosk.bar.messages import Message
from kiosk.book import snapshot
from kiosk.book.disk import Disk
from kiosk.book.stored_record import FORMAT

LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"   # none that is taken for another


class BookNewer(RuntimeError):
    """The store was written by a later program than this."""

    def __init__(self, folder: Path, version: int):
        self.message = Message("The book in {folder} was kept by a newer Evenpull (its version is {version:d}, this one reads "
                               "up to {upto:d}). Nothing was changed. Update Evenpull and start it again.",
                               folder=str(folder), version=version, upto=FORMAT)
        super().__init__(self.message)


class Identity:
    """book.json. An id is `opening-letters-count`: how often the store was opened, letters drawn at this opening, and
    a count from 1. No clock is in it, so that ids sort as they were made whatever the clock does, and the letters keep
    apart what a store made before and after an older backup was put back. Raises BookNewer.
    """

    def __init__(self, folder: Path, disk: Disk):
        self._folder, self._disk = folder, disk
        self._letters, self._count = letters(5), 0
        self.read()

    def read(self) -> None:
        """From the file, unless ids were given out already: later ones must not sort before them. Raises BookNewer."""
        if self._count:
            return
        about = snapshot.get(self._folder / "book.json") or {}
        self.version = about.get("version", FORMAT)
        if self.version > FORMAT:
            raise BookNewer(self._folder, self.version)
        self.station = about.get("station") or letters(6)
        self._opened = (about.get("opened") or _last_opening(self._folder)) + 1

    def write(self) -> None:
        """Raises OSError where the disk refuses; ids stay unique all the same, by their letters."""
        snapshot.put(self._disk, self._folder / "book.json",
                     {"version": FORMAT, "station": self.station, "opened": self._opened})

    def new_id(self) -> str:
        self._count += 1
        return f"{self._opened:06d}-{self._letters}-{self._count:06d}"


def letters(count: int) -> str:
    return "".join(secrets.choice(LETTERS) for _ in range(count))


def _last_opening(folder: Path) -> int:
    """Where book.json is missing: the latest opening that the newest days know of."""
    newest = sorted((folder / "days").glob("*.log"))[-3:]
    return max((opening for path in newest for opening in _openings(path)), default=0)


def _openings(path: Path) -> Iterator[int]:
    try:
        data = path.read_bytes()
    except OSError:
        return
    for piece in data.split(b'{"id":"')[1:]:
        if piece[:6].isdigit() and piece[6:7] == b"-":
            yield int(piece[:6])
