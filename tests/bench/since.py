"""Every room beside what it was: `python -m tests.bench.since REVISION FOLDER [WxH …]`.

Draws the rooms of an earlier revision and those that stand here now, two groups, English and German, with each one's own walk
(`tests.bench.screens`), and lays them side by side as `tests.bench.eyes` does: before over after; as it is, blurred, and as three
kinds of colour-blind eyes have it. Two minutes a size on a quiet processor.

Bar: at each size and in each language as many rooms are drawn as at any other, without a fault, and half of them or more stand
beside what they were: a room that was renamed, or is new, has nothing to stand beside. What an earlier revision had amiss is
printed and no bar.
"""

import os
import shutil
import subprocess
import sys
import tarfile
import tempfile
from io import BytesIO
from pathlib import Path

from kiosk import display
from tests.bench import eyes
from tests.bench.bars import Bars
from tests.bench.screens import SIZES, faults

HERE = Path(__file__).resolve().parents[2]
LANGUAGES = ("en", "de")
GROUPS = 2
BESIDE = 0.5            # of the rooms


def revision(name: str, folder: Path) -> Path:
    """What that revision held, in `folder`. Raises SystemExit with the sentence to show where there is none."""
    try:
        packed = subprocess.run(["git", "archive", name], cwd=HERE, capture_output=True)
    except FileNotFoundError:
        raise SystemExit("git is not on this machine: install it, and compare in a clone.") from None
    if packed.returncode:
        raise SystemExit(f"There is no revision {name!r} here: {packed.stderr.decode().strip()}")
    with tarfile.open(fileobj=BytesIO(packed.stdout)) as tree:
        if hasattr(tarfile, "data_filter"):     # Debian 12's Python has none yet
            tree.extraction_filter = tarfile.data_filter
        tree.extractall(folder)
    return folder


def draw(tree: Path, folder: Path, size: str, language: str) -> float:
    """The rooms of that tree, at one size and in one language, into `folder`; how many faults they have, each printed."""
    drawn = subprocess.run([sys.executable, "-m", "tests.bench.screens", "--one", str(folder), *size.split("x"), str(GROUPS), language],
                           cwd=tree, env=os.environ | {"PYTHONPATH": str(tree)}, capture_output=True, text=True)
    if drawn.returncode:
        print(f"{size}, {language}, drawn into {folder}:\n{drawn.stdout}{drawn.stderr}", flush=True)
    return faults(drawn.returncode)


def main(argv: list[str]) -> int:
    if len(argv) < 2:
        raise SystemExit(__doc__)
    name, folder, *sizes = argv
    folder = Path(folder).resolve()
    drawn, wrong = {}, {}
    with tempfile.TemporaryDirectory() as before:
        was = revision(name, Path(before))
        for each in ("before", "after"):        # what an earlier comparison drew stands for nothing now
            shutil.rmtree(folder / each, ignore_errors=True)
            (folder / each).mkdir(parents=True)
        for size in sizes or ["x".join(map(str, each)) for each in SIZES]:
            for language in LANGUAGES:
                draw(was, folder / "before", size, language)
                wrong[f"{size}, {language}"] = draw(HERE, folder / "after", size, language)
                old, new = (eyes.rooms(folder / each, f"{size}-{GROUPS}-{language}") for each in ("before", "after"))
                for room, path in new.items():
                    eyes.side_by_side(old.get(room), path, folder / f"{room}.jpg")
                drawn[f"{size}, {language}"] = len(new), len(new.keys() & old.keys())
    bars, every = Bars(f"Every room beside what it was at {name}, in {folder}"), max(new for new, _both in drawn.values())
    for where, (new, both) in drawn.items():
        bars.below(f"{where}: faults", wrong[where], 0)
        bars.above(f"{where}: rooms drawn", new, max(1, every))
        bars.above(f"{where}: of them beside what they were", both, max(1, BESIDE * new))
    return bars.end()


if __name__ == "__main__":
    display.prepare(Path(tempfile.mkdtemp()), offscreen=True)
    sys.exit(main(sys.argv[1:]))
