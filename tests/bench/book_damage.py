"""What is left of a book whose files were damaged: flipped bits, cut and lost files, swapped, zeroed, repeated and
missing blocks.

    python -m tests.bench.book_damage [ROUNDS] [SEED]
"""

import logging
import shutil
import sys
import tempfile
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

from kiosk.bar.model import Corrected, GuideEvent, Noted
from kiosk.book import Book
from kiosk.book.sums import day_sums
from tests.support.bar_of_the_book import WallClock, a_pull
from tests.support.failing_disk import Unwaited

DAYS = 6   # more than are remembered by number alone


@dataclass
class Outcome:
    """`crashes`: opening or reading raised. `wrong`: a record, setting, memory or sum that was never kept. `unnamed`:
    losses that no notice and no count told. `invented`: losses told of a book that lost nothing."""

    rounds: int = 0
    crashes: int = 0
    wrong: int = 0
    unnamed: int = 0
    invented: int = 0
    lost: int = 0
    kinds: Counter = field(default_factory=Counter)
    first: str = ""

    @property
    def holds(self) -> bool:
        return self.rounds > 0 and not (self.crashes or self.wrong or self.unnamed or self.invented)

    def amiss(self, what: str, story: str) -> None:
        setattr(self, what, getattr(self, what) + 1)
        self.first = self.first or f"{what}: {story}"

    def __str__(self) -> str:
        lines = [f"{'PASS ' if self.holds else 'SHORT'}  {self.rounds} damages: {self.crashes} crashes, "
                 f"{self.wrong} with anything wrong, {self.unnamed} with a loss unnamed, "
                 f"{self.invented} with a loss invented  (bar: 0 of each)",
                 f"       records lost in all, each named: {self.lost}; damages: "
                 + ", ".join(f"{count} {kind}" for kind, count in sorted(self.kinds.items()))]
        return "\n".join(lines + ([f"       first: {self.first}"] if self.first else []))


def a_small_bar(folder: Path, chance: Random) -> tuple[WallClock, dict, dict]:
    """Days of records of every weight, settings and a memory: the clock at its end, records by day, settings."""
    clock = WallClock()
    for _ in range(DAYS):
        with Book.open(folder, now=clock, disk=Unwaited()) as book:
            for _n in range(12):
                pull = a_pull(book, trace=tuple((k / 10, k / 5) for k in range(chance.randrange(120))))
                tap = GuideEvent(id=book.new_id(), at=book.at(), pull_id=pull.id, event={"step": "dose"})
                book.keep_all([tap, pull])
            book.keep(Corrected(id=book.new_id(), at=book.at(), of=pull.id, changes={"dose_g": 15.5}))
            book.keep(Noted(id=book.new_id(), at=book.at(), what="beans", facts={"kg": chance.random()}))
            book.set_setting(f"staff.Person {book.day_now()}", {"language": "en"})
            book.remember("watch", {"mean_s": 25.25})
        clock.pass_by(days=1)
    clock.pass_by(days=-1)
    with Book.open(folder, now=clock, disk=Unwaited()) as book:
        book.sums("", "9999-12-31")
        return clock, {day: book.day(day).raw for day in book.days()}, book.settings


