"""What is left of a book that was cut off: by kill -9 under load, by the power within a record, by syncs that fail.

    python -m tests.bench.book_kill [ROUNDS] [SEED]
"""

import logging
import os
import select
import signal
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from random import Random

from kiosk.bar.model import Corrected, GuideEvent, Pull, to_json
from kiosk.book import Book
from kiosk.book.last import LastNumbers
from tests.support.bar_of_the_book import MORNING, WallClock, a_pull, pulled
from tests.support.failing_disk import Forgetful, Unwaited

ROUNDS_A_DAY = 10   # so that a check reads a short day, and new days are begun under fire too


@dataclass
class Outcome:
    what: str
    rounds: int = 0
    confirmed: int = 0
    lost: int = 0
    doubled: int = 0
    wrong: int = 0
    settings_back: int = 0

    @property
    def holds(self) -> bool:
        return self.confirmed > 0 and not (self.lost or self.doubled or self.wrong or self.settings_back)

    def check(self, book: Book, confirmed: dict[str, Pull | None], day: str | None = None) -> None:
        """Every confirmed record once, as it was; nothing else twice, nothing that its maker would not know."""
        held = [kept for each in ([day] if day else book.days()) for kept in book.day(each).raw]
        ids = [kept.id for kept in held]
        self.doubled += len(ids) - len(set(ids))
        by_id = dict(zip(ids, held))
        self.lost += sum(id not in by_id for id in confirmed)
        self.wrong += sum(kept is not None and by_id.get(id, kept) != kept for id, kept in confirmed.items())
        self.wrong += sum(isinstance(kept, Pull) and kept.notes != (kept.id,) for kept in held)

    def __str__(self) -> str:
        return (f"{'PASS ' if self.holds else 'SHORT'}  {self.what}: {self.rounds} rounds, "
                f"{self.confirmed} records confirmed, {self.lost} lost, {self.doubled} doubled, {self.wrong} wrong  "
                "(bar: none lost, doubled or wrong)")


def kills(folder: Path, rounds: int, seed: int) -> Outcome:
    """kill -9 at random moments of a process that keeps records as fast as it can."""
    outcome, chance = Outcome("kill -9 under load"), Random(seed)
    confirmed: dict[str, Pull | None] = {}
    for round in range(rounds):
        day = round // ROUNDS_A_DAY
        if round % ROUNDS_A_DAY == 0:
            confirmed = {}
        told = _killed(folder, day, seed * 100_000 + round, chance)
        settled = max((int(word[1:]) for word in told if word.startswith("=")), default=0)
        ids = [word for word in told if not word.startswith("=")]
        confirmed |= dict.fromkeys(ids)
        with Book.open(folder, now=WallClock(MORNING + timedelta(days=day))) as book:
            outcome.check(book, confirmed, book.day_now())
            outcome.wrong += any("damaged" in sentence for sentence in book.notices)
            outcome.settings_back += settled > book.settings.get("load", 0)
        outcome.rounds += 1
        outcome.confirmed += len(ids)
    return outcome


def _killed(folder: Path, day: int, seed: int, chance: Random) -> list[str]:
    """What the process said was kept before it was killed, at a moment drawn between its start and a while later."""
    command = [sys.executable, "-m", "tests.bench.book_kill", "--load", str(folder), str(day), str(seed)]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, cwd=Path(__file__).parents[2])
    said = b""
    while b"open\n" not in said:
        said += os.read(process.stdout.fileno(), 65536)
    until = time.monotonic() + (chance.uniform(0, 0.01) if chance.random() < 0.2 else chance.uniform(0.01, 0.4))
    while (left := until - time.monotonic()) > 0:
        if select.select([process.stdout], [], [], left)[0]:
            said += os.read(process.stdout.fileno(), 65536)
    os.kill(process.pid, signal.SIGKILL)
    said += process.stdout.read()
    process.wait()
    process.stdout.close()
    return said.rpartition(b"\n")[0].decode().split()[1:]


def load(folder: Path, day: int, seed: int) -> None:
    """Keep records of every kind by every way, saying each id once it is confirmed."""
    chance, last, settled = Random(seed), None, 0
    os.write(1, b"open\n")
    book = Book.open(folder, now=WallClock(MORNING + timedelta(days=day)))
    settled = book.settings.get("load", 0)

    def confirm(*ids):
        os.write(1, "".join(f"{id}\n" for id in ids).encode())

    while True:
        way = chance.random()
        if way < 0.15:
            book.jot(GuideEvent(id=book.new_id(), at=book.at(), pull_id="next", event={"n": 1}))
        elif way < 0.2:
            settled += 1
            confirm(book.set_setting("load", settled).id, f"={settled}")
        elif way < 0.3 and last:
            correction = Corrected(id=book.new_id(), at=book.at(), of=last, changes={"dose_g": 17.0})
            book.keep(correction)
            confirm(correction.id)
        elif way < 0.4:
            several = [_pull(book, chance) for _ in range(3)]
            book.keep_all(several)
            confirm(*(pull.id for pull in several))
        elif way < 0.5:
            pull = _pull(book, chance)
            book.table().insert(to_json(pull))
            confirm(pull.id)
        else:
            pull = _pull(book, chance)
            book.keep(pull)
            confirm(pull.id)
            last = pull.id


