"""The demo's fortnight over and over, as a book of as many days as are wanted, written straight into its files."""

import json
import re
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

from kiosk.book import Book
from kiosk.book.stored_record import StoredRecord
from kiosk.places import shipped

LAST = date(2026, 11, 1)            # the demo's own last day, and that of every such book
FORTNIGHT = 14
DATES = re.compile(r"(?<!\d)(\d{4})(-?)(\d\d)\2(\d\d)(?=[T\"-])")


def day_again(day: date) -> Iterator[str]:
    """The lines of the demo's day of that place in its fortnight, every date in them moved."""
    back = (LAST - day).days // FORTNIGHT * FORTNIGHT
    of = day + timedelta(days=back)

    def moved(found: re.Match) -> str:
        year, dash, month, number = found.groups()
        return f"{date(int(year), int(month), int(number)) - timedelta(days=back):%Y{dash}%m{dash}%d}"

    path = shipped("demo_data") / f"{of}.jsonl"
    for text in path.read_text(encoding="utf-8").splitlines():
        yield DATES.sub(moved, text)


def renamed(text: str) -> str:
    """With other ids, as another bar's are: each is made of the demo."""
    return re.sub(r'"(\d{8}-\d{4})"', r'"H\1"', text)


def fill(folder: Path, days: int, last: date = LAST, every: int = 1, beside: str | None = None) -> None:
    """A book with the demo's settings and of the `days` up to `last` one in `every`, each summed as at its closing; a second
    bar's days are in it too where `beside` names one."""
    settings = json.loads((shipped("demo_data") / "bar.json").read_text(encoding="utf-8"))["settings"]
    with Book.open(folder) as book:
        for name, value in settings.items():
            book.set_setting(name, value)
    first = last - timedelta(days=days - 1)
    for n in range((days - 1) % every, days, every):
        day = first + timedelta(days=n)
        lines, own = [], [*day_again(day)]
        for number, text in enumerate([*own, *(renamed(text) for text in own if beside)], 1):
            fields = json.loads(text) | ({"station": beside} if number > len(own) else {})
            kind, trace = fields.pop("kind"), fields.pop("trace", None)
            body = json.dumps(fields, ensure_ascii=False, separators=(",", ":")).encode()
            if trace:
                body += b"\t" + json.dumps(trace, separators=(",", ":")).encode()
            lines.append(StoredRecord(number, kind, body).encoded(day.isoformat()))
        (folder / "days" / f"{day}.log").write_bytes(b"".join(lines))
    with Book.open(folder) as book:
        book.add_up(last.isoformat())
