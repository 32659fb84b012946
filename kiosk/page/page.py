"""The evening's page: the sentence, the three things, a chart and figures for each grinder, hands, waste, service, and
every pull at the end. Each number stands in a <data> element with its exact value and the name of its figure in
`data-key`."""

from collections.abc import Iterable, Sequence
from html import escape

from kiosk.bar.daychart import FLAG, NOTCH, PURGE, Mark, note_mark
from kiosk.bar.even import even_time_s
from kiosk.bar.evening import Evening, GrinderEvening
from kiosk.bar.figures import moment
from kiosk.bar.pull import judge
from kiosk.bar.record import Pull
from kiosk.bar.rows import Group, Row, groups
from kiosk.bar.sentences import span_name
from kiosk.bar.weekrows import week_groups
from kiosk.bar.weeks import Weeks
from kiosk.page.chart import LEGEND, SUITS_LEGEND, curve_svg, day_svg, suits_svg
from kiosk.page.style import STYLE

HANDS = (("pulls", "Pulls"), ("dose", "Doses spread by"), ("time", "Times spread by"),
         ("skipped", "With a step left out"))
STRETCHES = (("pulls", "Pulls"), ("even", "Even time"), ("spread", "Spread"), ("drift", "Drift (95 %)"))
MANY, OF_EACH = ("stretch_", "hour_"), ("move", "flag")      # rows that have a table of their own
RESTS_ON = "Rests on"


def page(of: Evening, title: str = "", currency: str = "", weeks: Weeks | None = None, burrs_kg: float = 0.0) -> str:
    """One HTML document, headed by `title` (the bar's name), with the `weeks` before it where they are given."""
    figures, name = of.summary.figures, span_name(of.summary.figures)
    known = {pull.id for pull in figures.pulls} | {mark.record_id for mark in _marks(of)}
    by_kind: dict[str, list[Group]] = {}
    for group in groups(of, currency):
        by_kind.setdefault(group.kind, []).append(group)
    body = [
        f'<header><h1>{escape(title or "The evening")}</h1><p class="day">{escape(name)}</p>'
        f'<p class="lede">{escape(of.summary.sentence)}</p></header>',
        "<main>", _things(of, known),
        *(_grinder(group, each, n, known)
          for n, (group, each) in enumerate(zip(by_kind.get("grinder", ()), of.grinders))),
        *(_section(group.name, _hands(group, known)) for group in by_kind.get("people", ())),
        *(_section(group.name, _table(group.rows, group, known))
          for group in (*by_kind.get("waste", ()), *by_kind.get("service", ()))),
        _done(of), _weeks(weeks, burrs_kg) if weeks else "", _pulls(figures.pulls, of.names), _notes(of), "</main>"]
    return ('<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
            '<meta name="viewport" content="width=device-width, initial-scale=1">'
            f'<title>{escape(f"{title}, {name}" if title else name)}</title><style>{STYLE}</style></head>\n'
            f'<body>{"".join(body)}</body></html>\n')


def _things(of: Evening, known: set[str]) -> str:
    if not of.summary.figures.pulls:
        return ""
    items = "".join(f"<li><strong>{escape(thing.what)}</strong> {escape(thing.because)} "
                    f"{_shots(thing.record_ids, known)}</li>" for thing in of.summary.to_do)
    things = f'<ol class="things">{items}</ol>' if items else "<p>Nothing but the same again.</p>"
    return _section("To do tomorrow", things)


def _grinder(group: Group, each: GrinderEvening, number: int, known: set[str]) -> str:
    chart = ""
    if each.chart.points or each.chart.marks:
        chart = _figure(day_svg(each.chart, number), LEGEND)
    single = [row for row in group.rows if not row.key.startswith(MANY) and row.key not in OF_EACH]
    stretches = [row for row in group.rows if row.key.startswith("stretch_")]
    return _section(group.name, chart + _table(single, group, known) + (_crossed(
        group, stretches, known, "Setting", STRETCHES, "Stretches: the pulls at one setting") if stretches else "")
        + _hours(group, known))


def _hours(group: Group, known: set[str]) -> str:
    items = "".join(f'<li><b>{escape(row.name.removesuffix(", in window"))}</b> {_said(group, row)} '
                    f'{_shots(row.record_ids, known)}</li>' for row in group.rows if row.key.startswith("hour_"))
    return f'<h3>In their window, hour by hour</h3><ul class="hours">{items}</ul>' if items else ""


def _hands(group: Group, known: set[str]) -> str:
    return _crossed(group, group.rows, known, "Who", HANDS, "By name; what the grinder did is taken out of the times")


def _done(of: Evening) -> str:
    where = {mark.record_id: each.figures.grinder for each in of.grinders for mark in each.chart.marks
             if mark.kind in (NOTCH, PURGE, FLAG)}
    lines = [(f' id="r-{escape(mark.record_id)}"',
              [_td(text) for text in (_clock(mark.at, of.several_days), where.get(mark.record_id, ""), mark.kind,
                                      mark.words)]) for mark in _marks(of)]
    return _section("Done and noted", _grid("Notches, purges, flags, bags, readings, checks",
                                            ("At", "Grinder", "What", "In words"), lines)) if lines else ""


def _weeks(of: Weeks, burrs_kg: float) -> str:
    parts = []
    for n, group in enumerate(week_groups(of, burrs_kg)):
        parts.append(f"<h3>{escape(group.name)}</h3>")
        if n < len(of.grinders) and len(of.grinders[n].suits) > 1:
            parts.append(_figure(suits_svg(of.grinders[n], n), SUITS_LEGEND))
        parts.append(_table(group.rows, group, set()))
    return _section(f"The weeks from {of.first_day} to {of.last_day}", "".join(parts))


