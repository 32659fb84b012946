"""Dialling in: a grinder's collar is set by tasting at opening, with a few shots that go to nobody, until it is accepted."""

from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache

from kiosk.bar.drift.taste import TASTES
from kiosk.bar.model import TASTED_AT_OPENING, Grinder, Noted, Pull
from kiosk.book import Book, DayRecords
from kiosk.station.tasting import TASTED

ACCEPTED = "dialled in"
Shots = tuple[tuple[Pull, str | None], ...]     # and what each tasted of; None before that is told
MOST_SHOTS = 3                  # more say little that the first ones have not said (common practice)


class Dialling:
    """`by()` is whoever is at work, `publish` draws anew."""

    def __init__(self, book: Book, at: Callable[[], str], by: Callable[[], str | None], publish: Callable[[], None]):
        self._book, self._at, self._by, self._publish = book, at, by, publish

    def told(self, grinder: Grinder) -> tuple[Shots, Noted | None]:
        """Today's tasting shots of that grinder since its collar was last accepted, and the note that it was."""
        return _told(self._book.today(), grinder.name)

    def accept(self, grinder: Grinder) -> None:
        """The collar stays where it is, and the bar may serve from it."""
        shots, _accepted = self.told(grinder)
        self._book.keep(Noted(id=self._book.new_id(), at=self._at(), what=ACCEPTED, by=self._by(), facts={
            "grinder": grinder.name, "coffee": grinder.coffee, "setting": grinder.setting, "shots": [pull.id for pull, _ in shots],
            "tastes": [taste or "" for _, taste in shots]}))
        self._publish()


@lru_cache(maxsize=1)           # a day's records never change: once something was kept, the book gives others
def _told(today: DayRecords, grinder: str) -> tuple[Shots, Noted | None]:
    notes = today.of(Noted)
    accepted = max((note for note in notes if note.what == ACCEPTED and note.facts.get("grinder") == grinder),
                   key=lambda note: note.id, default=None)
    since = accepted.id if accepted is not None else ""
    tastes = {note.facts.get("pull_id"): str(note.facts.get("taste")) for note in notes if note.what == TASTED}
    shots = tuple((pull, taste if (taste := tastes.get(pull.id)) in TASTES else None) for pull in today.of(Pull, traces=False)
                  if pull.sink == TASTED_AT_OPENING and pull.grinder == grinder and pull.id > since)
    return shots, accepted


def as_tasted(pull: Pull) -> Pull:
    """The record of a tasting shot: nobody's, and no waste; one that came to no pull stays as it was left."""
    return pull if pull.time_s is None else replace(pull, sink=TASTED_AT_OPENING, order_id=None)
