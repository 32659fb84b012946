"""The scale: one thread that owns the port, reads it, times each line as it comes, and never gives up.

Whatever happens to the cable, the address or the callbacks, the thread goes on and `health` says in words what is
the matter. The main thread is never made to wait.
"""

import errno
import logging
import re
import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, replace
from queue import Empty, SimpleQueue

import serial

from hardware import bitrate, frames, ports
from hardware.frames import Reading, Refused
from hardware.pattern import Pattern, Unfit

SEARCHING, CONNECTED, LOST = "searching", "connected", "lost"
RETRY_S = 0.25          # between looks for a port that is not there
WAKE_S = 0.05           # the longest the thread sleeps in a read: how long a tare or a close may wait
WHOLE_AFTER_S = 0.03    # bytes that come sooner after opening may begin inside a line
ANSWER_S = 0.5          # a question not answered in so long is asked again
SILENT_S = 10.0         # a silent socket may be dead at the other end; a silent port may not be the scale's
TELL_S = 1.0            # health is told on every change, and so often
RATE_OVER_S = 3.0

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """How a station's scale is spoken to; nothing needs to be filled in. Raises Unfit with the sentence to show.

    `bit_rate` None: guessed. `request` is sent every `request_every_s` to a scale that only answers when asked,
    `tare` to tare it; both as typed, where \\\\r \\\\n \\\\t \\\\x1B stand for such bytes. `pattern`: see Pattern. `unit` is
    that of lines which name none. `usb`: the port used last, "vendor:product:serial number", from `Health.usb`.
    """

    bit_rate: int | None = None
    data_bits: int = 8
    parity: str = "N"
    stop_bits: int = 1
    request: str = ""
    request_every_s: float = 0.1
    tare: str = ""
    pattern: str = ""
    unit: str = "g"
    usb: str | None = None

    def __post_init__(self):
        def need(holds: bool, sentence: str):
            if not holds:
                raise Unfit(sentence)

        need(self.bit_rate is None or 50 <= self.bit_rate <= 4_000_000, "A bit rate is 50 or more. Leave it empty to guess.")
        need(self.data_bits in (7, 8), "There are 7 or 8 data bits. Choose one.")
        need(self.parity in tuple("NEOMS"), "Parity is N, E, O, M or S. Choose one.")
        need(self.stop_bits in (1, 2), "There are 1 or 2 stop bits. Choose one.")
        need(0.02 <= self.request_every_s <= 10, "A scale is asked every 0.02 to 10 s. Set it again.")
        need(self.unit in frames.GRAMS, f"The unit is one of {', '.join(frames.GRAMS)}. Choose one.")
        typed(self.request)
        typed(self.tare)
        if self.pattern:
            Pattern(self.pattern)


def typed(text: str) -> bytes:
    """The bytes that `text` stands for, as typed in a setting. Raises Unfit for letters a serial line cannot carry."""
    kept = {"r": "\r", "n": "\n", "t": "\t", "\\": "\\"}
    plain = re.sub(r"\\(?:([rnt\\])|x([0-9A-Fa-f]{2}))", lambda m: kept[m[1]] if m[1] else chr(int(m[2], 16)), text)
    try:
        return plain.encode("latin-1")
    except UnicodeEncodeError:
        raise Unfit("A scale is sent plain letters only. Write others as \\x and two hexadecimal digits.") from None


@dataclass(frozen=True, slots=True)
class Arrival:
    """A reading as it came: `t_s` on the clock handed in, grams, at rest (None: not said), the line's bytes."""

    t_s: float
    grams: float
    stable: bool | None
    raw: bytes


@dataclass(frozen=True, slots=True)
class Heard:
    """Any line as it came, with what was read from it or why not."""

    t_s: float
    raw: bytes
    read: Reading | Refused


@dataclass(frozen=True, slots=True, kw_only=True)
class Health:
    """How the scale is. `words` is one sentence for the screen; `rate_hz` and `age_s` None: no readings yet."""

    state: str = SEARCHING
    words: str = ""
    port: str | None = None
    usb: str | None = None
    bit_rate: int | None = None          # None: means nothing on this port, or still being guessed
    rate_hz: float | None = None
    age_s: float | None = None
    accepted: int = 0
    rejected: int = 0
    last_rejected: bytes | None = None
    why_rejected: str | None = None
    unit: str | None = None
    resolution_g: float | None = None


