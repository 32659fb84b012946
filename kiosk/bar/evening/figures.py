"""The figures of a service day, or of several: setting runs, grinders, waste. Each is traced to its records by id."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from statistics import fmean, stdev
from typing import Any, NamedTuple

from kiosk.bar.drift import counts, on_its_way
from kiosk.bar.evening.trend import Trend, trend
from kiosk.bar.model import SINGLE, FlagRaised, GroundsPurged, NotchMoved, OrderEnded, Pull, Record, ScaleChecked

EARLY_BY_S = 0.3       # more than a scale is unsure of the first drop by (common practice)
PURGE, SINK, OVERDOSE, TASTED = "purge", "sink", "overdose", "tasted"
Even = Callable[[Pull], float | None]
DayOf = Callable[[str], str]            # the service day of a wall time
Slope = Callable[..., Trend | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class SettingRun:
    """One grinder, coffee and setting within a service day.

    `pulls` are ids, sink shots included; `told` those that tell of the grinder, whose adjusted times (s) have the mean
    `even_s`, the spread `even_sd_s` (standard deviation, n − 1) and, less each recipe's own time, the mean `off_s`.
    """

    day: str
    grinder: str
    coffee: str
    setting: int
    since: str
    until: str
    pulls: tuple[str, ...]
    told: tuple[str, ...]
    served: int
    judged: int
    in_window: int
    even_s: float | None
    even_sd_s: float | None
    off_s: float | None
    drift: Trend | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Waste:
    """Coffee thrown away, in grams. `why` is "purge", "sink" or "overdose", or "tasted" for what was pulled for nobody, to be
    tasted, which is no loss; `assumed`: nobody weighed that dose."""

    why: str
    grams: float
    record_id: str
    grinder: str
    coffee: str
    words: str
    assumed: bool = False


class PullOffRecipe(NamedTuple):
    """What one pull tells of its grinder: when, in hours since the day's first, and how far off the recipe it ran.

    `early`: its first drop came well before the recipe's window; None where nobody saw it, or for want of a purge.
    """

    hours: float
    off_s: float
    early: bool | None
    id: str
    labels: tuple[str, ...] = ()        # who pulled it, and the smaller basket: what may lean all day without any drift


@dataclass(frozen=True, slots=True, kw_only=True)
class GrinderFigures:
    """One grinder with one coffee. `drift` is one slope for all its setting runs, with the notches moved taken out.

    `doses` counts weighed doses, `doses_off` those outside the recipe's tolerance. `told` holds, run by run,
    the pulls that tell of the grinder.
    """

    grinder: str
    coffee: str
    runs: tuple[SettingRun, ...]
    pulls: int
    served: int
    judged: int
    in_window: int
    doses: int
    doses_off: int
    drift: Trend | None
    moves: tuple[NotchMoved, ...]
    flags: tuple[FlagRaised, ...]
    told: tuple[tuple[PullOffRecipe, ...], ...]
    doses_off_ids: tuple[str, ...] = ()
    at: Mapping[str, str] = field(default_factory=dict, repr=False, compare=False)      # when each pull was made, by id

    @property
    def setting(self) -> int | None:
        """Where the collar was left."""
        return self.moves[-1].after if self.moves else self.runs[-1].setting if self.runs else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """All of it, practice left out. `served` pulls went to a guest, `judged` of them had a time; the rest went into
    the sink. `in_window` were right in time, and in yield where it was measured."""

    first_day: str
    last_day: str
    pulls: tuple[Pull, ...]
    served: int
    judged: int
    in_window: int
    grinders: tuple[GrinderFigures, ...]
    waste: tuple[Waste, ...]
    purges: tuple[GroundsPurged, ...]
    orders_served: int
    orders_cancelled: int
    scale_checks: tuple[ScaleChecked, ...]

    def waste_g(self, why: str | None = None) -> float:
        """Grams lost that way; in all, without what was tasted."""
        return sum(each.grams for each in self.waste if (each.why != TASTED if why is None else each.why == why))


def in_window(pull: Pull) -> bool | None:
    """Time, and yield where it was measured, right by the recipe; None where the pull was not timed."""
    return pull.recipe.in_window(pull.time_s, pull.yield_g)


def figures(records: Iterable[Record], day_of: DayOf, first_day: str, last_day: str,
            even: Even, slope: Slope = trend) -> Figures:
    """The figures of `records`, corrected already and of those days only; `day_of` gives a wall time's service day.
    `slope` draws the drifts: whoever needs none saves the time that every pair of pulls takes."""
    records = sorted(records, key=lambda kept: moment(kept.at))
    pulls = tuple(kept for kept in records if isinstance(kept, Pull) and not kept.practice)
    purges = tuple(kept for kept in records if isinstance(kept, GroundsPurged))
    ended = [kept.how for kept in records if isinstance(kept, OrderEnded)]
    concerned = (*pulls, *purges, *(kept for kept in records if isinstance(kept, (NotchMoved, FlagRaised))))
    pairs = sorted({(kept.grinder, kept.coffee) for kept in concerned})
    grinders = tuple(_grinder(pair, [kept for kept in records if (getattr(kept, "grinder", None),
                                     getattr(kept, "coffee", None)) == pair], day_of, even, slope)
                     for pair in pairs)
    return Figures(
        first_day=first_day, last_day=last_day, pulls=pulls, served=sum(each.served for each in grinders),
        judged=sum(each.judged for each in grinders), in_window=sum(each.in_window for each in grinders),
        grinders=grinders, waste=_waste(pulls, purges), purges=purges, orders_served=ended.count("served"),
        orders_cancelled=ended.count("cancelled"),
        scale_checks=tuple(kept for kept in records if isinstance(kept, ScaleChecked)))


def moment(at: str) -> datetime:
    return datetime.fromisoformat(at)


def clock(at: str, several_days: bool) -> str:
    """A moment as it is read: with its date where that is not plain."""
    return at[:16].replace("T", " ") if several_days else at[11:16]


def _grinder(pair: tuple[str, str], records: list[Record], day_of: DayOf, even: Even, slope: Slope) -> GrinderFigures:
    pulls = [kept for kept in records if isinstance(kept, Pull) and not kept.practice]
    moves = tuple(kept for kept in records if isinstance(kept, NotchMoved))
    cut = _runs(pulls, moves, day_of, even)
    begins = moment(pulls[0].at) if pulls else datetime.min
    told = tuple(tuple(PullOffRecipe(_hours(begins, pull), off_s, _early(pull), pull.id, _labels(pull)) for pull in each
                       if (off_s := _off_s(pull, even)) is not None) for each in cut)
    judged = [verdict for pull in pulls if pull.sink is None and (verdict := in_window(pull)) is not None]
    weighed = [pull for pull in pulls if pull.dose_g is not None]
    return GrinderFigures(
        grinder=pair[0], coffee=pair[1], moves=moves,
        flags=tuple(kept for kept in records if isinstance(kept, FlagRaised)),
        runs=tuple(_setting_run(each, day_of(each[0].at), even, slope) for each in cut),
        at={pull.id: pull.at for pull in pulls},
        pulls=len(pulls), served=sum(pull.sink is None for pull in pulls), judged=len(judged), in_window=sum(judged),
        doses=len(weighed), doses_off=sum(dose_off(pull) for pull in weighed),
        doses_off_ids=tuple(pull.id for pull in weighed if dose_off(pull)),
        drift=slope(tuple(tuple((each.hours, each.off_s, each.labels) for each in run) for run in told)), told=told)


def dose_off(pull: Pull) -> bool:
    """Whether it was weighed and outside its tolerance."""
    return pull.recipe.dose_fits(pull.dose_g) is False


def _runs(pulls: list[Pull], moves: tuple[NotchMoved, ...], day_of: DayOf, even: Even) -> list[list[Pull]]:
    """Cut where the collar was turned, a recipe changed or another day began.

    A pull that was on its way when the collar was turned still counts to the setting its grounds are of, though one of
    the new setting was made before it.
    """
    cut: list[list[Pull]] = []
    targets: dict[str, tuple] = {}
    turned_to: int | None = None                # by a move, since the last pull
    before: list[Pull] | None = None            # the run that the last turn ended, while pulls of it may come
    since = 0                                   # pulls of the last run that tell of the grinder
    both: list[Pull | NotchMoved] = [*pulls, *moves]
    for kept in sorted(both, key=lambda kept: moment(kept.at)):
        if isinstance(kept, NotchMoved):
            turned_to = kept.after
            continue
        target = kept.recipe.dose_g, kept.recipe.yield_g, kept.recipe.time_s
        last = cut[-1] if cut else None
        same_day = last is not None and day_of(kept.at) == day_of(last[-1].at)
        goes_on = last is not None and same_day and kept.setting == last[-1].setting
        if goes_on and turned_to is not None and kept.setting != turned_to:
            cut[-1].append(kept)                # already running
            targets[kept.basket] = target
        elif before and same_day and turned_to is None and last is not None and on_its_way(
                kept.setting, before[-1].setting, last[-1].setting, since):
            before.append(kept)
            continue
        elif goes_on and turned_to is None and targets.get(kept.basket, target) == target:
            cut[-1].append(kept)
            targets[kept.basket] = target
        else:
            before = last if same_day and turned_to == kept.setting else None
            cut.append([kept])
            targets, turned_to, since = {kept.basket: target}, None, 0
        since += _off_s(kept, even) is not None
    return cut


def _setting_run(pulls: list[Pull], day: str, even: Even, slope: Slope) -> SettingRun:
    found = [(pull, off_s) for pull in pulls if (off_s := _off_s(pull, even)) is not None]
    told, offs = [pull for pull, _ in found], [off_s for _, off_s in found]
    evens = [off_s + pull.recipe.time_s for pull, off_s in found]
    judged = [verdict for pull in pulls if pull.sink is None and (verdict := in_window(pull)) is not None]
    first = pulls[0]
    return SettingRun(
        day=day, grinder=first.grinder, coffee=first.coffee, setting=first.setting, since=first.at, until=pulls[-1].at,
        pulls=tuple(pull.id for pull in pulls), told=tuple(pull.id for pull in told),
        served=sum(pull.sink is None for pull in pulls), judged=len(judged), in_window=sum(judged),
        even_s=fmean(evens) if evens else None, even_sd_s=stdev(evens) if len(evens) > 1 else None,
        off_s=fmean(offs) if offs else None,
        drift=slope((tuple((_hours(moment(first.at), pull), off_s, _labels(pull)) for pull, off_s in zip(told, offs)),)))


def _off_s(pull: Pull, even: Even) -> float | None:
    even_s = even(pull) if counts(pull) else None
    return None if even_s is None else even_s - pull.recipe.time_s


def _early(pull: Pull) -> bool | None:
    if pull.first_drop_s is None or pull.purged is False:      # steam from a group not purged drops early too
        return None
    return pull.first_drop_s < pull.recipe.first_drop_from_s - EARLY_BY_S


def _labels(pull: Pull) -> tuple[str, ...]:
    basket = ("single",) if pull.basket == SINGLE else ()
    return (*basket, f"by {pull.barista}") if pull.barista else basket


def _hours(since: datetime, pull: Pull) -> float:
    return (moment(pull.at) - since).total_seconds() / 3600


def tasted(pull: Pull) -> bool:
    """Whether it was pulled for nobody, to be tasted at opening."""
    return pull.sink is not None and pull.order_id is None and "tasted" in pull.sink


def _waste(pulls: tuple[Pull, ...], purges: tuple[GroundsPurged, ...]) -> tuple[Waste, ...]:
    waste = [Waste(why=PURGE, grams=each.grams, record_id=each.id, grinder=each.grinder, coffee=each.coffee,
                   words=each.why) for each in purges]
    for pull in pulls:
        about: dict[str, Any] = {"record_id": pull.id, "grinder": pull.grinder, "coffee": pull.coffee}
        if pull.sink is not None:
            waste.append(Waste(why=TASTED if tasted(pull) else SINK, grams=pull.ground_g,
                               words=pull.sink, assumed=pull.dose_g is None, **about))
        elif pull.dose_g is not None and not pull.recipe.dose_fits(pull.dose_g) \
                and pull.dose_g > pull.recipe.dose_g:
            over_g = pull.dose_g - pull.recipe.dose_window_g[1]
            waste.append(Waste(why=OVERDOSE, grams=over_g, words=f"{pull.dose_g:.1f} g in the basket", **about))
    return tuple(waste)
