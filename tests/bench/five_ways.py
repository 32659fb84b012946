"""How far it is through the code: `python -m tests.bench.five_ways`.

The five ways that DEVELOPERS.md shows are gone at a real station, with what calls what listened to. Each step has to reach the
next, and every function in between counts as a hop, named on the map or not. The bars are two thirds of what the ways took when
they were first counted: 36 hops in 17 files, 18 in 8, 34 in 17, 16 in 8 and 25 in 10.
"""

import re
import tempfile
from pathlib import Path

from kiosk import display
from kiosk.bar.guide import guide as guides
from kiosk.bar.model import DOUBLE, Step
from kiosk.book import Book
from kiosk.practice.barista import CUP_G
from kiosk.station.station import Station
from tests.bench.bars import Bars
from tests.support.traced import ROOT, Traced

FIRST_COUNTED = ((36, 17), (18, 8), (34, 17), (16, 8), (25, 10))
BARS = tuple((2 * hops // 3, 2 * files // 3) for hops, files in FIRST_COUNTED)
STEP = re.compile(r"`((?:kiosk|hardware)\.[\w.]+)`")


def mapped() -> dict[str, list[list[str]]]:
    """The ways of DEVELOPERS.md by their names: each the runs of steps between which there is an arrow."""
    text = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    ways = {}
    for name, steps in re.findall(r"^- \*\*(.+?):\*\*(.+?)(?=^- \*\*|\Z)",
                                  text[text.index("## Five ways"):text.index("## Seams")], re.DOTALL | re.MULTILINE):
        runs: list[list[str]] = []
        last = 0
        for step in STEP.finditer(steps):
            if steps[last:step.start()].strip() == "→":
                runs[-1].append(step[1])
            else:
                runs.append([step[1]])
            last = step.end()
        ways[name] = runs
    return ways


def gone() -> Traced:
    """A short morning's work in which each of the ways is gone."""
    from tests.support.at_work import AtWork

    with tempfile.TemporaryDirectory() as folder:
        with Traced() as traced, AtWork(Path(folder), settings={"groups": 1}) as work:
            rooms = work.finger.rooms
            work.play(work.hand.order("Double espresso"))
            while work.service.lanes[1].work.guide.step is not Step.PULL:
                work.finger.tap(rooms.open.card(1).next_text)
                work.frames(3)
            work.hand.bar.dose(work.service.lanes[1].work.guide.recipe.dose_g)
            work.hand.scale.put_on(CUP_G)
            work.frames(24)
            work.service.tap(1, guides.Forward)
            work.hand.bar.begin_pull(basket=DOUBLE)
            work.until(lambda: work.service.lanes[1].work.guide.drop_at_s is not None)
            work.frames(12)                 # stopped so early, it gushed, and is diagnosed
            work.hand.bar.stop_pump(work.service.clock.s() - work.service.lanes[1].work.guide.pump_on_at_s)
            for _ in range(2):
                work.service.tap(1, guides.Forward)
            rooms.unlock("today")
            work.settle_threads()
            rooms.go("setup")
            work.frames(12)
            work.finger.tap("Show")
            work.frames(12)
            work.finger.tap("+")
            rooms.home()
            work.play(work.hand.order("Double espresso"))
            work.service.tap(1, guides.Forward)
            work.frames(2)
            while work.book.waiting:
                work.frames(1)
        with Book.open(Path(folder), now=work.wall) as book, traced:
            Station.open(book, work.clock)
    return traced


def hops(traced: Traced, runs: list[list[str]]) -> list[str]:
    """Every function on the way, in turn. Raises LookupError where a step is not reached."""
    found: list[str] = []
    for run in runs:
        if run[0] not in traced.calls:
            raise LookupError(f"{run[0]} was not called")
        for place, step in enumerate(run):
            way = (step,) if place == 0 else next(
                (way for before in reversed(run[:place]) if (way := traced.way(before, step)) is not None), None)
            if way is None:
                raise LookupError(f"{step} is not reached from {' or '.join(reversed(run[:place]))}")
            found += [each for each in way if each not in found]
    return found


def file_of(function: str) -> str:
    parts = function.split(".")
    return next("/".join(parts[:n]) for n in range(len(parts), 0, -1) if (ROOT / "/".join(parts[:n])).with_suffix(".py").exists())


def figures(traced: Traced) -> dict[str, tuple[int, int]]:
    """(hops, files) of each way."""
    found = {name: hops(traced, runs) for name, runs in mapped().items()}
    return {name: (len(way), len({file_of(each) for each in way})) for name, way in found.items()}


def campaign() -> int:
    bars, traced = Bars("Five ways through the code"), gone()
    for (name, runs), (most, most_files) in zip(mapped().items(), BARS):
        way = hops(traced, runs)
        for each in way:
            print(f"       {each}")
        bars.below(f"{name}: hops", len(way), most)
        bars.below(f"{name}: files", len({file_of(each) for each in way}), most_files)
    return bars.end()


if __name__ == "__main__":
    display.prepare(Path(tempfile.mkdtemp()), offscreen=True)
    raise SystemExit(campaign())
