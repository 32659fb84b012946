"""The evening's page: the sentence, the three things, a chart and figures for each grinder, hands, waste, service, and every
pull at the end. Each number stands in a <data> element with its exact value and the name of its figure in `data-key`."""

from collections.abc import Iterable
from html import escape

from kiosk.bar.evening import Evening
from kiosk.bar.even import even_time_s
from kiosk.bar.daychart import Mark, note_mark
from kiosk.bar.figures import moment
from kiosk.bar.pull import judge
from kiosk.bar.record import Pull
from kiosk.bar.rows import Group, Row, groups
from kiosk.bar.sentences import span_name
from kiosk.bar.weekrows import week_groups
from kiosk.bar.weeks import Weeks
from kiosk.page.chart import LEGEND, curve_svg, day_svg, suits_svg
from kiosk.page.style import STYLE

HANDS_FIGURES = (("pulls", "Pulls"), ("dose", "Doses spread by"), ("time", "Times spread by"), ("skipped", "With a step left out"))
STRETCH_FIGURES = (("pulls", "Pulls"), ("even", "Even time"), ("spread", "Spread"), ("drift", "Drift (95 %)"))


def page(of: Evening, title: str = "", currency: str = "", weeks: Weeks | None = None, burrs_kg: float = 0.0) -> str:
    """One HTML document, headed by `title` (the bar's name), with the `weeks` before it where they are given."""
    figures = of.summary.figures
    name = span_name(figures)
    known = {pull.id for pull in figures.pulls} | {mark.record_id for mark in _marks(of)}
    head = (f'<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, '
            f'initial-scale=1"><title>{escape(f"{title}, {name}" if title else name)}</title><style>{STYLE}</style></head>\n<body>')
    parts = [head, "<header>", f"<h1>{escape(title or 'The evening')}</h1>", f'<p class="day">{escape(name)}</p>',
             f'<p class="lede">{escape(of.summary.sentence)}</p></header>\n<main>', _things(of, known)]
    number = 0
    for group in groups(of, currency):
        if group.kind == "grinder":
            each = of.grinders[number]
            number += 1
            parts.append(f"<section><h2>{escape(group.name)}</h2>")
            if each.chart.points or each.chart.marks:
                parts.append(f'<figure class="chart">{day_svg(each.chart, number)}<figcaption>{LEGEND}</figcaption></figure>')
            parts += [_table([row for row in group.rows if "_" not in row.key or row.key in ("in_window", "doses_off")], group, known),
                      _stretches(group, known), _hours(group, known), "</section>\n"]
        elif group.kind == "people":
            parts.append(f"<section><h2>{escape(group.name)}</h2>{_hands(group, known)}</section>\n")
        elif group.kind != "notes":
            parts.append(f"<section><h2>{escape(group.name)}</h2>{_table(group.rows, group, known)}</section>\n")
    parts += [_done(of), _weeks(weeks, burrs_kg) if weeks else "", _pulls(figures.pulls, of.names), _notes(of), "</main></body></html>\n"]
    return "".join(parts)


def _things(of: Evening, known: set[str]) -> str:
    if not of.summary.to_do:
        return '<section><h2>To do tomorrow</h2><p>Nothing but the same again.</p></section>\n' if of.summary.figures.pulls else ""
    items = "".join(f"<li><strong>{escape(thing.what)}</strong> {escape(thing.because)} {_shots(thing.record_ids, known)}</li>"
                    for thing in of.summary.to_do)
    return f'<section><h2>To do tomorrow</h2><ol class="things">{items}</ol></section>\n'


def _table(rows: Iterable[Row], group: Group, known: set[str]) -> str:
    rows = [row for row in rows if row.key not in ("move", "flag")]
    body = "".join(f'<tr><th scope="row">{escape(row.name)}</th><td>{_said(group, row)}</td><td class="shots">'
                   f"{_shots(row.record_ids, known)}</td></tr>" for row in rows)
    return (f'<div class="wide"><table><caption>{escape(group.name)}: figures</caption><thead><tr><th scope="col">Figure</th>'
            f'<th scope="col">Value</th><th scope="col" class="shots">Rests on</th></tr></thead><tbody>{body}</tbody></table></div>')


def _stretches(group: Group, known: set[str]) -> str:
    rows = [row for row in group.rows if row.key.startswith("stretch_")]
    return _crossed(group, rows, known, "Setting", STRETCH_FIGURES, "Stretches: the pulls at one setting") if rows else ""


def _hands(group: Group, known: set[str]) -> str:
    return _crossed(group, group.rows, known, "Who", HANDS_FIGURES, "By name; what the grinder did is taken out of the times")


def _crossed(group: Group, rows: Iterable[Row], known: set[str], first: str, figures: tuple[tuple[str, str], ...], caption: str) -> str:
    """A line for each that has "pulls" among its rows, a column for each of the figures."""
    found: dict[str, dict[str, Row]] = {}
    for row in rows:
        of, _, figure = row.key.rpartition("_")
        found.setdefault(of, {})[figure] = row
    body = "".join(
        f'<tr><th scope="row">{escape(of["pulls"].name.removesuffix(": pulls"))}</th>'
        + "".join(f"<td>{_said(group, of[figure]) if figure in of else '–'}</td>" for figure, _ in figures)
        + f'<td class="shots">{_shots(of["pulls"].record_ids, known)}</td></tr>' for of in found.values())
    heads = "".join(f'<th scope="col">{name}</th>' for _, name in figures)
    return (f'<div class="wide"><table class="narrow"><caption>{caption}</caption><thead><tr><th scope="col">{first}</th>{heads}'
            f'<th scope="col" class="shots">Rests on</th></tr></thead><tbody>{body}</tbody></table></div>')


