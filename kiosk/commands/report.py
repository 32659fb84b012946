"""`python -m kiosk report`: what a service day, a week, or a span of days came to; as text, or as JSON, CSV or a page.

Text and page are in the language that the setup has for the evening, or in another by --language; what programs read
is always in English. The fields of the JSON are those of kiosk.station.evenings.plain, with "format": 1; a row of the CSV is
one figure. The page needs nothing but itself: it can be mailed and printed. --demo reads the invented bar that comes with
the program. Ends with 0, or with 2 where the day or the book cannot be read, or the file not be written.
"""

import argparse
import json
import sys
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

from kiosk.bar.evening.evening import evening
from kiosk.bar.evening.weeks import weeks
from kiosk.bar.model import Record, corrected, span
from kiosk.bar.model.record import from_json
from kiosk.book import Book, BookNewer, OneStation, stations
from kiosk.book.sums import day_sums
from kiosk.commands import days, folders
from kiosk.languages import LANGUAGES, notices
from kiosk.places import shipped
from kiosk.station import evenings


def run(argv: list[str]) -> int:
    parser = argparse.ArgumentParser(prog=f"{folders.called()} report", description=__doc__,
                                     formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--day", type=days.day, help="the service day, YYYY-MM-DD (default: the latest with a record)")
    parser.add_argument("--to", type=days.day, metavar="DAY", help="the last day of a span")
    parser.add_argument("--week", type=days.week, metavar="WEEK", help="a week from Monday to Sunday, such as 2026-W43")
    form = parser.add_mutually_exclusive_group()
    form.add_argument("--json", dest="form", action="store_const", const="json", help="one JSON object instead of text")
    form.add_argument("--csv", dest="form", action="store_const", const="csv", help="one figure a row instead of text")
    form.add_argument("--html", type=Path, metavar="FILE", help="write a page to FILE instead")
    form.add_argument("--folder", type=Path, metavar="FOLDER", help="write page, CSV, JSON and text to FOLDER instead")
    parser.add_argument("--weeks", action="store_true",
                        help="add the four weeks up to the last day: settings, wear, room")
    parser.add_argument("--language", choices=tuple(LANGUAGES),
                        help="of the text and the page (default: the setup's); JSON and CSV are always in English")
    parser.add_argument("--no-people", action="store_true", help="leave out who pulled what")
    parser.add_argument("--station", metavar="NAME", help="another station's whose records this book took in")
    parser.add_argument("--demo", action="store_true", help="the demo fortnight instead of this station's book")
    folders.add_book(parser)
    asked = parser.parse_args(argv)
    if asked.week and (asked.day or asked.to):
        parser.error("--week names all its days: leave --day and --to out")
    try:
        setup, kept, records, over = _demo() if asked.demo else _kept(asked.book, asked.station, traces=bool(asked.html or asked.folder))
    except (BookNewer, FileNotFoundError, UnknownStation) as wrong:
        print(wrong, file=sys.stderr)
        return 2
    first, last = asked.week or (asked.day or (kept[-1] if kept else None), asked.to)
    if first is None:
        print(f"The book in {asked.book} is still empty. Serve an order first, or try --demo.", file=sys.stderr)
        return 2
    last = last or first
    if last < first:
        print(f"The span ends on {last}, before it begins on {first}. Give the earlier day with --day.",
              file=sys.stderr)
        return 2
    of = evening(records(first, last), first, last, price_per_kg=setup.manager.price_per_kg or None, currency=setup.manager.currency,
                 show_people=setup.manager.people and not asked.no_people,
                 worths=evenings.worths(over(evenings.before(first))))
    before = over(last) if asked.weeks else None
    try:
        if asked.folder:
            page = evenings.write(of, asked.folder, setup, before, asked.language)
            print(f"Written: {page}, and beside it the same as CSV, JSON and text.")
        elif asked.html:
            folders.private(asked.html, evenings.render(of, "html", setup, before, asked.language))
            print(f"Written: {asked.html}")
        else:
            told = evenings.render(of, asked.form or "txt", setup, before, asked.language)
            print(told if asked.form else folders.harmless(told), end="")
        for notice in notices():
            print(notice, file=sys.stderr)
    except BrokenPipeError:
        sys.stderr.close()          # whoever read the report has seen enough
    except OSError as wrong:
        print(f"{wrong.filename}: {wrong.strerror}. Check that the folder is there and has room.", file=sys.stderr)
        return 2
    return 0


class UnknownStation(LookupError):
    """The book has none of that name, or several and none is named; its text says which there are."""

    def __str__(self) -> str:
        return str(self.args[0])


def _chosen(book: Book, station: str | None) -> OneStation:
    """The station to report on: the one named; else the book's own, where it made any record; else the only other."""
    there = stations(book)
    others = sorted(each for each in there if each)
    if station is not None and station != book.station and station not in there:
        raise UnknownStation(f"The book has no station {station}. It has: {', '.join((book.station, *others))}.")
    if station is None and None not in there and len(others) > 1:
        raise UnknownStation(f"The book holds {len(others)} stations. Name one with --station: {', '.join(others)}.")
    if station is None and None not in there and others:
        station = others[0]
    if station is None and others:
        print(f"The book also holds {', '.join(others)}: see --station.", file=sys.stderr)
    return OneStation(book, station)


def _kept(folder: Path, station: str | None, traces: bool):
    if not folder.is_dir():
        raise FileNotFoundError(f"There is no book in {folder} yet. Serve an order first, name its folder with --book, "
                                "or try --demo.")
    book = Book.open(folder, read_only=True)
    one = _chosen(book, station)
    return (evenings.setup_of(book.settings), one.days(),
            lambda first, last: evenings.kept(one, first, last, traces=traces),
            lambda last: evenings.weeks_of(one, last))


def _demo():
    folder = shipped("demo_data")
    about = json.loads((folder / "bar.json").read_text(encoding="utf-8"))

    def records(first: str, last: str) -> Iterator[Record]:
        for day in span(first, last):
            path = folder / f"{day}.jsonl"
            if path.is_file():
                for line in path.read_text(encoding="utf-8").splitlines():
                    yield from_json(json.loads(line))

    def over(last: str):
        first = (date.fromisoformat(last) - timedelta(days=evenings.DAYS_OF_WEEKS - 1)).isoformat()
        return weeks([day_sums(_GivenDay(day, tuple(corrected(records(day, day))))) for day in about["days"]
                      if first <= day <= last])

    return evenings.setup_of(about["settings"]), tuple(about["days"]), records, over


class _GivenDay:
    """Records that are in no book, as day_sums asks for them."""

    lost = 0

    def __init__(self, day: str, records: tuple[Record, ...]):
        self.day, self._records = day, records

    def of(self, kind: type, traces: bool = True):
        return tuple(kept for kept in self._records if isinstance(kept, kind))
