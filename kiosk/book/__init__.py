"""The book: a small local store that loses nothing and never slows. `Book.open(folder)` is the whole of its door."""

from kiosk.book.book import Book
from kiosk.book.daybook import DayRecords
from kiosk.book.identity import BookNewer
from kiosk.book.journal import NeverEdited
from kiosk.book.lock import BookBusy
from kiosk.book.older_sentences import message_of
from kiosk.book.one_station import OneStation, stations

__all__ = ["Book", "BookBusy", "BookNewer", "DayRecords", "NeverEdited", "OneStation", "message_of",
           "stations"]
