"""The practised hand where no screen can be drawn: what its finger would touch, it tells the station."""

from collections import Counter

from hardware.practice import PracticeBar, PracticeScale
from kiosk.bar.guide import guide as guides
from kiosk.practice.barista import Course, ScriptedBarista
from kiosk.station.station import Station


class UnseenBarista(ScriptedBarista):
    def __init__(self, service: Station, bar: PracticeBar, scale: PracticeScale):
        super().__init__(service, None, bar, scale)

    def order(self, *drinks: str) -> Course:
        yield
        self.service.orders.take(tuple((self.service.setup.drink(name), count) for name, count in Counter(drinks).items()))
        yield

    def tap(self, group: int) -> None:
        self.service.tap(group, guides.Forward)
