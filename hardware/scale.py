"""The scale: one thread that owns the port, reads it, times each line as it comes, and never gives up.

Whatever happens to the cable, the address or the callbacks, the thread goes on and `health` says in words what is
the matter. The main thread is never made to wait.
"""

import errno
import logging
import threading
import time
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from queue import Empty, SimpleQueue
from typing import Any

from hardware import bitrate, ports
from hardware.frames import Reading
from hardware.port_message import PortMessage
from hardware.serial_settings import SerialSettings, typed
from hardware.stay import Heard, Stay

SEARCHING, CONNECTED, LOST = "searching", "connected", "lost"
RETRY_S = 0.25      # between looks for a port that is not there
WAKE_S = 0.05       # the longest the thread sleeps in a read: how long a tare or a close may wait
LOOK_S = 0.5        # between looks for a port plugged in while another is tried
TELL_S = 1.0        # health is told on every change, and so often
RATE_OVER_S = 3.0   # readings a second are counted over so long

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class Health:
    """How the scale is. `words` is one sentence for the screen; `rate_hz` and `age_s` None: no readings yet."""

    state: str = SEARCHING
    words: PortMessage = PortMessage("")
    port: str | None = None
    usb: str | None = None
    bit_rate: int | None = None          # None: means nothing on this port, or still being guessed
    rate_hz: float | None = None
    age_s: float | None = None
    accepted: int = 0
    rejected: int = 0
    last_rejected: bytes | None = None
    why_rejected: PortMessage | None = None
    unit: str | None = None
    resolution_g: float | None = None


