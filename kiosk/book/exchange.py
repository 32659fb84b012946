"""The book for others to read, and back: CSV for a spreadsheet, JSON Lines for everything, folders for a chain.

`csv`: one pull a row, as corrected, practice pulls too (see `practice`); columns in `COLUMNS`. Empty means not measured.
Grams and seconds have a decimal point, `at` is ISO 8601 with its offset, truths are true and false, several words stand
with "; " between. A text that a spreadsheet would take for a formula, and one that begins with an apostrophe, has an
apostrophe before it. Curves are not in it.

`jsonl`: one record a line, of every kind, as kept and in the order kept, curves and corrections too: the record's fields
and its "kind", "station" and "day".

`folders`: pulls/station=S/day=D/pulls.csv and records/station=S/day=D/records.jsonl, as above without what the path
says. An engine that knows such paths reads many stations at once:
    select station, count(*) from read_csv('…/pulls/*/*/*.csv', hive_partitioning = true) group by station
"""

import csv
import json
import os
import re
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date, datetime
from math import isfinite
from pathlib import Path
from typing import Any, Callable, Iterable, Iterator
from urllib.parse import quote, unquote

from kiosk.bar.recipe import Recipe
from kiosk.bar.record import Pull, Record, SettingChanged, plain, record
from kiosk.book.book import Book
from kiosk.book.disk import Disk

FORMS = ("csv", "jsonl", "folders")

# Columns of a pull that are its own fields, then those of its recipe, then what follows from the recipe.
TEXTS = ("at", "id", "order_id", "grinder", "coffee", "barista", "dose_from", "yield_from", "time_from", "first_drop_from",
         "sink")
WORDS = ("drinks", "skipped", "notes")
WHOLE = ("setting", "group", "cups")
MEASURED = ("dose_g", "yield_g", "time_s", "first_drop_s", "grind_to_pull_s", "lock_to_pump_s")
TRUTHS = ("dose_kept", "warmed", "purged", "practice")
RECIPE = {"target_dose_g": "dose_g", "target_time_s": "time_s", "target_amount": "amount", "target_unit": "unit",
          "dose_within_g": "dose_within_g", "amount_within": "amount_within", "time_within_s": "time_within_s",
          "target_first_drop_from_s": "first_drop_from_s", "target_first_drop_to_s": "first_drop_to_s",
          "target_purge_s": "purge_s", "g_per_ml": "g_per_ml"}
DERIVED: dict[str, Callable[[Recipe], float]] = {
    "target_yield_g": lambda recipe: recipe.yield_g,
    "yield_low_g": lambda recipe: recipe.yield_window_g[0], "yield_high_g": lambda recipe: recipe.yield_window_g[1],
    "time_low_s": lambda recipe: recipe.time_window_s[0], "time_high_s": lambda recipe: recipe.time_window_s[1]}
COLUMNS = (
    "at", "day", "station", "id", "order_id", "grinder", "coffee", "setting", "basket", "group", "cups", "drinks", "barista",
    "dose_g", "dose_from", "dose_kept", "yield_g", "yield_from", "time_s", "time_from", "first_drop_s", "first_drop_from",
    "grind_to_pull_s", "lock_to_pump_s", "warmed", "purged", "skipped", "step_s", "sink", "notes", "practice",
    "target_dose_g", "target_yield_g", "target_time_s", "yield_low_g", "yield_high_g", "time_low_s", "time_high_s",
    "dose_within_g", "target_amount", "target_unit", "amount_within", "time_within_s", "target_first_drop_from_s",
    "target_first_drop_to_s", "target_purge_s", "g_per_ml")
IN_THE_PATH = ("day", "station")


class NotReadable(ValueError):
    """A file to be taken in is none of ours; its text says what it lacks."""


def export(book: Book, to: Path, form: str, first_day: str = "", last_day: str = "9999-12-31", station: str | None = None,
           disk: Disk | None = None) -> int:
    """Write the days from `first_day` to `last_day` to the file, or for "folders" the folder, `to`; how many rows.

    `station` names this one among others; without it, the store's own name. What was there before is replaced, each
    file whole. Raises OSError where it cannot be written.
    """
    station, disk = station or book.station, disk or Disk()
    days = [day for day in book.days() if first_day <= day <= last_day]
    if form == "csv":
        with _whole(to, disk) as file:
            return _write_csv(file, COLUMNS, (row(pull, day, station) for day in days for pull in _pulls(book, day)))
    if form == "jsonl":
        with _whole(to, disk) as file:
            return _write_lines(file, ({"station": station, "day": day, **plain(kept)}
                                       for day in days for kept in book.day(day).raw))
    return sum(_export_folders(book, to, day, station, disk) for day in days)


