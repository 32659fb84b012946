"""A scale on a pseudo-terminal: whatever reads a real one over a serial port reads this one by the same code."""

import os
import tempfile
import time
import tty
from collections.abc import Callable
from pathlib import Path
from threading import Event, Thread

from hardware.practice.platform import Platform


class PracticeScale(Platform):
    """A platform that sends its line `rate_hz` times a second or, given `ask` (bytes), each time it is asked.

    A line sent to it that begins with `tare` sets it to nought. `clock` gives the bar's seconds, of which `speed` go
    by in each real one; left out, it is the monotonic clock times `speed`. `url` is a path that stays the same
    through `unplug` and `replug`. Close it, or use `with`.
    """

    def __init__(self, rate_hz: float = 10.0, resolution_g: float = 0.1, lag_s: float = 0.15, noise_g: float = 0.03,
                 seed: int = 0, *, delay_s: float = 0.0, shake_g: float = 0.12, speed: float = 1.0,
                 clock: Callable[[], float] | None = None, tare: bytes = b"T", ask: bytes | None = None):
        super().__init__(rate_hz, resolution_g, lag_s, noise_g, seed, delay_s=delay_s, shake_g=shake_g,
                         clock=clock or (lambda: time.monotonic() * speed))
        self.speed, self.tare_line, self.ask_line = speed, tare, ask
        self._due_s = self.now_s()
        self._master = self._slave = -1
        self._heard = b""
        self._done, self._woken = False, Event()
        self._folder = tempfile.TemporaryDirectory(prefix="practice-scale-")
        self.url = str(Path(self._folder.name) / "port")
        self.replug()
        self._thread = Thread(target=self._run, name="practice scale", daemon=True)
        self._thread.start()

    def unplug(self) -> None:
        """The port dies, and its path is gone."""
        with self._lock:
            Path(self.url).unlink(missing_ok=True)
            for end in (self._master, self._slave):
                if end >= 0:
                    os.close(end)
            self._master = self._slave = -1

    def replug(self) -> None:
        """A new port under the same path."""
        with self._lock:
            self.unplug()
            self._master, self._slave = os.openpty()
            tty.setraw(self._slave)
            os.set_blocking(self._master, False)
            self._heard = b""
            os.symlink(os.ttyname(self._slave), self.url)

    def wake(self) -> None:
        """Look at the clock now: whoever turns it by hand need not wait for the next look."""
        self._woken.set()

    def close(self) -> None:
        self._done = True
        self.wake()
        self._thread.join()
        self.unplug()
        self._folder.cleanup()

    def __enter__(self) -> "PracticeScale":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _run(self) -> None:
        while not self._done:
            self._listen()
            now_s = self.now_s()
            if now_s >= self._due_s:
                # a clock that jumped past several lines gives the latest only
                self._due_s += 1 / self.rate_hz
                if self._due_s <= now_s:
                    self._due_s = now_s + 1 / self.rate_hz
                line = self.line(now_s)
                if self.ask_line is None:
                    self._send(line)
            self._woken.wait(min(0.02, max(0.0005, (self._due_s - now_s) / self.speed)))
            self._woken.clear()

    def _listen(self) -> None:
        with self._lock:
            try:
                self._heard += os.read(self._master, 256) if self._master >= 0 else b""
            except OSError:                       # nothing was sent
                pass
            *whole, self._heard = self._heard.replace(b"\r", b"\n").split(b"\n")
            for words in whole:
                if self.tare_line and words.startswith(self.tare_line):
                    self.tare()
                elif self.ask_line and words.startswith(self.ask_line):
                    self._send(self.line(self.now_s()))

    def _send(self, line: bytes) -> None:
        with self._lock:
            try:
                os.write(self._master, line)
            except OSError:                       # unplugged, or nobody has read for a while: the line is lost
                pass
