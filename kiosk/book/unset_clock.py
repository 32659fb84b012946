"""Records made while the wall clock was not set, and the day they are put in once it is.

A computer whose clock has no battery starts in 1970, or where it was switched off. While the clock says a time before this
program was made, or before the last record, each record carries a mark: `"clock": {"boot": B, "s": S}`, second S of the
computer's run B, which no wall clock has a say in. Once the time is known in that run, each record's own follows: it moves
to the file of its day, and keeps what the clock had said (`"clock": {"was": …}`). Where the computer was switched off
before, nobody knows: the records stay where they are, and that is told once.

What is to be done is noted first, so that a cut on the way is made good at the next opening, whatever the clock says then.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from pathlib import Path
from typing import Any

from kiosk.bar.messages import Message
from kiosk.book import snapshot
from kiosk.book.days import Days
from kiosk.book.disk import Disk
from kiosk.book.jumps import BACK, FORWARD, MADE
from kiosk.book.stored_record import StoredRecord

MARKED = b'"clock":{"boot":'
RUN = Path("/proc/sys/kernel/random/boot_id")


def this_run() -> str:
    """The name that the kernel has for the time since the computer was switched on; "" where it has none."""
    try:
        return RUN.read_text().strip()
    except OSError:
        return ""


@dataclass(frozen=True, slots=True)
class Known:
    """At second `s` of the computer's run `boot` the wall clock was right, and said `at`."""

    boot: str
    s: float
    at: str

    def dated(self, kept: StoredRecord) -> dict[str, Any] | None:
        """The record as it is with its time known; None for one that this tells nothing of."""
        mark = mark_of(kept)
        if mark is None or mark["boot"] != self.boot:
            return None
        at = datetime.fromisoformat(self.at) + timedelta(seconds=mark["s"] - self.s)
        fields = kept.fields
        return {"kind": kept.kind, **fields, "at": at.isoformat(timespec="milliseconds"), "clock": {"was": fields["at"]}}


def _moment(at: Any) -> datetime | None:
    try:
        moment = datetime.fromisoformat(at)
    except (TypeError, ValueError):
        return None
    return moment if moment.tzinfo else None


def _strayed(latest: list[StoredRecord], now: datetime) -> bool:
    """Whether the clock had run ahead at the last record, and is right now: `now` comes after the day written before, and the
    last record lies further from that than any bar is closed. Else a year set by mistake would have to pass first."""
    last, *before = [_moment(kept.fields.get("at")) for kept in reversed(latest)]
    others = [moment for moment in before if moment is not None]
    return last is not None and bool(others) and last - max(others) > FORWARD and now >= max(others) - BACK


def mark_of(kept: StoredRecord) -> dict[str, Any] | None:
    if MARKED not in kept.body:
        return None
    mark = kept.fields.get("clock")
    fits = isinstance(mark, dict) and isinstance(mark.get("boot"), str) and type(mark.get("s")) in (int, float)
    return mark if fits else None


class UnsetClock:
    """Whether the clock can be right, the mark on what is kept while it cannot be, and the way back.

    `path` holds which days have had marked records, and what is known and not yet done; it can be made again from the days.
    `run` names the computer's run ("" where that is not known: then nothing can be dated), `ticks` are its seconds.
    """

    def __init__(self, path: Path, disk: Disk, run: str, ticks: Callable[[], float], starts: time):
        self._path, self._disk, self._run, self._ticks, self._starts = path, disk, run, ticks, starts
        self._days: list[str] = []
        self._after: str | None = None          # the last time that was known, where the clock has been unset since
        self._known: Known | None = None
        self.unset = False
        self.waiting = False
        self.notices: list[Message] = []

    def load(self, days: Days, today: str, now: datetime, read_only: bool) -> None:
        """See to what an earlier opening left, and whether the clock can be right now. Writes nothing yet."""
        about = snapshot.get(self._path)
        if about is not None:
            self._days, self._after = list(about["days"]), about["after"]
            self._known = Known(**about["known"]) if about["known"] else None
        elif not read_only:
            self._days = days.containing(b'"clock":{')
            self.waiting = bool(days.names())
        days.hide_emptied(self._days)
        if read_only:
            return
        latest = days.latest(today)
        if not latest or mark_of(latest[-1]) is None:
            self._after = None if not latest or _strayed(latest, now) else latest[-1].fields.get("at")
        self.unset = self._is_early(now)
        if self._known is not None:
            self._date(days)
        if not self.unset:
            self.known(days, now)
        self._tell_of_others(days)

    def marked(self, kept: dict[str, Any], day: str) -> dict[str, Any]:
        """The record as it is kept on `day`: with a mark while the clock is not set."""
        if not self.unset:
            return kept
        if day not in self._days:
            self._days.append(day)
            self.waiting = True
        return {**kept, "clock": {"boot": self._run, "s": round(self._ticks(), 3)}}

    def look(self, now: datetime) -> bool:
        """Whether the clock is set from now on that was not until now, or is not that was."""
        unset = self._is_early(now) if self.unset else now.date() < MADE
        turned, self.unset = unset != self.unset, unset
        return turned

    def known(self, days: Days, now: datetime) -> int:
        """The clock is right: put what was kept in this run of the computer in its day, in memory; how many records."""
        if not self._run or not any(mark["boot"] == self._run for mark in self._marks(days)):
            return 0
        self._known = Known(self._run, self._ticks(), now.isoformat(timespec="milliseconds"))
        return self._date(days)

    def write_out(self) -> None:
        """What is to be done, before it is. Raises OSError."""
        if self.waiting:
            known = self._known
            snapshot.put(self._disk, self._path, {
                "days": self._days, "after": self._after,
                "known": {"boot": known.boot, "s": known.s, "at": known.at} if known else None})
            self.waiting = False

    def done(self) -> None:
        """What was to be done is on the medium."""
        if self._known is not None:
            self._known, self.waiting = None, True

    def _date(self, days: Days) -> int:
        self.waiting = True
        known = self._known
        moved = sum(days.move(day, known.dated, self._starts) for day in list(self._days)) if known is not None else 0
        days.hide_emptied(self._days)
        return moved

    def _is_early(self, now: datetime) -> bool:
        before = _moment(self._after)
        return now.date() < MADE or before is not None and now < before - BACK

    def _marks(self, days: Days) -> list[Mapping[str, Any]]:
        return [mark for day in self._days for kept in days.lines(day) if (mark := mark_of(kept))]

    def _tell_of_others(self, days: Days) -> None:
        """Once: the days whose records nobody can date any more."""
        for day in list(self._days):
            marked = [kept for kept in days.lines(day) if mark_of(kept)]
            lost = [kept for kept in marked if (mark := mark_of(kept)) and mark["boot"] != self._run]
            if marked and len(lost) == len(marked):
                orders = sum(kept.kind == "OrderTaken" for kept in lost)
                self.notices.append(Message(
                    "The clock was not set, and the computer was switched off before it was: the day of the orders kept with "
                    "{day} ({n:d}) is not known.", day=day, n=orders))
                self._days.remove(day)
                self.waiting = True
