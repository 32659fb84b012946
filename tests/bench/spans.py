"""Reports over long spans: `python -m tests.bench.spans [BOOK]`.

A book of two years and two bars, the demo's fortnight over and over (about 272,000 pulls), is asked for 1, 7, 28, 105, 365
and 730 days of its own bar as text, JSON, CSV and page, and for a year of the bar taken in, each by the command itself in a
process of its own. Bars: all end with 0, and up to a year takes no
more than 3 s of a processor, the start of Python included; beside it the seconds on the wall, which others on the machine
lengthen. Takes about four minutes, most of it to write the book; it stays in BOOK where that is named.
"""

import os
import subprocess
import sys
import tempfile
import time
from datetime import timedelta
from pathlib import Path

from tests.bench.bars import Bars
from tests.support.demo_years import LAST, fill

SPANS = 1, 7, 28, 105, 365, 730
FORMS = "text", "json", "csv", "html"
YEAR, YEAR_S = 365, 3.0
BESIDE = "Harbour"      # the bar that was taken in


def asked(book: Path, days: int, form: str, folder: Path, station: str = "") -> tuple[int, float, float, int]:
    """What the command ended with, its seconds of a processor and on the wall, and the bytes it gave."""
    to = folder / f"{days}.{form}"
    argv = [sys.executable, "-m", "kiosk", "report", "--book", str(book), "--day", (LAST - timedelta(days=days - 1)).isoformat(),
            "--to", LAST.isoformat(), *(("--station", station) if station else ()), *({"text": (), "html": ("--html", str(to))}.get(form, (f"--{form}",)))]
    began = time.perf_counter()
    with open(os.devnull if form == "html" else to, "wb") as out:
        process = subprocess.Popen(argv, stdout=out)
        _, status, used = os.wait4(process.pid, 0)
    return os.waitstatus_to_exitcode(status), used.ru_utime + used.ru_stime, time.perf_counter() - began, to.stat().st_size


def main(argv: list[str]) -> int:
    bars = Bars("Reports over long spans")
    with tempfile.TemporaryDirectory() as made_in:
        folder = Path(made_in)
        book = Path(argv[0]) if argv else folder / "book"
        if not (book / "days").is_dir():
            fill(book, SPANS[-1], beside=BESIDE)
        for days, form, of in (*((days, form, "") for days in SPANS for form in FORMS), (YEAR, "text", BESIDE), (YEAR, "html", BESIDE)):
            code, used_s, wall_s, size = asked(book, days, form, folder, of)
            name = f"{days} days{of and ' of '}{of} as {form}"
            bars.below(f"{name}: ended with", code, 0)
            told = f"{name}, {size / 1000:.0f} kB, {wall_s:.1f} s on the wall: processor seconds"
            if days <= YEAR:
                bars.below(told, used_s, YEAR_S)
            else:
                print(f"        {told}: {used_s:.3g}  (no bar)")
    return bars.end()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
