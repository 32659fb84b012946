"""What one grinder's day looks like: its even times off the recipe, the level of each stretch, and what was done to
it."""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean, stdev

from kiosk.bar.figures import Even, Figures, GrinderFigures, moment
from kiosk.bar.record import Noted, Pull, ScaleChecked

LIMITS_SD = 3.0         # a stretch's limits, in standard deviations about its mean (Shewhart, 1931)
LEAST_FOR_LIMITS = 5    # pulls
NOTCH, PURGE, FLAG, BEANS, ROOM, BURRS, CLEANED, SCALE = ("notch", "purge", "flag", "beans", "room", "burrs", "cleaned",
                                                          "scale")


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
    """Something done or noted at a moment: `kind` is one of this module's, `words` say it with its figures."""

    at: str
    kind: str
    words: str
    record_id: str


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
    marks = [Mark(move.at, NOTCH, f"{move.before} to {move.after}", move.id) for move in each.moves]
    marks += [Mark(purge.at, PURGE, f"{purge.grams:.1f} g purged", purge.id) for purge in figures.purges
              if (purge.grinder, purge.coffee) == (each.grinder, each.coffee)]
    marks += [Mark(flag.at, FLAG, flag.sentence, flag.id) for flag in each.flags]
    marks += [mark for note in notes if (mark := note_mark(note)) is not None and _concerns(note, each)]
    marks += [scale_mark(check) for check in figures.scale_checks]
    return DayChart(
        grinder=each.grinder, coffee=each.coffee, points=tuple(points.values()),
        within_s=min((pull.recipe.time_within_s for pull in pulls), default=5.0),
        levels=tuple(_level(stretch, [points[id].off_s for id in stretch.told]) for stretch in each.stretches
                     if stretch.told),
        marks=tuple(sorted(marks, key=lambda mark: moment(mark.at))))


def note_mark(note: Noted) -> Mark | None:
    """What is written beside a note on a chart; None for a note that is none of the bar's doings."""
    facts = note.facts
    match note.what:
        case "beans":
            roasted = f", roasted {facts['roasted']}" if facts.get("roasted") else ""
            return Mark(note.at, BEANS, f"new bag of {facts.get('coffee', 'beans')}{roasted}", note.id)
        case "room":
            parts = [f"{facts['temperature_c']:g} °C" if facts.get("temperature_c") is not None else "",
                     f"{facts['humidity_percent']:g} %" if facts.get("humidity_percent") is not None else ""]
            return Mark(note.at, ROOM, ", ".join(part for part in parts if part) or "room", note.id)
        case "burrs":
            return Mark(note.at, BURRS, f"new burrs in {facts.get('grinder', 'the grinder')}", note.id)
        case "cleaned":
            return Mark(note.at, CLEANED, f"cleaned: {facts.get('part', 'machine')}", note.id)
    return None


def scale_mark(check: ScaleChecked) -> Mark:
    return Mark(check.at, SCALE, f"{check.nominal_g:g} g read {check.read_g:g} g", check.id)


def _concerns(note: Noted, each: GrinderFigures) -> bool:
    return (note.facts.get("coffee") in (None, each.coffee) and note.facts.get("grinder") in (None, each.grinder))


def _point(pull: Pull, even_s: float, told: bool) -> Point:
    return Point(pull.id, pull.at, even_s - pull.recipe.time_s, pull.setting, told, pull.sink)


def _level(stretch, offs: list[float]) -> Level:
    mean = fmean(offs)
    reach = LIMITS_SD * stdev(offs) if len(offs) >= LEAST_FOR_LIMITS else None
    return Level(stretch.since, stretch.until, stretch.setting, mean,
                 None if reach is None else mean - reach, None if reach is None else mean + reach)
