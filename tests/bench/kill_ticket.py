"""A till that prints while the kiosk is killed: `python -m tests.bench.kill_ticket [HOW_MANY]` (50 unless told).

A child reads tickets as fast as they come and says which it has taken; it is killed (SIGKILL) at a random moment. The till
prints its last three tickets again, as one does that had no answer. Bars: each ticket that was taken is one order, and none is
two, before and after they are printed again.
"""

import subprocess
import sys
import tempfile
import time
from collections import Counter
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random

from kiosk.bar.model import OrderTaken
from kiosk.book import Book
from kiosk.station.clock import Clock
from kiosk.station.station import Station
from tests.bench.bars import Bars

KILLS = 50
DAY = datetime(2026, 3, 14, 9, 0, tzinfo=UTC)


def ticket(n: int) -> tuple[str, ...]:
    return f"Order no. {n}", "1 Latte", "2 Espresso"


def opened(folder: Path) -> tuple[Station, Book]:
    clock = Clock(wall=lambda: DAY + timedelta(seconds=time.monotonic() % 3600))
    book = Book.open(folder, now=clock.now)
    station = Station.open(book, clock)
    if "order no" not in dict(station.setup.till.words):
        station.set_setting(("till", "words"), {"order no": "number"})
    return station, book


def serve(folder: Path) -> None:
    station, _book = opened(folder)
    n = 0
    while True:
        n += 1
        print("prints", n, flush=True)
        station.till.take_ticket(ticket(n))
        print("taken", n, flush=True)


def orders(book: Book) -> Counter[str]:
    return Counter(each.label for day in book.days() for each in book.day(day).of(OrderTaken))


def kill(folder: Path, after_s: float) -> tuple[int, int, int]:
    """(tickets said to be taken, of them lost, orders that are there twice)."""
    child = subprocess.Popen([sys.executable, "-m", "tests.bench.kill_ticket", "--serve", str(folder)], stdout=subprocess.PIPE, text=True)
    begun = child.stdout.readline()
    time.sleep(after_s)
    child.kill()
    whole = [line.split() for line in (begun + child.communicate()[0]).split("\n")[:-1]]
    printed = max(int(words[1]) for words in whole if words[0] == "prints")
    taken = [int(words[1]) for words in whole if words[0] == "taken"]
    lost = twice = 0
    for again in (False, True):
        station, book = opened(folder)
        for n in range(max(1, printed - 2), printed + 1) if again else ():
            station.till.take_ticket(ticket(n))
        found = orders(book)
        wanted = range(1, printed + 1) if again else taken
        lost += sum(found[ticket(n)[0]] == 0 for n in wanted)
        twice += sum(count > 1 for count in found.values())
        book.close()
    return len(taken), lost, twice


def campaign(kills: int, seed: int = 3) -> Bars:
    chance, bars, taken, lost, twice = Random(seed), Bars(f"A till that prints through {kills} kills"), 0, 0, 0
    for _ in range(kills):
        with tempfile.TemporaryDirectory() as folder:
            found = kill(Path(folder) / "book", chance.uniform(0.0, 1.0))
        taken, lost, twice = taken + found[0], lost + found[1], twice + found[2]
    bars.above("tickets taken", taken, kills)
    bars.below("of them lost", lost, 0)
    bars.below("orders that are there twice", twice, 0)
    return bars


if __name__ == "__main__":
    if sys.argv[1:2] == ["--serve"]:
        serve(Path(sys.argv[2]))
    sys.exit(campaign(int(sys.argv[1]) if sys.argv[1:] else KILLS).end())
