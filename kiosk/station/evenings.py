"""Evenings out of the book: put together for the screen, and written to a folder at each closing."""

import csv
import io
import json
import logging
import os
from collections.abc import Iterable, Iterator
from datetime import date, timedelta
from pathlib import Path
from threading import Thread
from typing import Any

from kiosk.bar import messages
from kiosk.bar.evening import Evening, Group, Row, Weeks, Within, as_plain, as_text, groups, week_groups
from kiosk.bar.evening.evening import evening
from kiosk.bar.evening.weeks import weeks
from kiosk.bar.messages import Language
from kiosk.bar.model import (
    FlagRaised,
    GroundsPurged,
    NotchMoved,
    Noted,
    OrderEnded,
    OrderTaken,
    Pull,
    Record,
    ScaleChecked,
    Setup,
)
from kiosk.bar.model import read as read_setup
from kiosk.book import Book, OneStation
from kiosk.languages import catalogue
from kiosk.page import page
from kiosk.places import named

KINDS = (Pull, NotchMoved, GroundsPurged, FlagRaised, OrderTaken, OrderEnded, ScaleChecked, Noted)
FORMS = ("html", "csv", "json", "txt")
COLUMNS = ("group", "figure", "name", "value", "low", "high", "of", "unit", "text", "records")
LOOK_EVERY_S = 60.0
# What the text has of the rows, after its own figures: whole groups, and rows by the end of their key.
TOLD_WHOLE, TOLD = ("people", "service", "weeks"), ("start", "moving", "worth", "_money")
DAYS_OF_WEEKS = 28       # four weeks, this day included
log = logging.getLogger(__name__)


Readable = Book | OneStation


def _one(book: Readable) -> OneStation:
    """An evening is one bar's: of a whole book, that of the station whose book it is."""
    return OneStation(book) if isinstance(book, Book) else book


def kept(book: Readable, first_day: str, last_day: str, traces: bool = False) -> Iterator[Record]:
    """The records that an evening is made of, as corrected; what the guides saw step by step is left where it is."""
    one = _one(book)
    for day in one.days():
        if first_day <= day <= last_day:
            records = one.day(day)
            for kind in KINDS:
                yield from records.of(kind, traces=traces)


def evening_of(book: Readable, setup: Setup, first_day: str, last_day: str | None = None, traces: bool = False) -> Evening:
    manager = setup.manager
    return evening(kept(book, first_day, last_day or first_day, traces), first_day, last_day,
                   price_per_kg=manager.price_per_kg or None, show_people=manager.people, currency=manager.currency,
                   worths=worths(weeks_of(book, before(first_day))))


def before(day: str) -> str:
    return (date.fromisoformat(day) - timedelta(days=1)).isoformat()


def worths(found: Weeks | None) -> dict[tuple[str, str], Within]:
    """Seconds a notch by grinder and coffee, where a move told it."""
    return {(each.grinder, each.coffee): each.worth for each in (found.grinders if found else ()) if each.worth.count}


def weeks_of(book: Readable, last_day: str, days: int = DAYS_OF_WEEKS) -> Weeks | None:
    """The weeks up to `last_day`, from the sums that the book keeps of each day."""
    first_day = (date.fromisoformat(last_day) - timedelta(days=days - 1)).isoformat()
    return weeks(_one(book).sums(first_day, last_day))


def render(of: Evening, form: str, setup: Setup, over: Weeks | None = None, language: str | None = None) -> str:
    """The evening as "html", "csv", "json" or "txt", with the weeks up to it where they are given.

    Page and text are in `language` (one of LANGUAGES), the manager's where none is given; what programs read is always
    in English.
    """
    manager, words = setup.manager, catalogue(language or setup.evening_language)
    if form == "html":
        return page(of, setup.bar, manager.currency, over, manager.burrs_kg, words)
    found = (*groups(of, manager.currency), *(week_groups(over, manager.burrs_kg) if over else ()))
    if form == "csv":
        return _table(found)
    if form == "json":
        return json.dumps(plain(of, found), ensure_ascii=False, indent=1) + "\n"
    return as_text(of.summary, setup.bar, words) + _more_text(found, words)


def plain(of: Evening, found: Iterable[Group]) -> dict[str, Any]:
    """`kiosk.bar.evening.summary.as_plain`, and under "groups" every row of the screen and the page:
    [{kind, name, rows: [{key, name, value, low, high, of, unit, text, record_ids}]}]."""
    return as_plain(of.summary, of.names) | {"groups": [
        {"kind": group.kind, "name": group.name, "rows": [_row(row) for row in group.rows]} for group in found]}


