"""The book for others to read, and back: CSV for a spreadsheet, JSON Lines for everything, folders for a chain.

`csv`: one pull a row, as corrected, practice pulls too (see `practice`), in the columns of `rows`; without curves.

`jsonl`: one record a line, of every kind, as kept and in the order kept, curves and corrections too: the record's
fields and its "kind", "station" and "day".

`folders`: pulls/station=S/day=D/pulls.csv and records/station=S/day=D/records.jsonl, as above without what the path
says. An engine that knows such paths reads many stations at once:
    select station, count(*) from read_csv('…/pulls/*/*/*.csv', hive_partitioning = true) group by station
"""

import csv
import json
import os
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import groupby, islice
from math import isfinite
from operator import itemgetter
from pathlib import Path
from typing import IO, Any
from urllib.parse import quote, unquote

from kiosk.bar.model import AS_DAY, BadRecord, Corrected, GuideEvent, Pull, Record, SettingChanged, is_day, to_json, validate
from kiosk.book.book import Book
from kiosk.book.disk import Disk
from kiosk.book.nameless import nameless
from kiosk.book.rows import COLUMNS, DERIVED, pull_of, row, text_of

FORMS = ("csv", "jsonl", "folders")
IN_THE_PATH = ("day", "station")


class NotReadable(ValueError):
    """A file to be taken in is none of ours; its text says what it lacks."""


def export(book: Book, to: Path, form: str, first_day: str = "", last_day: str = "9999-12-31",
           station: str | None = None, disk: Disk | None = None, names: bool = True) -> int:
    """Write the days from `first_day` to `last_day` to the file, or for "folders" the folder, `to`; how many rows.

    `station` names this one among others; without it, the store's own name. Without `names` nobody is named. What was there
    before is replaced, each file whole. Raises OSError where it cannot be written.
    """
    station, disk = station or book.station, disk or Disk()
    days = [day for day in book.days() if first_day <= day <= last_day]
    if form == "csv":
        with whole(to, disk) as file:
            return _write_csv(file, COLUMNS, (row(pull, day, whose or station, names) for day in days for whose in _stations(book, day)
                                              for pull in _pulls(book, day, whose)))
    if form == "jsonl":
        with whole(to, disk) as file:
            return _write_lines(file, ({"station": whose or station, "day": day, **kept} for day in days
                                       for whose in _stations(book, day) for kept in _kept(book, day, whose, names)))
    return sum(_export_folders(book, to, day, whose, station, disk, names) for day in days for whose in _stations(book, day))


@dataclass
class Taken:
    """What became of a file: records `added`, already `known`, a sentence for each that was `refused`, and how many
    `steps` of another station's pulls were left out."""

    added: int = 0
    known: int = 0
    refused: list[str] = field(default_factory=list)
    steps: int = 0


def take_in(book: Book, path: Path) -> Taken:
    """Add to `book` what an export in `path` (a .csv or .jsonl file, or a folder of "folders") holds and it does not.

    A record is known by its id and day, so that the same file twice adds nothing. Another station's records say whose
    they are (`Book.is_ours`). Its setting changes are left out, since this one's settings are its own, and so are the
    steps of its guides: a pull that was left half made there is not to be made here. Raises NotReadable, OSError.
    """
    taken = Taken()
    if not (path.is_dir() or path.is_file()):
        raise NotReadable(f"{path} is no file or folder. Name the file or folder that the export was made in.")
    files = sorted(path.glob("records/station=*/day=*/records.jsonl")) if path.is_dir() else [path]
    if not files:
        raise NotReadable(f"{path} holds no records. Choose the folder that the export was made in.")
    for each in files:
        for (day, station), batch in _runs(_read(each, book.station, taken)):
            _take(book, day, station, batch, taken)
    return taken


def _stations(book: Book, day: str) -> list[str | None]:
    """Whose records the day holds: its own first, as None."""
    return sorted(book.day(day).stations, key=lambda each: each or "")


def _pulls(book: Book, day: str, whose: str | None) -> tuple[Pull, ...]:
    return book.day(day).of_station(whose).of(Pull, traces=False)


def _kept(book: Book, day: str, whose: str | None, names: bool) -> Iterator[dict[str, Any]]:
    found = map(to_json if names else nameless, book.day(day).of_station(whose).raw)
    return (each for each in found if each is not None)


def _export_folders(book: Book, to: Path, day: str, whose: str | None, station: str, disk: Disk, names: bool) -> int:
    station = whose or station
    part = Path(f"station={quote(station, safe='')}") / f"day={day}"
    if pulls := _pulls(book, day, whose):
        with whole(to / "pulls" / part / "pulls.csv", disk) as file:
            columns = [name for name in COLUMNS if name not in IN_THE_PATH]
            _write_csv(file, columns, (row(pull, day, station, names) for pull in pulls))
    with whole(to / "records" / part / "records.jsonl", disk) as file:
        return _write_lines(file, _kept(book, day, whose, names))


