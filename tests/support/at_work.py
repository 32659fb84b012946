"""A whole kiosk at work in a test: the real screens, a scale on a pseudo-terminal, and a clock that the test turns.

Time passes only in `frame`: the practice scale weighs by the same clock, and each line it sends is waited for, so a
pull of 25 seconds takes a second and comes out the same each time.
"""

import threading
import time
from datetime import datetime, timedelta
from pathlib import Path

from kivy.base import EventLoop
from kivy.core.window import Window

from hardware.practice import PracticeBar, PracticeScale
from hardware.scale import CONNECTED
from kiosk.app import Kiosk
from kiosk.book import Book
from kiosk.book.disk import Disk
from kiosk.practice.barista import ScriptedBarista
from kiosk.screens.ui.finger import Finger
from kiosk.station.clock import Clock
from kiosk.station.station import Station
from tests.support.opening import OPENING

FRAME_S = 0.05
SUMS = "sums", "certificate"      # what the screens call such threads
PATIENCE_REAL_S = 30.0          # a computer may be busy with much else


class CountedScale(PracticeScale):
    sent = 0
    unheard: int | None = None          # lines sent before the port was read

    def _send(self, line):
        super()._send(line)
        self.sent += self._master >= 0


class AtWork:
    """Use with `with`. `frame()` lets a frame's time pass; `play(course)` runs a Hand's way of working to its end."""

    def __init__(self, folder: Path, *, scale: bool = True, seed: int = 1, settings: dict | None = None,
                 size: tuple[int, int] = (800, 480), bar: PracticeBar | None = None, start_s: float = 1000.0,
                 day: datetime = OPENING, disk: Disk | None = None, behind: bool = False, first_day: bool = False):
        self.first_day = first_day
        self.t_s, self._start_s, self._day = start_s, start_s, day
        self.clock = Clock(monotonic=lambda: self.t_s, wall=self.wall)
        self.book = Book.open(folder, now=self.wall, disk=disk, behind=behind,
                              ticks=time.monotonic if behind else lambda: self.t_s)     # a disk is slow in real seconds
        self.scale = CountedScale(seed=seed, clock=self.clock.s, shake_g=0.05) if scale else None
        self.scales = [self.scale] if self.scale else []
        self.service = Station.open(self.book, self.clock)
        for path, value in (settings or {}).items():
            assert self.service.set_setting(tuple(path.split(".")), value) == ()
        self.service.set_setting(("scale", "url"), self.scale.url if self.scale else "")
        Window.size = size          # whatever the test before had
        self.bar = bar or PracticeBar(scale=self.scale, seed=seed)
        self.pictures: list[str] = []

    def wall(self) -> datetime:
        return self._day + timedelta(seconds=self.t_s - self._start_s)

    def __enter__(self) -> "AtWork":
        EventLoop.ensure_window()
        if EventLoop.status != "started":
            EventLoop.start()
        self.kiosk = Kiosk(self.service, first_day=self.first_day, by_itself=False)      # the test ticks
        self.kiosk.build()
        self._screens_tick, self.kiosk.root.tick = self.kiosk.root.tick, self._tick_screens
        Window.add_widget(self.kiosk.root)
        self.finger = Finger(self.kiosk.root)
        self.hand = ScriptedBarista(self.service, self.finger, self.bar, self.scale)
        self.frames(3)
        if self.scale:
            self.until(lambda: self.service.scales.first.there)
        return self

    def __exit__(self, *_):
        self.close()

    def close(self):
        Window.remove_widget(self.kiosk.root)
        self.kiosk.on_stop()
        if self.scale:
            self.scale.close()
        self.book.close()

    def frame(self) -> None:
        self.t_s += FRAME_S
        for number, scale in enumerate(self.scales):
            if scale._master >= 0:
                self._until_heard(number, scale)
        self.kiosk.tick()
        self._frames += 1
        if self.finger.taps != self._taps:
            self._taps, self._drawn_until = self.finger.taps, self._frames + 3
        if self._frames <= self._drawn_until or self._frames % 10 == 0:
            EventLoop.idle()                # drawing is slow without a graphics card: not every frame is looked at

    def _tick_screens(self) -> None:
        """What only the screens do is done five times a second where nobody looks: a station hears every tick."""
        if self._frames < self._drawn_until or self.finger.taps != self._taps or self._frames % 4 == 3:
            self._screens_tick()

    _frames = _taps = 0
    _drawn_until = 5

    def tap(self, *words: str) -> None:
        """A finger touches the keys of these words, one after the other."""
        for word in words:
            self.finger.tap(word)
            self.frames(12)

    def frames(self, count: int) -> None:
        for _ in range(count):
            self.frame()

    def _until_heard(self, number: int, scale: CountedScale) -> None:
        """Whatever the scale had to say by now has come through its port. While a port is being opened nobody knows
        how many lines went into it before, so then there is only a moment's grace."""
        port = self.kiosk.ports[number] if number < len(self.kiosk.ports) else None
        if port is None or port.health.state != CONNECTED or not self.service.scales.weighings[number].there:
            scale.unheard = None
            time.sleep(0.002)
            return
        scale.wake()
        patience = time.monotonic() + PATIENCE_REAL_S
        while scale._due_s <= scale.now_s() and time.monotonic() < patience:
            time.sleep(0.0002)
        if scale.unheard is None:
            time.sleep(0.05)
            scale.unheard = scale.sent - port.health.accepted - port.health.rejected
        while scale.sent - scale.unheard > port.health.accepted + port.health.rejected \
                and port.health.state == CONNECTED and time.monotonic() < patience:
            time.sleep(0.0002)
        if time.monotonic() >= patience:
            scale.unheard = None                # a line was lost on the way: the next ones are not waited for as well

    def until(self, holds, seconds: float = 120.0) -> None:
        limit = self.t_s + seconds
        while not holds():
            assert self.t_s < limit, "waited in vain"
            self.frame()

    def settle_threads(self, seconds: float = 10.0) -> None:
        """Sums that are made on a thread of their own have come to the screen."""
        limit = time.monotonic() + seconds
        while time.monotonic() < limit and any(thread.name in SUMS for thread in threading.enumerate()):
            time.sleep(0.001)
        self._drawn_until = self._frames + 4
        self.frames(3)

    def play(self, *courses) -> None:
        for course in courses:
            for _ in course:
                self.frame()
