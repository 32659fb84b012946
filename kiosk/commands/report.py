"""`python -m kiosk report`: what a service day, or a span of them, came to; as text or, with --json, as one object.

The fields of the JSON are those of kiosk.bar.summary.as_plain, with "format": 1. --demo reads the invented bar that
comes with the program. Ends with 0, or with 2 where the day or the book cannot be read.
"""

import argparse
import json
import sys
from collections.abc import Iterator
from datetime import date
from pathlib import Path

from kiosk.bar.day import span
from kiosk.bar.record import Record, record
from kiosk.bar.summary import as_plain, as_text, summary
from kiosk.book import Book, BookNewer
from kiosk.commands import folders
from kiosk.places import shipped


def run(argv: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m kiosk report", description=__doc__,
                                     formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--day", type=_day, help="the service day, YYYY-MM-DD (default: the latest with a record)")
    parser.add_argument("--to", type=_day, metavar="DAY", help="the last day of a span")
    parser.add_argument("--json", action="store_true", help="one JSON object instead of text")
    parser.add_argument("--demo", action="store_true", help="the demo fortnight instead of this station's book")
    folders.add_book(parser)
    asked = parser.parse_args(argv)
    try:
        title, days, records = _demo() if asked.demo else _kept(asked.book)
    except (BookNewer, FileNotFoundError) as wrong:
        print(wrong, file=sys.stderr)
        return 2
    first = asked.day or (days[-1] if days else None)
    if first is None:
        print(f"The book in {asked.book} is still empty. Serve an order first, or try --demo.", file=sys.stderr)
        return 2
    last = asked.to or first
    if last < first:
        print(f"The span ends on {last}, before it begins on {first}. Give the earlier day with --day.", file=sys.stderr)
        return 2
    found = summary(records(first, last), first, last)
    print(json.dumps(as_plain(found), ensure_ascii=False, indent=1) if asked.json else as_text(found, title))
    return 0


def _day(text: str) -> str:
    try:
        return date.fromisoformat(text).isoformat()
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is no day: write it like 2026-10-23") from None


def _kept(folder: Path):
    if not folder.is_dir():
        raise FileNotFoundError(f"There is no book in {folder} yet. Serve an order first, name its folder with --book, "
                                "or try --demo.")
    book = Book.open(folder, read_only=True)
    return book.settings.get("bar", ""), book.days(), book.records


def _demo():
    folder = shipped("demo_data")
    about = json.loads((folder / "bar.json").read_text(encoding="utf-8"))

    def records(first: str, last: str) -> Iterator[Record]:
        for day in span(first, last):
            path = folder / f"{day}.jsonl"
            if path.is_file():
                for line in path.read_text(encoding="utf-8").splitlines():
                    yield record(json.loads(line))

    return about["bar"], tuple(about["days"]), records
