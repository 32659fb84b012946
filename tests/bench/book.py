"""What the book costs: a record, an opening, a year, and the card's wear.

    nice python -m tests.bench.book [YEARS]

Beside it, in the same run and on the same disk: TinyDB's own JSON storage, sqlite3 (WAL, synchronous=FULL), and a bare
append with fsync.
"""

import os
import sqlite3
import sys
import tempfile
from datetime import date, timedelta
from json import dumps
from pathlib import Path
from random import Random
from statistics import median
from time import perf_counter

from tinydb import TinyDB

from kiosk.bar.model import GuideEvent, Pull, to_json
from kiosk.book import Book
from kiosk.book.backup import back_up
from kiosk.book.stored_record import StoredRecord, line
from kiosk.book.sums import day_sums
from tests.support.bar_of_the_book import WallClock, a_pull
from tests.support.failing_disk import Unwaited

PULLS_A_DAY = 400
EVENTS_A_PULL = 12
SHORT, LONG = 25, 280   # points of a curve: thinned out, and a whole pull at 10 a second


class Report:
    def __init__(self):
        self.short = 0

    def line(self, what: str, figure: str, bar: str = "", holds: bool | None = None) -> None:
        self.short += holds is False
        word = {True: "PASS ", False: "SHORT", None: "     "}[holds]
        print(f"{word}  {what:<66} {figure:<30} {'bar ' + bar if bar else ''}".rstrip(), flush=True)


def a_curve(points: int, chance: Random) -> tuple[tuple[float, float], ...]:
    return tuple((round(n * 28 / points, 2), round(max(0, n - points / 6) * 60 / points + chance.random() / 10, 1))
                 for n in range(points))


def timed(work) -> float:
    began = perf_counter()
    work()
    return perf_counter() - began


def one_record(folder: Path, report: Report, rounds: int) -> None:
    """Median of one durable record, every contender in turn so that all meet the same disk."""
    chance, clock = Random(1), WallClock()
    curve = a_curve(100, chance)
    books = {}
    for before in (10, 1_000, 100_000):
        book = books[before] = Book.open(folder / str(before), now=clock)
        for start in range(0, before, 2_000):
            book.keep_all(a_pull(book, trace=curve) for _ in range(min(2_000, before - start)))
    pull = a_pull(books[10], trace=curve)
    text = dumps(to_json(pull))

    database = sqlite3.connect(folder / "sqlite.db", isolation_level=None)
    database.execute("pragma journal_mode=WAL")
    database.execute("pragma synchronous=FULL")
    database.execute("create table records (id text primary key, day text, kind text, record text)")
    insert = "insert into records values (?, '2026-03-02', 'Pull', ?)"
    with database:
        database.execute("begin")
        database.executemany(insert, ((str(n), text) for n in range(100_000)))
    bare = os.open(folder / "bare", os.O_WRONLY | os.O_CREAT | os.O_APPEND)
    fresh = iter(range(100_000, 10**9))

    def append():
        os.write(bare, text.encode() + b"\n")
        os.fsync(bare)

    contenders = {f"the book, after {before:,}": (lambda book=book: book.keep(a_pull(book, trace=curve)))
                  for before, book in books.items()}
    contenders["sqlite3 (WAL, FULL), after 100,000"] = lambda: database.execute(
        insert, (str(next(fresh)), dumps(to_json(a_pull(books[10], trace=curve)))))
    contenders["a bare append with fsync"] = append
    took = {name: [] for name in contenders}
    for _ in range(rounds):
        for name in chance.sample(list(contenders), len(contenders)):
            took[name].append(timed(contenders[name]))
    medians = {name: median(times) for name, times in took.items()}
    for name, seconds in medians.items():
        report.line(name, f"{seconds * 1e3:.3f} ms")
    for before in (10, 1_000, 10_000):
        stock = TinyDB(folder / f"stock-{before}.json")
        stock.insert_multiple(to_json(pull) for _ in range(before))
        report.line(f"TinyDB's own storage, after {before:,} (and not safe from a power cut)",
                    f"{median(timed(lambda: stock.insert(to_json(pull))) for _ in range(3)) * 1e3:.3f} ms")
        stock.close()
    ours = [medians[f"the book, after {before:,}"] for before in (10, 100_000)]
    sqlite = medians["sqlite3 (WAL, FULL), after 100,000"]
    report.line("the 100,000th against the 10th", f"{ours[1] / ours[0]:.2f} ×", "≤ 1.5 ×", ours[1] <= 1.5 * ours[0])
    report.line("the 100,000th against sqlite3's", f"{ours[1] / sqlite:.2f} ×", "≤ 2 ×", ours[1] <= 2 * sqlite)
    for book in books.values():
        book.close()

    with Book.open(folder / "100000", now=clock, disk=Unwaited()) as book:
        own = median(timed(lambda: book.keep(a_pull(book, trace=curve))) for _ in range(rounds))
        report.line("the book's own part of it, the disk's wait left out", f"{own * 1e3:.3f} ms")
    database.close()
    os.close(bare)


