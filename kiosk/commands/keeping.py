"""The commands about the book itself: backup, restore, export, import, forget. Each prints what it did and gives 0, or
says what to do instead and gives 2."""

import argparse
import sys
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

from kiosk.book import Book, BookBusy, BookNewer, Disk, Identity
from kiosk.book.backup import BackupFailed, back_up, back_up_when_due, prove
from kiosk.book.backup import restore as put_back
from kiosk.book.exchange import FORMS, NotReadable
from kiosk.book.exchange import export as write
from kiosk.book.exchange import take_in as take
from kiosk.commands import chain, folders
from kiosk.commands.days import day
from kiosk.commands.setup import parts
from kiosk.station.evenings import setup_of


def backup(argv: list[str]) -> int:
    """`backup TO`: one file in folder TO, read again before it has its name. With --if-due, only once a day."""
    parser = _parser("backup", "Write the whole book to one file in a folder or on a stick, and prove it.")
    parser.add_argument("to", type=Path, help="the folder to write it in")
    parser.add_argument("--if-due", action="store_true", help="only where the newest is a day old; keeps 14")
    parser.add_argument("--every-hours", type=_hours, default=24, help="what --if-due calls due (24)")
    given = parser.parse_args(argv)

    def run() -> str:
        if not given.if_due:
            return f"Backed up to {back_up(given.book, given.to, _now())}"
        made = back_up_when_due(given.book, given.to, _now(), timedelta(hours=given.every_hours))
        return f"Backed up to {made}" if made else "The last backup is recent enough."
    return _said(run)


def restore(argv: list[str]) -> int:
    """`restore FILE`: the book as it was then; the one it replaces stays under another name."""
    parser = _parser("restore", "Put a backup in the place of the book, which is kept under another name.")
    parser.add_argument("file", type=Path, help="the backup")
    who = parser.add_mutually_exclusive_group()
    who.add_argument("--same", action="store_true", help="this is the station that the backup is of: its records and its name")
    who.add_argument("--new", action="store_true", help="this is another station: its setup alone, under a name of its own")
    given = parser.parse_args(argv)

    def run() -> str:
        held = prove(given.file)
        if not (given.same or given.new) and not _is_of(given.book, held.station):
            if not sys.stdin.isatty():
                raise BackupFailed(f"The backup is of the station {held.station}, which is not the one here. Say which it is: "
                                   "--same (that station, on this machine from now on) or --new (another station with its setup).")
            given.new = _asked(f"The backup is of the station {held.station}. Is this the same station, or a new one?")
        if given.new:
            count = settings_of(given.file, given.book)
            return f"{count} parts of the setup were taken out of the backup. This station keeps a name of its own, and its records."
        held, old = put_back(given.file, given.book, _now())
        span = f"{held.first_day} to {held.last_day}" if held.days else "no day yet"
        was = f" The book that was there is now {old}." if old else ""
        return f"Restored {held.records} records, {span}, as of {held.at}, to {given.book}.{was}"
    return _said(run)


def _is_of(folder: Path, station: str) -> bool:
    """Whether the book in `folder` is that station's already."""
    return (folder / "days").is_dir() and Identity(folder, Disk()).station == station


def _asked(question: str) -> bool:
    """True for a new one."""
    while True:
        answer = input(f"{question} [same/new] ").strip().lower()
        if answer in ("same", "new"):
            return answer == "new"


def settings_of(backup: Path, folder: Path) -> int:
    """Take the setup out of a proved backup into the book in `folder`: never its identity, PIN, staff or records."""
    with TemporaryDirectory() as aside:
        put_back(backup, Path(aside) / "book", _now())
        with Book.open(Path(aside) / "book", read_only=True) as book:
            found = parts(book.settings, nameless=True)
    with Book.open(folder) as book:
        for name, value in found.items():
            book.set_setting(name, value)
        if trouble := book.not_kept:
            raise BackupFailed(trouble)
    return len(found)


