"""Memory that nothing holds any more goes back to the system, now and then while no pump is on.

Evenings and weeks are summed up in threads beside the screens. What those took and gave back lies in pieces that the C
library keeps for itself, tens of megabytes after a few hours; glibc's malloc_trim(3) hands back each page of it that is
empty, in a frame's time. A C library without it has no such way, and nothing is done.
"""

import ctypes
import time
from collections.abc import Callable

EVERY_S = 60.0


def c_librarys_trim() -> Callable[[int], int] | None:
    try:
        return ctypes.CDLL(None).malloc_trim
    except (AttributeError, OSError, TypeError):
        return None


class SpareMemory:
    """`at_rest` is called every few seconds in which no pump is on."""

    def __init__(self, trim: Callable[[int], int] | None = c_librarys_trim(), ticks: Callable[[], float] = time.monotonic):
        self._trim, self._ticks, self._next_s = trim, ticks, ticks() + EVERY_S

    def at_rest(self) -> None:
        if self._trim is not None and self._ticks() >= self._next_s:
            self._next_s = self._ticks() + EVERY_S
            self._trim(0)
