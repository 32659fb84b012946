"""Weeks on a page: a chart of their shares in window and of what was lost, each grinder's best setting, a line a week."""

from collections.abc import Container

from kiosk.bar.evening import DAYS, GRINDER_COLUMNS, WEEK_COLUMNS, WEEKS, Group, Weeks, week_groups
from kiosk.bar.evening.span import Span, span_groups
from kiosk.bar.messages import ENGLISH, Language, Message
from kiosk.page.chart import SUITS_LEGEND, suits_svg
from kiosk.page.sheet import PageSheet
from kiosk.page.weeks_chart import LOST_LEGEND, SHARES_LEGEND, lost_svg, shares_svg

IN_FULL = Message("Any of these weeks in full, down to each pull: report --week 2026-W43.")


def span_page(of: Span, title: str = "", currency: str = "", price_per_kg: float | None = None, language: Language = ENGLISH) -> str:
    """A long span as one HTML document, headed by `title` (the bar's name)."""
    sheet, name = PageSheet(language), language.render(of.name)
    return sheet.document(title, name, "".join((
        sheet.header(title, name, of.sentence), "<main>", *span_parts(sheet, of, currency, price_per_kg), "</main>",
        f'<footer><p class="note">{sheet.words(IN_FULL)}</p></footer>')))


def span_parts(sheet: PageSheet, of: Span, currency: str, price_per_kg: float | None, without: Container[str] = ()) -> list[str]:
    """`without` are the kinds of groups that stand elsewhere."""
    items = "".join(f"<li><strong>{sheet.words(thing.what)}</strong> {sheet.words(thing.because)}</li>" for thing in of.to_do)
    parts = [sheet.section(Message("To do"), f'<ol class="things">{items}</ol>')] if items else []
    found = span_groups(of, price_per_kg, currency)
    parts += [sheet.section(group.name, sheet.table(group.rows, group, linked=False)) for group in found if group.kind not in ("weeks", *without)]
    if of.weeks:
        parts += _weeks(sheet, of.weeks, [group for group in found if group.kind == "weeks"], every=True)
    return parts


def weeks_part(sheet: PageSheet, of: Weeks, burrs_kg: float, every: bool, currency: str = "", price_per_kg: float | None = None) -> str:
    """As a part of another page; with `every`, a line a week."""
    found = week_groups(of, burrs_kg, every=every, currency=currency, price_per_kg=price_per_kg)
    return sheet.section(Message("The weeks from {first} to {last}", first=of.first_day, last=of.last_day),
                         "".join(_weeks(sheet, of, found, every)))


def _weeks(sheet: PageSheet, of: Weeks, found: list[Group], every: bool) -> list[str]:
    parts = []
    for n, group in sorted(enumerate(found), key=lambda each: every and each[1].name != WEEKS):
        if every and group.name == DAYS:
            continue                                    # a line a week is what is read
        parts.append(f"<h3>{sheet.words(group.name)}</h3>")
        if n < len(of.grinders) and len(of.grinders[n].suits) > 1:
            parts.append(sheet.figure(suits_svg(of.grinders[n], f"{sheet.key}{n}", sheet.language), SUITS_LEGEND))
        if group.name == WEEKS and len(of.weeks) > 1:
            parts.append(sheet.figure(shares_svg(of.weeks, sheet.key, sheet.language), SHARES_LEGEND))
            parts.append(sheet.figure(lost_svg(of.weeks, sheet.key, sheet.language), LOST_LEGEND))
        columns = WEEK_COLUMNS if group.name == WEEKS else GRINDER_COLUMNS if n < len(of.grinders) else ()
        lines = [row for row in group.rows if row.about and row.key.rpartition("_")[2] in dict(columns)] if every else []
        single = [row for row in group.rows if row not in lines]
        if single:
            parts.append(sheet.table(single, group, linked=False))
        if lines:
            parts.append(sheet.crossed(group, lines, Message("Week"), columns, Message("Week by week"), linked=False))
    return parts