def export(argv: list[str]) -> int:
    """`export TO --as csv|jsonl|folders|chain`: see kiosk.book.exchange for the columns and the folders, kiosk.commands.chain
    for those of a chain. Where the bar has people switched off, nobody is named."""
    parser = _parser("export", "Write pulls (csv), or all records (jsonl, folders), for others to read.")
    parser.add_argument("to", type=Path, help="the file, or for folders the folder, to write")
    parser.add_argument("--as", dest="form", choices=(*FORMS, "chain"), help="the form; told from the file's name where it can be")
    parser.add_argument("--from", dest="first", type=day, metavar="DAY", help="first day, such as 2026-11-01")
    parser.add_argument("--to-day", dest="last", type=day, metavar="DAY", help="last day")
    parser.add_argument("--station", help="this station's name among others")
    given = parser.parse_args(argv)
    ending = given.to.suffix.lower()
    form = given.form or ("folders" if given.to.is_dir() else {"": "folders", ".csv": "csv", ".jsonl": "jsonl"}.get(ending))

    def run() -> str:
        if form is None:
            raise NotReadable(f"What {given.to} is to be cannot be told from {ending}. Name a file that ends in .csv or .jsonl, or say "
                              "what it is: --as csv, jsonl, folders or chain.")
        if form not in ("folders", "chain") and given.to.is_dir():
            raise NotReadable(f"{given.to} is a folder. Name a file in it to write, all.{form} say.")
        if given.first and given.last and given.last < given.first:
            raise NotReadable(f"The days end on {given.last}, before they begin on {given.first}. Give the earlier one "
                              "with --from.")
        with Book.open(_there(given.book), read_only=True) as book:
            span, names = (given.first or "", given.last or "9999-12-31"), setup_of(book.settings).manager.people
            rows = chain.export(book, given.to, *span, given.station, names=names) if form == "chain" else \
                write(book, given.to, form, *span, given.station, names=names)
            return f"Exported {rows} {'rows' if form == 'chain' else 'pulls' if form == 'csv' else 'records'} to {given.to}"
    return _said(run)


def take_in(argv: list[str]) -> int:
    """`import FROM`: what an export holds and this book does not."""
    parser = _parser("import", "Take in an export: a .csv or .jsonl file, or the folder of an export as folders.")
    parser.add_argument("source", type=Path, metavar="from", help="the file or folder")
    given = parser.parse_args(argv)

    def run() -> str:
        with Book.open(given.book) as book:
            taken = take(book, given.source)
            book.add_up()
            trouble = book.not_kept
        for sentence in taken.refused:
            print(sentence, file=sys.stderr)
        if trouble:
            raise BackupFailed(trouble)
        if taken.steps:
            print(f"{taken.steps} steps of another station's pulls were left out: they are of use there alone.",
                  file=sys.stderr)
        return (f"Added {taken.added} records; {taken.known} were known already; "
                f"{len(taken.refused) + taken.steps} were left out.")
    return _said(run)


def forget(argv: list[str]) -> int:
    """`forget NAME`: a pseudonym in its place, everywhere in the book."""
    parser = _parser("forget", "Put a pseudonym in the place of a person's name wherever the book has it, for good.")
    parser.add_argument("name", help="the name, as it is on the screen")
    given = parser.parse_args(argv)

    def run() -> str:
        if not given.name.strip():
            raise NotReadable("There is no name to forget. Write it as it is on the screen.")
        with Book.open(_there(given.book)) as book:
            held = book.forget(given.name)
        if not held:
            return "No record held that name. Where it should have been there, write it as it is on the screen."
        return (f"{held} records held the name; none does now. Backups, exports and reports made before may still "
                "have it: delete them, and take a new backup.")
    return _said(run)


def _hours(text: str) -> float:
    try:
        hours = float(text)
    except ValueError:
        hours = 0.0
    if not 0 < hours <= 10_000:         # nor what is no number
        raise argparse.ArgumentTypeError(f"{text!r} is no number of hours: write one above 0, such as 24")
    return hours


def _now() -> datetime:
    return datetime.now().astimezone()


def _there(folder: Path) -> Path:
    if not (folder / "days").is_dir():
        raise NotReadable(f"There is no book in {folder}. Say where it is with --book.")
    return folder


def _parser(command: str, about: str) -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog=f"{folders.called()} {command}", description=about)
    folders.add_book(parser)
    return parser


def _said(run: Callable[[], str]) -> int:
    try:
        print(run())
        return 0
    except (BackupFailed, BookBusy, BookNewer, NotReadable) as told:
        print(told, file=sys.stderr)
    except OSError as error:
        print(f"{error.strerror or error}: {error.filename or 'the disk'}. Check that it is there, has room and may be "
              "written, and try again.", file=sys.stderr)
    return 2
