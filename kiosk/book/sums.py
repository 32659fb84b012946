"""What a closed day comes to, so that the weeks and the years need not be read again pull by pull. Where a figure changes its
meaning, `keptsums.RECKONING` is raised."""

from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from statistics import fmean, stdev
from typing import Any

from kiosk.bar.drift import DRIFTING
from kiosk.bar.evening import DayRun, GrinderDay, RoomReading, Turns, grinder_days, tasted
from kiosk.bar.model import FlagRaised, GroundsPurged, NotchMoved, Noted, OrderEnded, Pull, ScaleChecked
from kiosk.book.daybook import DayRecords


@dataclass(frozen=True, slots=True, kw_only=True)
class GrinderSums:
    """One grinder with one coffee through a day. Grams are of coffee; `undosed` pulls were not weighed, and count with the
    recipe's dose.

    `mean_time_s` and `time_spread_s` (standard deviation) are of the served pulls with a time; settings are in notches.
    What went through the burrs is `dosed_g` and `purged_g` together. `tasted_g` was pulled for nobody, to be
    tasted. `drifting` counts the flags that blamed the grinder. `runs`,
    `readings` and `turns` are what the weeks are made of.
    """

    grinder: str
    coffee: str
    pulls: int
    timed: int
    in_window: int
    sunk: int
    undosed: int
    dosed_g: float
    sunk_g: float
    purged_g: float
    overdosed_g: float
    mean_time_s: float | None
    time_spread_s: float | None
    mean_setting: float | None
    first_setting: int | None
    last_setting: int | None
    notch_moves: int
    flags: int
    tasted_g: float
    drifting: int
    runs: tuple[DayRun, ...]
    readings: tuple[RoomReading, ...]
    turns: Turns | None


@dataclass(frozen=True, slots=True, kw_only=True)
class DaySums:
    """A service day in figures, practice pulls left out.

    `pulls` counts served and sunk ones; `timed` the served ones with a time; `in_window` those of them whose time, and
    yield where it was measured, lie in the recipe's windows. `overdosed_g` is what went over the dose's upper limit.
    `checks` are (nominal, read) grams of the scale, `new_burrs` the grinders that got them, `bags` the coffees that were
    opened.
    """

    day: str
    pulls: int
    timed: int
    in_window: int
    sunk: int
    dosed_g: float
    sunk_g: float
    purged_g: float
    overdosed_g: float
    orders_served: int
    orders_cancelled: int
    notch_moves: int
    flags: int
    scale_checks: int
    undosed: int
    tasted_g: float
    lost: int
    grinders: tuple[GrinderSums, ...]
    checks: tuple[tuple[float, float], ...]
    new_burrs: tuple[str, ...]
    bags: tuple[str, ...]

    @property
    def wasted_g(self) -> float:
        return self.sunk_g + self.purged_g + self.overdosed_g


def in_window(pull: Pull) -> bool:
    return pull.recipe.in_window(pull.time_s, pull.yield_g) is True


def day_sums(records: DayRecords) -> DaySums:
    """The sums of one day's records, as corrected."""
    pulls = [pull for pull in records.of(Pull, traces=False) if not pull.practice]
    purges, moves, flags = records.of(GroundsPurged), records.of(NotchMoved), records.of(FlagRaised)
    notes, checks = records.of(Noted), records.of(ScaleChecked)
    by_pair = grinder_days(records.day, pulls, moves, [note for note in notes if note.what == "room"])
    of_grinders: list[Pull | GroundsPurged | NotchMoved | FlagRaised] = [*pulls, *purges, *moves, *flags]
    pairs = {(each.grinder, each.coffee) for each in of_grinders}

    def of(pair: tuple[str, str], kind: Sequence[Any]) -> list[Any]:
        return [each for each in kind if (each.grinder, each.coffee) == pair]

    grinders = tuple(_grinder(*pair, of(pair, pulls), of(pair, purges), of(pair, moves), of(pair, flags), by_pair.get(pair))
                     for pair in sorted(pairs))
    ended = [order.how for order in records.of(OrderEnded)]
    added = {name: sum(getattr(each, name) for each in grinders)
             for name in ("pulls", "timed", "in_window", "sunk", "dosed_g", "sunk_g", "purged_g", "overdosed_g",
                          "notch_moves", "flags", "undosed", "tasted_g")}
    return DaySums(day=records.day, orders_served=ended.count("served"), orders_cancelled=ended.count("cancelled"),
                   scale_checks=len(checks), lost=records.lost, grinders=grinders,
                   checks=tuple((check.nominal_g, check.read_g) for check in checks),
                   new_burrs=tuple(str(note.facts.get("grinder")) for note in notes if note.what == "burrs"),
                   bags=tuple(str(note.facts.get("coffee")) for note in notes if note.what == "beans"), **added)


def _grinder(grinder: str, coffee: str, pulls: list[Pull], purges: list[GroundsPurged], moves: list[NotchMoved],
             flags: list[FlagRaised], of_weeks: GrinderDay | None) -> GrinderSums:
    served = [pull for pull in pulls if pull.sink is None]
    timed = [pull for pull in served if pull.time_s is not None]
    times_s = [pull.time_s for pull in timed if pull.time_s is not None]
    over = [pull.dose_g - pull.recipe.dose_window_g[1] for pull in served if pull.dose_g is not None]
    settings = [*(move.before for move in moves[:1]), *(pull.setting for pull in pulls),
                *(move.after for move in moves[-1:])]
    return GrinderSums(
        grinder=grinder, coffee=coffee, pulls=len(pulls), timed=len(timed), in_window=sum(map(in_window, timed)),
        sunk=len(pulls) - len(served), undosed=sum(pull.dose_g is None for pull in pulls), dosed_g=sum(pull.ground_g for pull in pulls),
        sunk_g=_poured_away_g(pulls, for_tasting=False), tasted_g=_poured_away_g(pulls, for_tasting=True),
        purged_g=sum(each.grams for each in purges), drifting=sum(flag.what == DRIFTING for flag in flags),
        overdosed_g=sum(grams for grams in over if grams > 0),
        mean_time_s=fmean(times_s) if times_s else None,
        time_spread_s=stdev(times_s) if len(times_s) > 1 else None,
        mean_setting=fmean(pull.setting for pull in pulls) if pulls else None,
        first_setting=settings[0] if settings else None, last_setting=settings[-1] if settings else None,
        notch_moves=len(moves), flags=len(flags), runs=of_weeks.runs if of_weeks else (),
        readings=of_weeks.readings if of_weeks else (), turns=of_weeks.turns if of_weeks else None)


def _poured_away_g(pulls: Iterable[Pull], for_tasting: bool) -> float:
    return sum(pull.ground_g for pull in pulls if pull.sink is not None and tasted(pull) is for_tasting)


def plain_sums(sums: DaySums) -> dict[str, Any]:
    """For JSON; `sums_from` reads it back."""
    return asdict(sums)


def sums_from(kept: dict[str, Any]) -> DaySums:
    return DaySums(**{**kept, "grinders": tuple(_grinder_from(each) for each in kept["grinders"]),
                      "checks": tuple((nominal, read) for nominal, read in kept["checks"]),
                      "new_burrs": tuple(kept["new_burrs"]), "bags": tuple(kept["bags"])})


def _grinder_from(kept: dict[str, Any]) -> GrinderSums:
    return GrinderSums(**{**kept, "runs": tuple(DayRun(**each) for each in kept["runs"]),
                          "readings": tuple(RoomReading(**each) for each in kept["readings"]),
                          "turns": Turns(**kept["turns"]) if kept["turns"] else None})
