"""Every room beside what it was: `python -m tests.bench.since REVISION FOLDER [WxH …]`.

Draws the rooms of an earlier revision and those that stand here now, two groups, English and German, with each one's own walk
(`tests.bench.screens`), and lays them side by side as `tests.bench.eyes` does: before over after; as it is, blurred, and as three
kinds of colour-blind eyes have it. Two minutes a size on a quiet processor.

Bar: at each size and in each language as many rooms are drawn as at any other, and half of them or more stand beside what they
were: a room that was renamed, or is new, has nothing to stand beside.
"""

import os
import subprocess
import sys
import tarfile
import tempfile
from io import BytesIO
from pathlib import Path

from tests.bench import eyes
from tests.bench.bars import Bars
from tests.bench.screens import SIZES

HERE = Path(__file__).resolve().parents[2]
LANGUAGES = ("en", "de")
GROUPS = 2
BESIDE = 0.5            # of the rooms


def revision(name: str, folder: Path) -> Path:
    """What that revision held, in `folder`. Raises SystemExit with the sentence to show where there is none."""
    packed = subprocess.run(["git", "archive", name], cwd=HERE, capture_output=True)
    if packed.returncode:
        raise SystemExit(f"There is no revision {name!r} here: {packed.stderr.decode().strip()}")
    with tarfile.open(fileobj=BytesIO(packed.stdout)) as tree:
        tree.extractall(folder, filter="data")
    return folder


def draw(tree: Path, folder: Path, size: str, language: str) -> None:
    """The rooms of that tree, at one size and in one language, into `folder`."""
    folder.mkdir(parents=True, exist_ok=True)
    subprocess.run([sys.executable, "-m", "tests.bench.screens", "--one", str(folder), *size.split("x"), str(GROUPS), language],
                   cwd=tree, env=os.environ | {"PYTHONPATH": str(tree)}, capture_output=True)


def main(argv: list[str]) -> int:
    if len(argv) < 2:
        raise SystemExit(__doc__)
    name, folder, *sizes = argv
    folder = Path(folder).resolve()
    drawn = {}
    with tempfile.TemporaryDirectory() as before:
        was = revision(name, Path(before))
        for size in sizes or ["x".join(map(str, each)) for each in SIZES]:
            for language in LANGUAGES:
                for tree, into in ((was, folder / "before"), (HERE, folder / "after")):
                    draw(tree, into, size, language)
                old, new = (eyes.rooms(folder / each, f"{size}-{GROUPS}-{language}") for each in ("before", "after"))
                for room, path in new.items():
                    eyes.side_by_side(old.get(room), path, folder / f"{room}.jpg")
                drawn[f"{size}, {language}"] = len(new), len(new.keys() & old.keys())
    bars, every = Bars(f"Every room beside what it was at {name}, in {folder}"), max(new for new, _both in drawn.values())
    for where, (new, both) in drawn.items():
        bars.above(f"{where}: rooms drawn", new, max(1, every))
        bars.above(f"{where}: of them beside what they were", both, max(1, BESIDE * new))
    return bars.end()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
