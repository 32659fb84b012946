"""A practice shift killed at random moments: `python -m tests.bench.kill_shift [HOW_MANY [SLOW_S]]` (50 unless told).

With SLOW_S each sync of the disk takes so long, the book is written behind, and only what it says is on the medium counts.

A child process serves orders as fast as it can, two lanes at once, and says on its standard output what is finished
and what is on its way, each after the kiosk said so. It is killed (SIGKILL) at a random moment; the book is opened
again. Bars: no finished pull is missing or doubled, and each pull on its way is in its lane again, at the step last
said or one further.
"""

import signal
import subprocess
import sys
import tempfile
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random

from kiosk.bar.guide import guide as guides
from kiosk.bar.model import BRISK, Pull, Step
from kiosk.book import Book
from kiosk.station.clock import Clock
from kiosk.station.station import Station
from tests.bench.bars import Bars
from tests.support.failing_disk import Slow

KILLS = 50
TAP_S = 0.02            # between taps: a tap is on the disk within moments, and no hand is faster than this
DAY = datetime(2026, 3, 14, 9, 0, tzinfo=UTC)


def serve(folder: Path, seed: int, slow_s: float = 0.0) -> None:
    """The child: orders and taps without end, much faster than hands."""
    chance, now_s = Random(seed), [0.0]
    clock = Clock(monotonic=lambda: now_s[0], wall=lambda: DAY + timedelta(seconds=now_s[0]))
    with Book.open(folder, now=clock.now, disk=Slow(slow_s) if slow_s else None, behind=bool(slow_s)) as book:
        service = Station.open(book, clock)
        finished = set()
        while True:
            if len(service.line.waiting) < 2:
                service.orders.take(tuple((drink, chance.randint(0, 2)) for drink in service.setup.menu))
            now_s[0] += chance.uniform(0.5, 4)
            group = chance.choice([1, 2])
            kind, values = chance.choices([(guides.Forward, ()), (guides.Undo, ()), (guides.Bin, ("spilt",)),
                                           (guides.Back, ())], [30, 1, 1, 1])[0]
            time.sleep(TAP_S + chance.uniform(0, 3) * slow_s)
            if slow_s and not book.waiting:
                tell(service, finished)
            print("will", kind.__name__, flush=True)
            service.tap(group, kind, *values)
            if not slow_s:
                tell(service, finished)


def tell(service: Station, finished: set[str]) -> None:
    """What is on the medium by now, or within moments: pulls that are finished, and those on their way."""
    for pull in service.book.today().of(Pull):
        if pull.id not in finished:
            finished.add(pull.id)
            print("finished", pull.id, flush=True)
    for lane in service.lanes.values():
        if lane.work is not None:
            print("at", lane.work.key, lane.work.guide.step, flush=True)


def kill(folder: Path, seed: int, after_s: float, slow_s: float = 0.0) -> tuple[int, int, int, int]:
    """One killed shift: (finished pulls, of them missing or doubled, pulls on their way, of them lost)."""
    child = subprocess.Popen([sys.executable, "-m", "tests.bench.kill_shift", "--serve", str(folder), str(seed), str(slow_s)],
                             stdout=subprocess.PIPE, text=True)
    begun = child.stdout.readline()
    time.sleep(after_s)
    child.send_signal(signal.SIGKILL)
    whole = [line.split() for line in (begun + child.communicate()[0]).split("\n")[:-1]]
    last_tap = [words[1] for words in whole if words[0] == "will"][-1]
    finished = {words[1] for words in whole if words[0] == "finished"}
    under_way: dict[str, str] = {}
    for words in whole:
        if words[0] == "at" and len(words) == 3:
            under_way[words[1].rsplit(".", 1)[0]] = words[2]
    with Book.open(folder, now=lambda: DAY + timedelta(hours=1)) as book:
        service = Station.open(book, Clock(wall=lambda: DAY + timedelta(hours=1)))
        kept = [each.id for each in book.today().raw if isinstance(each, Pull)]
        wrong = len(finished - set(kept)) + len(kept) - len(set(kept))
        served = {pull.id.rsplit(".", 1)[0] for pull in book.today().of(Pull) if not pull.sink}
        in_lanes = {lane.work.key.rsplit(".", 1)[0]: lane.work.guide.step for lane in service.lanes.values() if lane.work}
        owed = {f"{each.order_id}.{each.index}" for each in service.line.waiting}
        lost = sum(place not in served and place not in owed and not _about(in_lanes.get(place), step, last_tap)
                   for place, step in under_way.items())
        return len(finished), wrong, len(under_way), lost


def _about(found: Step | None, said: str, last_tap: str) -> bool:
    """In a lane, at the step last said, or where the one tap that may have been kept before the kill led from there."""
    if found is None:
        return False
    return last_tap in ("Bin", "Undo") or abs(BRISK.index(found) - BRISK.index(Step(said))) <= 1


def campaign(kills: int, slow_s: float = 0.0, seed: int = 7) -> Bars:
    chance = Random(seed)
    bars = Bars(f"A shift killed {kills} times" + (f", each sync of the disk {slow_s:g} s" if slow_s else ""))
    finished = wrong = under_way = lost = 0
    for _n in range(kills):
        with tempfile.TemporaryDirectory() as folder:
            found = kill(Path(folder), chance.getrandbits(30), chance.uniform(0.2, 2.0) + 20 * slow_s, slow_s)
        finished, wrong = finished + found[0], wrong + found[1]
        under_way, lost = under_way + found[2], lost + found[3]
    bars.above("pulls said to be finished", finished, kills / 4 if slow_s else kills)
    bars.below("of them missing or doubled after the restart", wrong, 0)
    if slow_s:
        return bars                     # what was last said of a pull on its way may be many taps old
    bars.above("pulls seen on their way", under_way, kills)
    bars.below("of them neither served, in their lane where they were, nor waiting", lost, 0)
    return bars


if __name__ == "__main__":
    if sys.argv[1:2] == ["--serve"]:
        serve(Path(sys.argv[2]), int(sys.argv[3]), float(sys.argv[4]))
    sys.exit(campaign(int(sys.argv[1]) if sys.argv[1:] else KILLS, float(sys.argv[2]) if sys.argv[2:] else 0.0).end())
