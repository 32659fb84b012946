"""Every number on the page once more, from the exports alone: `python -m tests.bench.page [BOOK]`.

A day with its four weeks, a week, a year and a day of two bars side by side are written by the command itself. What stands in
their <data> elements is held against what tests/support/evening_again.py and weeks_again.py make of the exports (CSV and JSON
Lines) with numpy, scipy and statsmodels; and what is read against its exact value rounded. Bar: none differs. The book is the
demo's fortnight over and over for a year; it stays in BOOK where that is named. Takes about five minutes.
"""

import re
import sys
import tempfile
from collections.abc import Mapping
from contextlib import redirect_stdout
from datetime import timedelta
from io import StringIO
from math import isclose
from pathlib import Path

import html5lib

from kiosk.__main__ import main as kiosk
from kiosk.book import Book
from kiosk.book.exchange import take_in
from tests.bench.bars import Bars
from tests.support.demo_years import LAST, fill
from tests.support.evening_again import again
from tests.support.weeks_again import span_again, weeks_again, worths_again

DAYS, PRICE = 365 + 28, 28.0
CLOSE, NEAR = 2e-5, 1e-6        # relative, and absolute: solvers add up in different orders
RECORD_IDS = re.compile(r'"(\d{8}-\d{4})"')


class Bar:
    """A book, and one station of it: its exports of any days, and what they come to."""

    def __init__(self, book: Path, folder: Path, station: str | None = None):
        self.book, self.folder, self.station = book, folder, station

    def exported(self, first: str, last: str) -> tuple[Path, Path]:
        found = []
        for form in ("csv", "jsonl"):
            to = self.folder / f"{self.station or 'own'}-{first}-{last}.{form}"
            if not to.exists():
                said("export", str(to), "--book", str(self.book), "--from", first, "--to-day", last)
            found.append(to)
        return found[0], found[1]

    def day(self, first: str, last: str) -> dict[str, float]:
        return again(*self.exported(first, last), PRICE, worths_again(*self.exported(*weeks_to(before(first)))))

    def weeks(self, last: str) -> dict[str, float]:
        return weeks_again(*self.exported(*weeks_to(last)), price_per_kg=PRICE)

    def year(self, first: str, last: str) -> dict[str, float]:
        return span_again(*self.exported(first, last), PRICE)


def before(day: str) -> str:
    return (LAST.fromisoformat(day) - timedelta(days=1)).isoformat()


def weeks_to(day: str) -> tuple[str, str]:
    return (LAST.fromisoformat(day) - timedelta(days=27)).isoformat(), day


def said(*argv: str) -> str:
    with redirect_stdout(StringIO()) as out:
        assert kiosk(list(argv)) == 0, argv
    return out.getvalue()


def on_the_page(book: Path, folder: Path, *argv: str) -> dict[str, tuple[float, str]]:
    """Each number of the page by its key: the exact value, and what is read."""
    said("report", "--book", str(book), "--html", str(folder / "page.html"), *argv)
    tree = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse((folder / "page.html").read_text("utf-8"))
    return {each.get("data-key"): (float(each.get("value")), each.text) for each in tree.iter("data")}


def differing(shown: Mapping[str, tuple[float, str]], reckoned: Mapping[str, float]) -> list[str]:
    """The keys of the numbers that are not what the exports give, that stand on one side alone, or that are read otherwise."""
    wrong = set(shown) ^ set(reckoned)
    for key in set(shown) & set(reckoned):
        value, text = shown[key]
        read = abs(float(text) - value) <= 0.5 * 10 ** -len(text.partition(".")[2]) + 1e-9
        if not read or not isclose(value, reckoned[key], rel_tol=CLOSE, abs_tol=NEAR):
            wrong.add(key)
    return sorted(wrong)


def two_bars(bar: Bar, folder: Path, day: str) -> Path:
    """A book in which that day of `bar` is beside another bar's, the demo's of a week before, under a name of its own."""
    week_ago = (LAST.fromisoformat(day) - timedelta(days=7)).isoformat()
    text = bar.exported(week_ago, week_ago)[1].read_text("utf-8").replace(week_ago, day)
    own = re.search(r'"station": ?"([^"]*)"', text)[1]
    (folder / "harbour.jsonl").write_text(RECORD_IDS.sub(r'"H\1"', text).replace(f'"{own}"', '"Harbour"'), "utf-8")
    with Book.open(folder / "two") as book:
        take_in(book, bar.exported(day, day)[1])
        take_in(book, folder / "harbour.jsonl")
        book.set_setting("manager.price_per_kg", PRICE)
    with Book.open(folder / "harbour") as book:
        take_in(book, folder / "harbour.jsonl")
    return folder / "two"


def main(argv: list[str]) -> int:
    bars, last = Bars("Every number on the page, from the exports"), LAST.isoformat()
    with tempfile.TemporaryDirectory() as made_in:
        folder = Path(made_in)
        book = Path(argv[0]) if argv else folder / "book"
        if not (book / "days").is_dir():
            fill(book, DAYS)
        with Book.open(book) as opened:
            opened.set_setting("manager.price_per_kg", PRICE)
        bar, week, year = Bar(book, folder), (LAST - timedelta(days=6)).isoformat(), (LAST - timedelta(days=364)).isoformat()
        compared = 0

        def held(what: str, shown: Mapping[str, tuple[float, str]], reckoned: Mapping[str, float]) -> None:
            nonlocal compared
            wrong = differing(shown, reckoned)
            compared += len(shown)
            bars.below(f"{what}: numbers that differ, of {len(shown)}", len(wrong), 0)
            for key in wrong[:8]:
                print(f"        {key}: {shown.get(key)} on the page, {reckoned.get(key)} from the exports")

        held("a day and its four weeks", on_the_page(book, folder, "--day", last, "--weeks"), bar.day(last, last) | bar.weeks(last))
        held("a week", on_the_page(book, folder, "--day", week, "--to", last), bar.day(week, last))
        held("a year", on_the_page(book, folder, "--day", year, "--to", last), bar.year(year, last))
        two = two_bars(bar, folder, last)
        with Book.open(two, read_only=True) as opened:
            names = sorted(opened.day(last).stations - {None})
        pages = Bar(book, folder), Bar(folder / "harbour", folder, "Harbour")
        beside = {f"{name}/{key}": value for name in names for key, value in again(
            *pages[name == "Harbour"].exported(last, last), PRICE).items()}
        held("two bars side by side", on_the_page(two, folder, "--day", last, *(
            word for name in names for word in ("--station", name))), beside)
        print(f"  {compared} numbers compared in all")
    return bars.end()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
