"""A few bars on one page: their figures in columns, then each bar's day with its charts.

A pull is found on its bar's own page: two bars may have made pulls of the same name.
"""

from collections.abc import Mapping, Sequence
from html import escape

from kiosk.bar.evening import Evening, Group, span_name
from kiosk.bar.evening.span import Span
from kiosk.bar.messages import ENGLISH, Language, Message
from kiosk.page.page import EveningSheet
from kiosk.page.sheet import PageSheet
from kiosk.page.weeks import span_parts

IN_COLUMNS = ("service", "waste")       # the kinds of groups whose figures every bar has
ITS_PULLS = Message("Each bar’s pulls are on its own page: report --station NAME.")


def beside_page(of: Mapping[str, Evening | Span], found: Mapping[str, Sequence[Group]], currency: str = "",
                price_per_kg: float | None = None, language: Language = ENGLISH) -> str:
    """One HTML document; `found` are each bar's groups of rows."""
    sheet, first = PageSheet(language), next(iter(of.values()))
    name = language.render(first.name if isinstance(first, Span) else span_name(first.summary.figures))
    title = language.render(Message("Side by side"))
    body = [f'<header><h1>{escape(title)}</h1><p class="day">{escape(name)}</p></header><main>', _columns(sheet, found)]
    body += [_bar(bar, each, currency, price_per_kg, language) for bar, each in of.items()]
    return sheet.document(title, name, f'{"".join(body)}</main><footer><p class="note">{sheet.words(ITS_PULLS)}</p></footer>')


def _columns(sheet: PageSheet, found: Mapping[str, Sequence[Group]]) -> str:
    parts = []
    for kind in IN_COLUMNS:
        theirs = {bar: group for bar, groups in found.items() for group in groups if group.kind == kind}
        names = {row.key: row.name for group in theirs.values() for row in group.rows if row.value is not None}
        lines = []
        for key, name in names.items():
            cells = []
            for bar in found:
                sheet.key = f"{bar}/"
                row = next((row for row in theirs[bar].rows if row.key == key), None) if bar in theirs else None
                cells.append(f"<td>{sheet.value(theirs[bar], row) if row is not None and row.value is not None else '–'}</td>")
            lines.append(("", [sheet.head(name), *cells]))
        if lines:
            heading = next(iter(theirs.values())).name
            parts.append(sheet.section(heading, sheet.grid(
                Message("{name}: figures", name=heading), (Message("Figure"), *found), lines)))
    return "".join(parts)


def _bar(bar: str, of: Evening | Span, currency: str, price_per_kg: float | None, language: Language) -> str:
    if isinstance(of, Span):
        sheet = PageSheet(language, key=f"{bar}/")
        inner = "".join(span_parts(sheet, of, currency, price_per_kg, IN_COLUMNS))
    else:
        sheet = EveningSheet(of, language, links=False, key=f"{bar}/")
        inner = sheet.things() + "".join(sheet.figures(currency, IN_COLUMNS))
    sentence = of.sentence if isinstance(of, Span) else of.summary.sentence
    return f'<section class="bar"><h1>{escape(bar)}</h1><p class="lede">{sheet.words(sentence)}</p>{inner}</section>'