def damaged(data: bytes, chance: Random) -> tuple[str, bytes | None]:
    """A damage drawn, and what it leaves of `data`."""
    held = bytearray(data)
    kind = chance.choice(("bits", "cut", "swapped", "zeroed", "repeated", "missing", "cut at a line",
                          "garbage at the end", "file gone"))
    block = chance.choice((16, 64, 512, 4096))
    at = chance.randrange(max(1, len(held)))
    if kind == "bits":
        for _ in range(chance.choice((1, 1, 2, 8, 64))):
            where = chance.randrange(max(1, len(held)))
            held[where:where + 1] = bytes(byte ^ 1 << chance.randrange(8) for byte in held[where:where + 1])
    elif kind == "cut":
        del held[at:]
    elif kind == "swapped":
        other = chance.randrange(max(1, len(held)))
        at, other = sorted((at // block * block, other // block * block))
        if other > at:
            one, two = held[at:at + block], held[other:other + block]
            held[:] = held[:at] + two + held[at + block:other] + one + held[other + block:]
    elif kind == "zeroed":
        held[at:at + block] = bytes(len(held[at:at + block]))
    elif kind == "repeated":
        held[at:at] = held[at:at + block]
    elif kind == "missing":
        del held[at:at + block]
    elif kind == "cut at a line":
        del held[data.rfind(b"\n", 0, at) + 1:]
    elif kind == "file gone":
        return kind, None
    else:
        held += chance.randbytes(block)
    return kind, bytes(held)


def campaign(folder: Path, rounds: int, seed: int) -> Outcome:
    """Damage one file of a good book at a time, open it, and hold all that it serves against what was kept."""
    chance, outcome = Random(seed), Outcome()
    good, bad = folder / "good", folder / "bad"
    clock, kept, settings = a_small_bar(good, chance)
    files = [path.relative_to(good) for path in sorted(good.rglob("*")) if path.is_file() and path.name != "lock"]
    files += [path for path in files if path.parts[0] == "days"] * 3
    for _ in range(rounds):
        shutil.rmtree(bad, ignore_errors=True)
        shutil.copytree(good, bad)
        name = chance.choice(files)
        kind, left = damaged((good / name).read_bytes(), chance)
        if left is None:
            (bad / name).unlink()
        else:
            (bad / name).write_bytes(left)
        outcome.rounds += 1
        outcome.kinds[kind] += 1
        story = f"round {outcome.rounds}, {kind} in {name}"
        try:
            for opening in range(2):
                with Book.open(bad, now=clock, disk=Unwaited()) as book:
                    _hold_against(book, kept, settings, opening, outcome, story)
                    if opening == 0:
                        more = a_pull(book)
                        book.keep(more)
                        kept_now = {day: book.day(day).raw for day in book.days()}
                    elif book.find(more.id) != more or {day: book.day(day).raw for day in book.days()} != kept_now:
                        outcome.amiss("wrong", f"{story}: not the same at the second opening")
        except Exception as error:
            outcome.amiss("crashes", f"{story}: {error!r}")
    return outcome


def _hold_against(book: Book, kept, settings, opening: int, outcome: Outcome, story: str) -> None:
    for day, records in kept.items():
        view = book.day(day)
        served, new = list(view.raw), len(view.raw) if day == book.day_now() and opening else 0
        if new:
            served.pop()
        in_turn = iter(records)
        if not all(any(one == other for other in in_turn) for one in served):
            outcome.amiss("wrong", f"{story}: {day} serves what was never kept, or out of turn")
        lost = len(records) - len(served)
        if opening == 0:
            outcome.lost += lost
        told = opening or any(day in sentence and "lost" in sentence for sentence in book.notices)
        if lost > view.lost or lost and not told:
            outcome.amiss("unnamed", f"{story}: {day} lost {lost}, told {view.lost}")
        if view.lost > lost:
            outcome.amiss("invented", f"{story}: {day} lost {lost}, told {view.lost}")
        if book.sums(day, day) and book.sums(day, day)[0] != day_sums(view):
            outcome.amiss("wrong", f"{story}: the sums of {day}")
    if book.settings != settings:
        outcome.amiss("wrong", f"{story}: settings {book.settings}")
    if book.memory("watch") not in (None, {"mean_s": 25.25}):
        outcome.amiss("wrong", f"{story}: memory")
    if set(book.days()) != set(kept):
        outcome.amiss("wrong", f"{story}: the days {book.days()}")


def main(rounds: int = 1000, seed: int = 1) -> int:
    logging.disable()
    with tempfile.TemporaryDirectory() as folder:
        outcome = campaign(Path(folder), rounds, seed)
    print(outcome)
    return 0 if outcome.holds else 1


if __name__ == "__main__":
    sys.exit(main(*map(int, sys.argv[1:])))
