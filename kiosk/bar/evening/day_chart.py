"""What one grinder's day looks like: its even times off the recipe, the level of each stretch, and what was done to
it."""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean, stdev

from kiosk.bar.evening.figures import Even, Figures, GrinderFigures, moment
from kiosk.bar.messages import Message, joined
from kiosk.bar.model import NotchMoved, Noted, Pull, ScaleChecked

LIMITS_SD = 3.0         # a stretch's limits, in standard deviations about its mean (Shewhart, 1931)
LEAST_FOR_LIMITS = 5    # pulls
NOTCH, PURGE, FLAG, BEANS = Message("notch"), Message("purge"), Message("flag"), Message("beans")
ROOM, BURRS, CLEANED, SCALE = Message("room"), Message("burrs"), Message("cleaned"), Message("scale")


@dataclass(frozen=True, slots=True)
class Point:
    """A pull's even time, in seconds off its recipe's. `told` is False where it says nothing of the grinder."""

    id: str
    at: str
    off_s: float
    setting: int
    told: bool
    sink: str | None


@dataclass(frozen=True, slots=True)
class Level:
    """A stretch: the mean of its points (s off the recipe), and its limits, None where it has too few pulls."""

    since: str
    until: str
    setting: int
    off_s: float
    low_s: float | None
    high_s: float | None


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
    told = {id for stretch in each.stretches for id in stretch.told}
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
        levels=tuple(_level(stretch, [points[id].off_s for id in stretch.told]) for stretch in each.stretches
                     if stretch.told),
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


def _level(stretch, offs: list[float]) -> Level:
    mean = fmean(offs)
    reach = LIMITS_SD * stdev(offs) if len(offs) >= LEAST_FOR_LIMITS else None
    return Level(stretch.since, stretch.until, stretch.setting, mean,
                 None if reach is None else mean - reach, None if reach is None else mean + reach)
