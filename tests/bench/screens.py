"""Every room × every size × every language, drawn into one folder: `python -m tests.bench.screens FOLDER [WxH …]`.

"longer" is no language but every text 40 % longer. Each size has a process of its own, since a window is made once; the
smallest and the largest are drawn at pixel density 2 as well. Bar: nothing on any of them is too small to touch,
overlaps, lies off the panel or is cut (`tests.support.tour.faults`, on the real widget tree), and density changes no pixel of a
room that stands still.
"""

import filecmp
import os
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.bench.bars import Bars

SIZES = ((800, 480), (1024, 600), (1280, 800), (1920, 1080), (800, 1280))


def draw(folder: Path, width: int, height: int, groups: int, language: str) -> int:
    """Draws one size; the number of faults, each printed."""
    from kiosk import display

    display.prepare(Path(tempfile.mkdtemp()), size=(width, height), offscreen=True)
    from kivy.config import Config

    Config.set("graphics", "maxfps", "0")
    from kivy.core.window import Window

    from kiosk.screens.ui import rooms
    from tests.support import tour
    from tests.support.at_work import AtWork

    named = language
    if language == "longer":
        from tests.support.longer import Longer

        rooms.catalogue = lambda _language: Longer()
        language = "en"
    faults = 0
    with tempfile.TemporaryDirectory() as book:
        settings = tour.SETTINGS | {"groups": groups, "language": language}
        folder = folder.resolve()
        os.chdir(book)              # where a room names a file, it is the same one in every drawing
        with AtWork(Path("book"), scale=False, settings=settings, size=(width, height)) as work:
            for n, name in enumerate(tour.visit(work)):
                for fault in tour.faults(work.kiosk.root):
                    faults += 1
                    print(f"  {width}x{height} {groups} groups {named} {name}: {fault}", flush=True)
                shot = Window.screenshot(str(folder / "shot.png"))
                Path(shot).rename(folder / f"{width}x{height}-{groups}-{named}-{n:02}-{name}.png")
    return faults


def faults(returncode: int) -> float:
    """What a child that drew came back with: how many faults; one that a signal ended drew nothing that can be believed."""
    return float("inf") if returncode < 0 else returncode


def main(argv: list[str]) -> int:
    folder = Path(argv[0]) if argv else Path(tempfile.mkdtemp(prefix="evenpull-screens-"))
    folder.mkdir(parents=True, exist_ok=True)
    sizes = [tuple(int(part) for part in each.split("x")) for each in argv[1:]] or SIZES
    bars = Bars(f"Every screen, drawn into {folder}")
    for width, height in sizes:
        for language in ("en", "de", "longer"):
            for groups in (2, 4):
                drawn = subprocess.run([sys.executable, "-m", "tests.bench.screens", "--one", str(folder), str(width),
                                        str(height), str(groups), language], capture_output=True, text=True)
                print(drawn.stdout, end="")
                if drawn.returncode < 0 or "Traceback" in drawn.stderr:
                    print(drawn.stderr)
                bars.below(f"{width} × {height}, {groups} groups, {language}: faults", faults(drawn.returncode), 0)
    for width, height in sorted({(800, 480), (1920, 1080)} & set(sizes)):
        dense = folder / "density-2"
        dense.mkdir(exist_ok=True)
        one = ["--one", str(dense), str(width), str(height), "2", "en"]
        drawn = subprocess.run([sys.executable, "-m", "tests.bench.screens", *one],
                               env=os.environ | {"KIVY_METRICS_DENSITY": "2"}, capture_output=True)
        bars.below(f"{width} × {height} at density 2: faults", faults(drawn.returncode), 0)
        names = [path.name for path in dense.glob(f"{width}x{height}-*.png")
                 if not any(moving in path.name for moving in ("station", "coach", "practice"))]
        _same, other, missing = filecmp.cmpfiles(folder, dense, names, shallow=False)
        bars.above(f"{width} × {height} at density 2: rooms drawn", len(names), 15)
        bars.below(f"{width} × {height} at density 2: rooms that look otherwise", len(other) + len(missing), 0)
    return bars.end()


if __name__ == "__main__":
    if sys.argv[1:2] == ["--one"]:
        one, where, *numbers, tongue = sys.argv[1:]
        sys.exit(min(100, draw(Path(where), *map(int, numbers), tongue)))
    sys.exit(main(sys.argv[1:]))
