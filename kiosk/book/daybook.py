"""A service day as it is read: its records in the order kept, as they were written and as they were put right since."""

from functools import cached_property
from typing import TypeVar

from kiosk.bar.record import Corrected, Record, plain, record
from kiosk.book.line import LOST, Line

Kind = TypeVar("Kind", bound=Record)


class DayRecords:
    """The records of service day `day` ("YYYY-MM-DD"); never changes: ask the book again for what came since.

    `raw` is what was kept, each as it was written. `all` and `of` read as corrected: void records are gone, wrong fields
    are replaced; corrections stay, and one can itself be corrected or made void. `lost` counts the records that damage
    took. `unread` are the lines that are whole and yet no record to this program.
    """

    def __init__(self, day: str, lines: tuple[Line, ...]):
        self.day = day
        self._lines = tuple(each for each in lines if each.kind != LOST)
        self.last_number = lines[-1].end if lines else 0
        self.lost = sum(each.end - each.number + 1 for each in lines if each.kind == LOST)

    def __len__(self) -> int:
        return len(self._lines)

    def of(self, kind: type[Kind], traces: bool = True) -> tuple[Kind, ...]:
        """The records of one kind, as corrected, in the order kept.

        Without `traces`, pulls come with empty ones and a day in a fifth of the time: for whoever only counts and sums.
        """
        return tuple(self._as_corrected(self._by_kind.get(kind.__name__, ()), traces))

    @cached_property
    def all(self) -> tuple[Record, ...]:
        return tuple(self._as_corrected(self._lines))

    @cached_property
    def raw(self) -> tuple[Record, ...]:
        return tuple(each.record for each in self._lines if each not in self.unread)

    @cached_property
    def unread(self) -> tuple[Line, ...]:
        return tuple(each for each in self._lines if _record(each) is None)

    @cached_property
    def ids(self) -> tuple[str, str]:
        """The first and the last of the ids in sorting order; two empty ones where nothing was kept."""
        ids = [id for id in self._by_id if id is not None]
        return (min(ids), max(ids)) if ids else ("", "")

    def find(self, id: str) -> Record | None:
        """The record with this id, as corrected; None where there is none or it is void."""
        line = self._by_id.get(id)
        return next(self._as_corrected((line,)), None) if line else None

    def __contains__(self, id: str) -> bool:
        return id in self._by_id

    @cached_property
    def _by_id(self) -> dict[str | None, Line]:
        return {each.id: each for each in self._lines}

    @cached_property
    def _by_kind(self) -> dict[str, list[Line]]:
        by_kind: dict[str, list[Line]] = {}
        for each in self._lines:
            by_kind.setdefault(each.kind, []).append(each)
        return by_kind

    @cached_property
    def _corrections(self) -> dict[str, list[Corrected]]:
        """The corrections that hold, by the record they are of: the last first, so that each meets its own beforehand."""
        holding: dict[str, list[Corrected]] = {}
        for line in reversed(self._by_kind.get(Corrected.__name__, ())):
            if (kept := _record(line)) and (now := corrected(kept, holding.get(kept.id, ()))):
                holding.setdefault(now.of, []).insert(0, now)
        return holding

    def _as_corrected(self, lines, traces: bool = True):
        for line in lines:
            if (kept := _record(line, traces)) and (now := corrected(kept, self._corrections.get(kept.id, ()))):
                yield now


def corrected(kept: Record, corrections) -> Record | None:
    """`kept` with `corrections` made in turn; None where it did not happen. One that does not fit changes nothing."""
    for each in corrections:
        if each.void:
            return None
        try:
            kept = record({**plain(kept), **each.changes, "kind": type(kept).__name__, "id": kept.id})
        except ValueError:
            pass
    return kept


def _record(line: Line, traces: bool = True) -> Record | None:
    try:
        return line.record if traces else line.without_trace
    except (ValueError, TypeError, AttributeError):
        return None
