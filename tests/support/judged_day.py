"""A day's pulls as the kiosk keeps and judges them, without a screen."""

from datetime import timedelta
from random import Random

from kiosk.bar.evening.evening import evening
from kiosk.bar.model import Pull, usual
from kiosk.book import Book
from kiosk.station.clock import Clock
from kiosk.station.station import Station
from tests.support.failing_disk import Unwaited
from tests.support.opening import OPENING

RECIPE = usual("House", "double")
PEOPLE = ("Ada", "Ben", "Cleo")


class Day:
    """A service day of pulls `apart_s` apart, kept and judged as the kiosk does; `off_s` gives the truth."""

    def __init__(self, folder, seed: int = 1, apart_s: float = 360):
        self.chance, self.t_s, self.apart_s = Random(seed), 0.0, apart_s
        self.now = lambda: OPENING + timedelta(seconds=self.t_s)
        self.book = Book.open(folder, now=self.now, disk=Unwaited())
        self.station = Station.open(self.book, Clock(monotonic=lambda: self.t_s, wall=self.now))
        self.setting = 20

    def pull(self, off_s: float = 0.0, who: str | None = None, **more) -> None:
        self.t_s += self.apart_s
        made = Pull(**{"id": self.book.new_id(), "at": self.book.at(), "grinder": "Grinder 1", "coffee": "House",
                       "setting": self.setting, "recipe": RECIPE, "barista": who or self.chance.choice(PEOPLE),
                       "dose_g": round(self.chance.gauss(16, 0.15), 1), "yield_g": round(self.chance.gauss(50.4, 0.8), 1),
                       "time_s": max(5.0, 25 + off_s + self.chance.gauss(0, 1.3)), "time_from": "scale", "order_id": "o"} | more)
        self.book.keep(made)
        self.station.grinding.judge(made)

    def turn(self, direction: str) -> None:
        self.station.grinding.move(self.station.setup.grinders[0], direction, 6.0)
        self.setting = self.station.setup.grinders[0].setting

    def evening(self, **asked):
        day = self.book.day_now()
        found = evening(self.book.today().all, day, **asked)
        self.book.close()
        return found

    def hour(self) -> str:
        return self.book.at()[11:13]
