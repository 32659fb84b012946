"""What a hire was shown, when and by whom, as one page to print: `certificate NAME --html FILE`."""

import argparse
import sys
from pathlib import Path

from kiosk.book import Book, BookBusy, BookNewer
from kiosk.commands import folders
from kiosk.languages import LANGUAGES
from kiosk.station import certificates
from kiosk.station.evenings import setup_of
from kiosk.station.teaching import training_of


def run(argv: list[str]) -> int:
    """The command. Returns its exit status."""
    parser = argparse.ArgumentParser(prog=f"{folders.called()} certificate", description=__doc__)
    parser.add_argument("name", metavar="NAME", help="as it stands under Setup, Staff")
    parser.add_argument("--html", type=Path, metavar="FILE", help="where to write it (default: NAME.html)")
    parser.add_argument("--language", choices=sorted(LANGUAGES), help="of the page (default: the evening's)")
    folders.add_book(parser)
    asked = parser.parse_args(argv)
    file = asked.html or Path(certificates.named_after(asked.name))
    try:
        if not (asked.book / "days").is_dir():
            print(f"There is no book in {asked.book}. Say where it is with --book.", file=sys.stderr)
            return 2
        with Book.open(asked.book, read_only=True) as book:
            setup = setup_of(book.settings)
            of = training_of(book, asked.name)
            if setup.person(asked.name) is None and not of.pulls and not of.shown:
                print(f"The book knows nobody called {asked.name}. Write the name as it stands under Setup, Staff.", file=sys.stderr)
                return 2
            certificates.write(of, book.day_now(), setup, file, asked.language)
    except (BookBusy, BookNewer) as told:
        print(told, file=sys.stderr)
        return 2
    except OSError as wrong:
        print(f"{wrong.filename or file}: {wrong.strerror}. Check that it is there and may be written, and try again.", file=sys.stderr)
        return 2
    print(f"What {asked.name} was shown is in {file}.")
    return 0
