"""`python -m kiosk report`: what a service day, a week, or a span of days came to; as text, or as JSON, CSV or a page.

Text and page are in the language that the setup has for the evening, or in another by --language; what programs read
is always in English. The fields of the JSON are those of kiosk.station.reports.plain, with "format": 1, and 2 for more than
35 days, which are told by the week; a row of the CSV is one figure. The page needs nothing but itself: it can be mailed and
printed. Several --station stand side by side on one page: their JSON is {"format": 1, "stations": [{station, and the fields of
one}]}, their CSV has a column station first. --demo reads the invented bar that comes with the program. Ends with 0, or with 2
where the day or the book cannot be read, or the file not be written.
"""

import argparse
import json
import sys
from collections.abc import Iterator
from pathlib import Path

from kiosk.bar.evening import Evening, Weeks, by_week, evening, weeks
from kiosk.bar.evening.span import BY_PULL_DAYS, Span
from kiosk.bar.evening.span import span as long_span
from kiosk.bar.model import Record, Setup, corrected, from_json, span
from kiosk.book import Book, BookNewer, OneStation, stations
from kiosk.book.sums import DaySums, day_sums
from kiosk.commands import days, folders
from kiosk.languages import LANGUAGES, notices
from kiosk.places import private, shipped
from kiosk.station import evenings
from kiosk.station.reports import MOST_BESIDE, Alone, Beside, Report


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
    form.add_argument("--mail", type=Path, metavar="FILE",
                      help="write a mail to FILE (.eml) instead: the text, with the page and the CSV")
    form.add_argument("--folder", type=Path, metavar="FOLDER", help="write page, CSV, JSON and text to FOLDER instead")
    parser.add_argument("--weeks", action="store_true",
                        help="add the four weeks up to the last day: settings, wear, room")
    parser.add_argument("--language", choices=tuple(LANGUAGES),
                        help="of the text and the page (default: the setup's); JSON and CSV are always in English")
    parser.add_argument("--no-people", action="store_true", help="leave out who pulled what")
    parser.add_argument("--station", metavar="NAME", action="append", dest="stations",
                        help="another station's whose records this book took in; named again, up to four side by side")
    parser.add_argument("--demo", action="store_true", help="the demo fortnight instead of this station's book")
    folders.add_book(parser)
    asked = parser.parse_args(argv)
    if asked.week and (asked.day or asked.to):
        parser.error("--week names all its days: leave --day and --to out")
    if len(asked.stations or ()) > MOST_BESIDE:
        parser.error(f"up to {MOST_BESIDE} stations stand side by side: ask a chain of more with export --as chain")
    if asked.demo and asked.stations:
        parser.error("the demo is one bar: leave --station out")
    try:
        told = _report(asked)
    except (BookNewer, NotTold) as wrong:
        print(wrong, file=sys.stderr)
        return 2
    except OSError as wrong:
        print(folders.unreadable(asked.book, wrong), file=sys.stderr)
        return 2
    try:
        if asked.folder:
            print(f"Written: {told.write(asked.folder)}, and beside it the same as CSV, JSON and text.")
        elif asked.html:
            private(asked.html, told.render("html"))
            print(f"Written: {asked.html}")
        elif asked.mail:
            private(asked.mail, told.render("eml"))
            print(f"Written: {asked.mail}. Open it in a mail program to send it on; nothing was sent.")
        else:
            text = told.render(asked.form or "txt")
            print(text, end="")
        for notice in notices():
            print(notice, file=sys.stderr)
    except BrokenPipeError:
        sys.stderr.close()          # whoever read the report has seen enough
    except OSError as wrong:
        print(f"{wrong.filename}: {wrong.strerror}. Check that the folder is there and has room.", file=sys.stderr)
        return 2
    return 0


def _report(asked: argparse.Namespace) -> Report:
    """What was asked for, added up. Raises NotTold, BookNewer, OSError."""
    sources = [Demo()] if asked.demo else _kept(asked.book, asked.stations or [None],
                                                traces=bool(asked.html or asked.folder or asked.mail))
    kept = sorted({day for source in sources for day in source.days})
    first, last = asked.week or (asked.day or (kept[-1] if kept else None), asked.to)
    if first is None:
        raise NotTold(f"The book in {asked.book} is still empty. Serve an order first, or try --demo.")
    last = last or first
    if last < first:
        raise NotTold(f"The span ends on {last}, before it begins on {first}. Give the earlier day with --day.")
    found = {source.name: _told(source, first, last, not asked.no_people) for source in sources}
    setup = sources[0].setup
    if len(found) > 1:
        return Beside(found, setup, asked.language)
    source, = sources
    return Alone(found[source.name], setup, _weeks(source, first, last, asked.weeks), asked.language)


