"""A book read as one station's alone: a chain's manager has several bars in one, whose grinders may have equal names."""

from collections import Counter
from collections.abc import Iterator
from typing import TYPE_CHECKING

from kiosk.bar.model import Record
from kiosk.book.book import Book
from kiosk.book.daybook import DayRecords

if TYPE_CHECKING:               # a book opens without what adds days up
    from kiosk.book.sums import DaySums


class OneStation:
    """Reads as `book` does. `station` is the name that its records were taken in under; None for those made here."""

    def __init__(self, book: Book, station: str | None = None):
        self._book, self.station = book, station if station != book.station else None

    def days(self) -> tuple[str, ...]:
        """Every service day with a record of it, the earliest first."""
        return tuple(day for day in self._book.days() if self.station in self._book.stations_of(day))

    def day(self, day: str) -> DayRecords:
        return self._book.day(day).of_station(self.station)

    def records(self, first_day: str, last_day: str) -> Iterator[Record]:
        for day in self.days():
            if first_day <= day <= last_day:
                yield from self.day(day).all

    def sums(self, first_day: str, last_day: str) -> "tuple[DaySums, ...]":
        """The sums of each day from `first_day` to `last_day`, both included."""
        return self._book.sums(first_day, last_day, self.station)


def stations(book: Book) -> dict[str | None, int]:
    """Every station that has records in the book, None for its own, and on how many days."""
    return dict(Counter(station for day in book.days() for station in book.stations_of(day)))
