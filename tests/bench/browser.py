"""The evening's page in a real browser: `python -m tests.bench.browser [FOLDER]`. Needs `chromium` (apt-get install
chromium).

Opens a late day of the demo, its last week and an empty day, light and dark, and prints each on A4. Bars: no message
on the console, and every sheet of paper is A4. The pictures and PDFs stay in FOLDER, to be looked at.
"""

import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from kiosk.bar.evening.evening import evening
from kiosk.commands import report
from kiosk.page import page
from tests.bench.bars import Bars

SCHEMES = {"light": 1, "dark": 0}          # Blink's own numbers for what the reader prefers


def main(argv: list[str]) -> int:
    browser = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if browser is None:
        print("There is no browser here. Install one: apt-get install chromium")
        return 2
    folder = Path(argv[0]) if argv else Path(tempfile.mkdtemp(prefix="evenpull-browser-"))
    folder.mkdir(parents=True, exist_ok=True)
    report.run(["--demo", "--day", "2026-10-24", "--weeks", "--html", str(folder / "day.html")])
    report.run(["--demo", "--week", "2026-W44", "--weeks", "--html", str(folder / "week.html")])
    (folder / "empty.html").write_text(page(evening([], "2026-10-23"), "The Tin Lantern"), encoding="utf-8")
    bars = Bars("The page in a browser")
    for name in ("day", "week", "empty"):
        said = []
        for scheme, number in SCHEMES.items():
            said += _run(browser, folder, name, f"--screenshot={folder / name}-{scheme}.png", "--window-size=1000,3000",
                         f"--blink-settings=preferredColorScheme={number}")
        said += _run(browser, folder, name, f"--print-to-pdf={folder / name}.pdf", "--no-pdf-header-footer")
        bars.below(f"{name}: messages on the console", len(said), 0)
        for line in said[:5]:
            print(f"    {line}")
        bars.above(f"{name}: pictures and paper made", sum((folder / file).exists() for file in (
            f"{name}-light.png", f"{name}-dark.png", f"{name}.pdf")), 3)
        bars.above(f"{name}: sheets of A4 among its sheets", _a4(folder / f"{name}.pdf"), 1)
    print(f"  They are in {folder}")
    return bars.end()


def _run(browser: str, folder: Path, name: str, *flags: str) -> list[str]:
    """What the page said on the browser's console."""
    done = subprocess.run(
        [browser, "--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={folder / 'profile'}",
         "--hide-scrollbars",
         "--enable-logging=stderr", "--log-level=0", *flags, (folder / f"{name}.html").resolve().as_uri()],
        capture_output=True, text=True, timeout=120, check=True)
    return [line for line in done.stderr.splitlines() if "CONSOLE" in line]


def _a4(pdf: Path) -> float:
    """The share of a PDF's sheets that are A4, 595 by 842 points (ISO 216)."""
    boxes = re.findall(rb"/MediaBox\s*\[\s*0\s+0\s+([\d.]+)\s+([\d.]+)", pdf.read_bytes())
    return sum(abs(float(w) - 595.28) < 2 and abs(float(h) - 841.89) < 2 for w, h in boxes) / max(1, len(boxes))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
