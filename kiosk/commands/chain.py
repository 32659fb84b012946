"""A chain of bars, for an engine that reads folders: `export --as chain` lays them out, `chain questions` asks.

    pulls/station=S/month=YYYY-MM/pulls.csv       the columns of `export --as csv` without the station, and
        week (ISO 8601: 2026-W43), off_s (adjusted seconds off the recipe), in_window (true, false; empty: not judged),
        sunk_g, over_g, tasted_g (grams lost, or tasted at opening)
    moves/station=S/month=YYYY-MM/moves.csv       at, day, week, id, grinder, coffee, before, after, by, flag_id
    purges/station=S/month=YYYY-MM/purges.csv     at, day, week, id, grinder, coffee, grams

Every cell is text; an empty one, which engines read as null, means not measured. In DuckDB, for each of the three:
    create view pulls as select * from read_csv('FOLDER/pulls/*/*/*.csv', hive_partitioning = true, all_varchar = true);
The questions are plain SQL over these three names and run alike elsewhere.
"""

import argparse
import csv
import sys
from collections.abc import Iterable, Iterator
from datetime import date
from pathlib import Path
from urllib.parse import quote

from kiosk.bar.drift import adjusted_time_s, counts
from kiosk.bar.evening import tasted
from kiosk.bar.model import GroundsPurged, NotchMoved, Pull
from kiosk.book import Book, Disk, OneStation, stations
from kiosk.book.exchange import whole
from kiosk.book.rows import COLUMNS, inert, row
from kiosk.commands import folders

QUESTIONS = Path(__file__).parent / "questions"
PULLS = (*(name for name in COLUMNS if name != "station"), "week", "off_s", "in_window", "sunk_g", "over_g", "tasted_g")
MOVES = ("at", "day", "week", "id", "grinder", "coffee", "before", "after", "by", "flag_id")
NAMES = ("barista", "by")       # the columns that hold a person's name
PURGES = ("at", "day", "week", "id", "grinder", "coffee", "grams")


def export(book: Book, to: Path, first_day: str = "", last_day: str = "9999-12-31", station: str | None = None,
           disk: Disk | None = None, names: bool = True) -> int:
    """Lay the book out in `to`, each file whole; how many rows. Without `names` nobody is named. Raises OSError."""
    rows, disk = 0, disk or Disk()
    for whose in stations(book):
        one, name = OneStation(book, whose), whose or station or book.station
        months: dict[str, list[str]] = {}
        for day in one.days():
            if first_day <= day <= last_day:
                months.setdefault(day[:7], []).append(day)
        for month, days in months.items():
            for kind, columns, of in (("pulls", PULLS, _pulls), ("moves", MOVES, _moves), ("purges", PURGES, _purges)):
                part = to / kind / f"station={quote(name, safe='')}" / f"month={month}" / f"{kind}.csv"
                with whole(part, disk) as file:
                    writer = csv.DictWriter(file, columns, extrasaction="ignore")
                    writer.writeheader()
                    for each in of(one, days, name):
                        writer.writerow(each if names else each | dict.fromkeys(NAMES, ""))
                        rows += 1
    return rows


def week_of(day: str) -> str:
    year, week, _ = date.fromisoformat(day).isocalendar()
    return f"{year}-W{week:02}"


def _pulls(one: OneStation, days: Iterable[str], name: str) -> Iterator[dict[str, str]]:
    for day in days:
        week = week_of(day)
        for pull in one.day(day).of(Pull, traces=False):
            adjusted_s = adjusted_time_s(pull) if counts(pull) else None
            over_g = max(0.0, pull.dose_g - pull.recipe.dose_window_g[1]) if pull.dose_g is not None and pull.sink is None \
                and not pull.recipe.dose_fits(pull.dose_g) else 0.0
            judged = pull.recipe.in_window(pull.time_s, pull.yield_g)
            yield row(pull, day, name) | {
                "week": week, "off_s": "" if adjusted_s is None else repr(adjusted_s - pull.recipe.time_s),
                "in_window": "" if judged is None else str(judged).lower(),
                "sunk_g": repr(pull.ground_g if pull.sink is not None and not tasted(pull) else 0.0), "over_g": repr(over_g),
                "tasted_g": repr(pull.ground_g if tasted(pull) else 0.0)}


def _moves(one: OneStation, days: Iterable[str], _name: str) -> Iterator[dict[str, str]]:
    for day in days:
        for move in one.day(day).of(NotchMoved):
            yield {"at": move.at, "day": day, "week": week_of(day), "id": move.id, "grinder": inert(move.grinder),
                   "coffee": inert(move.coffee), "before": str(move.before), "after": str(move.after),
                   "by": inert(move.by), "flag_id": move.flag_id or ""}


def _purges(one: OneStation, days: Iterable[str], _name: str) -> Iterator[dict[str, str]]:
    for day in days:
        for purge in one.day(day).of(GroundsPurged):
            yield {"at": purge.at, "day": day, "week": week_of(day), "id": purge.id, "grinder": inert(purge.grinder),
                   "coffee": inert(purge.coffee), "grams": repr(purge.grams)}


def questions() -> dict[str, str]:
    """Each question's name and its SQL; the first comment says what it answers."""
    return {path.stem: path.read_text(encoding="utf-8") for path in sorted(QUESTIONS.glob("*.sql"))}


def run(argv: list[str]) -> int:
    """The command. Returns its exit status."""
    parser = argparse.ArgumentParser(prog=f"{folders.called()} chain", description=__doc__,
                                     formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("what", choices=("questions",))
    parser.add_argument("name", nargs="?", help="print this one's SQL; without it, they are listed")
    asked = parser.parse_args(argv)
    known = questions()
    if asked.name is None:
        for name, sql in known.items():
            print(f"{name:<24} {sql.splitlines()[0].removeprefix('-- ')}")
        return 0
    if asked.name not in known:
        print(f"There is no question {asked.name}. There are: {', '.join(known)}.", file=sys.stderr)
        return 2
    print(known[asked.name], end="")
    return 0
