"""A memory and what came after it: how far a part of the service had read the book, and what it has yet to take in."""

from collections.abc import Callable, Mapping

from kiosk.bar.model import Corrected, Record
from kiosk.book import Book

MARKED_DAYS = 2         # what happens just after a service day's end may be kept with the day before


def recent_days(book: Book) -> tuple[str, ...]:
    """The last days with records; those that a clock set wrong has put after today are among them."""
    days = book.days()
    return days[max(0, sum(day <= book.day_now() for day in days) - MARKED_DAYS):]


def marks(book: Book) -> dict[str, str]:
    """The id of the last record of each recent day: what was kept up to these is taken in."""
    return {day: last[0].id for day in recent_days(book) if (last := book.day(day).last) and last[0].id}


def since(book: Book, marked: Mapping[str, str], matters: Callable[[Record], bool]) -> list[Record] | None:
    """This station's records that matter and were kept after the marks, as corrected, in the order kept.

    None where the book cannot tell: a mark is not in it, or something that matters and lies before was put right since.
    """
    later: list[Record] = []
    for day in book.days():
        records = book.day(day)
        if day < min(marked, default="") or records.last and records.last[0].id == marked.get(day):
            continue
        kept = records.as_kept(traces=False)            # void ones too: the mark may be one
        ids = [each.id for each in kept]
        if day in marked and marked[day] not in ids:
            return None
        place = ids.index(marked[day]) + 1 if day in marked else 0
        known = {each.id: each for each in kept[:place] if matters(each)}
        after = [each for each in kept[place:] if records.is_ours(each.id)]
        if any(isinstance(each, Corrected) and each.of in known for each in after):
            return None
        later += [now for each in after if matters(each) and (now := records.find(each.id)) is not None]
    return later
