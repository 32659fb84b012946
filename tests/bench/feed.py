"""Ten hours of readings at 20 Hz, replayed as one feed: does memory stay flat? `python -m tests.bench.feed`.

A pull every 90 s (dose on the scale, lock in, pump, stop), read as text and run through the same lines, frames and
watches as live; then the same readings with no deed at all: each pull is found in the readings alone.
"""

import argparse
import resource
import time
from collections.abc import Iterator
from random import Random

from kiosk.bar.model import usual
from kiosk.bar.weighing import ToldPull
from kiosk.commands.replay import Replay, ReplayedLine
from kiosk.station.feed import OPENING, Done, Header, HeardLine, read, written
from tests.bench.bars import Bars
from tests.bench.group import DT_S, Group, Pour

RATE_HZ, EVERY_S, STOP_S = 20, 90, 25.0
EMPTY_G, CUP_G, DOSE_G = 540.0, 160.0, 16.1
LEAK_MB_PER_HOUR = 0.1


def cup(seed: int) -> list[float]:
    """Grams in the cup at each reading from pump on, for 50 s."""
    chance = Random(seed)
    pour, grams = Pour(Group.drawn(chance), chance), []
    for step in range(round(50 / DT_S)):
        pour.step()
        if step == round(STOP_S / DT_S):
            pour.stop()
        if step % round(1 / RATE_HZ / DT_S) == 0:
            grams.append(pour.cup_g)
    return grams


def day(hours: float, seed: int, deeds: bool) -> Iterator[str]:
    """The lines of a feed, one by one."""
    chance, cups = Random(seed), [cup(seed + i) for i in range(3)]
    yield OPENING
    yield written(Header("portafilters", [["left", EMPTY_G]]))
    for number in range(round(hours * 3600 / EVERY_S)):
        began_s, poured = number * EVERY_S, cups[number % 3]
        marks = {0: "dose", 15: "lock in", 20: "pump on", 20 + STOP_S: "pump off"} if deeds else {}
        for i in range(EVERY_S * RATE_HZ):
            in_s = i / RATE_HZ
            if in_s in marks:
                yield written(Done(began_s + in_s, marks[in_s]))
            load_g = EMPTY_G + DOSE_G if 3 <= in_s < 12 else 0.0
            if 16 <= in_s < 69:
                load_g = CUP_G + (poured[min(int((in_s - 20) * RATE_HZ), len(poured) - 1)] if in_s >= 20 else 0.0)
            yield written(HeardLine(began_s + in_s, f"ST,GS,{load_g + chance.gauss(0, 0.03):+09.1f} g".encode()))


def replayed(hours: float, seed: int, deeds: bool) -> tuple[list[float], int, int, float]:
    """(peak memory in MB after each hour, readings kept, pulls with a yield, seconds taken)."""
    peaks, kept, pulls, next_s = [], 0, 0, 3600.0
    began = time.process_time()
    for item in Replay(usual("house", "double")).items(read(day(hours, seed, deeds))):
        match item:
            case ReplayedLine(t_s, _, is_kept):
                kept += is_kept
                if t_s >= next_s:
                    peaks.append(_peak_mb())
                    next_s += 3600.0
            case ToldPull():
                pulls += item.yield_g is not None
    peaks.append(_peak_mb())
    return peaks, kept, pulls, time.process_time() - began


def _peak_mb() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def main(argv: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.feed", description=__doc__)
    parser.add_argument("--hours", type=float, default=10)
    parser.add_argument("--seed", type=int, default=5)
    asked = parser.parse_args(argv)
    bars = Bars(f"{asked.hours:g} hours at {RATE_HZ} readings a second, replayed")
    for deeds, name in ((True, "a pull every 90 s"), (False, "the readings alone")):
        peaks, kept, pulls, took_s = replayed(asked.hours, asked.seed, deeds)
        hours = max(len(peaks) - 1, 1)
        print(f"  {name}: {kept} readings, {pulls} pulls with a yield, {took_s / kept * 1e6:.0f} µs a reading, "
              f"peak memory by the hour, MB: {' '.join(f'{peak:.1f}' for peak in peaks)}")
        gained = (peaks[-1] - peaks[0]) / hours
        bars.below(f"{name}, peak memory gained an hour after the first, MB", gained, LEAK_MB_PER_HOUR)
        bars.above(f"{name}, readings kept, share", kept / (asked.hours * 3600 * RATE_HZ), 0.9999)
        bars.above(f"{name}: pulls whose yield was told, share", pulls / (asked.hours * 3600 / EVERY_S), 1.0)
    return bars.end()


if __name__ == "__main__":
    raise SystemExit(main())
