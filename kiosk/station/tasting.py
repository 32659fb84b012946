"""What the bar tasted: one touch after a pull, kept beside its record, with what it means for the next one."""

from collections.abc import Callable

from kiosk.bar.drift import HANDS, Flag
from kiosk.bar.drift.taste import Tasted, extraction_yield, taste
from kiosk.bar.model import Noted, Pull
from kiosk.book import Book

TASTED = "tasted"


class Tasting:
    """`flag(pull)` is the standing flag of the grinder that made it; `by()` whoever is at work."""

    def __init__(self, book: Book, at: Callable[[], str], flag: Callable[[Pull], Flag | None], by: Callable[[], str | None]):
        self._book, self._at, self._flag, self._by = book, at, flag, by

    def says(self, pull: Pull, found: str) -> Tasted:
        flag = self._flag(pull)
        return taste(found, pull, flag.direction if flag is not None else None, hands=flag is not None and flag.kind == HANDS)

    def keep(self, pull: Pull, found: str, tds_percent: float | None = None) -> Tasted:
        """The taste goes into the record, and a refractometer's reading (TDS, %) beside it where there is one."""
        facts: dict[str, object] = {"pull_id": pull.id, "taste": found, "grinder": pull.grinder, "coffee": pull.coffee}
        if tds_percent is not None:
            facts["tds_percent"] = tds_percent
            if pull.yield_g and pull.dose_g:
                facts["extraction_percent"] = round(extraction_yield(tds_percent, pull.yield_g, pull.dose_g), 1)
        self._book.keep(Noted(id=self._book.new_id(), at=self._at(), what=TASTED, facts=facts, by=self._by()))
        return self.says(pull, found)
