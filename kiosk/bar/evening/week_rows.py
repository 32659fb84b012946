"""The weeks' figures as rows, for the screen, the page and the table."""

import re
from collections.abc import Iterable
from datetime import date, timedelta

from kiosk.bar.evening.costs import worth
from kiosk.bar.evening.rows import DISAGREE, WORTH, Group, Row
from kiosk.bar.evening.sentences import pulls_told
from kiosk.bar.evening.weeks import LEAST_NOTCH_S, GrinderWeek, GrinderWeeks, Week, Weeks
from kiosk.bar.messages import Message, joined

CHECKS = LATEST = 8     # the latest of the scale, and of the weeks
WEEKS = Message("Week by week")
DAYS, DAY = Message("Day by day"), "day_"        # the group of days, and what the key of each of its rows begins with

# A line a week: the end of a row's key, and what the column is called.
WEEK_COLUMNS = (("pulls", Message("Pulls")), ("window", Message("In window")), ("waste", Message("Coffee lost")),
                ("money", Message("What it cost")), ("purge", Message("In purges")), ("sink", Message("In sink shots")),
                ("overdose", Message("In heavy doses")), ("tasted", Message("Tasted")), ("moves", Message("Grind setting changes")))
GRINDER_COLUMNS = (("pulls", Message("Pulls")), ("window", Message("In window")), ("low", Message("Finest")),
                   ("high", Message("Coarsest")), ("suits", Message("Best setting")), ("off", Message("Off the recipe")),
                   ("moves", Message("Grind setting changes")), ("flags", Message("Flags")))

WEEK = re.compile(r"(\d{4})-W(\d\d)_(\w+)")

SURELY = Message("unlikely to be chance")
COARSER, FINER = Message("asks for coarser"), Message("asks for finer")


def week_groups(of: Weeks, burrs_kg: float = 0.0, *, every: bool = False, price_per_kg: float | None = None,
                currency: str = "") -> tuple[Group, ...]:
    """`burrs_kg` is what a pair of burrs is good for; 0 where nobody said. With `every` all weeks are there, each grinder's
    too, the earliest first; without it the last eight, the latest first."""
    found = [Group("weeks", Message("{grinder}, {coffee}, over the weeks", grinder=each.grinder, coffee=each.coffee),
                   (*_grinder(each, burrs_kg), *(row for week in each.weeks if every for row in _of_grinder(week))))
             for each in of.grinders]
    if of.weeks:
        weeks = of.weeks if every else tuple(reversed(of.weeks[-LATEST:]))
        found.append(Group("weeks", WEEKS, (*_against(of), *(row for week in weeks for row in _week(
            week, every, price_per_kg, currency)))))
    if of.checks:
        found.append(Group("weeks", Message("Scale checks"), tuple(
            Row(key=f"check_{n}", name=Message("{day}, {g:g} g", day=day, g=nominal), value=read - nominal, form="+.2f",
                unit=Message("g off"))
            for n, (day, nominal, read) in enumerate(of.checks[-CHECKS:], 1))))
    if of.days:
        found.append(Group("weeks", DAYS, tuple(
            Row(key=f"{DAY}{each.day}", name=Message("{about}: in window", about=each.day), value=each.in_window,
                of=each.timed, words=pulls_told(each.pulls)) for each in reversed(of.days))))
    return tuple(found)


def of_week(row: Row, first_day: str, last_day: str) -> tuple[str, str, str] | None:
    """The first and the last day of the week that a row is of, no further than the span it was summed in, and which figure
    of it; None where the row is of no week."""
    found = WEEK.fullmatch(row.key)
    if found is None:
        return None
    monday = date.fromisocalendar(int(found[1]), int(found[2]), 1)
    return max(first_day, monday.isoformat()), min(last_day, (monday + timedelta(days=6)).isoformat()), found[3]


