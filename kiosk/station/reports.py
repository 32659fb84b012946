"""A report in every form that leaves the kiosk: a page, CSV, JSON, text, a mail to send on; of one bar, or of a few side by side.

Page, text and mail are in `language` (one of LANGUAGES), the manager's where none is given; what programs read is always in
English. Files are for their owner alone: they may name people.
"""

import csv
import io
import json
import os
from abc import ABC, abstractmethod
from collections.abc import Iterable, Mapping, Sequence
from email.message import EmailMessage
from email.policy import SMTP
from pathlib import Path
from typing import Any

from kiosk.bar import messages
from kiosk.bar.evening import (
    Evening,
    Group,
    Row,
    Weeks,
    as_plain,
    as_text,
    group_text,
    groups,
    span_of_days,
    span_text,
    week_groups,
)
from kiosk.bar.evening.span import Span, span_groups
from kiosk.bar.evening.span import as_plain as span_plain
from kiosk.bar.messages import Language
from kiosk.bar.model import Setup
from kiosk.book.rows import inert
from kiosk.languages import catalogue
from kiosk.page import beside_page, page, span_page
from kiosk.places import private

FORMS = ("html", "csv", "json", "txt")
COLUMNS = ("group", "figure", "name", "value", "low", "high", "of", "unit", "text", "records")
MOST_BESIDE = 4         # side by side on a sheet of A4
# What the text has of the rows, after its own figures: whole groups, and rows by the end of their key.
TOLD_WHOLE, TOLD = ("people", "service", "weeks"), ("start", "moving", "worth", "_money")


class Report(ABC):
    """`first_day` and `last_day` are what it is of, `title` what it is headed by."""

    def __init__(self, days: tuple[str, str], title: str, setup: Setup, language: str | None):
        self.first_day, self.last_day = days
        self.title, self.setup, self.language = title, setup, catalogue(language or setup.evening_language)

    @abstractmethod
    def _html(self) -> str: ...

    @abstractmethod
    def _csv(self) -> str: ...

    @abstractmethod
    def _json(self) -> dict[str, Any]: ...

    @abstractmethod
    def _txt(self) -> str: ...

    def render(self, form: str) -> str:
        """As one of FORMS, or as "eml"."""
        if form == "json":
            return json.dumps(self._json(), ensure_ascii=False, indent=1) + "\n"
        return {"html": self._html, "csv": self._csv, "txt": self._txt, "eml": self._eml}[form]()

    def write(self, folder: Path) -> Path:
        """In every form of FORMS, each file whole or not at all; the page's path. Raises OSError."""
        folder.mkdir(parents=True, exist_ok=True)
        for form in reversed(FORMS):            # the page last: where it is, the others are too
            path, part = folder / f"{self._name}.{form}", folder / f"{self._name}.{form}.part"
            private(part, self.render(form))
            os.replace(part, path)
        return folder / f"{self._name}.html"

    @property
    def _name(self) -> str:
        return self.first_day if self.first_day == self.last_day else f"{self.first_day}-to-{self.last_day}"

    def _eml(self) -> str:
        """A mail that nobody sent yet: the text, and the page and the table attached. Who reads it fills in to whom."""
        mail = EmailMessage(policy=SMTP)
        span = self.language.render(span_of_days(self.first_day, self.last_day))
        mail["Subject"] = " ".join((f"{self.title}, {span}" if self.title else span).split())
        mail["X-Unsent"] = "1"                  # mail programs that know it open the file to be written on
        mail.set_content(self._txt())
        for form, kind in (("html", "html"), ("csv", "csv")):
            mail.add_attachment(self.render(form), subtype=kind, filename=f"{self._name}.{form}")
        return mail.as_string()


class Alone(Report):
    """Of one bar, with the weeks up to it where they are given."""

    def __init__(self, of: Evening | Span, setup: Setup, over: Weeks | None = None, language: str | None = None):
        super().__init__(days_of(of), setup.bar, setup, language)
        self._of, self._over = of, over
        self._groups = groups_of(of, setup, over)

    def _html(self) -> str:
        manager = self.setup.manager
        if isinstance(self._of, Span):
            return span_page(self._of, self.title, manager.currency, manager.price_per_kg or None, self.language)
        return page(self._of, self.title, manager.currency, self._over, manager.burrs_kg, self.language,
                    manager.price_per_kg or None)

    def _csv(self) -> str:
        return table([("", self._groups)])

    def _json(self) -> dict[str, Any]:
        return plain(self._of, self._groups)

    def _txt(self) -> str:
        return text(self._of, self._groups, self.title, self.language)