class Scale:
    """A scale on any port that pyserial opens: a device, a pseudo-terminal, socket://, rfc2217://, loop://.

    An empty `url` looks through the ports plugged in by USB. `on_reading(t_s, Reading)` gets each weight
    that is believed, `on_heard(Heard)` each line, kept or not, `on_health(Health)` each change and one a second; all are
    called on the scale's own thread, and what they raise is logged and stops nothing. `clock` gives seconds, monotonic.
    """

    def __init__(self, url: str = "", line: SerialSettings = SerialSettings(),
                 on_reading: Callable[[float, Reading], None] | None = None, on_health: Callable[[Health], None] | None = None,
                 on_heard: Callable[[Heard], None] | None = None,
                 clock: Callable[[], float] = time.monotonic):
        self._url, self._line, self._clock = url, line, clock
        self._on_reading, self._on_health, self._on_heard = on_reading, on_health, on_heard
        self._tare = typed(line.tare)
        self._to_send: SimpleQueue[bytes] = SimpleQueue()
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None
        self._lock = threading.Lock()
        self._now = Health(words=PortMessage("Not started."))
        self._times_s: deque[float] = deque(maxlen=64)
        self._recent: deque[Heard] = deque(maxlen=24)
        self._usb = line.usb
        self._first_rate = line.bit_rate or bitrate.USUAL[0]
        self._told_s = float("-inf")

    def start(self) -> None:
        """Begins to look for the port; returns at once. Nothing happens where it has begun already, or was closed."""
        if self._thread is None and not self._stop.is_set():
            self._thread = threading.Thread(target=self._run, name="scale", daemon=True)
            self._thread.start()

    def close(self) -> None:
        """Ends the thread and closes the port: within a tenth of a second, on a network within half of one, or, where
        an address does not answer, when pyserial stops waiting for it (5 s). May be called twice, or in a callback."""
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
        times_s = tuple(t_s for t_s in times_s if times_s[-1] - t_s < RATE_OVER_S)
        over_s = times_s[-1] - times_s[0]
        rate_hz = 0.0 if age_s > RATE_OVER_S else (len(times_s) - 1) / over_s if over_s > 0 else None
        return replace(health, age_s=age_s, rate_hz=rate_hz)

    def recent(self) -> tuple[Heard, ...]:
        """The last lines that came, oldest first, kept or not: what a setup screen shows."""
        with self._lock:
            return tuple(self._recent)

    # Everything below runs on the scale's own thread.

    def _run(self) -> None:
        tried: set[str] = set()
        while not self._stop.is_set():
            found = self._candidates()
            port = next((port for port in found if port.device not in tried), None)
            if port is not None:
                tried.add(port.device)
                if self._visit(port, {each.device for each in found}):
                    tried.clear()
                continue
            if not found:
                self._say(self._apart(), _not_there(self._url))
            tried.clear()
            self._stop.wait(RETRY_S)
        self._say(SEARCHING, PortMessage("Closed."))

    def _candidates(self) -> list[ports.SerialPort]:
        try:
            return ports.candidates(self._url, self._usb, ports.plugged_in())
        except Exception:
            log.exception("the list of ports could not be read")
            return []

    def _apart(self) -> str:
        return SEARCHING if self._now.state == SEARCHING else LOST

    def _visit(self, port: ports.SerialPort, among: set[str]) -> bool:
        """Opens `port` and stays until it is lost or left; whether the scale was there.

        Drivers raise all kinds of errors when a cable is pulled, and none of them may end the thread.
        """
        line, stay = self._line, None
        try:
            opened = ports.opened(
                port.device, baudrate=self._first_rate, bytesize=line.data_bits, parity=line.parity,
                stopbits=line.stop_bits, timeout=WAKE_S, exclusive=True,
                write_timeout=None if "rfc2217://" in port.device else 4 * WAKE_S)    # there pyserial has none
        except Exception as wrong:
            self._say(self._apart(), _not_opened(port.device, wrong), wrong)
            return False
        try:
            stay = Stay(opened, port, line, self._first_rate, self._clock)
            self._listen(stay, port, among)
        except Exception as wrong:
            known = stay is not None and (stay.proven or self._url)
            self._say(LOST if known else self._apart(),
                      PortMessage("The scale is gone. Plug its cable back in; service goes on by taps."), wrong)
        finally:
            with suppress(Exception):
                opened.close()
        return stay is not None and stay.proven

    def _listen(self, stay: Stay, port: ports.SerialPort, among: set[str]) -> None:
        looked_s = self._clock()
        self._send_waiting(None)      # a tare asked of a port that then went away must not surprise anyone now
        with self._lock:
            self._now = replace(self._now, port=port.device, usb=port.usb)
        while not self._stop.is_set() and not stay.worth_leaving(searched=not self._url):
            self._send_waiting(stay)
            for heard in stay.turn():
                self._take(heard, stay.trusted)
            if stay.proven:
                self._usb, self._first_rate = port.usb or self._usb, stay.rate
            elif not self._url and self._clock() - looked_s > LOOK_S:
                looked_s = self._clock()
                if {each.device for each in self._candidates()} - among:
                    return
            if stay.bit_rate != self._now.bit_rate:
                with self._lock:
                    self._now = replace(self._now, bit_rate=stay.bit_rate)
            if self._url or stay.proven:
                self._say(CONNECTED, stay.words())
            else:
                self._say(self._apart(), PortMessage("Looking for the scale on {device}.", device=port.device))

    def _send_waiting(self, stay: Stay | None) -> None:
        with suppress(Empty):
            while True:
                what = self._to_send.get_nowait()
                if stay is not None:
                    stay.send(what)

    def _take(self, heard: Heard, trusted: bool) -> None:
        read = heard.read
        with self._lock:
            self._recent.append(heard)
            if not isinstance(read, Reading):
                self._now = replace(self._now, rejected=self._now.rejected + 1, last_rejected=heard.raw,
                                    why_rejected=read.why)
            elif trusted:
                self._times_s.append(heard.t_s)
                self._now = replace(self._now, accepted=self._now.accepted + 1, unit=read.unit,
                                    resolution_g=read.resolution_g)
        self._tell(self._on_heard, heard)
        if isinstance(read, Reading) and trusted:
            self._tell(self._on_reading, heard.t_s, read)

    def _say(self, state: str, words: PortMessage, cause: Exception | None = None) -> None:
        now_s, same = self._clock(), (state, words) == (self._now.state, self._now.words)
        if same and now_s - self._told_s < TELL_S:
            return
        if not same:
            log.info("%s%s", words, f" ({cause})" if cause else "")
        with self._lock:
            self._now = replace(self._now, state=state, words=words)
        self._told_s = now_s
        self._tell(self._on_health, self.health)

    def _tell(self, callback: Callable | None, *what: Any) -> None:
        if callback is not None:
            try:
                callback(*what)
            except Exception:
                log.exception("a callback of the scale went wrong")


def _not_there(url: str) -> PortMessage:
    if not url:
        return PortMessage("No scale is plugged in. Plug its USB cable in, or name its port in Setup; service goes on by taps.")
    return PortMessage("The port {url} is not there. Plug the scale in, or choose another port in Setup; service goes on by taps.",
                       url=url)


def _not_opened(device: str, wrong: Exception) -> PortMessage:
    if isinstance(wrong, ports.RefusedPort):
        return wrong.words
    number = getattr(wrong, "errno", None)
    if number in (errno.EACCES, errno.EPERM):
        return PortMessage("The kiosk may not open {device}. Install the device rule from hardware/station, then plug in again.",
                           device=device)
    if number in (errno.EAGAIN, errno.EBUSY):
        return PortMessage("Another program holds {device}. Close it, or choose another port in Setup.", device=device)
    if number in (errno.ENOENT, errno.ENODEV, errno.ENXIO):
        return _not_there(device)
    if isinstance(wrong, ValueError):
        return PortMessage("{device} is not an address of a port. Correct it in Setup; service goes on by taps.", device=device)
    return PortMessage("{device} does not answer. Check its cable and address; service goes on by taps.", device=device)
