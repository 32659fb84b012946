"""How soon the evening is drawn: `python -m tests.bench.drawing`. From the finger on the key to the frame that shows
it, through the real screens, off screen: a day of 1,000 pulls, and a year's trend. Each the middle of five. Takes
about a minute.

A frame without a graphics card is drawn by the processor, so all times are longer here than on a panel.
"""

import statistics
import sys
import tempfile
import time
from datetime import datetime, timedelta, timezone
from pathlib import Path
from random import Random

from tests.bench.bars import Bars

TIMES = 5
PULLS, EVENTS_A_PULL = 1000, 12
DAYS, PULLS_A_DAY = 365, 40
EVENING = datetime(2026, 3, 14, 20, 0, tzinfo=timezone(timedelta(hours=1)))


def a_big_day(book, chance: Random) -> None:
    from kiosk.bar.model import GuideEvent, NotchMoved, OrderEnded, OrderTaken, Pull, usual

    recipe, kept = usual("House", "double"), []
    for n in range(PULLS):
        at = (EVENING - timedelta(hours=12) + timedelta(seconds=n * 43)).isoformat()
        order, pull_id, grinder = book.new_id(), book.new_id(), ("Left", "Right")[n % 3 == 0]
        kept.append(OrderTaken(id=order, at=at, drinks=(("Espresso", 2),), coffee="House"))
        kept += [GuideEvent(id=book.new_id(), at=at, pull_id=pull_id, event={"kind": "Forward", "t_s": float(k)})
                 for k in range(EVENTS_A_PULL)]
        kept.append(Pull(
            id=pull_id, at=at, grinder=grinder, coffee="House", setting=20 - n // 250, recipe=recipe, order_id=order,
            barista=("Ada", "Ben")[n % 2], dose_g=round(16 + chance.gauss(0, 0.3), 1), yield_g=round(recipe.yield_g, 1),
            time_s=round(25 + chance.gauss(0, 2), 2), first_drop_s=4.1, purged=n % 20 > 0, sink="spilt" if n % 40 == 7
                         else None,
            trace=tuple((t / 4, t / 2) for t in range(100))))
        kept.append(OrderEnded(id=book.new_id(), at=at, order_id=order, how="served"))
        if n % 250 == 249:
            kept += [NotchMoved(id=book.new_id(), at=at, grinder=name, coffee="House", before=20 - n // 250,
                                after=19 - n // 250) for name in ("Left", "Right")]
    book.keep_all(kept)


def a_year(book, chance: Random) -> None:
    from kiosk.bar.model import Noted, Pull, usual

    recipe = usual("House", "double")
    for day in range(1, DAYS):
        opens, kept = EVENING - timedelta(days=day, hours=12), []
        for n in range(PULLS_A_DAY):
            kept.append(Pull(id=book.new_id(), at=(opens + timedelta(minutes=12 * n)).isoformat(),
                             grinder=("Left", "Right")[n % 2],
                             coffee="House", setting=20, recipe=recipe, dose_g=16.0, yield_g=50.4,
                             time_s=round(25 + chance.gauss(0, 2), 2), first_drop_s=4.1))
        kept += [Noted(id=book.new_id(), at=(opens + timedelta(hours=h)).isoformat(), what="room",
                       facts={"temperature_c": chance.gauss(21, 1), "humidity_percent": chance.gauss(50, 6)})
                 for h in (1, 4, 7)]
        book.keep_all(kept)


def main() -> int:
    from kiosk import display

    folder = Path(tempfile.mkdtemp(prefix="evenpull-drawing-"))
    display.prepare(folder / "kivy", size=(800, 480), offscreen=True)
    from kivy.base import EventLoop
    from kivy.config import Config

    Config.set("graphics", "maxfps", "0")
    from kiosk.book import Book
    from tests.support.at_work import AtWork

    with Book.open(folder / "book", now=lambda: EVENING) as book:
        chance = Random(1)
        a_year(book, chance)
        a_big_day(book, chance)
        began = time.perf_counter()
        book.sums("", "9999-12-31")
        print(f"  (the sums of {DAYS - 1} closed days were reckoned once, in {time.perf_counter() - began:.1f} s)")
    bars = Bars("From the tap to the drawn evening")
    with AtWork(folder / "book", scale=False, day=EVENING) as work:
        rooms = work.kiosk.root

        def drawn(key: str, shown) -> float:
            """Seconds from the tap until the frame that shows it has been drawn."""
            work.frames(20)
            began = time.perf_counter()
            work.finger.tap(key)
            while not shown():
                EventLoop.idle()
            EventLoop.idle()
            return time.perf_counter() - began

        for name in rooms.names:
            rooms.room(name)                # as they are once the kiosk has stood for a moment
        today, weeks = rooms.room("today"), rooms.room("weeks")
        day, year = [], []
        for _ in range(TIMES):
            work.finger.tap("More")
            work.frames(2)
            day.append(drawn("Today", lambda: f"{PULLS} pulls" in today.sentence and today.ids.charts.children))
            weeks.days = 365
            year.append(drawn("Weeks", lambda: "365" in weeks.title))
            work.finger.tap("Back")
            work.frames(2)
            work.finger.tap("Back")
            work.frames(2)
            rooms.came_from = ""
            today.sentence = weeks.title = ""
        bars.below("seconds to draw a day of 1,000 pulls, the middle of five", statistics.median(day), 0.3)
        bars.below("seconds to draw a year's trend, the middle of five", statistics.median(year), 0.5)
        print(f"  all: day {[round(s, 3) for s in day]}, year {[round(s, 3) for s in year]}")
    return bars.end()


if __name__ == "__main__":
    sys.exit(main())
