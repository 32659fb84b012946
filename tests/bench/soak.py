"""A long shift on the real app: `python -m tests.bench.soak [HOURS]` (8 unless told), faster than real pace.

A hand serves order after order with a scale at ten lines a second; the scale trembles, is knocked and unplugged, rooms are
opened between the pulls. Bars: nothing is logged as an error or raised; open files stay as they are, and those of fonts, one a
face and size of letters and each opened when its first text is drawn, are no more than the look has; a frame that is drawn
takes 50 ms at most, 99 times in 100. Memory at the end of two hours is within 5 MB of that after 20 minutes, of eight within
10 MB of that after the first hour: a day's own records are held until the day is over.

Memory is what the process holds: what the system sees once the C library's heap has handed on its free pages. Without a
graphics card the drawing library borrows 35 MB of it for a frame, twice that where the processor is busy elsewhere, and gives
them back to the heap, which keeps some: the plain figure, which wanders by 30 MB either way, is printed beside and has no bar. So
the bar on memory is a generous one: it sees what the program holds on to, and no heap in pieces.
A test of the screens counts what each room leaves behind.
"""

import ctypes
import gc
import logging
import os
import sys
import tempfile
import time
from array import array
from pathlib import Path
from random import Random

from kiosk import display
from tests.bench.bars import Bars

HOURS = 8.0
ROOMS = ("today", "weeks", "notes", "orders", "till", "drawer", "tasks", "practice")
DRINKS = ("Espresso", "Latte", "Cappuccino", "Double espresso", "Americano")
PAGE_MB = os.sysconf("SC_PAGE_SIZE") / 2**20


class Errors(logging.Handler):
    def __init__(self):
        super().__init__(logging.ERROR)
        self.seen: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        self.seen.append(record.getMessage())


def memory_mb() -> tuple[float, float]:
    """(held, with the heap's free pages)."""
    gc.collect()
    seen_mb = resident_mb()
    ctypes.CDLL(None).malloc_trim(0)                # of glibc; the bench is for Debian
    return resident_mb(), seen_mb


def resident_mb() -> float:
    return int(Path("/proc/self/statm").read_text().split()[1]) * PAGE_MB


def handles() -> tuple[int, int]:
    """Open files: (fonts, all others)."""
    names = [_name_of(file) for file in os.listdir("/proc/self/fd")]
    fonts = sum(name.endswith(".ttf") for name in names)
    return fonts, len(names) - fonts


def faces_and_sizes() -> int:
    """How many fonts the look's texts can be in: a face in a size each."""
    from kiosk.screens.ui.look import Type, look
    from kiosk.screens.ui.text import FACES, sizes

    largest = [size_u for size_u in vars(Type).values() if isinstance(size_u, int)]
    return len(FACES) * len({size for size_u in largest for size in sizes(size_u, look.u)})


def _name_of(file: str) -> str:
    try:
        return os.readlink(f"/proc/self/fd/{file}")
    except OSError:                                   # the folder's own, closed by now
        return ""


def campaign(hours: float, seed: int = 3, folder: Path | None = None, grows_mb: float = 10.0) -> Bars:
    from kivy.base import EventLoop

    from tests.support.at_work import AtWork

    bars, chance, errors = Bars(f"A shift of {hours:g} simulated hours on the real app"), Random(seed), Errors()
    logging.getLogger().addHandler(errors)
    frames_ms = array("f")                            # a list of them would be the bench's own megabytes
    made = replugs = 0
    drawn, began = EventLoop.idle, time.monotonic()

    def timed():
        at = time.perf_counter()
        drawn()
        frames_ms.append((time.perf_counter() - at) * 1000)

    EventLoop.idle = timed
    try:
        with AtWork(folder or Path(tempfile.mkdtemp()) / "book", seed=seed, settings={"groups": 2}) as work:
            from_s, warm, warm_s = work.t_s, None, hours * 3600 / (6 if hours <= 2 else 8)
            memory: list[tuple[float, float, float]] = []
            while work.t_s - from_s < hours * 3600:
                try:
                    work.play(work.hand.order(*chance.choices(DRINKS, k=chance.randint(1, 3))))
                    while (lane := next((lane for lane in work.service.lanes.values() if lane.work), None)) is not None:
                        work.play(work.hand.pull(lane.group))
                        made += 1
                        if chance.random() < 0.3:
                            work.scale.knock(chance.uniform(5, 40))
                        work.frames(chance.randint(20, 400))
                    if chance.random() < 0.15:
                        work.scale.unplug()
                        work.frames(100)
                        work.scale.replug()
                        replugs += 1
                        work.until(lambda: work.service.scales.first.there)
                    work.kiosk.root.go(chance.choice(ROOMS))
                    work.frames(40)
                    work.settle_threads()
                except Exception as wrong:
                    errors.seen.append(f"{type(wrong).__name__}: {wrong}")
                    if len(errors.seen) > 10:
                        break
                work.kiosk.root.home()
                work.frames(10)
                since_s = work.t_s - from_s
                if warm is None and since_s >= warm_s:
                    warm = *memory_mb(), handles()[1]
                if not memory or since_s - memory[-1][0] >= hours * 3600 / 12:
                    memory.append((since_s, *memory_mb()))
            after, (fonts, others) = memory_mb(), handles()
            pace = (work.t_s - from_s) / (time.monotonic() - began)
    finally:
        EventLoop.idle = drawn
        logging.getLogger().removeHandler(errors)
    print("  memory held, MB: " + ", ".join(f"{held:.0f}" for _, held, _ in memory))
    print("  with the heap's free pages: " + ", ".join(f"{seen:.0f}" for *_, seen in memory) + f"; {pace:.0f} times real pace, {replugs} replugs")
    for each in errors.seen[:5]:
        print("  error:", each)
    bars.below("errors", len(errors.seen), 0)
    bars.above("pulls made", made, 15 * hours)
    bars.below(f"memory grown since {warm_s / 60:.0f} minutes, MB", after[0] - warm[0] if warm else float("inf"), grows_mb)
    print(f"  the plain figure, with the heap's free pages, MB: {after[1] - warm[1] if warm else float('inf'):.3g}  (no bar)")
    bars.below("files left open more than then", others - warm[2] if warm else float("inf"), 0)
    bars.below("fonts open", fonts, faces_and_sizes())
    bars.below("a drawn frame, 99 of 100, ms", sorted(frames_ms)[int(0.99 * len(frames_ms))], 50)
    return bars


if __name__ == "__main__":
    display.prepare(Path(tempfile.mkdtemp()), offscreen=True)
    asked = float(sys.argv[1]) if sys.argv[1:] else HOURS
    sys.exit(campaign(asked, grows_mb=5.0 if asked <= 2 else 10.0).end())
