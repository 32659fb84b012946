"""What of a day the weeks are made of: each setting run in four figures, and where a grinder stood when the room was
read."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from statistics import fmean

from kiosk.bar.drift import adjusted_time_s
from kiosk.bar.evening.figures import GrinderFigures, figures, moment
from kiosk.bar.evening.notch import notch_worth
from kiosk.bar.model import STARTS, NotchMoved, Noted, Pull

NEAR_A_READING = timedelta(hours=1)     # pulls so near to a reading of the room are set beside it
LEAST_NEAR = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class DayRun:
    """A setting run: its setting, how many pulls told of the grinder, and how far they ran off their recipe (mean, s)."""

    setting: int
    pulls: int
    off_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Turns:
    """What the day's `moves` of the collar did: seconds a notch finer, and its standard error."""

    moves: int
    worth_s: float
    sd_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomReading:
    """The room as it was read, and the pulls within an hour of it: mean setting and mean seconds off the recipe; `hour` of
    the service day, and parts of one: by the clock on the wall, past midnight on from 24."""

    temperature_c: float | None
    humidity_percent: float | None
    pulls: int
    setting: float
    off_s: float
    hour: float


@dataclass(frozen=True, slots=True, kw_only=True)
class GrinderDay:
    runs: tuple[DayRun, ...]
    readings: tuple[RoomReading, ...]
    turns: Turns | None


def grinder_days(day: str, pulls: Sequence[Pull], moves: Iterable[NotchMoved],
                 rooms: Sequence[Noted]) -> dict[tuple[str, str], GrinderDay]:
    """By grinder and coffee. All records are of service day `day`, as corrected; `rooms` are the readings of the
    room."""
    found = figures((*pulls, *moves), lambda _at: day, day, day, adjusted_time_s, slope=lambda _points: None)
    by_id = {pull.id: pull for pull in pulls}
    return {(each.grinder, each.coffee): GrinderDay(
        runs=tuple(_runs(each, by_id)), readings=tuple(_readings(each, by_id, rooms)), turns=_turns(each))
        for each in found.grinders}


def _turns(each: GrinderFigures) -> Turns | None:
    worth = notch_worth(each)
    return None if worth is None else Turns(moves=worth.s.count, worth_s=worth.s.value, sd_s=worth.sd_s)


def _runs(each: GrinderFigures, by_id: dict[str, Pull]) -> Iterable[DayRun]:
    for run in each.runs:
        if run.told:
            off_s = fmean(_off_s(by_id[id]) for id in run.told)
            yield DayRun(setting=run.setting, pulls=len(run.told), off_s=off_s)


def _readings(each: GrinderFigures, by_id: dict[str, Pull], rooms: Sequence[Noted]) -> Iterable[RoomReading]:
    told = [by_id[id] for run in each.runs for id in run.told]
    for note in rooms:
        near = [pull for pull in told if abs(moment(pull.at) - moment(note.at)) <= NEAR_A_READING]
        if len(near) >= LEAST_NEAR:
            yield RoomReading(temperature_c=note.facts.get("temperature_c"),
                              humidity_percent=note.facts.get("humidity_percent"),
                              pulls=len(near), setting=fmean(pull.setting for pull in near), off_s=fmean(map(_off_s, near)),
                              hour=_hour(moment(note.at)))


def _hour(at: datetime) -> float:
    """By the clock on the wall, and past midnight on from 24: a service day's hours only rise."""
    return at.hour + at.minute / 60 + (24 if at.time() < STARTS else 0)


def _off_s(pull: Pull) -> float:
    even_s = adjusted_time_s(pull)
    return 0.0 if even_s is None else even_s - pull.recipe.time_s
