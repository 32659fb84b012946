"""The weeks: the setting that suits each coffee over time, what the burrs have ground, the room, this week against
last.

Made of the days' sums (kiosk.book.sums), so that a year costs no more than reading a page of figures.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from math import sqrt
from statistics import fmean
from typing import Any

from kiosk.bar.evening.notch import NOTCH_S, NOTCH_SD_S, Within
from kiosk.bar.evening.trend import t_quantile, trend
from kiosk.bar.messages import Message

LEAST_DAYS = 8              # for a trend over the kilograms
LEAST_KG = 10.0
LEAST_BAGS = 3              # that lasted two days or more
LEAST_WEEKS = 6             # for a trend of what is lost
CLAIMED_AT = 2.576          # standard errors: 1 % by chance
CURVED_S = 0.2              # what a drift that is no straight line adds, the same way each time, however many moves
LEAST_NOTCH_S = 0.5         # finer is slower: where moves say less, or the opposite, a notch is reckoned at so much


@dataclass(frozen=True, slots=True)
class DaySuits:
    """The setting, in notches and parts of one, at which a day's pulls would have run as the recipe has it."""

    day: str
    setting: float
    pulls: int
    ground_kg: float        # through the burrs since they were last changed, this day's included


@dataclass(frozen=True, slots=True)
class Effect:
    """Notches coarser that one more °C, or one more % of humidity, asks for; within days, so that beans and burrs are
    out of it. 95 % interval; `readings` is how many it rests on."""

    name: str
    unit: str
    within: Within

    @property
    def claimed(self) -> bool:
        """Whether it is said to be there: a room that is looked at each month must not be blamed by chance each year, so
        that 99 % is asked for."""
        return abs(self.within.value) > CLAIMED_AT * self.within.sd


@dataclass(frozen=True, slots=True, kw_only=True)
class GrinderWeek:
    """A week of one grinder with one coffee: between which settings it stood, the one that would have suited and how far its
    pulls ran off their recipe (means, weighted by pulls; None where none told of the grinder)."""

    name: str
    pulls: int
    timed: int
    in_window: int
    low: int | None
    high: int | None
    suits: float | None
    off_s: float | None
    notch_moves: int
    flags: int


@dataclass(frozen=True, slots=True, kw_only=True)
class GrinderWeeks:
    """`worth`: seconds a notch over the whole span. `wear`: notches an extra kilogram moves the suiting setting by,
    None where there is too little to tell. `setting` is where the collar was left. `undosed` of the pulls in `ground_kg` count with their recipe's dose. `changed_on` is the day of the last new burrs noted. `drifted` of its `days` were
    flagged for drift; `bags` and `burrs` are the days of new ones."""

    grinder: str
    coffee: str
    suits: tuple[DaySuits, ...]
    worth: Within
    ground_kg: float
    undosed: int
    changed_on: str | None
    wear: Within | None
    room: tuple[Effect, ...]
    weeks: tuple[GrinderWeek, ...]
    setting: int | None
    days: int
    drifted: int
    lost_g: float
    bags: tuple[str, ...]
    burrs: tuple[str, ...]
    aging: Within | None        # notches a day that the suiting setting shifts by while a bag lasts; `count` is the bags

    @property
    def looks_like_wear(self) -> bool:
        """Worn burrs have to stand closer: the suiting setting falls as kilograms go through, and surely so."""
        return self.wear is not None and self.wear.high < 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Week:
    """From Monday to Sunday; `name` is ISO 8601's ("2026-W43")."""

    name: str
    days: int
    pulls: int
    timed: int
    in_window: int
    orders: int
    wasted_g: float
    purged_g: float
    sunk_g: float
    overdosed_g: float
    tasted_g: float
    flags: int
    notch_moves: int


@dataclass(frozen=True, slots=True)
class DayShare:
    """A day's pulls, and how many of the timed ones were in their window."""

    day: str
    pulls: int
    timed: int
    in_window: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Weeks:
    """`weeks` and `days` are those on which anything was done at a grinder."""

    first_day: str
    last_day: str
    grinders: tuple[GrinderWeeks, ...]
    weeks: tuple[Week, ...]
    days: tuple[DayShare, ...]
    checks: tuple[tuple[str, float, float], ...]        # day, nominal and read grams
    share_change: Within | None                         # of pulls in window, this week less last, percentage points
    waste_trend: Within | None                          # grams that each full week lost more than the one before


def weeks(days: Sequence[Any]) -> Weeks | None:
    """`days` are DaySums in their order; None where there are none."""
    if not days:
        return None
    pairs = sorted({(each.grinder, each.coffee) for day in days for each in day.grinders})
    at_work = [day for day in days if day.grinders]     # a setting put right on a day off makes no day of service
    found = tuple(_week(name, each) for name, each in _by_week(at_work))
    return Weeks(
        first_day=days[0].day, last_day=days[-1].day, weeks=found,
        days=tuple(DayShare(day.day, day.pulls, day.timed, day.in_window) for day in at_work),
        grinders=tuple(_grinder(pair, days) for pair in pairs),
        checks=tuple((day.day, *check) for day in days for check in day.checks),
        share_change=share_change(found[-2], found[-1]) if len(found) > 1 else None,
        waste_trend=_waste_trend(found))


