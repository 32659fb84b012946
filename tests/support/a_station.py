"""A station for tests without screens: a book, a clock that the test turns, and hands that make pulls by taps."""

from datetime import datetime, timedelta
from pathlib import Path

import pytest

from kiosk.bar.guide import guide as guides
from kiosk.book import Book
from kiosk.station.clock import Clock
from kiosk.station.station import Station
from tests.support.opening import OPENING


class PlugPulled(Exception):
    """Nothing of what should have come next was done."""


class WorkingStation:
    """`restart` gives the same book to a new service, as after a cut. The wall time is `begins` plus `t_s`."""

    def __init__(self, folder: Path, begins: datetime = OPENING):
        self.folder, self.begins, self.t_s = folder, begins, 0.0
        self._open()

    def _open(self):
        self.book = Book.open(self.folder, now=self.wall)
        self.service = Station.open(self.book, Clock(monotonic=lambda: self.t_s, wall=self.wall))

    def wall(self) -> datetime:
        return self.begins + timedelta(seconds=self.t_s)

    def restart(self, after_s: float = 30.0) -> Station:
        self.book.close()
        self.t_s += after_s
        self._open()
        return self.service

    def cut(self, call: str, then, of: type = object, after_s: float = 30.0) -> Station:
        """The plug is pulled where `then()` comes to the book's `call`, with one `of` a kind; then the restart."""
        real = getattr(self.book, call)

        def pulled(*given, **more):
            if isinstance(given[0], of):
                raise PlugPulled
            return real(*given, **more)

        setattr(self.book, call, pulled)
        with pytest.raises(PlugPulled):
            then()
        delattr(self.book, call)
        return self.restart(after_s)

    def order(self, *names: str) -> str:
        menu = {drink.name: drink for drink in self.service.setup.menu}
        return self.service.orders.take(tuple((menu[name], 1) for name in names))

    def tap(self, group: int, kind=guides.Forward, times: int = 1) -> None:
        for _ in range(times):
            self.t_s += 2.0
            self.service.tap(group, kind)

    def serve(self, group: int, time_s: float = 25.0) -> None:
        """The pull in that lane, from where it is to the served cup, `time_s` from pump on to pump off."""
        key = self.service.lanes[group].work.key
        while self.service.lanes.makes(group, key):
            self.tap(group)
            if self.service.lanes.makes(group, key) and self.service.lanes[group].work.guide.pulling:
                self.t_s += time_s - 2.0