class Scale:
    """A scale on any port that pyserial opens: a device, a pseudo-terminal, socket://, rfc2217://, loop://, spy://.

    An empty `url` looks through the ports that are plugged in. `on_arrival(Arrival)` gets each reading,
    `on_heard(Heard)` each line kept or not, `on_health(Health)` each change and one a second; all are called on the
    scale's own thread, and what they raise is logged and stops nothing. `clock` gives seconds, monotonic.
    """

    def __init__(self, url: str = "", line: Line = Line(), on_arrival: Callable[[Arrival], None] | None = None,
                 on_health: Callable[[Health], None] | None = None, on_heard: Callable[[Heard], None] | None = None,
                 clock: Callable[[], float] = time.monotonic):
        self._url, self._line, self._clock = url, line, clock
        self._on_arrival, self._on_health, self._on_heard = on_arrival, on_health, on_heard
        self._pattern = Pattern(line.pattern) if line.pattern else None
        self._request, self._tare = typed(line.request), typed(line.tare)
        self._to_send: SimpleQueue[bytes] = SimpleQueue()
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None
        self._lock = threading.Lock()
        self._now = Health(words="Not started.")
        self._times_s: deque[float] = deque(maxlen=64)
        self._recent: deque[Heard] = deque(maxlen=24)
        self._usb = line.usb
        self._first_rate = line.bit_rate or bitrate.USUAL[0]
        self._trusted = False
        self._told_s = float("-inf")

    def start(self) -> None:
        """Begins to look for the port; returns at once. Nothing happens where it has begun already."""
        if self._thread is None:
            self._stop.clear()
            self._thread = threading.Thread(target=self._run, name="scale", daemon=True)
            self._thread.start()

    def close(self) -> None:
        """Ends the thread and closes the port: within a tenth of a second, or, where a network address does not
        answer, when pyserial stops waiting for it (5 s). May be called twice, and from a callback."""
        self._stop.set()
        thread, self._thread = self._thread, None
        if thread is not None and thread is not threading.current_thread():
            thread.join()

    def tare(self) -> bool:
        """Sends the station's tare string, within a twentieth of a second. False: none is set, or no port is open."""
        if not self._tare or self._now.state != CONNECTED:
            return False
        self._to_send.put(self._tare)
        return True

    @property
    def health(self) -> Health:
        now_s = self._clock()
        with self._lock:
            health, times_s = self._now, tuple(self._times_s)
        if not times_s:
            return health
        age_s = now_s - times_s[-1]
        times_s = [t_s for t_s in times_s if times_s[-1] - t_s < RATE_OVER_S]
        over_s = times_s[-1] - times_s[0]
        rate_hz = 0.0 if age_s > RATE_OVER_S else (len(times_s) - 1) / over_s if over_s > 0 else None
        return replace(health, age_s=age_s, rate_hz=rate_hz)

    def recent(self) -> tuple[Heard, ...]:
        """The last lines that came, oldest first, kept or not: what a setup screen shows."""
        with self._lock:
            return tuple(self._recent)

    # Everything below runs on the scale's own thread.

    def _run(self) -> None:
        while not self._stop.is_set():
            try:
                found = ports.candidates(self._url, self._usb, ports.plugged_in())
            except Exception:
                log.exception("the list of ports could not be read")
                found = []
            if not found:
                self._say(self._apart(), _not_there(self._url))
            for port in found:
                if not self._stop.is_set():
                    self._visit(port, alone=len(found) == 1)
            self._stop.wait(RETRY_S)
        self._say(SEARCHING, "Closed.")

    def _apart(self) -> str:
        return SEARCHING if self._now.state == SEARCHING else LOST

    def _visit(self, port: ports.Port, alone: bool) -> None:
        """One stay at `port`, from opening it to losing or leaving it. Drivers raise all kinds of errors when a cable
        is pulled; none of them may end the thread."""
        line = self._line
        try:
            opened = serial.serial_for_url(
                port.device, baudrate=self._first_rate, bytesize=line.data_bits, parity=line.parity,
                stopbits=line.stop_bits, timeout=WAKE_S, write_timeout=4 * WAKE_S, exclusive=True)
        except Exception as wrong:
            self._say(self._apart(), _not_opened(port.device, wrong), wrong)
            return
        try:
            self._listen(opened, port, alone)
        except Exception as wrong:
            self._say(LOST, "The scale is gone. Plug its cable back in; service goes on by taps.", wrong)
        finally:
            try:
                opened.close()
            except Exception as wrong:
                log.info("%s did not close well: %s", port.device, wrong)

    def _listen(self, opened, port: ports.Port, alone: bool) -> None:
        clock, begun_s = self._clock, self._clock()
        guess = None
        if self._line.bit_rate is None and ports.has_bit_rate(port.device):
            guess = bitrate.Guess(self._first_rate, bool(self._request), begun_s)
        lines, quiet, heard_s, asked_s, waiting = frames.Lines(), True, begun_s, float("-inf"), False
        self._trusted = guess is None
        with self._lock:
            self._now = replace(self._now, port=port.device, usb=port.usb,
                                bit_rate=self._first_rate if guess is None and ports.has_bit_rate(port.device) else None)
        self._say(CONNECTED, "Connected; nothing has come yet. Is the scale on?")
        while not self._stop.is_set():
            now_s = clock()
            if self._request and now_s - asked_s >= (ANSWER_S if waiting else self._line.request_every_s):
                self._send(opened, self._request)
                asked_s, waiting = now_s, True
            self._send_waiting(opened)
            data = opened.read(min(opened.in_waiting, 4096) or 1)
            now_s = clock()
            if data:
                if quiet and not self._request and now_s - begun_s < WHOLE_AFTER_S:
                    lines = frames.Lines(midway=True)
                quiet, heard_s = False, now_s
                if guess:
                    guess.came(len(data))
                for raw in lines.feed(data):
                    waiting = False
                    self._take(raw, now_s, guess)
            elif now_s - heard_s > SILENT_S and ("://" in port.device or not alone) and not self._request:
                return
            if guess and guess.moves(now_s):
                opened.baudrate = guess.rate
                opened.reset_input_buffer()
                lines, quiet, begun_s = frames.Lines(), True, now_s
                self._trusted = False
            self._say(CONNECTED, self._how(guess, now_s, heard_s))

    def _take(self, raw: bytes, now_s: float, guess: bitrate.Guess | None = None) -> None:
        read = frames.read(raw, self._pattern, self._line.unit)
        kept = isinstance(read, Reading)
        if guess:
            guess.heard(kept, raw.isascii() and len(raw) > 3 and raw.decode().isprintable(), now_s)
            if guess.settled and not self._trusted:
                self._first_rate, self._trusted = guess.rate, True
        heard = Heard(now_s, raw, read)
        with self._lock:
            self._recent.append(heard)
            if not kept:
                self._now = replace(self._now, rejected=self._now.rejected + 1, last_rejected=raw, why_rejected=read.why)
            elif self._trusted:
                self._times_s.append(now_s)
                self._usb = self._now.usb or self._usb
                self._now = replace(self._now, accepted=self._now.accepted + 1, unit=read.unit,
                                    resolution_g=read.resolution_g)
        self._tell(self._on_heard, heard)
        if kept and self._trusted:
            self._tell(self._on_arrival, Arrival(now_s, read.grams, read.stable, raw))

    def _send(self, opened, what: bytes) -> None:
        try:
            opened.write(what)
        except serial.SerialTimeoutException:
            log.info("the scale does not take what it is sent")

    def _send_waiting(self, opened) -> None:
        try:
            while True:
                self._send(opened, self._to_send.get_nowait())
        except Empty:
            pass

    def _how(self, guess: bitrate.Guess | None, now_s: float, heard_s: float) -> str:
        if guess and guess.settled != (self._now.bit_rate is not None):
            with self._lock:
                self._now = replace(self._now, bit_rate=guess.rate if guess.settled else None)
        if now_s - heard_s > 2.0 or not self._recent:
            return "Connected, but nothing comes. Is the scale on?"
        last = self._recent[-1].read
        if isinstance(last, Refused):
            return f"A line was not read: {last.why}."
        return "Reading." if self._trusted else f"Finding the bit rate: trying {guess.rate}."

    def _say(self, state: str, words: str, cause: Exception | None = None) -> None:
        now_s, same = self._clock(), (state, words) == (self._now.state, self._now.words)
        if same and now_s - self._told_s < TELL_S:
            return
        if not same:
            log.info("%s%s", words, f" ({cause})" if cause else "")
        with self._lock:
            self._now = replace(self._now, state=state, words=words)
        self._told_s = now_s
        self._tell(self._on_health, self.health)

    def _tell(self, callback: Callable | None, what) -> None:
        if callback is not None:
            try:
                callback(what)
            except Exception:
                log.exception("a callback of the scale went wrong")


def _not_there(url: str) -> str:
    if not url:
        return "No scale is plugged in. Plug its cable in, or go on by taps."
    return f"The port {url} is not there. Plug the scale in, or choose another port in Setup; service goes on by taps."


def _not_opened(device: str, wrong: Exception) -> str:
    number = getattr(wrong, "errno", None)
    if number in (errno.EACCES, errno.EPERM):
        return f"The kiosk may not open {device}. Install the device rule from hardware/station, then plug in again."
    if number in (errno.EAGAIN, errno.EBUSY):
        return f"Another program holds {device}. Close it, or choose another port in Setup."
    if number in (errno.ENOENT, errno.ENODEV, errno.ENXIO):
        return _not_there(device)
    if isinstance(wrong, ValueError):
        return f"{device} is not an address of a port. Correct it in Setup; service goes on by taps."
    return f"{device} does not answer. Check its cable and address; service goes on by taps."
