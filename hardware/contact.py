"""A group's own signal: a dry contact on a modem line of any serial adapter, read as "the pump runs" or not.

The kiosk only listens. DTR is held on so that it can feed the loop DTR → contact → line; nothing else is sent.
"""

import logging
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from threading import Event, Lock, Thread
from typing import Any

from hardware import ports
from hardware.port_message import PortMessage

LINES = ("cts", "dsr", "cd", "ri")
LOOK_S = 0.02               # between two looks at the lines
STEADY_S = 0.06             # a contact bounces; what holds so long is believed
SETTLE_S = 0.5              # after a port is opened its lines may still swing, and DTR with them
RETRY_S = 1.0
CHATTER, CHATTER_S = 12, 10.0
log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Wired:
    """One group's line. `closed_is_on`: whether the pump runs while the contact is closed (else while it is open)."""

    group: int
    line: str
    closed_is_on: bool = True


@dataclass(frozen=True, slots=True)
class LineHealth:
    """What is known of a port now: `on` by group, None where it was not read yet; `trouble`, a sentence where something is amiss."""

    on: Mapping[int, bool | None]
    connected: bool = False
    trouble: PortMessage = PortMessage("")


class Debounced:
    """One line: `look(t_s, on)` answers with (since when, on) each time that it has changed for good.

    A change is dated back to its first look. The first state after `reopened` is no change: whatever happened while the
    port was away cannot be dated, and opening it is not the pump.
    """

    def __init__(self) -> None:
        self.on: bool | None = None
        self._new: bool | None = None
        self._since_s = 0.0
        self._fresh = True
        self._changes: list[float] = []

    def reopened(self) -> None:
        self._fresh, self._new = True, None

    def look(self, t_s: float, on: bool) -> tuple[float, bool] | None:
        if on == self.on and not self._fresh:
            self._new = None
            return None
        if on != self._new:
            self._new, self._since_s = on, t_s
            self._changes = [each for each in self._changes if t_s - each < CHATTER_S] + [t_s]
            return None
        if t_s - self._since_s < STEADY_S:
            return None
        changed = self.on is not None and self.on != on and not self._fresh
        self.on, self._new, self._fresh = on, None, False
        return (self._since_s, on) if changed else None

    @property
    def chatters(self) -> bool:
        """Whether it has wavered so often of late that its edges mean nothing."""
        return len(self._changes) >= CHATTER


class Contact:
    """Reads the lines of the adapter at `url` on a thread of its own. `on_edge(group, t_s, on)` is called from there."""

    def __init__(self, url: str, wired: tuple[Wired, ...], on_edge: Callable[[int, float, bool], None],
                 clock: Callable[[], float] = time.monotonic, opens: Callable = ports.opened):
        self.url, self.wired = url, wired
        self._on_edge, self._clock, self._opens = on_edge, clock, opens
        self._lines = {each.group: Debounced() for each in wired}
        self._now = LineHealth({each.group: None for each in wired})
        self._lock, self._stop = Lock(), Event()
        self._thread = Thread(target=self._run, name="contact", daemon=True)

    def start(self) -> None:
        self._thread.start()

    def close(self) -> None:
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join(3.0)

    @property
    def health(self) -> LineHealth:
        with self._lock:
            return self._now

    def _run(self) -> None:
        while not self._stop.is_set():
            try:
                port = self._opens(self.url, baudrate=9600, timeout=0)
            except Exception as wrong:      # drivers raise all kinds of errors, and none may end the thread
                log.info("%s: %s", self.url, wrong)
                self._say(False, PortMessage("The signal's port {url} does not answer. Plug its adapter in; service goes on by taps.",
                                             url=self.url))
                self._stop.wait(RETRY_S)
                continue
            try:
                with suppress(Exception):
                    port.dtr = True
                self._listen(port)
            except Exception as wrong:
                log.info("%s: %s", self.url, wrong)
                self._say(False, PortMessage("The signal's adapter is gone. Plug its cable back in; service goes on by taps."))
                self._stop.wait(RETRY_S)
            finally:
                with suppress(Exception):
                    port.close()

    def _listen(self, port: Any) -> None:
        for line in self._lines.values():
            line.reopened()
        self._stop.wait(SETTLE_S)
        while not self._stop.is_set():
            for each in self.wired:
                on = bool(getattr(port, each.line)) == each.closed_is_on
                line = self._lines[each.group]
                edge = line.look(self._clock(), on)
                if edge is not None and not line.chatters:
                    self._on_edge(each.group, *edge)
            chattering = [str(group) for group, line in self._lines.items() if line.chatters]
            groups = ", ".join(chattering)
            self._say(True, PortMessage("The signal of group {groups} chatters. Check its contact; taps count meanwhile.", groups=groups)
                      if chattering else PortMessage(""))
            self._stop.wait(LOOK_S)

    def _say(self, connected: bool, trouble: PortMessage) -> None:
        with self._lock:
            self._now = replace(self._now, connected=connected, trouble=trouble,
                                on={group: line.on for group, line in self._lines.items()})
