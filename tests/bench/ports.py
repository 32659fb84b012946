"""Addresses that are no scale: `python -m tests.bench.ports`.

Fifty of schemes that are not opened, and whatever else may be typed where a port is asked for: devices that are no ports, a
file, a pipe, a folder, links, a socket where nobody answers. A scale's own thread tries each for a while, and is closed. Bars: no
file is written or made, each is told of in a sentence, the thread ends in time, and none of them keeps a processor busy.
"""

import logging
import os
import sys
import tempfile
import time
from pathlib import Path

from hardware.scale import CONNECTED, Scale
from tests.bench.bars import Bars

SCHEMES = ("spy", "SPY", "hwgrep", "alt", "cp2110", "file", "http", "ftp", "socket2", "")
PATHS = ("{path}", "/dev/ttyS9?file={path}", "loop://?file={path}", "/dev/ttyUSB0?file={path}&all", "x?logging=debug")
REFUSED = tuple(f"{scheme}://{path}" for scheme in SCHEMES for path in PATHS)
OTHERS = ("{path}", "{folder}", "{folder}/pipe", "{folder}/link", "{folder}/link to nothing", "{folder}/gone", "/dev/null", "/dev/zero",
          "/dev/full", "/dev/urandom", "/dev/ttyS99", "/dev/stdin", "/proc/self/mem", "COM3", " ", "9" * 5000, "nul\0sign",
          "socket://127.0.0.1:1", "socket://", "socket://{path}", "socket://127.0.0.1:1?logging={path}", "rfc2217://127.0.0.1:1",
          "rfc2217://127.0.0.1:1?ign_set_control&file={path}", "loop://?logging={path}", "LOOP://?file={path}")
TRIED_S, ENDS_S = 0.6, 1.0
BUSY = 0.1              # of a processor


def laid_out(folder: Path) -> Path:
    """A past day, and what may lie beside it."""
    victim = folder / "victim"
    victim.write_bytes(b"a past day")
    os.mkfifo(folder / "pipe")
    (folder / "link").symlink_to(victim)
    (folder / "link to nothing").symlink_to(folder / "nothing")
    return victim


def found_in(folder: Path) -> dict[str, bytes | None]:
    return {str(path): path.read_bytes() if path.is_file() else None for path in folder.rglob("*")}


def campaign(urls: tuple[str, ...] = REFUSED + OTHERS) -> Bars:
    bars = Bars(f"{len(urls)} addresses that are no scale")
    written = untold = 0
    slowest_s = busiest = 0.0
    with tempfile.TemporaryDirectory() as at:
        folder = Path(at)
        victim = laid_out(folder)
        before = found_in(folder)
        for url in urls:
            url = url.format(path=victim, folder=folder)
            scale, busy_s, began_s = Scale(url), time.process_time(), time.monotonic()
            scale.start()
            time.sleep(TRIED_S)
            busy = (time.process_time() - busy_s) / (time.monotonic() - began_s)
            health = scale.health
            closing_s = time.monotonic()
            scale.close()
            took_s = time.monotonic() - closing_s
            slowest_s, busiest = max(slowest_s, took_s), max(busiest, busy)
            told = health.words.endswith(("by taps.", "Is the scale on?")) and (health.state != CONNECTED or "loop" in url.lower())
            untold += not told
            changed = found_in(folder) != before
            written += changed
            if changed or not told or took_s > ENDS_S or busy > BUSY:
                print(f"  {url[:60]!r}: {health.words[:90]} {took_s:.1f} s to end, {busy:.0%} of a processor, written: {changed}")
    bars.below("that wrote or made a file", written, 0)
    bars.below("not told of", untold, 0)
    bars.below("until the thread had ended, at most, s", slowest_s, ENDS_S)
    bars.below("of a processor, at most", busiest, BUSY)
    return bars


if __name__ == "__main__":
    logging.disable()
    sys.exit(campaign().end())
