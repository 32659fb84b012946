"""One stay at an open port: questions out, lines in, each timed as it comes and read."""

import logging
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import serial

from hardware import bitrate, frames, ports
from hardware.frames import Reading, Refused
from hardware.pattern import Pattern
from hardware.port_message import PortMessage
from hardware.serial_settings import SerialSettings, typed

WHOLE_AFTER_S = 0.03    # bytes that come sooner after opening may begin inside a line
ANSWER_S = 0.5          # a question not answered in so long is asked again
SILENT_S = 10.0         # a silent socket may be dead at the other end, a silent port no longer the scale's
STAY_S = 3.0            # at a silent port that was only found by looking; the slowest scales send once a second
TRY_S = 15.0            # at one that sends and cannot be read; every bit rate has had its turn by then

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Heard:
    """Any line as it came: `t_s` on the clock handed in, its bytes, and what was read from it or why not."""

    t_s: float
    raw: bytes
    read: Reading | Refused


class Stay:
    """`opened` is any pyserial port with a read timeout; what it raises is let through.

    `trusted`: the bit rate is known, so what is read is the scale's weight. `proven`: a trusted reading came.
    """

    def __init__(self, opened: Any, port: ports.SerialPort, line: SerialSettings, first_rate: int, clock: Callable[[], float]):
        self._opened, self._line, self._clock, self._device = opened, line, clock, port.device
        self._pattern = Pattern(line.pattern) if line.pattern else None
        self._request = typed(line.request)
        self._asked_s, self._waiting = float("-inf"), False
        self.begun_s = self._heard_s = self._read_s = clock()
        self._rated = ports.has_bit_rate(port.device)
        self._guess = None
        if self._rated and line.bit_rate is None:
            self._guess = bitrate.Guess(first_rate, bool(self._request), self.begun_s)
        self._rate = first_rate
        self.proven = False
        self._begin(self.begun_s)

    def _begin(self, now_s: float) -> None:
        self._lines, self._opened_s, self._quiet = frames.Lines(), now_s, True

    @property
    def trusted(self) -> bool:
        return self._guess is None or self._guess.settled

    @property
    def rate(self) -> int:
        return self._guess.rate if self._guess else self._rate

    @property
    def bit_rate(self) -> int | None:
        """The rate that is known to be right; None where it is still guessed or means nothing."""
        return self.rate if self._rated and self.trusted else None

    def send(self, what: bytes) -> None:
        try:
            self._opened.write(what)
        except serial.SerialTimeoutException:
            log.info("%s does not take what it is sent", self._device)

    def turn(self) -> list[Heard]:
        """Asks if it is time to, waits for bytes no longer than the port's timeout, and gives the lines they end."""
        now_s = self._clock()
        if self._request and now_s - self._asked_s >= (ANSWER_S if self._waiting else self._line.request_every_s):
            self.send(self._request)
            self._asked_s, self._waiting = now_s, True
        data = self._opened.read(min(self._opened.in_waiting, 4096) or 1)
        now_s = self._clock()
        heard = self._cut(data, now_s) if data else []
        if self._guess and self._guess.moves(now_s):
            self._opened.baudrate = self._guess.rate
            self._opened.reset_input_buffer()
            self._begin(now_s)
        return heard

    def _cut(self, data: bytes, now_s: float) -> list[Heard]:
        if self._quiet and not self._request and now_s - self._opened_s < WHOLE_AFTER_S:
            self._lines = frames.Lines(midway=True)
        self._quiet, self._heard_s = False, now_s
        heard = [Heard(now_s, raw, frames.read(raw, self._pattern, self._line.unit)) for raw in self._lines.feed(data)]
        if self._guess:
            self._guess.received(len(data))
            for each in heard:
                text = len(each.raw) > 3 and each.raw.isascii() and each.raw.decode().isprintable()
                self._guess.observe(isinstance(each.read, Reading), text, now_s)
        if heard:
            self._waiting = False
        if self.trusted and any(isinstance(each.read, Reading) for each in heard):
            self._read_s, self.proven = now_s, True
        return heard

    def worth_leaving(self, searched: bool) -> bool:
        """Whether another port, or this one opened afresh, may do better; `searched`: it was only found by looking."""
        silent_s, unread_s = self._clock() - self._heard_s, self._clock() - self._read_s
        if "://" in self._device:
            return silent_s > SILENT_S and not self._request
        if not searched:
            return False
        return unread_s > TRY_S or silent_s > (SILENT_S if self.proven else STAY_S) and not self._request

    def words(self) -> PortMessage:
        """How it goes, in one sentence for the screen."""
        if self._clock() - self._heard_s > 2.0 or self._quiet:
            return PortMessage("Connected, but nothing comes. Is the scale on?")
        if self.trusted:
            readable = self.proven and self._clock() - self._read_s < 2.0
            return PortMessage("Reading.") if readable else PortMessage("Lines come, but none is read. See Setup for each line and why.")
        return PortMessage("Finding the bit rate: trying {rate}.", rate=self.rate)
