"""The weeks' figures as rows, for the screen, the page and the table."""

from kiosk.bar.evening.rows import WORTH, Group, Row
from kiosk.bar.evening.weeks import GrinderWeeks, Week, Weeks
from kiosk.bar.messages import Message, joined

CHECKS = 8              # the latest of the scale
DAYS, DAY = Message("Day by day"), "day_"        # the group of days, and what the key of each of its rows begins with

SURELY = Message("unlikely to be chance")
COARSER, FINER = Message("coarser"), Message("finer")


def week_groups(of: Weeks, burrs_kg: float = 0.0) -> tuple[Group, ...]:
    """`burrs_kg` is what a pair of burrs is good for; 0 where nobody said."""
    found = [Group("weeks", Message("{grinder}, {coffee}, over the weeks", grinder=each.grinder, coffee=each.coffee),
                   _grinder(each, burrs_kg)) for each in of.grinders]
    if of.weeks:
        found.append(Group("weeks", Message("Week by week"), _against(of)))
    if of.checks:
        found.append(Group("weeks", Message("Scale checks"), tuple(
            Row(key=f"check_{n}", name=Message("{day}, {g:g} g", day=day, g=nominal), value=read - nominal, form="+.2f",
                unit=Message("g off"))
            for n, (day, nominal, read) in enumerate(of.checks[-CHECKS:], 1))))
    found.append(Group("weeks", DAYS, tuple(
        Row(key=f"{DAY}{each.day}", name=Message("{about}: in window", about=each.day), value=each.in_window,
            of=each.timed, words=Message("{n:d} pulls", n=each.pulls)) for each in reversed(of.days))))
    return tuple(found)


def _grinder(each: GrinderWeeks, burrs_kg: float) -> tuple[Row, ...]:
    rows = []
    if each.suits:
        first, last = each.suits[0], each.suits[-1]
        rows += [Row(key="suits_now", name=Message("Best setting on {day}", day=last.day),
                     value=last.setting, form=".1f"),
                 Row(key="suits_then", name=Message("And on {day}", day=first.day), value=first.setting, form=".1f")]
    worth = each.worth
    rows.append(Row(key="worth", name=WORTH, value=worth.value, low=worth.low, high=worth.high, form=".1f",
                    unit="s", words=Message("from {n:d} moves", n=worth.count) if worth.count
                    else Message("the usual: no move was seen yet")))
    since = [Message("since new burrs on {day}", day=each.changed_on) if each.changed_on
             else Message("since the first day here: no new burrs were noted")]
    if burrs_kg and each.ground_kg > burrs_kg:
        since.append(Message("more than the {kg:g} kg they are good for", kg=burrs_kg))
    rows.append(Row(key="ground", name=Message("Through its burrs"), value=each.ground_kg, form=".1f", unit="kg",
                    words=joined("; ", since)))
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
    for week in reversed(of.weeks[-8:]):
        rows += _week(week)
    return tuple(rows)


def _week(week: Week) -> list[Row]:
    about = Message("{week}, 1 day", week=week.name) if week.days == 1 else \
        Message("{week}, {n:d} days", week=week.name, n=week.days)
    return [Row(key=f"{week.name}_window", name=Message("{about}: in window", about=about), value=week.in_window,
                of=week.timed),
            Row(key=f"{week.name}_pulls", name=Message("{about}: pulls", about=about), value=week.pulls),
            Row(key=f"{week.name}_waste", name=Message("{about}: coffee lost", about=about), value=week.wasted_g,
                unit="g"),
            Row(key=f"{week.name}_moves", name=Message("{about}: notches moved", about=about), value=week.notch_moves)]