def _waste_trend(found: Sequence[Week]) -> Within | None:
    """Of the weeks between the first and the last, which the span may have cut."""
    whole = [(float(n), week.wasted_g) for n, week in enumerate(found[1:-1])]
    return slope(whole) if len(whole) >= LEAST_WEEKS else None


def share_change(before: Week, after: Week) -> Within | None:
    """Percentage points that the share in window rose by, with its 95 % interval (Agresti and Caffo, The American
    Statistician 54, 2000)."""
    if not before.timed or not after.timed:
        return None
    difference = after.in_window / after.timed - before.in_window / before.timed
    a, b = (after.in_window + 1) / (after.timed + 2), (before.in_window + 1) / (before.timed + 2)
    reach = 1.959964 * sqrt(a * (1 - a) / (after.timed + 2) + b * (1 - b) / (before.timed + 2))
    return Within(100 * difference, 100 * (a - b - reach), 100 * (a - b + reach), before.timed + after.timed)


def slope(points: Sequence[tuple[float, float]]) -> Within | None:
    """A straight line's slope with a 95 % interval that allows for days that resemble the day before: the residuals'
    first autocorrelation widens it (Bartlett, J. of the Royal Statistical Society 98, 1935)."""
    n = len(points)
    mean_x, mean_y = fmean(x for x, _ in points), fmean(y for _, y in points)
    spread = sum((x - mean_x) ** 2 for x, _ in points)
    if n < 4 or spread == 0:
        return None
    value = sum((x - mean_x) * (y - mean_y) for x, y in points) / spread
    rest = [y - mean_y - value * (x - mean_x) for x, y in points]
    squares = sum(r * r for r in rest)
    alike = sum(a * b for a, b in zip(rest, rest[1:])) / squares if squares else 0.0
    alike += (1 + 3 * max(alike, 0.0)) / n          # a short series shows less of it than there is
    alike = min(0.9, max(0.0, alike))
    left = max(2.0, n * (1 - alike) / (1 + alike) - 2)
    reach = t_quantile(0.975, max(1, int(left))) * sqrt(squares / (n - 2) / spread * (1 + alike) / (1 - alike))
    return Within(value, value - reach, value + reach, n)


def _grinder(pair: tuple[str, str], days: Sequence[Any]) -> GrinderWeeks:
    own = [(day, each) for day in days for each in day.grinders if (each.grinder, each.coffee) == pair]
    worth = notch_worth_of([each for _, each in own])
    ground_g, undosed, changed_on = 0.0, 0, None
    suits: list[DaySuits] = []
    by_day = {day.day: each for day, each in own}
    for day in days:
        if pair[0] in day.new_burrs:
            ground_g, undosed, changed_on = 0.0, 0, day.day
            suits = []                                      # other burrs, another scale of settings
        through = [each for each in day.grinders if each.grinder == pair[0]]
        ground_g += sum(each.dosed_g + each.purged_g for each in through)
        undosed += sum(each.undosed for each in through)
        each = by_day.get(day.day)
        pulls = sum(run.pulls for run in each.runs) if each else 0
        if each and pulls:
            setting = sum(run.pulls * (run.setting + run.off_s / worth.value) for run in each.runs) / pulls
            suits.append(DaySuits(day.day, setting, pulls, ground_g / 1000))
    span_kg = suits[-1].ground_kg - suits[0].ground_kg if suits else 0.0
    told = len(suits) >= LEAST_DAYS and span_kg >= LEAST_KG
    return GrinderWeeks(
        grinder=pair[0], coffee=pair[1], suits=tuple(suits), worth=worth, ground_kg=ground_g / 1000,
        undosed=undosed, changed_on=changed_on,
        wear=slope([(each.ground_kg, each.setting) for each in suits]) if told else None,
        room=_room([each for _, each in own], worth),
        weeks=tuple(_grinder_week(name, [by_day[day.day] for day in each if day.day in by_day], worth)
                    for name, each in _by_week([day for day, _ in own])),
        setting=next((each.last_setting for _, each in reversed(own) if each.last_setting is not None), None),
        days=len(own), drifted=sum(each.drifting > 0 for _, each in own),
        lost_g=sum(each.purged_g + each.sunk_g + each.overdosed_g for _, each in own),
        bags=(bags := tuple(day.day for day in days if pair[1] in day.bags)), aging=_aging(suits, bags),
        burrs=tuple(day.day for day in days if pair[0] in day.new_burrs))


