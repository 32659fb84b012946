"""Backing the book up, once a day, to the folder that the settings name, else to the stick that is put in: on a thread,
since a stick is slow."""

import logging
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path
from threading import Thread

from kiosk.bar.messages import Message
from kiosk.bar.model import Setup
from kiosk.book import Book
from kiosk.book.backup import BackupFailed, back_up_when_due
from kiosk.places import named
from kiosk.station.aside import Aside
from kiosk.station.clock import Clock

EVERY_S = 60.0              # between looks whether one is due, or a stick was put in
STICK = Path("/media/evenpull")     # where the station's own unit mounts a stick for backups
OVERDUE = timedelta(days=7)
MADE = "backup"             # a memory of the book: when the last one was proved
log = logging.getLogger(__name__)


def stick() -> str:
    """Where backups go that Setup names no folder for; "" where no stick is put in."""
    return str(STICK) if STICK.is_mount() else ""


class Backups:
    """`setup()` is the bar's as it is now. `trouble` is the sentence for the screen while the latest backup failed, `overdue` the one for a week without any;
    None otherwise."""

    def __init__(self, book: Book, clock: Clock, setup: Callable[[], Setup], aside: Aside):
        self._book, self._clock, self._setup, self._aside = book, clock, setup, aside
        self._looked_s = float("-inf")
        self._thread: Thread | None = None
        self.trouble: str | None = None
        self.overdue: str | None = None

    def tick(self) -> None:
        """Called now and then; looks on a thread whether a backup is due, and makes it."""
        t_s = self._clock.s()
        if t_s - self._looked_s >= EVERY_S and (self._thread is None or not self._thread.is_alive()):
            self._looked_s = t_s
            to = self._setup().backups
            self._thread = self._aside.begin("backup", lambda: self._look(to))

    def _look(self, named_to: str) -> None:
        to = named_to or stick()
        if to:
            self._back_up(to)
        else:
            self.trouble = None
        self.overdue = self._week_without()

    def _week_without(self) -> str | None:
        book = self._book
        last, days = (book.memory(MADE) or {}).get("at"), book.days()
        since = last[:10] if last else days[0] if days else None
        without = self._clock.now().date() - date.fromisoformat(since) if since else timedelta(0)
        return None if without < OVERDUE else Message(
            "No backup for {days:d} days. Put in a stick named EVENPULL, or name a folder under Setup.", days=without.days)

    def _back_up(self, to: str) -> None:
        book, now = self._book, self._clock.now()
        try:
            made = back_up_when_due(book.folder, book.folder / named(to), now)
            if made is not None:
                book.remember(MADE, {"at": now.isoformat(), "file": str(made)})
            self.trouble = None
        except (BackupFailed, OSError) as wrong:
            log.warning("no backup to %s: %s", to, wrong)
            self.trouble = Message("No backup could be made in {to}. Put the stick back in, or choose another folder under Setup.", to=to)