def _told(source: "_Kept | Demo", first: str, last: str, people: bool) -> Evening | Span:
    """Pull by pull, or by the week where the span is long."""
    manager = source.setup.manager
    cost = {"price_per_kg": manager.price_per_kg or None, "currency": manager.currency}
    if len(span(first, last)) > BY_PULL_DAYS:
        return long_span(source.sums(first, last), first, last, burrs_kg=manager.burrs_kg, **cost)
    before = weeks(source.sums(*evenings.weeks_before(first)))
    return evening(source.records(first, last), first, last, show_people=manager.people and people,
                   worths=evenings.worths(before), timers=source.timers(last), **cost)


def _weeks(source: "_Kept | Demo", first: str, last: str, asked: bool) -> Weeks | None:
    """The four weeks up to the last day where they are asked for; of a month its own, told by the week."""
    if by_week(first, last):
        return weeks(source.sums(first, last))
    return weeks(source.sums(*evenings.weeks_to(last))) if asked else None


class NotTold(LookupError):
    """There is nothing of what was asked for; its text says what to do instead."""


def _chosen(book: Book, station: str | None) -> OneStation:
    """The station to report on: the one named; else the book's own, where it made any record; else the only other."""
    there = stations(book)
    others = sorted(each for each in there if each)
    if station is not None and station != book.station and station not in there:
        raise NotTold(f"The book has no station {station}. It has: {', '.join((book.station, *others))}.")
    if station is None and None not in there and len(others) > 1:
        raise NotTold(f"The book holds {len(others)} stations. Name one with --station: {', '.join(others)}.")
    if station is None and None not in there and others:
        station = others[0]
    if station is None and others:
        print(f"The book also holds {', '.join(others)}: see --station.", file=sys.stderr)
    return OneStation(book, station)


def _kept(folder: Path, named: list[str | None], traces: bool) -> "list[_Kept]":
    if not folder.is_dir():
        raise NotTold(f"There is no book in {folder} yet. Serve an order first, name its folder with --book, "
                      "or try --demo.")
    book = Book.open(folder, read_only=True)
    setup = evenings.setup_of(book.settings)
    return [_Kept(_chosen(book, station), setup, station or book.station, traces) for station in dict.fromkeys(named)]


class _Kept:
    """One station of the book, as a report reads it."""

    def __init__(self, one: OneStation, setup: Setup, name: str, traces: bool):
        self._one, self._traces, self.setup, self.name, self.days = one, traces, setup, name, one.days()

    def records(self, first: str, last: str) -> Iterator[Record]:
        return evenings.kept(self._one, first, last, traces=self._traces)

    def timers(self, last: str) -> dict[str, float]:
        return evenings.timers_after(self._one, self.setup, last)

    def sums(self, first: str, last: str) -> tuple[DaySums, ...]:
        return self._one.sums(first, last)


class Demo:
    """The fortnight that comes with the program."""

    name = "demo"

    def __init__(self):
        self._folder = shipped("demo_data")
        about = json.loads((self._folder / "bar.json").read_text(encoding="utf-8"))
        self.setup, self.days = evenings.setup_of(about["settings"]), tuple(about["days"])

    def records(self, first: str, last: str) -> Iterator[Record]:
        for day in span(first, last):
            path = self._folder / f"{day}.jsonl"
            if path.is_file():
                for line in path.read_text(encoding="utf-8").splitlines():
                    yield from_json(json.loads(line))

    def timers(self, _last: str) -> dict[str, float]:
        return {each.name: each.timer_s for each in self.setup.grinders}

    def sums(self, first: str, last: str) -> tuple[DaySums, ...]:
        return tuple(day_sums(GivenDay(day, tuple(corrected(self.records(day, day))))) for day in self.days
                     if first <= day <= last)


class GivenDay:
    """Records that are in no book, as day_sums asks for them."""

    lost = 0

    def __init__(self, day: str, records: tuple[Record, ...]):
        self.day, self._records = day, records

    def of(self, kind: type, traces: bool = True):
        return tuple(kept for kept in self._records if isinstance(kept, kind))
