"""The weeks' figures as rows, for the screen, the page and the table."""

from kiosk.bar.rows import Group, Row
from kiosk.bar.weeks import GrinderWeeks, Week, Weeks

CHECKS = 8              # the latest of the scale
DAYS, DAY = "Day by day", "day_"        # the group of days, and what the key of each of its rows begins with


def week_groups(of: Weeks, burrs_kg: float = 0.0) -> tuple[Group, ...]:
    """`burrs_kg` is what a pair of burrs is good for; 0 where nobody said."""
    found = [Group("weeks", f"{each.grinder}, {each.coffee}, over the weeks", _grinder(each, burrs_kg))
             for each in of.grinders]
    if of.weeks:
        found.append(Group("weeks", "Week by week", _against(of)))
    if of.checks:
        found.append(Group("weeks", "Scale checks", tuple(
            Row(key=f"check_{n}", name=f"{day}, {nominal:g} g", value=read - nominal, form="+.2f", unit="g off")
            for n, (day, nominal, read) in enumerate(of.checks[-CHECKS:], 1))))
    found.append(Group("weeks", DAYS, tuple(
        Row(key=f"{DAY}{each.day}", name=f"{each.day}: in window", value=each.in_window, of=each.timed,
            words=f"{each.pulls} pulls") for each in reversed(of.days))))
    return tuple(found)


def _grinder(each: GrinderWeeks, burrs_kg: float) -> tuple[Row, ...]:
    rows = []
    if each.suits:
        first, last = each.suits[0], each.suits[-1]
        rows += [Row(key="suits_now", name=f"The setting that suited it on {last.day}", value=last.setting, form=".1f"),
                 Row(key="suits_then", name=f"And on {first.day}", value=first.setting, form=".1f")]
    worth = each.worth
    rows.append(Row(key="worth", name="A notch is worth", value=worth.value, low=worth.low, high=worth.high, form=".1f",
                    unit="s", words=f"from {worth.count} moves" if worth.count else "the usual: no move was seen yet"))
    since = (f"since new burrs on {each.changed_on}" if each.changed_on
             else "since the first day here: no new burrs were noted")
    worn = f"; more than the {burrs_kg:g} kg they are good for" if burrs_kg and each.ground_kg > burrs_kg else ""
    rows.append(Row(key="ground", name="Through its burrs", value=each.ground_kg, form=".1f", unit="kg",
                    words=since + worn))
    if each.wear is None:
        rows.append(Row(key="wear", name="Wear", words="too few days or kilograms to tell"))
    else:
        wear, words = each.wear, "it looks like wear" if each.looks_like_wear else "that is no sure sign of wear"
        rows.append(Row(key="wear", name="The suiting setting moves by", value=100 * wear.value, low=100 * wear.low,
                        high=100 * wear.high, form="+.1f", unit="notches in 100 kg", words=words))
    for effect in each.room:
        within, ten = effect.within, 10 if effect.unit == "%" else 1
        sure = "surely so" if within.low * within.high > 0 else "it may as well be nothing"
        rows.append(Row(key=effect.name, name=f"{ten} {effect.unit} more {effect.name} asks for",
                        value=ten * within.value,
                        low=ten * within.low, high=ten * within.high, form="+.2f", unit="notches coarser",
                        words=f"{sure}, from {within.count} readings"))
    if not each.room:
        rows.append(Row(key="room", name="Temperature and humidity", words="too few readings of the room to tell"))
    return tuple(rows)


def _against(of: Weeks) -> tuple[Row, ...]:
    rows = []
    if of.share_change is not None:
        change = of.share_change
        sure = "surely so" if change.low * change.high > 0 else "within what chance does"
        rows.append(Row(key="share_change", name=f"In window, {of.weeks[-1].name} against {of.weeks[-2].name}",
                        value=change.value,
                        low=change.low, high=change.high, form="+.1f", unit="points of a hundred", words=sure))
    for week in reversed(of.weeks[-8:]):
        rows += _week(week)
    return tuple(rows)


def _week(week: Week) -> list[Row]:
    days = f"{week.name}, {week.days} day{'s' * (week.days != 1)}"
    return [Row(key=f"{week.name}_window", name=f"{days}: in window", value=week.in_window, of=week.timed),
            Row(key=f"{week.name}_pulls", name=f"{days}: pulls", value=week.pulls),
            Row(key=f"{week.name}_waste", name=f"{days}: coffee lost", value=week.wasted_g, unit="g"),
            Row(key=f"{week.name}_moves", name=f"{days}: notches moved", value=week.notch_moves)]