@dataclass
class Taken:
    """What became of a file: records `added`, already `known`, and a sentence for each that was `refused`."""

    added: int = 0
    known: int = 0
    refused: list[str] = field(default_factory=list)


def take_in(book: Book, path: Path) -> Taken:
    """Add to `book` what an export in `path` (a .csv or .jsonl file, or a folder of "folders") holds and it does not.

    A record is known by its id and day, so that the same file twice adds nothing. Another station's setting changes are
    left out: this one's settings are its own. Raises NotReadable, OSError.
    """
    taken = Taken()
    files = sorted(path.glob("records/station=*/day=*/records.jsonl")) if path.is_dir() else [path]
    if not files:
        raise NotReadable(f"There are no records under {path}. Choose the folder that the export was made in.")
    for each in files:
        for day, batch in _by_day(_read(each, book.station, taken)):
            _take(book, day, batch, taken)
    return taken


def row(pull: Pull, day: str, station: str) -> dict[str, str]:
    """A pull as the cells of `COLUMNS`."""
    cells = {"day": day, "station": _inert(station), "basket": pull.basket}
    cells |= {name: _inert(getattr(pull, name)) for name in TEXTS}
    cells |= {name: _inert(_joined(getattr(pull, name))) for name in WORDS}
    cells |= {name: _number(getattr(pull, name)) for name in (*WHOLE, *MEASURED)}
    cells |= {name: _truth(getattr(pull, name)) for name in TRUTHS}
    cells["step_s"] = _inert(_joined(f"{step}={_number(time_s)}" for step, time_s in pull.step_s))
    cells |= {name: str(getattr(pull.recipe, of)) for name, of in RECIPE.items()}
    cells |= {name: f"{reckon(pull.recipe):.6g}" for name, reckon in DERIVED.items()}
    return cells


def pull_of(cells: dict[str, str]) -> Pull:
    """The pull that `row` was given, without its curve. Raises ValueError, naming what is wrong."""
    try:
        fields: dict[str, Any] = {name: _text(cells[name]) for name in TEXTS}
        fields |= {name: _words(cells[name]) for name in WORDS}
        fields |= {name: int(cells[name]) for name in WHOLE}
        fields |= {name: float(cells[name]) if cells[name] else None for name in MEASURED}
        fields |= {name: {"true": True, "false": False, "": None}[cells[name]] for name in TRUTHS}
        steps = (step.rpartition("=") for step in _words(cells["step_s"]))
        fields["step_s"] = [[name, float(time_s)] for name, _, time_s in steps]
        fields["recipe"] = {"coffee": fields["coffee"], "basket": cells["basket"]} | {
            of: cells[name] if of == "unit" else float(cells[name]) for name, of in RECIPE.items()}
        return record({"kind": "Pull", **fields})
    except KeyError as missing:
        raise ValueError(f"there is no good value for {missing}") from None


def _pulls(book: Book, day: str) -> tuple[Pull, ...]:
    return book.day(day).of(Pull, traces=False)


def _export_folders(book: Book, to: Path, day: str, station: str, disk: Disk) -> int:
    part = Path(f"station={quote(station, safe='')}") / f"day={day}"
    if pulls := _pulls(book, day):
        with _whole(to / "pulls" / part / "pulls.csv", disk) as file:
            _write_csv(file, [name for name in COLUMNS if name not in IN_THE_PATH], (row(pull, day, station) for pull in pulls))
    with _whole(to / "records" / part / "records.jsonl", disk) as file:
        return _write_lines(file, map(plain, book.day(day).raw))


