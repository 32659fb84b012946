"""The book: a small local store that loses nothing and never slows.

`Book.open(folder)` is its door: whatever is kept goes through it. Beside it stand its views (a day's records, one station's), why it
may not open, and what serves where no book is open: the disk, small files kept whole, a book's identity.
"""

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