def _grinder(each: GrinderWeeks, burrs_kg: float) -> tuple[Row, ...]:
    rows = []
    if each.suits:
        first, last = each.suits[0], each.suits[-1]
        rows += [Row(key="suits_now", name=Message("Best setting on {day}", day=last.day),
                     value=last.setting, form=".1f"),
                 Row(key="suits_then", name=Message("And on {day}", day=first.day), value=first.setting, form=".1f")]
    worth = each.worth
    rows.append(Row(key="worth", name=WORTH, value=worth.value, low=max(0.0, worth.low), high=worth.high, form=".1f",
                    unit="s", words=Message("from 1 move") if worth.count == 1 else Message("from {n:d} moves", n=worth.count) if worth.count
                    else Message("the usual: no move was seen yet")) if worth.value > LEAST_NOTCH_S
                else Row(key="worth", name=WORTH, words=DISAGREE))
    since = [Message("since new burrs on {day}", day=each.changed_on) if each.changed_on
             else Message("since the first day here: no new burrs were noted")]
    if each.undosed:
        since.append(Message("1 dose not weighed: the recipe's was taken") if each.undosed == 1 else
                     Message("{n:d} doses not weighed: the recipe's was taken", n=each.undosed))
    if burrs_kg and each.ground_kg > burrs_kg:
        since.append(Message("more than the {kg:g} kg they are good for", kg=burrs_kg))
    rows.append(Row(key="ground", name=Message("Through its burrs"), value=each.ground_kg, unit="kg",
                    form=".1f" if each.ground_kg >= 1 else ".2f", words=joined("; ", since)))
    if each.wear is None:
        rows.append(Row(key="wear", name=Message("Wear"), words=Message("too few days or kilograms to tell")))
    else:
        wear = each.wear
        words = Message("it looks like wear") if each.looks_like_wear else Message("that is no sure sign of wear")
        rows.append(Row(key="wear", name=Message("Best setting shifts by"), value=100 * wear.value,
                        low=100 * wear.low, high=100 * wear.high, form="+.1f", unit=Message("notches in 100 kg"), words=words))
    for effect in each.room:
        within, ten = effect.within, 10 if effect.unit == "%" else 1
        sure = SURELY if effect.claimed else Message("could be chance")
        rows.append(Row(key=effect.name, name=Message("Per {n:d} {unit} more {what}", n=ten, unit=effect.unit,
                                                    what=effect.name),
                        value=ten * within.value,
                        low=ten * within.low, high=ten * within.high, form="+.2f", unit=Message("notches"),
                        words=Message("{way}; {sure}, from {n:d} readings", way=COARSER if within.value > 0 else FINER,
                                      sure=sure, n=within.count)))
    if each.aging is not None:
        rows.append(Row(key="aging", name=Message("Best setting over a bag's days"), value=each.aging.value, low=each.aging.low,
                        high=each.aging.high, form="+.2f", unit=Message("notches a day"),
                        words=Message("from {n:d} bags", n=each.aging.count)))
    if each.bags:
        rows.append(Row(key="bags", name=Message("Bags opened"), value=len(each.bags)))
    if not each.room:
        rows.append(Row(key="room", name=Message("Temperature and humidity"),
                        words=Message("too few readings of the room to tell")))
    return tuple(rows)


def _against(of: Weeks) -> tuple[Row, ...]:
    rows = []
    if of.share_change is not None:
        change = of.share_change
        sure = SURELY if change.low * change.high > 0 else Message("within what chance does")
        rows.append(Row(key="share_change", name=Message("In window, {week} against {before}", week=of.weeks[-1].name,
                                                         before=of.weeks[-2].name),
                        value=change.value,
                        low=change.low, high=change.high, form="+.1f", unit=Message("percentage points"), words=sure))
    if of.waste_trend is not None:
        trend = of.waste_trend
        rows.append(Row(key="waste_trend", name=Message("Coffee lost, each week against the one before"), value=trend.value,
                        low=trend.low, high=trend.high, form="+.1f", unit="g",
                        words=SURELY if trend.low * trend.high > 0 else Message("within what chance does")))
    return tuple(rows)


def _of_grinder(week: GrinderWeek) -> Iterable[Row]:
    about = week.name
    yield Row(key=f"{about}_pulls", about=about, name=Message("{about}: pulls", about=about), value=week.pulls)
    if week.timed:
        yield Row(key=f"{about}_window", about=about, name=Message("{about}: in window", about=about), value=week.in_window,
                  of=week.timed)
    if week.low is not None:
        yield Row(key=f"{about}_low", about=about, name=Message("{about}: finest setting", about=about), value=week.low)
        yield Row(key=f"{about}_high", about=about, name=Message("{about}: coarsest setting", about=about), value=week.high)
    if week.suits is not None:
        yield Row(key=f"{about}_suits", about=about, name=Message("{about}: best setting", about=about), value=week.suits, form=".1f")
        yield Row(key=f"{about}_off", about=about, name=Message("{about}: off the recipe", about=about), value=week.off_s,
                  form="+.1f", unit="s")
    yield Row(key=f"{about}_moves", about=about, name=Message("{about}: notches moved", about=about), value=week.notch_moves)
    yield Row(key=f"{about}_flags", about=about, name=Message("{about}: flags", about=about), value=week.flags)


def _week(week: Week, every: bool, price_per_kg: float | None, currency: str) -> list[Row]:
    about = Message("{week}, 1 day", week=week.name) if week.days == 1 else \
        Message("{week}, {n:d} days", week=week.name, n=week.days)
    money = worth(week.wasted_g, price_per_kg)
    return [Row(key=f"{week.name}_window", about=about, name=Message("{about}: in window", about=about), value=week.in_window,
                of=week.timed),
            Row(key=f"{week.name}_pulls", about=about, name=Message("{about}: pulls", about=about), value=week.pulls),
            Row(key=f"{week.name}_waste", about=about, name=Message("{about}: coffee lost", about=about), value=week.wasted_g,
                unit="g"),
            *([Row(key=f"{week.name}_money", about=about, name=Message("{about}: what it cost", about=about), value=money, form=".2f",
                   unit=currency)] if money is not None else ()),
            *((Row(key=f"{week.name}_{why}", about=about, name=name, value=grams, unit="g") for why, name, grams in (
                ("purge", Message("{about}: purged", about=about), week.purged_g),
                ("sink", Message("{about}: sink shots", about=about), week.sunk_g),
                ("overdose", Message("{about}: over the dose's limit", about=about), week.overdosed_g),
                ("tasted", Message("{about}: tasted at opening", about=about), week.tasted_g))) if every else ()),
            Row(key=f"{week.name}_moves", about=about, name=Message("{about}: notches moved", about=about), value=week.notch_moves)]