def wear(folder: Path, report: Report, pulls: int) -> None:
    """Bytes of a pull with its twelve events: in the file, and in whole pages as this process has them written."""
    chance, clock = Random(2), WallClock()
    curve = a_curve(LONG, chance)
    with Book.open(folder / "each", now=clock) as book:
        for name, keep_event in (("each event kept", book.keep), ("events jotted", book.jot)):
            size, pages = _size(folder / "each"), _pages()
            for _ in range(pulls):
                pull = a_pull(book, trace=curve)
                for n in range(EVENTS_A_PULL):
                    keep_event(_event(book, pull.id, n))
                book.keep(pull)
            size, pages = _size(folder / "each") - size, _pages() - pages
            report.line(f"a pull and {EVENTS_A_PULL} events, {name}",
                        f"{size / pulls:,.0f} B in the file, {pages / pulls:,.0f} B of pages")
        event_bytes = len(line(1, to_json(_event(book, "0" * 19, 1))).encoded("2026-03-02"))
        report.line("of these, one event", f"{event_bytes} B")
    stock = TinyDB(folder / "stock.json")
    stock.insert_multiple(to_json(pull) for _ in range(PULLS_A_DAY // 2))
    pages = _pages()
    for _ in range(10):
        stock.insert(to_json(pull))
        os.sync()
    pages = _pages() - pages
    report.line("TinyDB's own storage: a pull alone, in the middle of a day", f"{pages / 10:,.0f} B of pages")
    stock.close()


def years(folder: Path, report: Report, count: int) -> None:
    """Opening, a year and a day, on a book of `count` years."""
    last = date(2026, 3, 1)
    took = timed(lambda: fill(folder / "years", last, count * 365 + 1))
    report.line(f"a book of {count} years × 365 days × {PULLS_A_DAY} pulls",
                f"{_size(folder / 'years') / 1e9:.2f} GB in {took:.0f} s")
    clock = WallClock()
    with Book.open(folder / "years", now=clock) as book:
        report.line("its sums, reckoned for the first time", f"{timed(lambda: book.sums('', '9999-12-31')):.0f} s")

    stick = folder / "stick"
    took = timed(lambda: back_up(folder / "years", stick, clock()))
    report.line("its backup, proved", f"{_size(stick) / 1e9:.2f} GB in {took:.0f} s")

    def first_screen(at: Path):
        with Book.open(at, now=clock) as book:
            return book.settings, book.today().as_kept(traces=False)   # all that a kiosk needs to go on where it was

    first_screen(folder / "empty")
    full, empty = (median(timed(lambda: first_screen(folder / name)) for _ in range(9)) for name in ("years", "empty"))
    report.line("opening it, to first screen, at the end of a day", f"{full:.3f} s, empty {empty:.3f} s",
                "≤ 0.3 s more", full - empty <= 0.3)

    def a_year():
        with Book.open(folder / "years", now=clock, read_only=True) as book:
            return book.sums((last - timedelta(days=364)).isoformat(), last.isoformat())

    def a_day():
        with Book.open(folder / "years", now=clock, read_only=True) as book:
            began = perf_counter()
            sums = day_sums(book.day(last.isoformat()))
            assert sums.pulls == PULLS_A_DAY
            return perf_counter() - began

    assert sum(day.pulls for day in a_year()) == 365 * PULLS_A_DAY
    year = median(timed(a_year) for _ in range(9))
    report.line("a year's summary, from a book just opened", f"{year:.3f} s", "< 0.2 s", year < 0.2)
    def a_kept_day():
        with Book.open(folder / "years", now=clock, read_only=True) as book:
            return book.sums(last.isoformat(), last.isoformat())

    kept, day = median(timed(a_kept_day) for _ in range(9)), median(a_day() for _ in range(9))
    records = PULLS_A_DAY * (1 + EVENTS_A_PULL)
    report.line("a closed day's, from a book just opened", f"{kept:.3f} s", "< 0.05 s", kept < 0.05)
    report.line(f"a day's, reckoned anew from its {records:,} records", f"{day:.3f} s", "< 0.05 s", day < 0.05)
    with Book.open(folder / "years", now=clock) as book:
        old = book.day(book.days()[len(book.days()) // 2]).of(Pull)[7]
    with Book.open(folder / "years", now=clock) as book:
        report.line("finding a pull of half as long ago by its id", f"{timed(lambda: book.find(old.id)):.3f} s")


def fill(folder: Path, last: date, days: int) -> None:
    """Days of pulls straight into the files; the last two as heavy as they come, with every event and a whole curve."""
    chance = Random(3)
    with Book.open(folder, now=WallClock()) as book:
        thin, whole = (line(1, to_json(a_pull(book, id="ID", at="AT", trace=a_curve(points, chance)))).body
                       for points in (SHORT, LONG))
        event = line(1, to_json(_event(book, "PULL", 1))).body
    for back in range(days):
        day = (last - timedelta(days=back - 1)).isoformat()
        heavy, number, lines = back < 2, 0, []
        for n in range(PULLS_A_DAY):
            at = f"{day}T{6 + n // 30:02d}:{n % 30 * 2:02d}:00.000+01:00".encode()
            for _ in range(EVENTS_A_PULL if heavy else 0):
                number += 1
                id = b"%06d-years-%06d" % (days - back, number)
                lines.append(StoredRecord(number, "GuideEvent", event.replace(b"EVENT", id)))
            number += 1
            id = b"%06d-years-%06d" % (days - back, number)
            body = (whole if heavy else thin).replace(b'"ID"', b'"' + id + b'"').replace(b'"AT"', b'"' + at + b'"')
            lines.append(StoredRecord(number, "Pull", body))
        (folder / "days" / f"{day}.log").write_bytes(b"".join(each.encoded(day) for each in lines))


def _event(book: Book, pull_id: str, n: int) -> GuideEvent:
    return GuideEvent(id="EVENT" if pull_id == "PULL" else book.new_id(), at=book.at(), pull_id=pull_id,
                      event={"kind": "Forward", "t_s": 1000.0 + n, "step": "dose"})


def _size(folder: Path) -> int:
    return sum(path.stat().st_size for path in folder.rglob("*") if path.is_file())


def _pages() -> int:
    """Bytes this process has had sent to the disk (proc(5), write_bytes)."""
    return int(Path("/proc/self/io").read_text().split("\nwrite_bytes: ")[1].split()[0])


def main(count: int = 5, rounds: int = 400) -> int:
    report = Report()
    for title, work in (("One record, durable on return (medians)", lambda at: one_record(at, report, rounds)),
                        ("Wear", lambda at: wear(at, report, 100)),
                        ("Years", lambda at: years(at, report, count))):
        print(title)
        with tempfile.TemporaryDirectory() as folder:
            work(Path(folder))
    print("all bars hold" if not report.short else f"{report.short} short")
    return 1 if report.short else 0


if __name__ == "__main__":
    sys.exit(main(*map(int, sys.argv[1:])))