def _hours(group: Group, known: set[str]) -> str:
    rows = [row for row in group.rows if row.key.startswith("hour_")]
    if not rows:
        return ""
    items = "".join(f'<li><b>{escape(row.name.removesuffix(", in window"))}</b> {_said(group, row)} {_shots(row.record_ids, known)}</li>'
                    for row in rows)
    return f'<h3>In their window, hour by hour</h3><ul class="hours">{items}</ul>'


def _said(group: Group, row: Row) -> str:
    key = f"{group.name}/{row.key}"
    return "".join(escape(said) if number is None else
                   f'<data value="{number[1]!r}" data-key="{escape(key)}/{number[0]}">{escape(said)}</data>'
                   for said, number in row.parts)


def _shots(ids: tuple[str, ...], known: set[str]) -> str:
    found = [id for id in ids if id in known]
    if not found:
        return ""
    links = ", ".join(f'<a href="#r-{escape(id)}">{n}</a>' for n, id in enumerate(found, 1))
    return f"<details class=\"shots\"><summary>{len(found)} record{'s' * (len(found) > 1)}</summary>{links}</details>"


def _marks(of: Evening) -> list[Mark]:
    """What was done and noted at any grinder, each once."""
    marks = {mark.record_id: mark for each in of.grinders for mark in each.chart.marks}
    marks |= {note.id: mark for note in of.notes if (mark := note_mark(note))}
    return sorted(marks.values(), key=lambda mark: moment(mark.at))


def _done(of: Evening) -> str:
    marks = _marks(of)
    if not marks:
        return ""
    where = {mark.record_id: each.figures.grinder for each in of.grinders for mark in each.chart.marks
             if mark.kind in ("notch", "purge", "flag")}
    body = "".join(f'<tr id="r-{escape(mark.record_id)}"><td>{_clock(mark.at, of.several_days)}</td><td>{escape(where.get(mark.record_id, ""))}'
                   f"</td><td>{mark.kind}</td><td>{escape(mark.words)}</td></tr>" for mark in marks)
    return ('<section><h2>Done and noted</h2><div class="wide"><table class="narrow"><caption>Notches, purges, flags, bags, readings, checks'
            '</caption><thead><tr><th scope="col">At</th><th scope="col">Grinder</th><th scope="col">What</th><th scope="col">In words</th>'
            f"</tr></thead><tbody>{body}</tbody></table></div></section>\n")


def _weeks(of: Weeks, burrs_kg: float) -> str:
    parts = [f"<section><h2>The weeks from {of.first_day} to {of.last_day}</h2>"]
    for n, group in enumerate(week_groups(of, burrs_kg)):
        parts.append(f"<h3>{escape(group.name)}</h3>")
        if n < len(of.grinders) and len(of.grinders[n].suits) > 1:
            parts.append(f'<figure class="chart">{suits_svg(of.grinders[n], n)}<figcaption>The setting that suited it: where a day’s '
                         "pulls would have run as the recipe has it. Lower is finer.</figcaption></figure>")
        parts.append(_table(group.rows, group, set()))
    return "".join(parts) + "</section>\n"


def _pulls(pulls: tuple[Pull, ...], names: bool) -> str:
    if not pulls:
        return ""
    several = len({pull.at[:10] for pull in pulls}) > 1
    body = "".join(_pull(pull, several, names) for pull in pulls)
    return ('<section class="every"><h2>Every pull</h2><details><summary>Show the pulls that the figures rest on</summary><div class="wide">'
            '<table class="narrow"><caption>Every pull, in turn</caption><thead><tr><th scope="col">At</th><th scope="col">Grinder</th>'
            '<th scope="col">Setting</th><th scope="col">Basket</th><th scope="col">Who</th><th scope="col" class="n">Dose, g</th>'
            '<th scope="col" class="n">Yield, g</th><th scope="col" class="n">Time, s</th><th scope="col" class="n">Even, s</th>'
            f'<th scope="col">Verdict</th></tr></thead><tbody>{body}</tbody></table></div></details></section>\n')


def _pull(pull: Pull, several: bool, names: bool) -> str:
    curve = curve_svg(pull)
    verdict = f"Into the sink: {pull.sink}." if pull.sink else judge(pull).sentence
    more = f"<details><summary>Curve</summary>{curve}</details>" if curve else ""
    numbers = "".join(f'<td class="n">{"–" if value is None else f"{value:.1f}"}</td>'
                      for value in (pull.dose_g, pull.yield_g, pull.time_s, even_time_s(pull)))
    return (f'<tr id="r-{escape(pull.id)}"><td>{_clock(pull.at, several)}</td><td>{escape(pull.grinder)}</td><td>{pull.setting}</td>'
            f"<td>{pull.basket}</td><td>{escape(pull.barista if names and pull.barista else '–')}</td>{numbers}<td>{escape(verdict)}{more}</td></tr>")


def _notes(of: Evening) -> str:
    changed = len({pull.at[-6:] for pull in of.summary.figures.pulls}) > 1
    clocks = " The clocks changed: times are as the wall clock showed them, hours are counted as they passed." if changed else ""
    return ('<footer><p class="note">Even time is what a pull would have taken with dose and yield exactly the recipe’s. Intervals '
            f"hold the truth 95 times in a hundred. What was not measured is left out, never guessed.{clocks}</p></footer>")


def _clock(at: str, several: bool) -> str:
    return at[:16].replace("T", " ") if several else at[11:16]
