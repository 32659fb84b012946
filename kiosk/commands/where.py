"""Where this station keeps what: the book, its log, the evenings, the backups, and the program itself.

A folder that Setup names is written out as the kiosk takes it: beside what else is in the book's folder, and "~" as this user's home.
With --json one object: {format: 1, version, station, book, there, log, feeds, evenings, backups, program, python}; paths
as text, `there` whether there is a book, `station` and `backups` null where there are none.
"""

import argparse
import json
import sys
from pathlib import Path

from kiosk import __version__
from kiosk.bar.model import read
from kiosk.book import Book, BookNewer
from kiosk.commands import folders
from kiosk.places import named
from kiosk.station.backups import stick


def run(argv: list[str]) -> int:
    """The command. Returns its exit status."""
    parser = argparse.ArgumentParser(prog=f"{folders.called()} where", description=__doc__,
                                     formatter_class=argparse.RawDescriptionHelpFormatter)
    folders.add_book(parser)
    parser.add_argument("--json", action="store_true", help="one JSON object instead of text")
    asked = parser.parse_args(argv)
    found = {"format": 1, "version": __version__, "station": None, "book": str(asked.book), "there": False,
             "log": str(asked.book / "kiosk.log"), "feeds": str(asked.book / "feeds"),
             "evenings": _place(asked.book, "evenings"), "backups": None, "program": str(Path(__file__).parents[1]),
             "python": sys.executable}
    try:
        found["there"] = (asked.book / "days").is_dir()
        if found["there"]:
            with Book.open(asked.book, read_only=True) as book:
                setup, _ = read(book.settings)
                backups = setup.backups or stick()
                found |= {"station": book.station, "backups": _place(asked.book, backups) if backups else None,
                          "evenings": _place(asked.book, setup.manager.evenings or "evenings")}
    except BookNewer as newer:
        print(newer, file=sys.stderr)
        return 2
    except OSError as wrong:
        print(folders.unreadable(asked.book, wrong), file=sys.stderr)
        return 2
    if asked.json:
        print(json.dumps(found, ensure_ascii=False, indent=1))
        return 0
    print(f"Evenpull {__version__}, in {found['program']}, by {found['python']}")
    print(f"Book      {found['book']}" + ("" if found["there"] else "  (none there yet)"))
    for name, key in (("Station", "station"), ("Log", "log"), ("Feeds", "feeds"), ("Evenings", "evenings"), ("Backups", "backups")):
        print(f"{name:<9} {found[key] or 'none set'}")
    return 0


def _place(book: Path, folder: str) -> str:
    """Where the kiosk looks for a folder that Setup names; as it is written there where that leads nowhere."""
    try:
        return str(book / named(folder))
    except OSError:
        return folder
