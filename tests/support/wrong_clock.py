"""A station whose wall clock is wrong, or is put right, at any moment."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from kiosk.bar.guide import Forward
from kiosk.bar.model import OrderTaken, Pull, Step
from kiosk.book import Book
from kiosk.station.clock import Clock
from kiosk.station.station import Station
from tests.support.opening import OPENING

DAY, HOUR = timedelta(days=1), timedelta(hours=1)
YEAR = 365 * DAY
JUMPS = (-10 * HOUR, -DAY, -YEAR, datetime(1970, 1, 1, tzinfo=UTC) - OPENING, 20 * HOUR, YEAR, -3 * HOUR, 3 * HOUR,
         -30 * DAY, 30 * DAY, 12 * HOUR, -12 * HOUR, 2 * DAY, -2 * DAY, 5 * YEAR)
MOMENTS = "waiting", "in mid-pull", "just served"
ORDERS = 3
ZONES = tuple(map(ZoneInfo, (
    "Pacific/Kiritimati", "Pacific/Pago_Pago", "Asia/Kathmandu", "Europe/London", "America/New_York", "Australia/Lord_Howe",
    "Asia/Tokyo", "America/St_Johns", "Africa/Cairo", "America/Sao_Paulo")))


class Wall:
    """A station whose wall clock a test may set; seconds pass alike whatever it says."""

    def __init__(self, folder, zone=None):
        self.folder, self.s, self.off, self.zone, self.run = folder, 1000.0, timedelta(0), zone, "first run"
        self.open()

    def now(self) -> datetime:
        now = OPENING + timedelta(seconds=self.s - 1000) + self.off
        return now.astimezone(self.zone) if self.zone else now

    def open(self):
        self.book = Book.open(self.folder, now=self.now, ticks=lambda: self.s, run=self.run)
        self.service = Station.open(self.book, Clock(monotonic=lambda: self.s, wall=self.now))

    def restart(self):
        self.book.close()
        self.open()

    def passes(self, seconds: float):
        self.s += seconds
        self.service.tick()

    def set_by(self, by: timedelta):
        self.off += by
        self.passes(2)

    def to(self, step: Step):
        while self.service.lanes[1].work.guide.step is not step:
            self.passes(3)
            self.service.tap(1, Forward)

    def serve(self):
        key = self.service.lanes[1].work.key
        while self.service.lanes[1].work is not None and self.service.lanes[1].work.key == key:
            self.passes(8)
            self.service.tap(1, Forward)

    def everything(self, kind):
        return [each for day in self.book.days() for each in self.book.day(day).of(kind)]


def owed(work: Wall) -> int:
    """Pulls that are in a lane or wait."""
    return len(work.service.line.waiting) + sum(lane.work is not None for lane in work.service.lanes.values())


def play(work: Wall, moment: str) -> int:
    """Up to that moment; how many of its pulls are still owed."""
    work.service.set_setting(("groups",), 1)
    for _ in range(ORDERS):
        work.service.orders.take(((work.service.setup.menu[1], 2),))
    work.passes(5)
    work.in_all = owed(work)
    if moment == "in mid-pull":
        work.to(Step.PULL)
        work.service.tap(1, Forward)
        work.passes(10)
    elif moment == "just served":
        work.serve()
    return owed(work)


def lost_and_doubled(work: Wall, before: int) -> tuple[int, int]:
    """Serve all that is owed, `before` pulls; how many pulls and orders are missing then, and how many are there too often."""
    strayed = before - owed(work)
    while work.service.lanes[1].work is not None:
        work.serve()
    lost, doubled = max(0, strayed), max(0, -strayed)
    for kind, wanted in ((Pull, work.in_all), (OrderTaken, ORDERS)):
        ids = [each.id for each in work.everything(kind)]
        lost, doubled = lost + max(0, wanted - len(set(ids))), doubled + len(ids) - min(wanted, len(set(ids)))
    return lost, doubled
