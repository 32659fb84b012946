"""Opening, closing and cleaner at work: what hands tell is noted, and no pull is planned on a group that is not rinsed."""

from collections.abc import Callable, Iterable
from functools import lru_cache

from kiosk.bar.model import Noted, Setup, day_before
from kiosk.bar.model.tasks import (
    CLEANER,
    CLOSING,
    POURED_AWAY,
    RINSED,
    RINSES,
    TASK_DONE,
    TASK_SKIPPED,
    TASK_TAKEN_BACK,
    Rinsing,
    Task,
    going_on,
    left_over,
    of_list,
    rinsing,
    ticked,
)
from kiosk.book import Book, DayRecords, OneStation

SINCE_DAYS = 3              # cleaner of so many days back is still in the group if nobody told that it was rinsed


class Tasks:
    """`by()` is whoever is at work, `publish` draws anew. `rinsing` are the groups that cleaner went through."""

    def __init__(self, book: Book, at: Callable[[], str], setup: Callable[[], Setup], by: Callable[[], str | None],
                 publish: Callable[[], None]):
        self._book, self._at, self._setup, self._by, self._publish = book, at, setup, by, publish
        self.rinsing: dict[int, Rinsing] = {}

    def restore(self) -> None:
        self.rinsing = rinsing(note for day in OneStation(self._book).days()[-SINCE_DAYS:] for note in self._book.day(day).of(Noted))

    # ---- lists ----------------------------------------------------------------------------------------------------

    def ticked(self, of: str) -> dict[str, Noted]:
        """Task → what was told of it last, in the list that hands are at now."""
        before, today = self._book.day(day_before(self._book.day_now())), self._book.today()
        return ticked(of, going_on(_told(before, of) if len(before) else (), _told(today, of), self._at()))

    def done(self, of: str, task: Task, value: float | None = None) -> None:
        self._note(TASK_DONE, list=of, task=task.name, **({} if value is None else {"value": value, "unit": task.unit}))

    def skip(self, of: str, task: Task, why: str) -> None:
        self._note(TASK_SKIPPED, list=of, task=task.name, why=why)

    def take_back(self, of: str, task: Task) -> None:
        """It was told by a slip: it is neither done nor left out."""
        self._note(TASK_TAKEN_BACK, list=of, task=task.name)

    def left_yesterday(self) -> tuple[str, ...]:
        """What of the last closing was begun and left, as long as nothing of it was told since."""
        today = self._book.day_now()
        before = [day for day in OneStation(self._book).days() if day < today]
        if not before:
            return ()
        notes = [note for day in (before[-1], today) for note in self._book.day(day).of(Noted)]
        return left_over(CLOSING, self._setup().closing, notes)

    # ---- cleaner --------------------------------------------------------------------------------------------------

    def cleaner(self, group: int) -> None:
        """Cleaner went through the group: nothing is planned on it until it is rinsed."""
        self._note(CLEANER, group=group)

    def rinse(self, group: int) -> None:
        """Rinsed once more; after the last, that a shot was poured away."""
        told = self.rinsing.get(group)
        if told is not None:
            self._note(RINSED if told.rinses < RINSES else POURED_AWAY, group=group)

    def _note(self, what: str, **facts: object) -> None:
        note = Noted(id=self._book.new_id(), at=self._at(), what=what, facts=facts, by=self._by())
        self._book.keep(note)
        self.rinsing = self._after(note)
        self._publish()

    def _after(self, note: Noted) -> dict[int, Rinsing]:
        return rinsing([*self._as_notes(), note])

    def _as_notes(self) -> Iterable[Noted]:
        for group, told in self.rinsing.items():
            for what in (CLEANER, *[RINSED] * told.rinses):
                yield Noted(id="", at="", what=what, facts={"group": group})


@lru_cache(maxsize=4)           # a day's records never change: once something was kept, the book gives others
def _told(day: DayRecords, of: str) -> tuple[Noted, ...]:
    return of_list(of, day.of(Noted))
