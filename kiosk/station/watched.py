"""Watched over by the service manager: it is told that the kiosk is ready, and that it still draws.

One datagram each to the socket that `NOTIFY_SOCKET` names, as sd_notify(3) has it; nothing where there is none. It is
fed from the drawing loop, so that a frozen screen is ended and started again, and a disk that hangs is not taken for one.
"""

import os
import socket
import time
from collections.abc import Callable, Mapping


class Watched:
    """`alive` is called many times a second; it speaks every half of `WATCHDOG_USEC`."""

    def __init__(self, environ: Mapping[str, str] = os.environ, ticks: Callable[[], float] = time.monotonic):
        self._path, self._ticks = environ.get("NOTIFY_SOCKET", ""), ticks
        given = environ.get("WATCHDOG_USEC", "")
        self._every_s = int(given) / 2e6 if given.isdigit() and int(given) else None
        self._next_s = ticks()
        self._told_ready = False

    def alive(self) -> None:
        """A frame has been drawn."""
        if not self._path:
            return
        if not self._told_ready:
            self._told_ready = True
            self._say("READY=1")
        now_s = self._ticks()
        if self._every_s is not None and now_s >= self._next_s:
            self._next_s = now_s + self._every_s
            self._say("WATCHDOG=1")

    def starting(self, why: str, longer_s: float) -> None:
        """Not ready yet, and why: the start may take so much longer."""
        if self._path:
            self._say(f"STATUS={' '.join(why.split())}\nEXTEND_TIMEOUT_USEC={longer_s * 1e6:.0f}")

    def _say(self, what: str) -> None:
        address = "\0" + self._path[1:] if self._path.startswith("@") else self._path
        try:
            with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC | socket.SOCK_NONBLOCK) as to:
                to.sendto(what.encode(), address)
        except OSError:
            pass                    # whoever watches has gone: the bar is served all the same