def _aging(suits: Sequence[DaySuits], bags: Sequence[str]) -> Within | None:
    """One slope over the days of each bag, with a level for each; None where the bags are too few or too short."""
    lasted = [[(float(date.fromisoformat(each.day).toordinal()), each.setting) for each in suits if first <= each.day < then]
              for first, then in zip(bags, (*bags[1:], "9999-12-31"))]
    lasted = [points for points in lasted if len(points) >= 2]
    found = trend(tuple(map(tuple, lasted))) if len(lasted) >= LEAST_BAGS else None
    return Within(found.s_per_hour, found.low, found.high, len(lasted)) if found else None


def _grinder_week(name: str, own: Sequence[Any], worth: Within) -> GrinderWeek:
    runs = [run for each in own for run in each.runs]
    settings = [setting for each in own for setting in (each.first_setting, each.last_setting, *(run.setting for run in each.runs))
                if setting is not None]
    told = sum(run.pulls for run in runs)
    off_s = sum(run.pulls * run.off_s for run in runs) / told if told else None
    added = {field: sum(getattr(each, field) for each in own)
             for field in ("pulls", "timed", "in_window", "notch_moves", "flags")}
    return GrinderWeek(
        name=name, low=min(settings, default=None), high=max(settings, default=None), off_s=off_s, **added,
        suits=sum(run.pulls * (run.setting + run.off_s / worth.value) for run in runs) / told if told else None)


def notch_worth_of(own: Iterable[Any]) -> Within:
    """Seconds a notch, from every day with a move, together with what is usual before any was seen."""
    weight, total, moves = 1 / NOTCH_SD_S ** 2, NOTCH_S / NOTCH_SD_S ** 2, 0
    for turns in (each.turns for each in own if each.turns is not None):
        weight += 1 / turns.sd_s ** 2
        total += turns.worth_s / turns.sd_s ** 2
        moves += turns.moves
    value, reach = total / weight, 1.959964 * sqrt(1 / weight + CURVED_S ** 2)
    said = max(LEAST_NOTCH_S, value)
    return Within(said, value - reach, max(said, value + reach), moves)


def _room(own: Iterable[Any], worth: Within) -> tuple[Effect, ...]:
    """Least squares on temperature and humidity with a level for each day and a slope over its hours, since a room warms
    as grinders do; none where the days are too few or too alike.

    That the worth of a notch is itself uncertain widens the intervals (the delta method).
    """
    flat: list[tuple[float, ...]] = []      # °C, %, notches wanted, of them what seconds told, and the hour
    days = 0
    for each in own:
        whole = [r for r in each.readings if r.temperature_c is not None and r.humidity_percent is not None]
        if len(whole) > 1:
            days += 1
            rows = [(r.temperature_c, r.humidity_percent, r.setting + r.off_s / worth.value, r.off_s / worth.value, r.hour)
                    for r in whole]
            level = [fmean(column) for column in zip(*rows)]
            flat += [tuple(value - mean for value, mean in zip(row, level)) for row in rows]
    by_the_hour = sum(row[4] ** 2 for row in flat)
    if by_the_hour > 1e-9:
        shares = [sum(row[k] * row[4] for row in flat) / by_the_hour for k in range(4)]
        flat = [(*(row[k] - shares[k] * row[4] for k in range(4)), row[4]) for row in flat]
    freedom = len(flat) - days - 3
    tt, hh, th, ty, hy, tz, hz = (sum(row[a] * row[b] for row in flat) for a, b in
                                  ((0, 0), (1, 1), (0, 1), (0, 2), (1, 2), (0, 3), (1, 3)))
    determinant = tt * hh - th * th
    if freedom < 5 or determinant < 1e-6 * max(tt * hh, 1e-9):
        return ()
    per_c, per_percent = (hh * ty - th * hy) / determinant, (tt * hy - th * ty) / determinant
    variance = sum((y - per_c * t - per_percent * h) ** 2 for t, h, y, _, _ in flat) / freedom
    doubt = 1.959964 * worth.sd / worth.value
    found = []
    for name, unit, value, told, spread in (
            (Message("temperature"), "°C", per_c, (hh * tz - th * hz) / determinant, hh / determinant),
            (Message("humidity"), "%", per_percent, (tt * hz - th * tz) / determinant, tt / determinant)):
        reach = sqrt(t_quantile(0.975, freedom) ** 2 * variance * spread + (told * doubt) ** 2)
        found.append(Effect(name, unit, Within(value, value - reach, value + reach, len(flat))))
    return tuple(found)


def _by_week(days: Sequence[Any]) -> Iterable[tuple[str, list[Any]]]:
    found: dict[str, list[Any]] = {}
    for day in days:
        year, week, _ = date.fromisoformat(day.day).isocalendar()
        found.setdefault(f"{year}-W{week:02}", []).append(day)
    return found.items()


def _week(name: str, days: list[Any]) -> Week:
    added = {field: sum(getattr(day, field) for day in days)
             for field in ("pulls", "timed", "in_window", "wasted_g", "purged_g", "sunk_g", "overdosed_g", "tasted_g", "flags",
                           "notch_moves")}
    return Week(name=name, days=len(days), orders=sum(day.orders_served for day in days), **added)
