"""A service day as it is read: its records in the order kept, as they were written and as they were put right since."""

from collections.abc import Iterable
from functools import cached_property
from typing import TypeVar, cast

from kiosk.bar.model import Corrected, GuideEvent, Record, corrected
from kiosk.book.packed import Packed, unpacked
from kiosk.book.stored_record import LOST, StoredRecord

Kind = TypeVar("Kind", bound=Record)


class _Index:
    """A day's lines by their ids. A day that grows has one, made longer as it is asked: a new one for each record would be a megabyte in
    the evening."""

    def __init__(self) -> None:
        self._lines: dict[str | None, StoredRecord] = {}
        self._read = 0

    def of(self, lines: tuple[StoredRecord, ...]) -> dict[str | None, StoredRecord]:
        """All of `lines` by their ids, and those that came since, if they were asked for."""
        if self._read < len(lines):
            self._lines.update((each.id, each) for each in lines[self._read:])
            self._read = len(lines)
        return self._lines


class DayRecords:
    """The records of service day `day` ("YYYY-MM-DD"); never changes: ask the book again for what came since.

    `raw` is what was kept, each as it was written. `all` and `of` read as corrected: what did not happen is gone, wrong
    fields are replaced, and `all` leaves the corrections themselves out. `lost` counts the records that damage took.
    `unread` are the lines that are whole and yet no record to this program. `runs` are more lines, packed, all before the last of
    `lines`. `grown_from`: the day as it was with fewer.
    """

    def __init__(self, day: str, lines: tuple[StoredRecord, ...], runs: tuple[Packed, ...] = (),
                 grown_from: "DayRecords | None" = None):
        self.day, self._runs = day, runs
        self._index: _Index = grown_from._index if grown_from is not None and grown_from._runs == runs else _Index()
        self._loose = tuple(each for each in lines if each.kind != LOST)
        self._lost = tuple(each for each in lines if each.kind == LOST and "moved" not in each.fields)
        self.last_number = lines[-1].end if lines else 0
        self.lost = sum(each.end - each.number + 1 for each in self._lost)

    def of_station(self, station: str | None) -> "DayRecords":
        """Those that were taken in from `station`; None for those made here, with what damage took of the file."""
        if station is None and self.stations <= {None}:
            return self
        lines = [each for each in self._lines if each.station == station]
        return DayRecords(self.day, tuple(sorted((*lines, *(() if station else self._lost)), key=lambda each: each.number)))

    @property
    def _lines(self) -> tuple[StoredRecord, ...]:
        return unpacked(self._runs, self._loose) if self._runs else self._loose

    @cached_property
    def stations(self) -> frozenset[str | None]:
        """Whose records the day holds; None for those made here."""
        return frozenset((*(each.station for each in self._loose), *(None for _ in self._runs)))

    def __len__(self) -> int:
        return len(self._loose) + sum(map(len, self._runs))

    def __contains__(self, id: str) -> bool:
        return self._line(id) is not None

    def of(self, kind: type[Kind], traces: bool = True) -> tuple[Kind, ...]:
        """The records of one kind, as corrected, in the order kept; of corrections, all.

        Without `traces`, pulls come with empty ones and a day in a fifth of the time: for whoever only counts and sums.
        """
        loose = self._by_kind.get(kind.__name__, ())
        kept = cast(tuple[Kind, ...], _records(unpacked(self._runs, loose) if kind is GuideEvent else loose, traces))
        kept = tuple(each for each in kept if each.id not in self._strangers) if kind is Corrected else kept
        return kept if kind is Corrected else self._as_corrected(kept)

    def is_ours(self, id: str) -> bool:
        """Whether this station made the record with this id; what was taken in has another's name with it. True where
        there is none."""
        return self.station_of(id) is None

    def station_of(self, id: str | None) -> str | None:
        """The station that the record with this id was taken in from; None for one made here."""
        line = None if self.stations <= {None} else self._line(id)
        return line.station if line is not None else None

    def find(self, id: str) -> Record | None:
        """The record with this id, as corrected; None where there is none, or where it did not happen."""
        line = self._line(id)
        return next(iter(self._as_corrected(_records([line] if line is not None else []))), None)

    def _line(self, id: str | None) -> StoredRecord | None:
        line = self._index.of(self._loose).get(id)
        if line is None and id is not None:
            line = next((seen for run in self._runs if (seen := run.find(id)) is not None), None)
        return line if line is not None and line.number <= self.last_number else None

    @cached_property
    def all(self) -> tuple[Record, ...]:
        return corrected(each for each in self.raw if each.id not in self._strangers)

    @cached_property
    def raw(self) -> tuple[Record, ...]:
        return self.as_kept()

    def as_kept(self, traces: bool = True) -> tuple[Record, ...]:
        """`raw`; without `traces` in a third of the time, for whoever plays the day again."""
        return _records(self._lines, traces)

    @cached_property
    def unread(self) -> tuple[StoredRecord, ...]:
        return tuple(each for each in self._lines if not _records([each], traces=False))

    @property
    def last(self) -> tuple[StoredRecord, ...]:
        """The line kept last, if any."""
        return self._loose[-1:]

    @cached_property
    def ids(self) -> tuple[str, str]:
        """The first and the last of the ids in sorting order; two empty ones where nothing was kept."""
        ids = [id for each in self._loose if (id := each.id) is not None]
        ids += (id for run in self._runs for id in run.ids)
        return (min(ids), max(ids)) if ids else ("", "")

    def _as_corrected(self, kept: tuple[Kind, ...]) -> tuple[Kind, ...]:
        return cast(tuple[Kind, ...], corrected((*kept, *self._corrections))) if self._corrections else kept

    @cached_property
    def _corrections(self) -> tuple[Corrected, ...]:
        return tuple(each for each in _records(self._by_kind.get(Corrected.__name__, ()))
                     if isinstance(each, Corrected) and each.id not in self._strangers)

    @cached_property
    def _strangers(self) -> frozenset[str | None]:
        """Ids of corrections that another station's file brought and that name a record which is not that station's."""
        return frozenset(line.id for line in self._by_kind.get(Corrected.__name__, ())
                         if line.station and self._line(line.fields.get("of"))
                         and self.station_of(line.fields["of"]) != line.station)

    @cached_property
    def _by_kind(self) -> dict[str, list[StoredRecord]]:
        by_kind: dict[str, list[StoredRecord]] = {}
        for each in self._loose:
            by_kind.setdefault(each.kind, []).append(each)
        return by_kind


def _records(lines: Iterable[StoredRecord], traces: bool = True) -> tuple[Record, ...]:
    """What of `lines` this program can read. The rest is whole, stays in the file, and waits for one that can."""
    read = []
    for line in lines:
        try:
            read.append(line.record if traces else line.without_trace)
        except (ValueError, TypeError, AttributeError):
            pass
    return tuple(read)
