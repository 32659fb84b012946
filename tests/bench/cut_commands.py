"""Commands on a book killed at each system call that writes: `python -m tests.bench.cut_commands [COMMAND …]`.

Needs strace (Debian's package), which kills the real command at the n-th write, sync, rename, removal or new folder, for each
n until the command ends by itself. Bars: no record is lost or doubled, nothing is half done (a book, an export and a
backup are the old ones or the new ones, a forgetting is finished at the next start or was not begun), and the command
given again does its work. Takes about ten minutes.
"""

import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

from kiosk.book import Book
from kiosk.book.backup import back_up, restore
from kiosk.book.exchange import export
from tests.bench.bars import Bars
from tests.support.bar_of_the_book import MORNING, WallClock, a_pull
from tests.support.failing_disk import Unwaited

CALLS = ("write", "pwrite64", "fsync", "fdatasync", "rename", "renameat", "renameat2", "unlink", "unlinkat", "mkdir", "rmdir",
         "link", "symlink", "ftruncate")
NAME = "Ada Lovelock"
ROOT = Path(__file__).parents[2]
Held = dict[str, object]


def a_book(folder: Path, days: int, who: str = NAME) -> None:
    clock = WallClock()
    for _ in range(days):
        with Book.open(folder, now=clock, disk=Unwaited()) as book:
            book.set_setting(f"staff.{who}", {})
            for n in range(4):
                book.keep(a_pull(book, barista=who if n % 2 else "Tomo", trace=((0.0, 0.0), (5.0, 1.0))))
        clock.pass_by(days=1)


def held(folder: Path) -> tuple[Held, bool]:
    """Every record by its id, and whether each is there once. Opened to write, as the next start does."""
    clock = WallClock()
    clock.pass_by(days=5)
    with Book.open(folder, now=clock) as book:
        raw = [each for day in book.days() for each in book.day(day).raw]
        return {each.id: each for each in raw}, len({each.id for each in raw}) == len(raw)


def run(command: list[str], kill: str = "") -> int:
    traced = ["strace", "-f", "-qqq", "-o", "/dev/null", "-e", f"inject={kill}"] if kill else []
    done = subprocess.run([*traced, sys.executable, "-m", "kiosk", *command], cwd=ROOT, capture_output=True,
                          env=os.environ | {"PYTHONDONTWRITEBYTECODE": "1"})
    return done.returncode


class Bench:
    """A folder laid out once; each round has a copy of its own."""

    def __init__(self, at: Path):
        self.at = at
        base = at / "base"
        a_book(base / "book", 3)
        a_book(base / "other", 2, "Bo")
        clock = WallClock()
        clock.pass_by(days=5)
        with Book.open(base / "other", now=clock) as book:
            export(book, base / "other.jsonl", "jsonl")
        with Book.open(base / "book", now=clock) as book:
            (base / "stick").mkdir()
            self.backup = back_up(base / "book", base / "stick", MORNING)
            export(book, base / "whole.jsonl", "jsonl")
        (base / "out.jsonl").write_bytes(b"".join((base / "whole.jsonl").read_bytes().splitlines(True)[:5]))
        self.mine, _ = held(base / "book")
        self.others, _ = held(base / "other")
        self.base = base

    def fresh(self) -> Path:
        here = self.at / "here"
        shutil.rmtree(here, ignore_errors=True)
        shutil.copytree(self.base, here, symlinks=True)
        return here

    # ---- what each command is, and what must hold after it was killed --------------------------------------------

    def backups(self, here: Path) -> bool:
        whole = True
        for n, each in enumerate((here / "stick").glob("*.zip")):
            restore(each, here / f"again-{n}", MORNING)
            whole &= held(here / f"again-{n}") == (self.mine, True)
        return whole and held(here / "book") == (self.mine, True) and run(self.command("backup", here)) == 0

    def exports(self, here: Path) -> bool:
        found = (here / "out.jsonl").read_bytes()
        return (found in ((self.base / "out.jsonl").read_bytes(), (self.base / "whole.jsonl").read_bytes())
                and held(here / "book") == (self.mine, True) and run(self.command("export", here)) == 0
                and (here / "out.jsonl").read_bytes() == (self.base / "whole.jsonl").read_bytes())

    def imports(self, here: Path) -> bool:
        found, once = held(here / "book")
        partly = once and self.mine.items() <= found.items()
        if run(self.command("import", here)) != 0:
            return False
        after, once = held(here / "book")
        return partly and once and self.mine.items() <= after.items() and len(after) - len(self.mine) >= 8

    def forgets(self, here: Path) -> bool:
        found, once = held(here / "book")
        named = sum(getattr(each, "barista", None) == NAME for each in found.values())
        if not once or named not in (0, 6) or len(found) < len(self.mine):
            return False
        again = run(self.command("forget", here))
        left = [path for path in (here / "book").rglob("*") if path.is_file() and NAME.encode() in path.read_bytes()]
        return again in (0, 2) and not left and held(here / "book")[1]

    def restores(self, here: Path) -> bool:
        found, once = held(here / "other")
        return (once and found in (self.others, self.mine) and run(self.command("restore", here)) == 0
                and held(here / "other") == (self.mine, True))

    def command(self, name: str, here: Path) -> list[str]:
        book = ["--book", str(here / "book")]
        return {"backup": ["backup", *book, str(here / "stick")], "export": ["export", "--as", "jsonl", *book, str(here / "out.jsonl")],
                "import": ["import", *book, str(here / "other.jsonl")], "forget": ["forget", *book, NAME],
                "restore": ["restore", "--same", "--book", str(here / "other"), str(here / "stick" / self.backup.name)]}[name]

    def check(self, name: str) -> Callable[[Path], bool]:
        return {"backup": self.backups, "export": self.exports, "import": self.imports, "forget": self.forgets,
                "restore": self.restores}[name]


def campaign(names: tuple[str, ...]) -> Bars:
    bars = Bars("Commands killed at each system call that writes")
    with tempfile.TemporaryDirectory() as folder:
        bench = Bench(Path(folder))
        for name in names:
            kills, wrong = 0, []
            for call in CALLS:
                n = 1
                while True:
                    here = bench.fresh()
                    if run(bench.command(name, here), f"{call}:signal=KILL:when={n}") not in (-9, 137):
                        break
                    kills += 1
                    try:
                        whole = bench.check(name)(here)
                    except Exception as error:
                        whole = False
                        print(f"  {name}, {call} {n}: {type(error).__name__}: {error}", flush=True)
                    if not whole:
                        wrong.append(f"{call} {n}")
                    n += 1
            if wrong:
                print(f"  {name} amiss after:", ", ".join(wrong[:12]))
            bars.above(f"{name}: kills", kills, 5)
            bars.below(f"{name}: lost, doubled, half done or not to be done again", len(wrong), 0)
    return bars


if __name__ == "__main__":
    sys.exit(campaign(tuple(sys.argv[1:]) or ("backup", "export", "import", "forget", "restore")).end())