@contextmanager
def _whole(path: Path, disk: Disk) -> Iterator[Any]:
    """A file that has its name only once it is whole and on the medium; for its owner alone, since it names people."""
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_name(path.name + ".part")
    try:
        with open(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w", encoding="utf-8", errors="replace", newline="") as file:
            yield file
            file.flush()
            disk.sync(file.fileno())
        os.replace(part, path)
        disk.sync_folder(path.parent)
    except BaseException:
        part.unlink(missing_ok=True)
        raise


def _write_csv(file, columns: Iterable[str], rows: Iterable[dict[str, str]]) -> int:
    writer = csv.DictWriter(file, columns, extrasaction="ignore")
    writer.writeheader()
    return sum(1 for each in rows if writer.writerow(each))


def _write_lines(file, records: Iterable[dict[str, Any]]) -> int:
    return sum(1 for each in records if file.write(json.dumps(_finite(each), allow_nan=False) + "\n"))


def _finite(value: Any) -> Any:
    """JSON has no word for what is not a number; None is this program's."""
    if isinstance(value, dict):
        return {name: _finite(each) for name, each in value.items()}
    if isinstance(value, list):
        return [_finite(each) for each in value]
    return None if isinstance(value, float) and not isfinite(value) else value


def _read(path: Path, own_station: str, taken: Taken) -> Iterator[tuple[str | None, Record]]:
    """(day, record) of each line; what cannot be read goes to `taken`."""
    in_path = dict(part.split("=", 1) for part in path.parts if "=" in part)
    with open(path, encoding="utf-8-sig", newline="") as file:
        reader = _read_csv(file, path) if path.suffix.lower() == ".csv" else _read_lines(file)
        try:
            for number, read in enumerate(reader, start=2 if path.suffix.lower() == ".csv" else 1):
                try:
                    station, day, kept = read()
                    _sound(kept)
                    if day is not None:
                        date.fromisoformat(day)
                except (ValueError, TypeError, AttributeError) as wrong:
                    taken.refused.append(f"{path.name}, row {number}: {wrong}.")
                    continue
                station = station or unquote(in_path.get("station", own_station))
                if isinstance(kept, SettingChanged) and station != own_station:
                    taken.refused.append(f"{path.name}, row {number}: a setting of station {station}, left out.")
                else:
                    yield day or in_path.get("day"), kept
        except (UnicodeDecodeError, csv.Error) as wrong:
            raise NotReadable(f"{path.name} is no export of a book ({wrong}). Choose another file.") from None


def _read_csv(file, path: Path):
    rows = csv.DictReader(file)
    lacking = [name for name in COLUMNS if name not in (*IN_THE_PATH, *DERIVED) and name not in (rows.fieldnames or ())]
    if lacking:
        raise NotReadable(f"{path.name} lacks the columns {', '.join(lacking)}. Export it from the book again.")
    return (lambda cells=cells: (_text(cells.get("station") or ""), cells.get("day"), pull_of(cells)) for cells in rows)


def _read_lines(file):
    def read(text: str):
        kept = json.loads(text)
        return kept.pop("station", None), kept.pop("day", None), record(kept)

    return (lambda text=text: read(text) for text in file if text.strip())


def _by_day(read: Iterable[tuple[str | None, Record]], at_once: int = 2000):
    """Runs of one day, in turn, so that a day is asked once for what it holds."""
    day, batch = None, []
    for each_day, kept in read:
        if batch and (each_day != day or len(batch) == at_once):
            yield day, batch
            batch = []
        day = each_day
        batch.append(kept)
    if batch:
        yield day, batch


def _take(book: Book, day: str | None, batch: list[Record], taken: Taken) -> None:
    new: dict[str, Record] = {}
    for kept in batch:
        days = {book.day_of(kept), day} - {None}   # they differ where a service day began at another hour then
        if kept.id in new or any(kept.id in book.day(each) for each in days):
            taken.known += 1
        else:
            new[kept.id] = kept
    book.keep_all(new.values())
    taken.added += len(new)


def _sound(kept: Record) -> Record:
    """Raises ValueError where a value is not what its field holds, so that one bad row spoils no day's sums."""
    fields = plain(kept)
    if not (isinstance(kept.id, str) and kept.id):
        raise ValueError("it has no id")
    datetime.fromisoformat(kept.at)
    for name in (*WHOLE, *MEASURED, "grams", "before", "after") if not isinstance(kept, SettingChanged) else ():
        value = fields.get(name)
        if value is not None and (not isinstance(value, (int, float)) or not isfinite(value)):
            raise ValueError(f"{name} is no number")
    return kept


def _inert(text: str | None) -> str:
    """Spreadsheets run what begins like a formula, whatever the column (OWASP, "CSV Injection")."""
    if text is None:
        return ""
    risky = not text or text[0] in "'\t\r\n" or text.lstrip()[:1] in tuple("=+-@＝＋－＠")
    return "'" + text if risky else text


def _text(cell: str) -> str | None:
    return (cell[1:] if cell.startswith("'") else cell) if cell else None


def _joined(words: Iterable[str]) -> str:
    return "; ".join(word.replace("\\", "\\\\").replace(";", "\\;") for word in words)


def _words(cell: str) -> list[str]:
    words = re.findall(r"((?:\\.|[^\\;])+)(?:; |$)", _text(cell) or "", re.DOTALL)
    return [re.sub(r"\\(.)", r"\1", word, flags=re.DOTALL) for word in words]


def _number(value: float | None) -> str:
    return "" if value is None else str(value)


def _truth(value: bool | None) -> str:
    return {True: "true", False: "false", None: ""}[value]
