"""What one grinder's day looks like: its adjusted times off the recipe, the level of each setting run, and what was done to
it."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import timedelta
from statistics import fmean, stdev

from kiosk.bar.evening.figures import Even, Figures, GrinderFigures, SettingRun, moment
from kiosk.bar.messages import Message, joined
from kiosk.bar.model import NotchMoved, Noted, Pull, ScaleChecked

LIMITS_SD = 3.0         # a setting run's limits, in standard deviations about its mean (Shewhart, 1931)
LEAST_FOR_LIMITS = 5    # pulls
CLOSED_H = 1.5          # with no pull: the bar was closed, and the grinder stood cold
NOTCH, PURGE, FLAG, BEANS = Message("notch"), Message("purge"), Message("flag"), Message("beans")
ROOM, BURRS, CLEANED, SCALE = Message("room"), Message("burrs"), Message("cleaned"), Message("scale")


@dataclass(frozen=True, slots=True)
class Point:
    """A pull's adjusted time, in seconds off its recipe's. `told` is False where it says nothing of the grinder."""

    id: str
    at: str
    off_s: float
    setting: int
    told: bool
    sink: str | None


@dataclass(frozen=True, slots=True)
class Level:
    """A setting run, or the part of it between two closed hours: where its points lie on average (s off the recipe) as it begins,
    with its limits, None where it has too few pulls; and `climbs_s`, how much all three rise until its end where the setting run
    drifts for sure."""

    since: str
    until: str
    setting: int
    off_s: float
    low_s: float | None
    high_s: float | None
    climbs_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Mark:
    """Something done or noted at a moment: `kind` is one of this module's, `words` say it with its figures, `short`
    say it beside the kind's name."""

    at: str
    kind: Message
    words: str
    record_id: str
    short: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class DayChart:
    """`within_s` is the window's half-width about the recipe's time: the narrowest of the recipes pulled."""

    grinder: str
    coffee: str
    within_s: float
    points: tuple[Point, ...]
    levels: tuple[Level, ...]
    marks: tuple[Mark, ...]


def day_chart(each: GrinderFigures, figures: Figures, notes: Sequence[Noted], even: Even) -> DayChart:
    """The chart of one grinder and coffee; `notes` are the span's, of all grinders."""
    told = {id for run in each.runs for id in run.told}
    pulls = [pull for pull in figures.pulls if (pull.grinder, pull.coffee) == (each.grinder, each.coffee)]
    points = {pull.id: _point(pull, even_s, pull.id in told) for pull in pulls if (even_s := even(pull)) is not None}
    marks = [Mark(move.at, NOTCH, moved(move), move.id) for move in each.moves]
    marks += [Mark(purge.at, PURGE, Message("{grams:.1f} g purged", grams=purge.grams), purge.id)
              for purge in figures.purges if (purge.grinder, purge.coffee) == (each.grinder, each.coffee)]
    marks += [Mark(flag.at, FLAG, flag.sentence, flag.id) for flag in each.flags]
    marks += [mark for note in notes if (mark := note_mark(note)) is not None and _concerns(note, each)]
    marks += [scale_mark(check) for check in figures.scale_checks]
    return DayChart(
        grinder=each.grinder, coffee=each.coffee, points=tuple(points.values()),
        within_s=min((pull.recipe.time_within_s for pull in pulls), default=5.0),
        levels=tuple(level for run in each.runs if run.told
                     for level in _levels(run, [points[id] for id in run.told])),
        marks=tuple(sorted(marks, key=lambda mark: moment(mark.at))))


def moved(move: NotchMoved) -> Message:
    return Message("{before} to {after}", before=move.before, after=move.after)


def note_mark(note: Noted) -> Mark | None:
    """What is written beside a note on a chart; None for a note that is none of the bar's doings."""
    facts = note.facts
    match note.what:
        case "beans":
            coffee = facts.get("coffee", BEANS)
            if facts.get("roasted"):
                coffee = Message("{coffee}, roasted {day}", coffee=coffee, day=facts["roasted"])
            return Mark(note.at, BEANS, Message("new bag of {what}", what=coffee), note.id, short=coffee)
        case "room":
            read = [Message(shape, value=facts[fact]) for fact, shape in (("temperature_c", "{value:g} °C"),
                                                                          ("humidity_percent", "{value:g} %"))
                    if facts.get(fact) is not None]
            return Mark(note.at, ROOM, joined(", ", read) if read else ROOM, note.id)
        case "burrs":
            where = facts.get("grinder", Message("the grinder"))
            return Mark(note.at, BURRS, Message("new burrs in {grinder}", grinder=where), note.id)
        case "cleaned":
            part = Message(str(facts.get("part", Message("machine"))))
            return Mark(note.at, CLEANED, Message("cleaned: {part}", part=part), note.id, short=part)
    return None


def scale_mark(check: ScaleChecked) -> Mark:
    return Mark(check.at, SCALE, Message("{nominal_g:g} g read {read_g:g} g", nominal_g=check.nominal_g,
                                         read_g=check.read_g), check.id)


def _concerns(note: Noted, each: GrinderFigures) -> bool:
    return (note.facts.get("coffee") in (None, each.coffee) and note.facts.get("grinder") in (None, each.grinder))


def _point(pull: Pull, even_s: float, told: bool) -> Point:
    return Point(pull.id, pull.at, even_s - pull.recipe.time_s, pull.setting, told, pull.sink)


def _levels(run: SettingRun, points: Sequence[Point]) -> Iterable[Level]:
    """One line through all points of the setting run, drawn only while the bar was open."""
    hours = [(moment(point.at) - moment(points[0].at)) / timedelta(hours=1) for point in points]
    slope = run.drift.s_per_hour if run.drift and run.drift.sure else 0.0
    begins_s = fmean(point.off_s - slope * hour for point, hour in zip(points, hours))
    rest = [point.off_s - begins_s - slope * hour for point, hour in zip(points, hours)]
    reach = LIMITS_SD * stdev(rest) if len(points) >= LEAST_FOR_LIMITS else None
    cuts = [0, *(n for n in range(1, len(points)) if hours[n] - hours[n - 1] > CLOSED_H), len(points)]
    for first, last in zip(cuts, (cut - 1 for cut in cuts[1:])):
        if first == last and len(points) > 1:
            continue                        # a pull alone has no line
        off_s = begins_s + slope * hours[first]
        yield Level(points[first].at, points[last].at, run.setting, off_s, None if reach is None else off_s - reach,
                    None if reach is None else off_s + reach, slope * (hours[last] - hours[first]))