@contextmanager
def whole(path: Path, disk: Disk) -> Iterator[Any]:
    """A file that has its name only once it is whole and on the medium; for its owner alone, since it names people."""
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_name(path.name + ".part")
    try:
        with open(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w",
                  encoding="utf-8", errors="replace", newline="") as file:
            yield file
            file.flush()
            disk.sync(file.fileno())
        os.replace(part, path)
        disk.sync_folder(path.parent)
    except BaseException:
        part.unlink(missing_ok=True)
        raise


def _write_csv(file: IO[str], columns: Sequence[str], rows: Iterable[dict[str, str]]) -> int:
    writer = csv.DictWriter(file, columns, extrasaction="ignore")
    writer.writeheader()
    return sum(1 for each in rows if writer.writerow(each))


def _write_lines(file: IO[str], records: Iterable[dict[str, Any]]) -> int:
    return sum(1 for each in records if file.write(json.dumps(_finite(each), allow_nan=False) + "\n"))


def _finite(value: Any) -> Any:
    """JSON has no word for what is not a number; None is this program's."""
    if isinstance(value, dict):
        return {name: _finite(each) for name, each in value.items()}
    if isinstance(value, list):
        return [_finite(each) for each in value]
    return None if isinstance(value, float) and not isfinite(value) else value


def _read(path: Path, own_station: str, taken: Taken) -> Iterator[tuple[tuple[str | None, str], Record]]:
    """((day, station), record) of each line; what cannot be read goes to `taken`."""
    in_path = dict(part.split("=", 1) for part in path.parts if "=" in part)
    with open(path, encoding="utf-8-sig", newline="") as file:
        reader = _read_csv(file, path) if path.suffix.lower() == ".csv" else _read_lines(file)
        try:
            for number, read in reader:
                try:
                    station, day, kept = read()
                    where = _where(station, day, in_path, own_station)
                except BadRecord as amiss:
                    taken.refused.append(f"{path.name}, line {number}: {amiss}. Put it right there and import the file "
                                         "again.")
                    continue
                yield where, kept
        except (UnicodeDecodeError, csv.Error) as wrong:
            raise NotReadable(f"{path.name} is no export of a book ({wrong}). Choose another file.") from None


def _where(station: Any, day: Any, in_path: dict[str, str], own_station: str) -> tuple[str | None, str]:
    """The day and the station that a line is of, by itself or by its path. Raises BadRecord."""
    day = day or in_path.get("day")
    if day is not None and not is_day(day):
        raise BadRecord(f"day cannot be {json.dumps(day)[:40]}. {AS_DAY}")
    station = station or unquote(in_path.get("station", own_station))
    if not isinstance(station, str):
        raise BadRecord(f"station cannot be {json.dumps(station)[:40]}")
    return day, station


def _read_csv(file: IO[str], path: Path) -> Iterator[tuple[int, Callable]]:
    """The number of each row's last line, and what reads the row."""
    rows = csv.DictReader(file)
    lacking = [name for name in COLUMNS if name not in (*IN_THE_PATH, *DERIVED) and name not in (rows.fieldnames or ())]
    if lacking:
        raise NotReadable(f"{path.name} lacks the columns {', '.join(lacking)}. Export it from the book again.")

    def read(cells: dict[str, str]) -> tuple[Any, Any, Record]:
        return text_of(cells.get("station") or ""), cells.get("day"), pull_of(cells)

    return ((rows.line_num, lambda cells=cells: read(cells)) for cells in rows)


def _read_lines(file: IO[str]) -> Iterator[tuple[int, Callable]]:
    def read(text: str) -> tuple[Any, Any, Record]:
        try:
            kept = json.loads(text)
        except (ValueError, RecursionError):
            raise BadRecord("it is no line of JSON") from None
        if not isinstance(kept, dict):
            raise BadRecord("it is no record")
        return kept.pop("station", None), kept.pop("day", None), validate(kept)

    return ((number, lambda text=text: read(text)) for number, text in enumerate(file, 1) if text.strip())


def _runs(read: Iterable[tuple[tuple[str | None, str], Record]], at_once: int = 2000) -> Iterator[tuple[tuple[str | None, str], list[Record]]]:
    """Runs of one day and station, in turn, each kept with one wait for the disk."""
    for where, run in groupby(read, key=itemgetter(0)):
        while batch := [kept for _, kept in islice(run, at_once)]:
            yield where, batch


def _take(book: Book, day: str | None, station: str, batch: list[Record], taken: Taken) -> None:
    new: dict[str, Record] = {}
    theirs = station != book.station
    for kept in batch:
        days = {each for each in (book.day_of(kept), day) if each is not None}     # they differ where a service day began at another hour then
        if kept.id in new or any(kept.id in book.day(each) for each in days):
            taken.known += 1
        elif isinstance(kept, GuideEvent) and theirs:
            taken.steps += 1
        elif isinstance(kept, SettingChanged) and theirs:
            taken.refused.append(f"The setting {kept.path} is station {station}'s, and was left out.")
        elif theirs and isinstance(kept, Corrected) and book.station_of(kept.of) not in (None, station):
            taken.refused.append(f"A correction by station {station} names a record that is not its own, and was left out.")
        else:
            new[kept.id] = kept
    book.keep_all(new.values(), station if theirs else None)
    taken.added += len(new)

