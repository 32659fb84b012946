"""Starts from books with one record each that nobody thought of: `python -m tests.bench.starts [HOW_MANY]` (1,000 unless told).

A day of orders, pulls, taps, notches, notes and settings is kept by a station; then one of its records is changed at random
(a field gone, of another kind, of another record; the kind itself) or a foreign one is put in, its checksum made right.
Bars: each start comes up, serves an order, and writes its evening; every other record is still there as it was; what can
not be read is told.
"""

import json
import logging
import shutil
import sys
import tempfile
import traceback
from collections import Counter
from datetime import timedelta
from pathlib import Path
from random import Random

from kiosk.bar.guide import guide as guides
from kiosk.bar.model import NotchMoved, Noted, Step
from kiosk.book import Book
from kiosk.book.stored_record import found, line
from kiosk.station.clock import Clock
from kiosk.station.evenings import evening_of
from kiosk.station.reports import Alone
from kiosk.station.station import Station
from tests.bench.bars import Bars
from tests.support.bar_of_the_book import MORNING
from tests.support.failing_disk import Unwaited

STARTS = 1000
NONSENSE = (None, True, -1, 0, 1e9, -2.5, "", "Bin", "\x1b[2J", "9" * 40, [], [[]], ["a", 1], {}, {"event": "Began"}, [[1, 2, 3]],
            {"t_s": "now"}, "2026-13-45T99:99", [None, None, None], {"a": {"b": {"c": []}}})


def a_day(folder: Path, chance: Random) -> None:
    """Orders at every stage: served, binned, undone, on their way in two lanes, and waiting."""
    t_s = [0.0]
    clock = Clock(monotonic=lambda: t_s[0], wall=lambda: MORNING + timedelta(seconds=t_s[0]))
    book = Book.open(folder, now=clock.now, disk=Unwaited())
    station = Station.open(book, clock)
    station.set_setting(("staff", "Ines"), {})
    station.choose("Ines")
    menu = station.setup.menu
    for n in range(14):
        station.orders.take(tuple((drink, 1) for drink in chance.choices(menu, k=chance.randint(1, 3))))
        for _ in range(16):
            t_s[0] += chance.uniform(1, 6)
            group = chance.choice((1, 2))
            work = station.lanes[group].work
            if work is None:
                continue
            if work.guide.pulling:
                t_s[0] += 22
            kind, *more = chance.choices([(guides.Forward,), (guides.Undo,), (guides.Bin, "spilt"), (guides.Back,),
                                          (guides.DoseTapped, 16.1)], [40, 2, 1, 2, 2])[0]
            station.tap(group, kind, *more)
        if n % 5 == 2:
            grinder = station.setup.grinders[0].name
            book.keep(NotchMoved(id=book.new_id(), at=book.at(), grinder=grinder, coffee="House", before=20, after=21))
            book.keep(Noted(id=book.new_id(), at=book.at(), what="beans", facts={"kg": 1.0}))
    book.close()


def changed(fields: dict, kind: str, others: list[tuple[str, dict]], chance: Random) -> tuple[str, str, dict]:
    """(what was done, kind, fields) of a record changed at random."""
    fields, how = json.loads(json.dumps(fields)), chance.choice(("gone", "nonsense", "nonsense", "inside", "borrowed", "kind", "foreign"))
    if how == "foreign":
        return how, chance.choice(("Martian", "Pull", "GuideEvent", "Noted", "Corrected")), {"id": f"999999-zzzzz-{chance.randrange(999):06}"} | {
            chance.choice(("at", "event", "facts", "pull_id", "of")): chance.choice(NONSENSE) for _ in range(chance.randint(0, 3))}
    if how == "kind":
        return how, chance.choice((*{each for each, _ in others}, "Martian", "lost2")), fields
    names = [name for name in fields if name != "id"]
    name = chance.choice(names)
    if how == "gone":
        del fields[name]
    elif how == "borrowed":
        _, other = chance.choice(others)
        fields[name] = other.get(name, other.get(chance.choice(list(other))))
    elif how == "inside" and isinstance(fields[name], dict) and fields[name]:
        within = chance.choice(list(fields[name]))
        if chance.random() < 0.3:
            del fields[name][within]
        else:
            fields[name][within] = chance.choice(NONSENSE)
    elif how == "inside" and isinstance(fields[name], list) and fields[name]:
        fields[name][chance.randrange(len(fields[name]))] = chance.choice(NONSENSE)
    else:
        fields[name] = chance.choice(NONSENSE)
    return how, kind, fields


