"""The book: a small local store that loses nothing and never slows. `Book.open(folder)` is the whole of its door."""

from kiosk.book import snapshot
from kiosk.book.book import Book
from kiosk.book.daybook import DayRecords
from kiosk.book.disk import Disk
from kiosk.book.identity import BookNewer, Identity
from kiosk.book.journal import NeverEdited
from kiosk.book.lock import BookBusy
from kiosk.book.mounts import not_mounted
from kiosk.book.older_sentences import message_of
from kiosk.book.one_station import OneStation, stations

__all__ = [
    "Book",
    "BookBusy",
    "BookNewer",
    "DayRecords",
    "Disk",
    "Identity",
    "NeverEdited",
    "OneStation",
    "message_of",
    "not_mounted",
    "snapshot",
    "stations",
]
