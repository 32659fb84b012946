"""Wall clocks that are wrong: `python -m tests.bench.clocks`.

Three orders are taken; the clock jumps while they wait, in mid-pull, or just after one was served, or is put right in mid-pull,
or the computer comes up in another time zone; then the kiosk starts again and serves what is owed. Bars: no pull and no
order is lost or there twice.
"""

import logging
import sys
import tempfile
from collections.abc import Callable
from itertools import product
from pathlib import Path

from kiosk.bar.guide import Forward
from tests.bench.bars import Bars
from tests.support.wrong_clock import JUMPS, MOMENTS, ZONES, Wall, lost_and_doubled, play


def after(moment: str, what: Callable[[Wall], None]) -> tuple[int, int]:
    """(lost, doubled) where `what` happens at that moment, and then a restart."""
    with tempfile.TemporaryDirectory() as folder:
        work = Wall(Path(folder))
        before = play(work, moment)
        what(work)
        work.restart()
        return lost_and_doubled(work, before)


def put_right(by) -> tuple[int, int]:
    """Wrong from the start, and put right while the pump runs."""
    with tempfile.TemporaryDirectory() as folder:
        work = Wall(Path(folder))
        work.off = by
        work.restart()
        before = play(work, "in mid-pull")
        work.set_by(-by)
        work.service.tap(1, Forward)
        work.restart()
        return lost_and_doubled(work, before)


def campaign() -> Bars:
    bars = Bars("Wall clocks that are wrong, each with a restart")
    for what, found in (
            (f"{len(JUMPS)} jumps × {len(MOMENTS)} moments",
             [after(moment, lambda work: work.set_by(by)) for by, moment in product(JUMPS, MOMENTS)]),
            (f"{len(JUMPS)} wrong clocks put right in mid-pull", [put_right(by) for by in JUMPS]),
            (f"{len(ZONES)} time zones × {len(MOMENTS)} moments",
             [after(moment, lambda work: setattr(work, "zone", zone)) for zone, moment in product(ZONES, MOMENTS)])):
        bars.below(f"{what}: lost", sum(lost for lost, _ in found), 0)
        bars.below(f"{what}: doubled", sum(doubled for _, doubled in found), 0)
    return bars


if __name__ == "__main__":
    logging.disable()
    sys.exit(campaign().end())
