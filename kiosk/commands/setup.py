"""A station's settings in a file that a person can edit, and out of it into another station.

    setup export FILE [--staff]     grinders, recipes, menu, scale, languages, limits; people only where asked for
    setup import FILE               checked first: what does not fit is told, and then nothing is changed

Never in it: the station's identity, its PIN, its records. The file is JSON: {"evenpull": "setup", "format": 1,
"settings": {…}}, each setting as the book keeps it.
"""

import argparse
import json
import sys
from pathlib import Path
from typing import Any

from kiosk.bar.model import read
from kiosk.bar.model.tasks import CLOSING, OPENING
from kiosk.book import Book, BookBusy, BookNewer
from kiosk.commands import folders
from kiosk.places import private

FORMAT = 1
PARTS = ("bar", "groups", "grinders", "recipes", "menu", "changes", "opening", "closing", "lessons", "scale", "signals", "till", "by_volume", "limits", "manager",
         "sounds", "feeds", "backups", "language", "panel_inches")
STAFF = "staff"


class NotSetup(ValueError):
    """The file is no setup, or one that does not fit; its text says what to do."""


def run(argv: list[str]) -> int:
    """The command. Returns its exit status."""
    parser = argparse.ArgumentParser(prog=f"{folders.called()} setup", description=__doc__,
                                     formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("what", choices=("export", "import"))
    parser.add_argument("file", type=Path, metavar="FILE")
    parser.add_argument("--staff", action="store_true", help="the names of the staff too")
    folders.add_book(parser)
    asked = parser.parse_args(argv)
    try:
        print(_export(asked.book, asked.file, asked.staff) if asked.what == "export" else _import(asked.book, asked.file))
        return 0
    except (NotSetup, BookBusy, BookNewer) as told:
        print(told, file=sys.stderr)
    except OSError as wrong:
        print(f"{wrong.filename or asked.file}: {wrong.strerror}. Check that it is there and may be written, and try again.",
              file=sys.stderr)
    return 2


def parts(settings: dict[str, Any], nameless: bool = False) -> dict[str, Any]:
    """What another station may take over; where `nameless`, nobody of the staff is named as the one who does a task."""
    found = {name: value for name, value in settings.items() if name in PARTS}
    staff = settings.get(STAFF) or {}
    for of in (OPENING, CLOSING) if nameless else ():
        if isinstance(found.get(of), dict):
            found[of] = {task: {**fields, "who": ""} if isinstance(fields, dict) and fields.get("who") in staff else fields
                         for task, fields in found[of].items()}
    return found


def _export(folder: Path, file: Path, staff: bool) -> str:
    if not (folder / "days").is_dir():
        raise NotSetup(f"There is no book in {folder}. Say where it is with --book.")
    with Book.open(folder, read_only=True) as book:
        settings = {name: value for name, value in book.settings.items() if name == STAFF} | parts(book.settings) if staff else \
            parts(book.settings, nameless=True)
    private(file, json.dumps({"evenpull": "setup", "format": FORMAT, "settings": settings}, ensure_ascii=False, indent=2) + "\n")
    return f"The settings are in {file}. Another station takes them in with: {folders.called()} setup import {file.name}"


def _import(folder: Path, file: Path) -> str:
    settings = checked(file)
    with Book.open(folder) as book:
        for name, value in settings.items():
            book.set_setting(name, value)
        trouble = book.not_kept
    if trouble:
        raise NotSetup(trouble)
    return f"{len(settings)} parts of the setup were taken in: {', '.join(settings)}. The station keeps its own name and PIN."


def checked(file: Path) -> dict[str, Any]:
    """The settings of a file, if every one of them fits. Raises NotSetup with a sentence for each that does not, OSError."""
    if not file.is_file():
        raise NotSetup(f"{file} is no file. Name the file that the setup was exported to.")
    try:
        told = json.loads(file.read_text(encoding="utf-8-sig"))
    except (ValueError, RecursionError) as wrong:
        raise NotSetup(f"{file.name} is not JSON ({wrong}). Put that place right, or export the setup again.") from None
    if not isinstance(told, dict) or told.get("evenpull") != "setup" or not isinstance(told.get("settings"), dict):
        raise NotSetup(f"{file.name} is no setup. Export one: {folders.called()} setup export FILE")
    if not isinstance(told.get("format"), int) or told["format"] > FORMAT:
        raise NotSetup(f"{file.name} was written by a newer Evenpull. Update this one first.")
    settings = told["settings"]
    unknown = [name for name in settings if name not in (*PARTS, STAFF)]
    _, complaints = read(settings)
    wrong = [f"There is no setting “{name}”. Take it out." for name in unknown] + list(complaints)
    if wrong:
        raise NotSetup("\n".join((f"{file.name} was not taken in, and nothing was changed:", *wrong)))
    return settings