class Beside(Report):
    """Of a few bars, by the name of each; `setup` is that of the book they are in."""

    def __init__(self, of: Mapping[str, Evening | Span], setup: Setup, language: str | None = None):
        super().__init__(days_of(next(iter(of.values()))), "", setup, language)
        self.title = self.language.render(messages.joined(", ", list(of)))
        self._of, self._groups = of, {name: groups_of(each, setup) for name, each in of.items()}

    def _html(self) -> str:
        manager = self.setup.manager
        return beside_page(self._of, self._groups, manager.currency, manager.price_per_kg or None, self.language)

    def _csv(self) -> str:
        return table(list(self._groups.items()))

    def _json(self) -> dict[str, Any]:
        return {"format": 1, "stations": [{"station": name, **plain(each, self._groups[name])} for name, each in self._of.items()]}

    def _txt(self) -> str:
        return "\n".join(text(each, self._groups[name], name, self.language) for name, each in self._of.items())


def days_of(of: Evening | Span) -> tuple[str, str]:
    days = of if isinstance(of, Span) else of.summary.figures
    return days.first_day, days.last_day


def text(of: Evening | Span, found: Iterable[Group], title: str, language: Language) -> str:
    if isinstance(of, Span):
        return span_text(of, tuple(found), title, language)
    return as_text(of.summary, title, language, runs=not of.by_week) + _more_text(found, language, of.by_week)


def groups_of(of: Evening | Span, setup: Setup, over: Weeks | None = None) -> tuple[Group, ...]:
    """Every figure as a row; of a span that is told by the week, a row a week."""
    manager = setup.manager
    if isinstance(of, Span):
        return span_groups(of, manager.price_per_kg or None, manager.currency)
    return (*groups(of, manager.currency), *(week_groups(over, manager.burrs_kg, every=of.by_week, currency=manager.currency,
                                                         price_per_kg=manager.price_per_kg or None) if over else ()))


def plain(of: Evening | Span, found: Iterable[Group]) -> dict[str, Any]:
    """`kiosk.bar.evening.summary.as_plain`, or kiosk.bar.evening.span's, and under "groups" every row of the screen and the page:
    [{kind, name, rows: [{key, name, value, low, high, of, unit, text, record_ids}]}]."""
    return (span_plain(of) if isinstance(of, Span) else as_plain(of.summary, of.names)) | {"groups": [
        {"kind": group.kind, "name": group.name, "rows": [_row(row) for row in group.rows]} for group in found]}


def _more_text(found: Iterable[Group], language: Language, by_week: bool) -> str:
    """What the summary's own text does not have."""
    lines = []
    for group in found:
        rows = [row for row in group.rows if group.kind in TOLD_WHOLE or row.key.endswith(TOLD)]
        if group.kind == "weeks" and by_week:
            lines += ["", *group_text(group, language)[:-1]]
        elif rows:
            lines += ["", messages.render(group.name, language),
                      *(f"  {messages.render(row.name, language)}: {row.render(language)}" for row in rows)]
    return "\n".join([*lines, ""]) if lines else ""


def _row(row: Row) -> dict[str, Any]:
    return {name: getattr(row, name) for name in ("key", "name", "value", "low", "high", "of", "unit", "text")} | {
        "record_ids": list(row.record_ids)}


def table(found: Sequence[tuple[str, Iterable[Group]]]) -> str:
    """As CSV; of several stations, whose it is stands in a column before the others."""
    text, several = io.StringIO(), len(found) > 1
    writer = csv.writer(text)
    writer.writerow(("station", *COLUMNS) if several else COLUMNS)
    for station, groups_there in found:
        for group in groups_there:
            for row in group.rows:
                numbers = ["" if value is None else repr(value) for value in (row.value, row.low, row.high, row.of)]
                writer.writerow([*([_cell(station)] if several else ()), _cell(group.name), row.key, _cell(row.name), *numbers,
                                 row.unit, _cell(row.text), " ".join(row.record_ids)])
    return text.getvalue()


def _cell(text: str) -> str:
    """A text that no spreadsheet takes for a formula; nothing where there is none."""
    return inert(text or None)
