"""A disk that takes its time, on the real screens: `python -m tests.bench.slow_disk`.

Each sync of the disk takes 0, 0.2, 2 or 10 s, or never ends: once by a `Disk` of the book's own and once by a library that is
preloaded under the whole process (needs a C compiler). A pull is weighed in one lane while another is binned beside it. Bars:
frames are drawn as ever, the stop cue falls within 0.1 s of its moment on a fast disk, and what was kept is there once the
disk answers; what hangs is told.
"""

import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from kiosk import display
from tests.bench.bars import Bars

SYNCS_S = (0.0, 0.2, 2.0, 10.0)
HANGS_S = 1e6
LIBRARY = """
#include <unistd.h>
#include <stdlib.h>
static void wait_(void) {
    const char *path = getenv("SLOW_SYNC_FILE");
    for (double waited = 0;; waited += 0.02) {
        FILE_READ
        if (waited >= seconds) return;
        usleep(20000);
    }
}
int fsync(int file) { wait_(); sync(); return 0; }
int fdatasync(int file) { wait_(); sync(); return 0; }
"""
READ = """double seconds = 0; FILE *f = path ? fopen(path, "r") : 0;
        if (f) { if (fscanf(f, "%lf", &seconds) != 1) seconds = 0; fclose(f); }"""


def built(folder: Path) -> Path:
    """The library: each sync takes as many seconds as the file that SLOW_SYNC_FILE names says."""
    (folder / "slow.c").write_text("#include <stdio.h>\n" + LIBRARY.replace("FILE_READ", READ))
    subprocess.run(["cc", "-shared", "-fPIC", "-O", "-o", folder / "slow.so", folder / "slow.c"], check=True)
    return folder / "slow.so"


def serve(folder: Path, sync_s: float, says: Path | None) -> dict[str, float]:
    """The child: what frames and cue were like with such a disk, and what of the records was there in the end."""
    from kivy.base import EventLoop

    from kiosk.bar.guide import guide as guides
    from kiosk.bar.model import Pull
    from kiosk.book import Book
    from kiosk.book.disk import Disk
    from tests.support.at_work import AtWork
    from tests.support.failing_disk import Slow

    disk = Disk() if says else Slow()

    def slow_down(seconds: float) -> None:
        if says:
            says.write_text(f"{seconds}")
        elif seconds >= HANGS_S:
            disk.hangs = True
        else:
            disk.takes_s, disk.hangs = seconds, False

    slow_down(0.0)
    frames: list[float] = []
    with AtWork(folder / "book", settings={"groups": 2}, disk=disk, behind=True) as work:
        tick = work.kiosk.tick

        def timed():
            began = time.perf_counter()
            tick()
            EventLoop.idle()
            frames.append((time.perf_counter() - began) * 1000)

        work.kiosk.tick = timed
        slow_down(sync_s)
        work.service.orders.take(((work.service.setup.menu[1], 2),))

        def bin_the_other():
            work.service.tap(2, guides.Bin, "spilt")

        key = work.service.lanes[1].work.key
        seen = {}
        course = work.hand.pull(1, gone=bin_the_other)
        for _ in course:
            work.frame()
            now = work.service.lanes[1].work
            if now is not None and now.key == key and now.cue_at_s is not None and "cue" not in seen:
                seen["cue"] = now.cue_at_s - now.guide.pump_on_at_s
        told = ""
        until = time.monotonic() + (7 if sync_s >= HANGS_S else 0)
        while not told and time.monotonic() < until:
            work.frame()
            time.sleep(0.01)
            told = work.book.trouble or ""
        slow_down(0.0)
        work.until(lambda: not work.book.waiting or time.sleep(0.01), 3600)
    with Book.open(folder / "book", read_only=True) as again:
        kept = len(again.day(again.days()[-1]).of(Pull))
    return {"p99_ms": sorted(frames)[int(0.99 * len(frames))], "cue_s": seen["cue"], "pulls": kept, "told": bool(told)}


def child(sync_s: float, library: Path | None) -> dict[str, float]:
    with tempfile.TemporaryDirectory() as folder:
        says = Path(folder) / "seconds"
        more = {"LD_PRELOAD": str(library), "SLOW_SYNC_FILE": str(says)} if library else {}
        done = subprocess.run([sys.executable, "-m", "tests.bench.slow_disk", "--serve", folder, str(sync_s), str(says) if library else ""],
                              env=os.environ | more, capture_output=True, text=True, check=True)
        return json.loads(done.stdout.splitlines()[-1])


def campaign(syncs: tuple[float, ...] = (*SYNCS_S, HANGS_S)) -> Bars:
    bars = Bars("Disks that take their time")
    with tempfile.TemporaryDirectory() as folder:
        for by, library in (("a Disk", None), ("a preloaded library", built(Path(folder)))):
            moment_s = None
            for sync_s in syncs:
                found = child(sync_s, library)
                moment_s = found["cue_s"] if moment_s is None else moment_s
                what = f"{by}, " + ("syncs that hang" if sync_s >= HANGS_S else f"{sync_s:g} s a sync")
                bars.below(f"{what}: a frame, 99 of 100, ms", found["p99_ms"], 50)
                bars.below(f"{what}: the cue off its moment, s", abs(found["cue_s"] - moment_s), 0.1)
                bars.above(f"{what}: pulls there once it answers, of the served and the binned", found["pulls"], 2)
                if sync_s >= HANGS_S:
                    bars.above(f"{what}: told", found["told"], 1)
    return bars


if __name__ == "__main__":
    if sys.argv[1:2] == ["--serve"]:
        display.prepare(Path(tempfile.mkdtemp()), offscreen=True)
        at, seconds, file = sys.argv[2:5]
        sys.argv = sys.argv[:1]
        print(json.dumps(serve(Path(at), float(seconds), Path(file) if file else None)))
    else:
        sys.exit(campaign().end())
