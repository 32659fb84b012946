"""A month or a year: told by the week, out of the days' sums, since nobody reads a hundred days pull by pull.

The sums hold no names: who pulled is told of shorter spans alone.
"""

from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from kiosk.bar.evening.costs import Cost, costs_of_weeks
from kiosk.bar.evening.rows import Group, Row, cost_rows
from kiosk.bar.evening.sentences import cups, lost, no_pulls, span_of_days
from kiosk.bar.evening.tomorrow import ToDo
from kiosk.bar.evening.week_rows import week_groups
from kiosk.bar.evening.weeks import GrinderWeeks, Weeks, weeks
from kiosk.bar.messages import Message, joined

FORMAT = 2
BY_PULL_DAYS = 35       # up to so many days are told pull by pull


@dataclass(frozen=True, slots=True, kw_only=True)
class Totals:
    """Of all days. `judged` are the served pulls with a time; grams are of coffee, `waste_g` without what was tasted."""

    pulls: int
    served: int
    judged: int
    in_window: int
    share_in_window: float | None
    orders_served: int
    orders_cancelled: int
    undosed: int
    waste_g: float
    purged_g: float
    sink_g: float
    overdosed_g: float
    tasted_g: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """`first_day` and `last_day` as they were asked for; `weeks` is None where no day between them has a record."""

    first_day: str
    last_day: str
    sentence: Message
    to_do: tuple[ToDo, ...]
    totals: Totals
    weeks: Weeks | None
    costs: tuple[Cost, ...]
    burrs_kg: float = 0.0

    @property
    def name(self) -> Message:
        return span_of_days(self.first_day, self.last_day)


def span(days: Sequence[Any], first_day: str, last_day: str, *, price_per_kg: float | None = None, currency: str = "",
         burrs_kg: float = 0.0) -> Span:
    """`days` are DaySums in their order; `burrs_kg` is what a pair of burrs is good for, 0 where nobody said."""
    totals, found = _totals(days), weeks(days)
    return Span(first_day=first_day, last_day=last_day, totals=totals, weeks=found, burrs_kg=burrs_kg,
                costs=costs_of_weeks(found, price_per_kg) if found else (), to_do=tuple(_to_do(found, burrs_kg)) if found else (),
                sentence=_sentence(first_day, last_day, totals, found, price_per_kg, currency))


def _totals(days: Sequence[Any]) -> Totals:
    def all_of(name: str) -> Any:
        return sum(getattr(day, name) for day in days)

    judged = all_of("timed")
    return Totals(
        pulls=all_of("pulls"), served=all_of("pulls") - all_of("sunk"), judged=judged, in_window=all_of("in_window"),
        share_in_window=all_of("in_window") / judged if judged else None, orders_served=all_of("orders_served"),
        orders_cancelled=all_of("orders_cancelled"), undosed=all_of("undosed"), waste_g=all_of("wasted_g"),
        purged_g=all_of("purged_g"), sink_g=all_of("sunk_g"), overdosed_g=all_of("overdosed_g"), tasted_g=all_of("tasted_g"))


def _sentence(first_day: str, last_day: str, of: Totals, found: Weeks | None, price_per_kg: float | None, currency: str) -> Message:
    if not of.pulls:
        return no_pulls(span_of_days(first_day, last_day), of.purged_g)
    parts = [cups(of.pulls, of.served, of.judged, of.in_window), *([_drifted(found)] if found is not None else [])]
    if of.waste_g:
        parts.append(lost(of.purged_g, of.sink_g, of.overdosed_g, price_per_kg, currency))
    return joined("; ", parts, ".")


def _drifted(found: Weeks) -> Message:
    told = sorted((each for each in found.grinders if each.drifted), key=lambda each: -each.drifted)
    return joined(", ", [Message("{grinder} drifted on {n:d} of {days:d} days", grinder=each.grinder, n=each.drifted,
                                 days=each.days) for each in told[:2]]) if told else \
        Message("no grinder was flagged for drift")


def _to_do(found: Weeks, burrs_kg: float) -> Iterator[ToDo]:
    for each in found.grinders:
        if burrs_kg and each.ground_kg > burrs_kg:
            yield ToDo(what=Message("Plan new burrs for {grinder}.", grinder=each.grinder), record_ids=(),
                       because=Message("{kg:.0f} kg went through them, and they are good for {good:g} kg.", kg=each.ground_kg,
                                       good=burrs_kg))
        elif each.looks_like_wear:
            yield ToDo(what=Message("Have the burrs of {grinder} looked at.", grinder=each.grinder), record_ids=(),
                       because=Message("Its best setting falls as kilograms go through: it looks like wear."))


def span_groups(of: Span, price_per_kg: float | None = None, currency: str = "") -> tuple[Group, ...]:
    """Its figures as rows: the weeks in turn, what was lost, then each grinder's weeks and each day."""
    totals = of.totals
    whole = Group("service", Message("The whole span"), tuple(
        Row(key=key, name=name, value=value, of=out_of) for key, name, value, out_of in (
            ("pulls", Message("Pulls"), totals.pulls, None), ("in_window", Message("In their window"), totals.in_window, totals.judged),
            ("served", Message("Orders served"), totals.orders_served, None),
            ("cancelled", Message("Orders cancelled"), totals.orders_cancelled, None),
            ("no_dose", Message("Pulls with no dose measured"), totals.undosed, totals.pulls)) if value))
    found = (whole, Group("waste", Message("Waste"), cost_rows(of.costs, currency)),
             *(week_groups(of.weeks, of.burrs_kg, every=True, price_per_kg=price_per_kg, currency=currency) if of.weeks else ()))
    return tuple(group for group in found if group.rows)


def as_plain(of: Span) -> dict[str, Any]:
    """A dictionary that JSON holds, format 2: the keys of format 1 (kiosk.bar.evening.summary.as_plain), told by the week.

    What names single records is left empty ("stretches", "moves", "flags", "waste", "timers", "record_ids"), and what takes every pull
    is null ("drift", "doses", "doses_off", "served" of a grinder; "id" of a scale check, whose "at" is its day). In their place
    each of "grinders" has weeks: [{name (ISO 8601), pulls, timed, in_window, low, high (settings), suits, off_s, notch_moves,
    flags}], and beside them stand
    weeks: [{name, days, pulls, timed, in_window, orders, wasted_g, purged_g, sunk_g, overdosed_g, tasted_g, flags, notch_moves}].
    """
    found = of.weeks
    return {
        "format": FORMAT, "first_day": of.first_day, "last_day": of.last_day, "sentence": of.sentence,
        "to_do": [{"what": each.what, "because": each.because, "record_ids": []} for each in of.to_do],
        "totals": asdict(of.totals), "grinders": [_grinder(each) for each in (found.grinders if found else ())], "waste": [],
        "scale_checks": [{"id": None, "at": day, "nominal_g": nominal, "read_g": read} for day, nominal, read in
                         (found.checks if found else ())],
        "timers": [],
        "weeks": [asdict(week) for week in (found.weeks if found else ())],
    }


def _grinder(each: GrinderWeeks) -> dict[str, Any]:
    return {
        "grinder": each.grinder, "coffee": each.coffee, "setting": each.setting,
        "pulls": sum(week.pulls for week in each.weeks), "served": None, "judged": sum(week.timed for week in each.weeks),
        "in_window": sum(week.in_window for week in each.weeks), "doses": None, "doses_off": None, "drift": None,
        "stretches": [], "moves": [], "flags": [], "weeks": [asdict(week) for week in each.weeks]}