def _pulls(pulls: Sequence[Pull], names: bool) -> str:
    if not pulls:
        return ""
    several = len({pull.at[:10] for pull in pulls}) > 1
    heads = ("At", "Grinder", "Setting", "Basket", "Who", "Dose, g", "Yield, g", "Time, s", "Even, s", "Verdict")
    table = _grid("Every pull, in turn", heads, [_pull(pull, several, names) for pull in pulls])
    shut = f"<details><summary>Show the pulls that the figures rest on</summary>{table}</details>"
    return _section("Every pull", shut, "every")


def _pull(pull: Pull, several: bool, names: bool) -> tuple[str, list[str]]:
    curve = curve_svg(pull)
    verdict = escape(f"Into the sink: {pull.sink}." if pull.sink else judge(pull).sentence)
    more = f"<details><summary>Curve</summary>{curve}</details>" if curve else ""
    measured = (pull.dose_g, pull.yield_g, pull.time_s, even_time_s(pull))
    return f' id="r-{escape(pull.id)}"', [
        *map(_td, (_clock(pull.at, several), pull.grinder, str(pull.setting), pull.basket,
                   pull.barista if names and pull.barista else "–")),
        *(_td("–" if value is None else f"{value:.1f}", ' class="n"') for value in measured),
        f"<td>{verdict}{more}</td>"]


def _notes(of: Evening) -> str:
    said = ("Even time is what a pull would have taken with dose and yield exactly the recipe’s. Intervals hold the "
            "truth 95 times in a hundred. What was not measured is left out, never guessed.")
    if len({pull.at[-6:] for pull in of.summary.figures.pulls}) > 1:
        said += " The clocks changed: times are as the wall clock showed them, hours are counted as they passed."
    return f'<footer><p class="note">{said}</p></footer>'


# What all of them are made of

def _section(name: str, inner: str, kind: str = "part") -> str:
    return f'<section class="{kind}"><h2>{escape(name)}</h2>{inner}</section>\n'


def _figure(svg: str, caption: str) -> str:
    return f'<figure class="chart">{svg}<figcaption>{caption}</figcaption></figure>'


def _table(rows: Iterable[Row], group: Group, known: set[str]) -> str:
    """A figure a line."""
    lines = [("", [_head(row.name), f"<td>{_said(group, row)}</td>", _rests_on(row, known)]) for row in rows]
    return _grid(f"{group.name}: figures", ("Figure", "Value", RESTS_ON), lines, narrow=False)


def _crossed(group: Group, rows: Iterable[Row], known: set[str], first: str, figures: Sequence[tuple[str, str]],
             caption: str) -> str:
    """A line for each that has "pulls" among its rows, a column for each of the figures."""
    found: dict[str, dict[str, Row]] = {}
    for row in rows:
        of, _, figure = row.key.rpartition("_")
        found.setdefault(of, {})[figure] = row
    lines = [("", [_head(of["pulls"].name.removesuffix(": pulls")),
                   *(f"<td>{_said(group, of[figure]) if figure in of else '–'}</td>" for figure, _ in figures),
                   _rests_on(of["pulls"], known)]) for of in found.values()]
    return _grid(caption, (first, *(name for _, name in figures), RESTS_ON), lines)


def _grid(caption: str, heads: Sequence[str], lines: Iterable[tuple[str, list[str]]], narrow: bool = True) -> str:
    """A table; each line has its attributes and its cells."""
    top = "".join(f'<th scope="col"{_kind(head)}>{head}</th>' for head in heads)
    body = "".join(f"<tr{attributes}>{''.join(cells)}</tr>" for attributes, cells in lines)
    return (f'<div class="wide"><table class="{"narrow" if narrow else "broad"}"><caption>{escape(caption)}</caption>'
            f"<thead><tr>{top}</tr></thead><tbody>{body}</tbody></table></div>")


def _kind(head: str) -> str:
    return ' class="shots"' if head == RESTS_ON else ' class="n"' if head[-3:] in (", g", ", s") else ""


def _head(name: str) -> str:
    return f'<th scope="row">{escape(name)}</th>'


def _td(text: str, attributes: str = "") -> str:
    return f"<td{attributes}>{escape(text)}</td>"


def _rests_on(row: Row, known: set[str]) -> str:
    return f'<td class="shots">{_shots(row.record_ids, known)}</td>'


def _said(group: Group, row: Row) -> str:
    key = escape(f"{group.name}/{row.key}")
    return "".join(escape(said) if number is None else
                   f'<data value="{number[1]!r}" data-key="{key}/{number[0]}">{escape(said)}</data>'
                   for said, number in row.parts)


def _shots(ids: Iterable[str], known: set[str]) -> str:
    found = [id for id in ids if id in known]
    if not found:
        return ""
    links = ", ".join(f'<a href="#r-{escape(id)}">{n}</a>' for n, id in enumerate(found, 1))
    many = f"{len(found)} record{'s' * (len(found) > 1)}"
    return f'<details class="shots"><summary>{many}</summary>{links}</details>'


def _marks(of: Evening) -> list[Mark]:
    """What was done and noted at any grinder, each once."""
    marks = {mark.record_id: mark for each in of.grinders for mark in each.chart.marks}
    marks |= {note.id: mark for note in of.notes if (mark := note_mark(note))}
    return sorted(marks.values(), key=lambda mark: moment(mark.at))


def _clock(at: str, several: bool) -> str:
    return at[:16].replace("T", " ") if several else at[11:16]
