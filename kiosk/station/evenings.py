"""Evenings and weeks, put together out of the book."""

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

from kiosk.bar.evening import Evening, Weeks, Within, evening, timers_before, weeks
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
    SettingChanged,
    Setup,
    day_before,
)
from kiosk.bar.model import read as read_setup
from kiosk.book import Book, OneStation

KINDS = (Pull, NotchMoved, GroundsPurged, FlagRaised, OrderTaken, OrderEnded, ScaleChecked, Noted, SettingChanged)
DAYS_OF_WEEKS = 28       # four weeks, this day included
TIMERS_ASKED_DAYS = 7    # what a timer wants is asked of the days just past


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
                   worths=worths(weeks_of(book, day_before(first_day))), timers=timers_after(book, setup, last_day or first_day))


def timers_after(book: Readable, setup: Setup, last_day: str) -> dict[str, float]:
    """Where each grinder's timer stood at the end of that day, in seconds; empty where that is long ago, and for another station,
    whose settings are not here."""
    one = _one(book)
    later = [day for day in one.days() if day > last_day]
    if one.station is not None or len(later) > TIMERS_ASKED_DAYS:
        return {}
    changes = [change for day in later for change in one.day(day).of(SettingChanged)]
    return timers_before(changes, {each.name: each.timer_s for each in setup.grinders})


def worths(found: Weeks | None) -> dict[tuple[str, str], Within]:
    """Seconds a notch by grinder and coffee, where a move told it."""
    return {(each.grinder, each.coffee): each.worth for each in (found.grinders if found else ()) if each.worth.count}


def weeks_to(day: str, days: int = DAYS_OF_WEEKS) -> tuple[str, str]:
    """The first and the last of so many days up to `day`."""
    return (date.fromisoformat(day) - timedelta(days=days - 1)).isoformat(), day


def weeks_before(day: str) -> tuple[str, str]:
    return weeks_to(day_before(day))


def weeks_of(book: Readable, last_day: str, days: int = DAYS_OF_WEEKS) -> Weeks | None:
    """The weeks up to `last_day`, from the sums that the book keeps of each day."""
    return weeks(_one(book).sums(*weeks_to(last_day, days)))


def setup_of(settings: dict[str, Any]) -> Setup:
    return read_setup(settings)[0]