def _pull(book: Book, chance: Random) -> Pull:
    id = book.new_id()
    return a_pull(book, id=id, notes=(id,), trace=tuple((n / 10, n / 5) for n in range(chance.randrange(300))))


def cut_at_every_byte(folder: Path, every: int = 1) -> Outcome:
    """The power cut at each byte of the last record, the rest of it missing or, as file systems may leave it, zeros."""
    outcome, clock = Outcome("power cut within a record"), WallClock()
    for before in (0, 5):
        with Book.open(folder / f"whole-{before}", now=clock) as book:
            first = [_kept(book) for _ in range(before)]
            path = folder / f"whole-{before}" / "days" / f"{book.day_now()}.log"
            start = path.stat().st_size if path.exists() else 0
            last = _kept(book)
        whole = path.read_bytes()
        if not before:
            (folder / "whole-0" / "last").unlink()
        for cut in (*range(start, len(whole), every), len(whole)):
            for rest in (b"", b"\0" * (len(whole) - cut)):
                path.write_bytes(whole[:cut] + rest)
                expected = first + ([last] if cut == len(whole) else [])
                _number(folder / f"whole-{before}" / "last", before, path.stem)
                with Book.open(folder / f"whole-{before}", now=clock, disk=Unwaited()) as book:
                    outcome.check(book, {pull.id: pull for pull in expected})
                    outcome.wrong += len(book.today()) != len(expected) or book.today().lost != 0
                    outcome.wrong += bool(book.notices) != (start < cut < len(whole) or bool(rest))
                    next_one = _kept(book)
                with Book.open(folder / f"whole-{before}", now=clock, read_only=True) as book:
                    outcome.check(book, {pull.id: pull for pull in (*expected, next_one)})
                outcome.rounds += 1
                outcome.confirmed += len(expected) + 1
    return outcome


def _number(path: Path, number: int, day: str) -> None:
    """What the file of the last number said before the record that the power took."""
    path.unlink(missing_ok=True)
    if number:
        last = LastNumbers(path)
        last.note(day, number)
        last.close()


def _kept(book: Book) -> Pull:
    id = book.new_id()
    return pulled(book, id=id, notes=(id,))[0]


def failed_syncs(folder: Path, rounds: int, seed: int) -> Outcome:
    """Syncs that fail at random, and a power cut after a while: what was confirmed is there."""
    outcome, chance = Outcome("failed syncs, then a power cut"), Random(seed)
    confirmed: dict[str, Pull] = {}
    for round in range(rounds):
        clock = WallClock(MORNING + timedelta(days=round // ROUNDS_A_DAY))
        rate = chance.choice((0.05, 0.3, 0.7))
        disk = Forgetful(lambda: chance.random() < rate)
        book = Book.open(folder, now=clock, disk=disk)
        pending: dict[str, Pull] = {}
        for _ in range(chance.randrange(1, 30)):
            pull = _kept(book)
            pending[pull.id] = pull
            if book.trouble is None:
                outcome.confirmed += len(pending)
                confirmed |= pending
                pending = {}
        disk.power_cut()
        book._lock.release()
        with Book.open(folder, now=clock) as again:
            outcome.check(again, confirmed)
        outcome.rounds += 1
    return outcome


def main(rounds: int = 300, seed: int = 1) -> int:
    logging.disable()   # the disk is told to fail, over and over
    outcomes = []
    for campaign in (lambda at: kills(at, rounds, seed), cut_at_every_byte, lambda at: failed_syncs(at, rounds, seed)):
        with tempfile.TemporaryDirectory() as folder:
            outcomes.append(campaign(Path(folder)))
            print(outcomes[-1], flush=True)
    return 0 if all(outcome.holds for outcome in outcomes) else 1


if __name__ == "__main__":
    if sys.argv[1:2] == ["--load"]:
        load(Path(sys.argv[2]), int(sys.argv[3]), int(sys.argv[4]))
    sys.exit(main(*map(int, sys.argv[1:])))
