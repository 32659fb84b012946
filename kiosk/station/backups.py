"""Backing the book up, once a day, to the folder that the settings name: on a thread, since a stick is slow."""

import logging
from threading import Thread

from kiosk.book.backup import BackupFailed, back_up_when_due
from kiosk.places import named

EVERY_S = 600.0             # between looks whether one is due
log = logging.getLogger(__name__)


class Backups:
    """`trouble` is the sentence for the screen while the latest backup failed; None otherwise."""

    def __init__(self, service):
        self._service = service
        self._looked_s = float("-inf")
        self._thread: Thread | None = None
        self.trouble: str | None = None

    def tick(self) -> None:
        """Called now and then; makes a backup where one is due."""
        to, t_s = self._service.setup.backups, self._service.clock.s()
        if not to:
            self.trouble = None
        elif t_s - self._looked_s >= EVERY_S and (self._thread is None or not self._thread.is_alive()):
            self._looked_s = t_s
            self._thread = Thread(target=self._back_up, args=(to,), name="backup", daemon=True)
            self._thread.start()

    def _back_up(self, to: str) -> None:
        book = self._service.book
        try:
            back_up_when_due(book.folder, book.folder / named(to), self._service.clock.now())
            self.trouble = None
        except (BackupFailed, OSError) as wrong:
            log.warning("no backup to %s: %s", to, wrong)
            self.trouble = f"No backup could be made in {to}. Put the stick back in, or choose another folder under Setup."
