"""Evenings out of the book: put together for the screen, and written to a folder at each closing."""

from collections.abc import Callable, Iterator
from datetime import date, timedelta
from pathlib import Path
from threading import Thread
from typing import Any

from kiosk.bar.evening import Evening, Weeks, Within
from kiosk.bar.evening.evening import evening
from kiosk.bar.evening.weeks import weeks
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
from kiosk.places import named
from kiosk.station.aside import Aside
from kiosk.station.clock import Clock
from kiosk.station.reports import Alone

KINDS = (Pull, NotchMoved, GroundsPurged, FlagRaised, OrderTaken, OrderEnded, ScaleChecked, Noted)
LOOK_EVERY_S = 60.0
DAYS_OF_WEEKS = 28       # four weeks, this day included


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


def weeks_to(day: str, days: int = DAYS_OF_WEEKS) -> tuple[str, str]:
    """The first and the last of so many days up to `day`."""
    return (date.fromisoformat(day) - timedelta(days=days - 1)).isoformat(), day


def weeks_before(day: str) -> tuple[str, str]:
    return weeks_to(before(day))


def weeks_of(book: Readable, last_day: str, days: int = DAYS_OF_WEEKS) -> Weeks | None:
    """The weeks up to `last_day`, from the sums that the book keeps of each day."""
    return weeks(_one(book).sums(*weeks_to(last_day, days)))


class Closing:
    """Writes each evening once its service day is over, or when the bar says that it closes. `trouble` is what to
    tell."""

    def __init__(self, book: Book, clock: Clock, setup: Callable[[], Setup], aside: Aside):
        self._book, self._clock, self._setup, self._aside = book, clock, setup, aside
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
            return Path(self._setup().manager.evenings)

    def _folder(self) -> Path:
        return self._book.folder / named(self._setup().manager.evenings or "evenings")

    def tick(self) -> None:
        """To be called now and then: yesterday's evening is written if it has not been."""
        now_s = self._clock.s()
        if now_s - self._looked_s < LOOK_EVERY_S or (self._at_work and self._at_work.is_alive()):
            return
        self._looked_s = now_s
        over = [day for day in self._book.days() if day < self._book.day_now()]
        if over:
            self.write(over[-1], again=False)

    def write(self, day: str, wait: bool = False, again: bool = True) -> None:
        """Write the evening of `day`, on a thread of its own; where it is there already, only `again`."""
        setup, folder = self._setup(), self.folder

        def work():
            try:
                to = self._folder()
                if again or not (to / f"{day}.html").exists():
                    of = evening_of(self._book, setup, day, traces=True)
                    self.written = Alone(of, setup, weeks_of(self._book, day)).write(to)
                    self._book.add_up(day)                  # days that a newer program adds up otherwise
                elif day != self._amiss:
                    return              # what is told is of another evening
                self.trouble = None
            except OSError as wrong:
                self._amiss = day
                self.trouble = (f"The evening could not be written to {folder} ({wrong.strerror}). Check that the "
                                "folder is there and has room, or choose another under Setup, Evening.")

        def failed():
            self._amiss = day
            self.trouble = f"The evening of {day} could not be added up. Its records are kept: have the kiosk's log looked at."

        self._at_work = self._aside.begin("evening", work, failed)
        if wait:
            self._at_work.join()


def setup_of(settings: dict[str, Any]) -> Setup:
    return read_setup(settings)[0]