def start(folder: Path, day: str) -> tuple[Station, Book]:
    """The kiosk comes up an hour later, serves one order and closes the day."""
    t_s = [0.0]

    clock = Clock(monotonic=lambda: t_s[0], wall=lambda: MORNING + timedelta(hours=1, seconds=t_s[0]))
    book = Book.open(folder, now=clock.now, disk=Unwaited())
    try:
        station = Station.open(book, clock)
        station.orders.take(((station.setup.menu[0], 1),))
        for group in (1, 2):
            for _ in range(10):
                t_s[0] += 5
                work = station.lanes[group].work
                if work is not None:
                    t_s[0] += 20 * (work.guide.step is Step.PULL)
                    station.tap(group, guides.Forward)
        station.tick()
        for form in ("txt", "json", "html"):
            Alone(evening_of(book, station.setup, day, traces=True), station.setup).render(form)
        book.sums(day, day)
    except BaseException:
        book.close()
        raise
    return station, book


def campaign(starts: int, seed: int = 9) -> Bars:
    bars, chance = Bars(f"{starts} starts from a book with one record that nobody thought of"), Random(seed)
    crashes, lost, unnamed, hows, unread = 0, 0, 0, Counter(), 0
    with tempfile.TemporaryDirectory() as at:
        good, bad = Path(at) / "good", Path(at) / "bad"
        a_day(good, chance)
        log, = (good / "days").glob("*.log")
        day, lines = log.stem, found(log.read_bytes(), log.stem).lines
        others = [(each.kind, each.fields) for each in lines]
        whole = {each.id: (each.kind, each.body) for each in lines}
        for n in range(starts):
            shutil.rmtree(bad, ignore_errors=True)
            shutil.copytree(good, bad)
            which = chance.randrange(len(lines))
            how, kind, fields = changed(lines[which].fields, lines[which].kind, others, chance)
            odd = line(lines[which].number, {"kind": kind, **fields})
            if how == "foreign":
                odd = line(len(lines) + 1, {"kind": kind, **fields})
                kept = [*lines, odd]
            else:
                kept = [*lines[:which], odd, *lines[which + 1:]]
            (bad / "days" / log.name).write_bytes(b"".join(each.encoded(day) for each in kept))
            hows[how] += 1
            try:
                station, book = start(bad, day)
            except Exception as wrong:
                crashes += 1
                if crashes <= 12:
                    where = traceback.extract_tb(wrong.__traceback__)[-1]
                    print(f"  start {n}, {how}, {kind} {str(fields)[:160]}: {type(wrong).__name__}: {wrong} ({where.name})", flush=True)
                continue
            try:
                after = {each.id: (each.kind, each.body) for each in book.day(day)._lines}
                lost += any(after.get(id) != what for id, what in whole.items() if id != lines[which].id or how == "foreign")
                if any(each.number == odd.number for each in book.day(day).unread):
                    unread += 1
                    unnamed += not any("cannot be read by this program" in each for each in station.complaints)
            finally:
                book.close()
    print("  " + ", ".join(f"{count} {how}" for how, count in sorted(hows.items())) + f"; {unread} not to be read")
    bars.below("starts that did not come up, serve and close the day", crashes, 0)
    bars.below("starts that lost another record", lost, 0)
    bars.below("records that could not be read and were not told of", unnamed, 0)
    return bars


if __name__ == "__main__":
    logging.disable()
    sys.exit(campaign(int(sys.argv[1]) if sys.argv[1:] else STARTS).end())
