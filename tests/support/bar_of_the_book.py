"""An invented bar for the book's tests: its folder, its clock in the hand, its pulls."""

from datetime import datetime, timedelta, timezone

from kiosk.bar.model import Pull, usual
from kiosk.book import Book

MORNING = datetime(2026, 3, 2, 8, 0, tzinfo=timezone(timedelta(hours=1)))


class WallClock:
    """A wall clock that shows what it is set to."""

    def __init__(self, moment: datetime = MORNING):
        self.moment = moment

    def __call__(self) -> datetime:
        return self.moment

    def pass_by(self, **how_long) -> None:
        self.moment += timedelta(**how_long)


def a_pull(book: Book, **differing) -> Pull:
    """A double of the house coffee from the left grinder, right in every way but the one that the test is about."""
    return Pull(**{"id": book.new_id(), "at": book.at(), "grinder": "left", "coffee": "house", "setting": 12,
                   "recipe": usual("house", "double"), "drinks": ("double espresso",), "barista": "Ada", "dose_g": 16.1,
                   "dose_from": "scale", "yield_g": 50.2, "yield_from": "scale", "time_s": 25.4, "time_from": "scale",
                   "first_drop_s": 4.1, "first_drop_from": "scale", "warmed": True, "purged": True,
                   "trace": ((4.1, 0.2), (12.0, 20.5), (25.4, 48.9)), **differing})


def pulled(book: Book, count: int = 1, **differing) -> list[Pull]:
    """`count` pulls, kept."""
    pulls = [a_pull(book, **differing) for _ in range(count)]
    for pull in pulls:
        book.keep(pull)
    return pulls