def _more_text(found: Iterable[Group], language: Language) -> str:
    """What the summary's own text does not have."""
    lines = []
    for group in found:
        rows = [row for row in group.rows if group.kind in TOLD_WHOLE or row.key.endswith(TOLD)]
        if rows:
            lines += ["", messages.render(group.name, language),
                      *(f"  {messages.render(row.name, language)}: {row.render(language)}" for row in rows)]
    return "\n".join([*lines, ""]) if lines else ""


def _row(row: Row) -> dict[str, Any]:
    return {name: getattr(row, name) for name in ("key", "name", "value", "low", "high", "of", "unit", "text")} | {
        "record_ids": list(row.record_ids)}


def _table(found: Iterable[Group]) -> str:
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(COLUMNS)
    for group in found:
        for row in group.rows:
            numbers = ["" if value is None else repr(value) for value in (row.value, row.low, row.high, row.of)]
            writer.writerow([_inert(group.name), row.key, _inert(row.name), *numbers, row.unit, _inert(row.text),
                             " ".join(row.record_ids)])
    return text.getvalue()


def _inert(text: str) -> str:
    """Spreadsheets run what begins like a formula (OWASP, "CSV Injection")."""
    return "'" + text if text[:1] in tuple("=+-@\t\r") else text


def write(of: Evening, folder: Path, setup: Setup, over: Weeks | None = None, language: str | None = None) -> Path:
    """The evening in every form, in `folder`, each file whole or not at all; the page's path. Raises OSError.

    For their owner alone: they name people.
    """
    figures = of.summary.figures
    name = figures.first_day if figures.first_day == figures.last_day else f"{figures.first_day}-to-{figures.last_day}"
    folder.mkdir(parents=True, exist_ok=True)
    for form in reversed(FORMS):            # the page last: where it is, the others are too
        path, part = folder / f"{name}.{form}", folder / f"{name}.{form}.part"
        with open(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w", encoding="utf-8",
                  newline="") as file:
            file.write(render(of, form, setup, over, language))
        os.replace(part, path)
    return folder / f"{name}.html"


class Closing:
    """Writes each evening once its service day is over, or when the bar says that it closes. `trouble` is what to
    tell."""

    def __init__(self, service):
        self._service = service
        self._looked_s = float("-inf")
        self._at_work: Thread | None = None
        self._amiss: str | None = None      # the day that `trouble` is of
        self.trouble: str | None = None
        self.written: Path | None = None

    @property
    def folder(self) -> Path:
        """Where the evenings go, for the screen: as the setting has it where that leads nowhere."""
        try:
            return self._folder()
        except OSError:
            return Path(self._service.setup.manager.evenings)

    def _folder(self) -> Path:
        return self._service.book.folder / named(self._service.setup.manager.evenings or "evenings")

    def tick(self) -> None:
        """To be called now and then: yesterday's evening is written if it has not been."""
        now_s = self._service.clock.s()
        if now_s - self._looked_s < LOOK_EVERY_S or (self._at_work and self._at_work.is_alive()):
            return
        self._looked_s = now_s
        book = self._service.book
        over = [day for day in book.days() if day < book.day_now()]
        if over:
            self.write(over[-1], again=False)

    def write(self, day: str, wait: bool = False, again: bool = True) -> None:
        """Write the evening of `day`, on a thread of its own; where it is there already, only `again`."""
        setup, folder = self._service.setup, self.folder

        def work():
            try:
                to = self._folder()
                if again or not (to / f"{day}.html").exists():
                    of = evening_of(self._service.book, setup, day, traces=True)
                    self.written = write(of, to, setup, weeks_of(self._service.book, day))
                elif day != self._amiss:
                    return              # what is told is of another evening
                self.trouble = None
            except OSError as wrong:
                self._amiss = day
                self.trouble = (f"The evening could not be written to {folder} ({wrong.strerror}). Check that the "
                                "folder is there and has room, or choose another under Setup, Evening.")
            except Exception:           # whatever a record holds that nobody thought of: the next one is served
                log.exception("the evening of %s", day)
                self._amiss = day
                self.trouble = (f"The evening of {day} could not be added up. Its records are kept: have the "
                                "kiosk's log looked at.")

        self._at_work = Thread(target=work, name="evening", daemon=True)
        self._at_work.start()
        if wait:
            self._at_work.join()


def setup_of(settings: dict[str, Any]) -> Setup:
    return read_setup(settings)[0]
