"""A disk that does not take what it is given, said once and in words."""

import errno
import logging
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from kiosk.bar.messages import Message, joined

log = logging.getLogger(__name__)

SLOW_S = 0.08    # a write that takes this long is felt at the screen
SLOW_RUN = 3      # a card pauses now and then to tidy itself; this many in a row are no pause

SLOW = Message("The memory card has become slow. Service goes on and nothing is lost: have the card replaced soon.")
HANGS_S = 5.0
HANGS = Message("The disk has not answered for a while. Service goes on and what happens waits in memory, to be written when it "
                "answers: do not switch off.")
WAITING = Message("Service goes on and what happens waits in memory, to be written when the disk takes it: do not switch off.")
CAUSES = {
    errno.ENOSPC: Message("The disk is full. Make room on it: old backups and exports can go."),
    errno.EDQUOT: Message("The disk is full. Make room on it: old backups and exports can go."),
    errno.EROFS: Message("The disk can only be read. Its write lock may be on, or the card may be worn out."),
    errno.EACCES: Message("The book's folder belongs to another user. Start the kiosk as the one it belongs to."),
    errno.EPERM: Message("The book's folder belongs to another user. Start the kiosk as the one it belongs to."),
    errno.ENOENT: Message("The book's folder has gone. Plug its disk in again."),
}
OTHERWISE = Message("The disk fails. Have it replaced soon.")


class DiskTrouble:
    """`sentence` is what to show; None when all is well."""

    def __init__(self, ticks: Callable[[], float]):
        self._ticks = ticks
        self._failed: Message | None = None
        self._slow_in_a_row = 0
        self._began_s: float | None = None          # of the call that the disk has not come back from

    @property
    def sentence(self) -> Message | None:
        began_s = self._began_s
        if began_s is not None and self._ticks() - began_s >= HANGS_S:
            return HANGS
        return self._failed or (SLOW if self._slow_in_a_row >= SLOW_RUN else None)

    @contextmanager
    def over(self) -> Iterator[None]:
        """Round a call to the disk: an OSError becomes the sentence, and goes no further."""
        began = self._began_s = self._ticks()
        try:
            yield
        except OSError as error:
            self.say(joined(" ", [CAUSES.get(error.errno or 0, OTHERWISE), WAITING]), error)
        finally:
            self._began_s = None
        self._slow_in_a_row = self._slow_in_a_row + 1 if self._ticks() - began >= SLOW_S else 0

    def say(self, sentence: Message, error: Exception) -> None:
        """Until `cure`, this is the trouble."""
        if self._failed is None:
            log.warning("The book cannot be written: %s", error)
        self._failed = sentence

    def cure(self) -> None:
        """Everything that waited has been written."""
        self._failed = None
