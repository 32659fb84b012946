"""What of a day the weeks are made of: each stretch in four figures, and where a grinder stood when the room was
read."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import timedelta
from statistics import fmean, stdev

from kiosk.bar.even import even_time_s
from kiosk.bar.figures import GrinderFigures, figures, moment
from kiosk.bar.notch import BESIDE, before_a_move
from kiosk.bar.record import Noted, NotchMoved, Pull

NEAR_A_READING = timedelta(hours=1)     # pulls so near to a reading of the room are set beside it
LEAST_NEAR = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Spell:
    """A stretch: its setting, how many pulls told of the grinder, how far they ran off their recipe (mean and standard
    deviation, s), and the mean of those beside the moves that began and ended it, for what a notch did."""

    setting: int
    pulls: int
    off_s: float
    sd_s: float | None
    first_s: float
    last_s: float
    firsts: int             # pulls in `first_s`
    lasts: int              # pulls in `last_s`


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """The room as it was read, and the pulls within an hour of it: mean setting and mean seconds off the recipe."""

    temperature_c: float | None
    humidity_percent: float | None
    pulls: int
    setting: float
    off_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class GrinderDay:
    spells: tuple[Spell, ...]
    readings: tuple[Reading, ...]


def grinder_days(day: str, pulls: Sequence[Pull], moves: Iterable[NotchMoved],
                 rooms: Sequence[Noted]) -> dict[tuple[str, str], GrinderDay]:
    """By grinder and coffee. All records are of service day `day`, as corrected; `rooms` are the readings of the
    room."""
    found = figures((*pulls, *moves), lambda _at: day, day, day, even_time_s)
    by_id = {pull.id: pull for pull in pulls}
    return {(each.grinder, each.coffee): GrinderDay(spells=tuple(_spells(each, by_id)),
                                                    readings=tuple(_readings(each, by_id, rooms)))
            for each in found.grinders}


def _spells(each: GrinderFigures, by_id: dict[str, Pull]) -> Iterable[Spell]:
    for stretch in each.stretches:
        offs = [_off_s(by_id[id]) for id in stretch.told]
        if offs:
            last = before_a_move(offs)
            yield Spell(setting=stretch.setting, pulls=len(offs), off_s=fmean(offs), sd_s=stdev(offs) if len(offs) > 1
                        else None,
                        first_s=fmean(offs[:BESIDE]), last_s=fmean(last), firsts=min(BESIDE, len(offs)),
                        lasts=len(last))


def _readings(each: GrinderFigures, by_id: dict[str, Pull], rooms: Sequence[Noted]) -> Iterable[Reading]:
    told = [by_id[id] for stretch in each.stretches for id in stretch.told]
    for note in rooms:
        near = [pull for pull in told if abs(moment(pull.at) - moment(note.at)) <= NEAR_A_READING]
        if len(near) >= LEAST_NEAR:
            yield Reading(temperature_c=note.facts.get("temperature_c"),
                          humidity_percent=note.facts.get("humidity_percent"),
                          pulls=len(near), setting=fmean(pull.setting for pull in near), off_s=fmean(map(_off_s, near)))


def _off_s(pull: Pull) -> float:
    return even_time_s(pull) - pull.recipe.time_s
