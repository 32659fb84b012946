"""What a till prints on a serial line, read as a ticket printer would: bytes in, lines of text out, nothing ever sent.

The control bytes are those that ticket printers of most makes share (their lengths from memory): all of them are skipped,
whatever they ask for, and what they print as a picture or bars is no text. A ticket ends at a cut, a form feed, or where
nothing more comes for a while.
"""

import logging
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from threading import Event, Thread
from typing import Any

from hardware import ports
from hardware.port_message import PortMessage

PAUSE_S = 1.5               # nothing more has come for so long: the ticket is whole
RETRY_S = 1.0
LONGEST = 400               # lines of one ticket; what goes on is another
WIDEST = 200                # signs of one line
ESC, GS, FS, DLE = 0x1B, 0x1D, 0x1C, 0x10
NEW_LINE, FEED, FORM_FEED, RETURN, TAB = 0x0A, ord("d"), 0x0C, 0x0D, 0x09
# How many bytes follow each command; None for those with a length of their own, below.
AFTER_ESC: dict[int, int | None] = {
    **dict.fromkeys(b"@2iLSm<", 0), **dict.fromkeys(b" !%-3EGJMRTUVadert{=", 1), **dict.fromkeys(b"$\\Bcuf", 2),
    ord("p"): 3, ord("W"): 8, ord("*"): None, ord("D"): None}
AFTER_GS: dict[int, int | None] = {
    **dict.fromkeys(b"!/BHIabfhrwcE", 1), **dict.fromkeys(b"$LPW\\", 2), **dict.fromkeys(b"Vk(v*8", None)}
AFTER_FS: dict[int, int | None] = {**dict.fromkeys(b"&.", 0), **dict.fromkeys(b"!-CW", 1), **dict.fromkeys(b"Sp", 2),
                                   ord("("): None}
CUTS = b"im"
CODE_PAGES = ("cp437", "cp850", "cp858", "cp1252", "cp852", "utf-8")
log = logging.getLogger(__name__)


class Paper:
    """`feed(data)` gives each ticket that has become whole, a tuple of its lines; `rest()` what there is when nothing more
    comes. Any bytes whatever are taken; an unknown command is skipped with the one byte that names it."""

    def __init__(self, code_page: str = "cp858"):
        self._code_page = code_page
        self._held = bytearray()            # a command whose bytes have not all come yet
        self._line = bytearray()
        self._lines: list[str] = []

    def feed(self, data: bytes) -> Iterator[tuple[str, ...]]:
        self._held += data
        place = 0
        while place < len(self._held):
            taken, cut, feeds = self._next(memoryview(self._held)[place:])
            if taken == 0:                  # the rest of it is still to come
                break
            place += taken
            if feeds:
                self._end_line()
            if cut or len(self._lines) >= LONGEST:
                yield from self.rest()
        del self._held[:place]
        if len(self._held) > 1 << 17:       # no printer's picture is so large: noise
            self._held.clear()

    def rest(self) -> Iterator[tuple[str, ...]]:
        self._end_line()
        lines = tuple(line for line in self._lines if line.strip())
        self._lines = []
        if lines:
            yield lines

    def _end_line(self) -> None:
        text = self._line.decode(self._code_page, "replace")
        self._lines.append("".join(sign if sign.isprintable() else " " for sign in text).rstrip())
        self._line.clear()

    def _next(self, held: memoryview) -> tuple[int, bool, bool]:
        """How many bytes the next thing takes (0: not all there), whether it cuts, whether it ends the line."""
        first = held[0]
        if first in (ESC, GS, FS, DLE):
            if len(held) < 2:
                return 0, False, False
            taken = _length(first, held)
            if taken is None or len(held) < taken:
                return 0, False, False
            cut = (first == ESC and held[1] in CUTS) or (first == GS and held[1] == ord("V"))
            return taken, cut, cut or (first == ESC and held[1] in (FEED, ord("J")))
        if first in (NEW_LINE, FORM_FEED):
            return 1, first == FORM_FEED, True
        if first == TAB:
            self._line += b"  "
        elif first >= 0x20:
            self._line.append(first)
        return 1, False, len(self._line) >= WIDEST


def _length(first: int, held: memoryview) -> int | None:
    """Bytes of a command with what follows it; None where that cannot be told yet."""
    second = held[1]
    if first == DLE:
        return {0x04: 3, 0x05: 3, 0x14: 5}.get(second, 2)
    known = {ESC: AFTER_ESC, GS: AFTER_GS, FS: AFTER_FS}[first].get(second, 0)
    if known is not None:
        return 2 + known

    def number(at: int) -> int | None:
        return held[at] + 256 * held[at + 1] if len(held) > at + 1 else None

    if (first, second) == (ESC, ord("*")):          # a picture, one dot column a byte or three
        columns = number(3)
        return None if columns is None else 5 + columns * (3 if held[2] in (32, 33) else 1)
    if (first, second) == (ESC, ord("D")) or ((first, second) == (GS, ord("k")) and len(held) > 2 and held[2] <= 6):
        end = bytes(held[2:2 + WIDEST]).find(0, 0 if second == ord("D") else 1)
        return 3 + end if end >= 0 else None if len(held) < 2 + WIDEST else 2 + WIDEST
    if second == ord("V"):
        return None if len(held) < 3 else 4 if held[2] in (65, 66, 97, 98, 103, 104) else 3
    if second == ord("k"):
        return None if len(held) < 4 else 4 + held[3]
    if second == ord("("):
        size = number(3)
        return None if size is None else 5 + size
    if second == ord("v"):
        across, down = number(4), number(6)
        return None if across is None or down is None else 8 + across * down
    if second == ord("*"):
        return None if len(held) < 4 else 4 + 8 * held[2] * held[3]
    size = number(3)
    return None if size is None else 7 + size       # GS 8


class TillPort:
    """Listens at `url` on a thread of its own; `on_ticket(lines)` is called from there. Nothing is ever written."""

    def __init__(self, url: str, code_page: str, on_ticket: Callable[[tuple[str, ...]], None],
                 clock: Callable[[], float] = time.monotonic, opens: Callable = ports.opened):
        self.url, self._on_ticket, self._clock, self._opens = url, on_ticket, clock, opens
        self._code_page = code_page
        self.listening, self.trouble = False, PortMessage("")
        self._stop = Event()
        self._thread = Thread(target=self._run, name="till", daemon=True)

    def start(self) -> None:
        self._thread.start()

    def close(self) -> None:
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join(3.0)

    def _run(self) -> None:
        while not self._stop.is_set():
            port = None
            try:
                port = self._opens(self.url, baudrate=9600, timeout=0.1)
                self.listening, self.trouble = True, PortMessage("")
                self._listen(port)
            except Exception as wrong:      # drivers raise all kinds of errors, and none may end the thread
                log.info("%s: %s", self.url, wrong)
                self.listening, self.trouble = False, PortMessage(
                    "The till's port {url} does not answer. Plug its cable in; key the orders meanwhile.", url=self.url)
                self._stop.wait(RETRY_S)
            finally:
                if port is not None:
                    with suppress(Exception):
                        port.close()

    def _listen(self, port: Any) -> None:
        paper, heard_s = Paper(self._code_page), None
        while not self._stop.is_set():
            data = port.read(min(port.in_waiting, 4096) or 1)
            if data:
                heard_s = self._clock()
                for lines in paper.feed(data):
                    self._on_ticket(lines)
            elif heard_s is not None and self._clock() - heard_s > PAUSE_S:
                heard_s = None
                for lines in paper.rest():
                    self._on_ticket(lines)
