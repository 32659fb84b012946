"""The evening's page: the sentence, the three things, a chart and figures for each grinder, hands, waste, service, and
every pull at the end. Each number stands in a <data> element with its exact value and the name of its figure in
`data-key`."""

from collections.abc import Iterable, Sequence
from html import escape

from kiosk.bar.drift import adjusted_time_s
from kiosk.bar.evening import (
    CLOCKS_CHANGED,
    FLAG,
    NOTCH,
    PURGE,
    Evening,
    GrinderEvening,
    Group,
    Mark,
    Row,
    Weeks,
    groups,
    moment,
    note_mark,
    span_name,
    week_groups,
)
from kiosk.bar.messages import ENGLISH, Language, Message, joined, render
from kiosk.bar.model import Pull, judge
from kiosk.page.chart import LEGEND, SUITS_LEGEND, curve_svg, day_svg, suits_svg
from kiosk.page.style import STYLE

HANDS = (("pulls", Message("Pulls")), ("dose", Message("Doses spread by")), ("time", Message("Times spread by")),
         ("skipped", Message("With a step left out")))
STRETCHES = (("pulls", Message("Pulls")), ("even", Message("Adjusted time")), ("spread", Message("Spread")),
             ("drift", Message("Drift (95 %)")))
MANY, OF_EACH = ("stretch_", "hour_"), ("move", "flag")      # rows that have a table of their own
RESTS_ON = Message("Rests on")
MOST_PULLS = 5000       # listed one by one
NUMBERS = Message("Dose, g"), Message("Yield, g"), Message("Time, s"), Message("Adjusted, s")
NOTE = Message("Adjusted time is what a pull would have taken with dose and yield exactly the recipe’s. Intervals hold the "
            "truth 95 times in a hundred. What was not measured is left out, never guessed.")


def page(of: Evening, title: str = "", currency: str = "", weeks: Weeks | None = None, burrs_kg: float = 0.0,
         language: Language = ENGLISH) -> str:
    """One HTML document, headed by `title` (the bar's name), with the `weeks` before it where they are given."""
    return _Page(of, language).whole(title, currency, weeks, burrs_kg)


class _Page:
    """One evening in one language. `known` are the ids that a link on the page can lead to."""

    def __init__(self, of: Evening, language: Language):
        self.of, self.language, self.say = of, language, language.render
        self.many = len(of.summary.figures.pulls) > MOST_PULLS
        self.known = (set() if self.many else {pull.id for pull in of.summary.figures.pulls}) | {mark.record_id for mark in _marks(of)}

    def whole(self, title: str, currency: str, weeks: Weeks | None, burrs_kg: float) -> str:
        of, name = self.of, self.say(span_name(self.of.summary.figures))
        by_kind: dict[str, list[Group]] = {}
        for group in groups(of, currency):
            by_kind.setdefault(group.kind, []).append(group)
        body = [
            f'<header><h1>{escape(title) or self.words(Message("The evening"))}</h1><p class="day">{escape(name)}</p>'
            f'<p class="lede">{self.words(of.summary.sentence)}</p></header>',
            "<main>", self.things(),
            *(self.grinder(group, each, n)
              for n, (group, each) in enumerate(zip(by_kind.get("grinder", ()), of.grinders))),
            *(self.section(group.name, self.hands(group)) for group in by_kind.get("people", ())),
            *(self.section(group.name, self.table(group.rows, group))
              for group in (*by_kind.get("waste", ()), *by_kind.get("service", ()))),
            self.done(), self.weeks(weeks, burrs_kg) if weeks else "", self.pulls(), self.notes(), "</main>"]
        return (f'<!DOCTYPE html>\n<html lang="{escape(self.language.code)}"><head><meta charset="utf-8">'
                '<meta name="viewport" content="width=device-width, initial-scale=1">'
                f'<title>{escape(f"{title}, {name}" if title else name)}</title><style>{STYLE}</style></head>\n'
                f'<body>{"".join(body)}</body></html>\n')

    def things(self) -> str:
        if not self.of.summary.figures.pulls:
            return ""
        items = "".join(f"<li><strong>{self.words(thing.what)}</strong> {self.words(thing.because)} "
                        f"{self.shots(thing.record_ids)}</li>" for thing in self.of.summary.to_do)
        things = f'<ol class="things">{items}</ol>' if items else \
            f'<p>{self.words(Message("Nothing but the same again."))}</p>'
        return self.section(Message("To do tomorrow"), things)

    def grinder(self, group: Group, each: GrinderEvening, number: int) -> str:
        chart = ""
        if each.chart.points or each.chart.marks:
            chart = self.figure(day_svg(each.chart, number, self.language), LEGEND)
        single = [row for row in group.rows if not row.key.startswith(MANY) and row.key not in OF_EACH]
        stretches = [row for row in group.rows if row.key.startswith("stretch_")]
        return self.section(group.name, chart + self.table(single, group) + (self.crossed(
            group, stretches, Message("Setting"), STRETCHES, Message("Runs: the pulls at one setting"))
            if stretches else "") + self.hours(group))

    def hours(self, group: Group) -> str:
        items = "".join(f"<li><b>{escape(row.about)}</b> {self.value(group, row)} {self.shots(row.record_ids)}</li>"
                        for row in group.rows if row.key.startswith("hour_"))
        head = self.words(Message("In their window, hour by hour"))
        return f'<h3>{head}</h3><ul class="hours">{items}</ul>' if items else ""

    def hands(self, group: Group) -> str:
        return self.crossed(group, group.rows, Message("Who"), HANDS,
                            Message("By name; what the grinder did is taken out of the times"))

    def done(self) -> str:
        where = {mark.record_id: each.figures.grinder for each in self.of.grinders for mark in each.chart.marks
                 if mark.kind in (NOTCH, PURGE, FLAG)}
        lines = [(f' id="r-{escape(mark.record_id)}"',
                  [_td(text) for text in (_clock(mark.at, self.of.several_days), where.get(mark.record_id, ""),
                                          self.say(mark.kind), self.say(mark.words))]) for mark in _marks(self.of)]
        heads = Message("At"), Message("Grinder"), Message("What"), Message("In words")
        return self.section(Message("Done and noted"), self.grid(
            Message("Notches, purges, flags, bags, readings, checks"), heads, lines)) if lines else ""

    def weeks(self, of: Weeks, burrs_kg: float) -> str:
        parts = []
        for n, group in enumerate(week_groups(of, burrs_kg)):
            parts.append(f"<h3>{self.words(group.name)}</h3>")
            if n < len(of.grinders) and len(of.grinders[n].suits) > 1:
                parts.append(self.figure(suits_svg(of.grinders[n], n, self.language), SUITS_LEGEND))
            parts.append(self.table(group.rows, group, linked=False))
        return self.section(Message("The weeks from {first} to {last}", first=of.first_day, last=of.last_day),
                            "".join(parts))

    def pulls(self) -> str:
        pulls = self.of.summary.figures.pulls
        if self.many:
            return f"<p>{self.words(Message('{n:d} pulls are too many for a page: they are in the export.', n=len(pulls)))}</p>"
        if not pulls:
            return ""
        several = len({pull.at[:10] for pull in pulls}) > 1
        heads = (Message("At"), Message("Grinder"), Message("Setting"), Message("Basket"), Message("Who"), *NUMBERS, Message("Verdict"))
        table = self.grid(Message("Every pull, in turn"), heads, [self.pull(pull, several) for pull in pulls])
        summary = self.words(Message("Show the pulls that the figures rest on"))
        return self.section(Message("Every pull"), f"<details><summary>{summary}</summary>{table}</details>", "every")

    def pull(self, pull: Pull, several: bool) -> tuple[str, list[str]]:
        curve = curve_svg(pull, self.language)
        verdict = self.words(Message("Into the sink: {why}.", why=Message(pull.sink)) if pull.sink else judge(pull).sentence)
        more = f'<details><summary>{self.words(Message("Curve"))}</summary>{curve}</details>' if curve else ""
        measured = (pull.dose_g, pull.yield_g, pull.time_s, adjusted_time_s(pull))
        return f' id="r-{escape(pull.id)}"', [
            *map(_td, (_clock(pull.at, several), pull.grinder, str(pull.setting), self.say(pull.basket),
                       pull.barista if self.of.names and pull.barista else "–")),
            *(_td("–" if value is None else self.language.number(value, ".1f"), ' class="n"') for value in measured),
            f"<td>{verdict}{more}</td>"]

    def notes(self) -> str:
        said = [NOTE]
        if len({pull.at[-6:] for pull in self.of.summary.figures.pulls}) > 1:
            said.append(CLOCKS_CHANGED)
        return f'<footer><p class="note">{self.words(joined(" ", said))}</p></footer>'

    # What all of them are made of

    def words(self, text: str) -> str:
        return escape(self.say(text))

    def section(self, name: str, inner: str, kind: str = "part") -> str:
        return f'<section class="{kind}"><h2>{self.words(name)}</h2>{inner}</section>\n'

    def figure(self, svg: str, caption: Message) -> str:
        return f'<figure class="chart">{svg}<figcaption>{self.words(caption)}</figcaption></figure>'

    def table(self, rows: Iterable[Row], group: Group, linked: bool = True) -> str:
        """A figure a line."""
        lines = [("", [self.head(row.name), f"<td>{self.value(group, row)}</td>",
                       self.rests_on(row) if linked else '<td class="shots"></td>']) for row in rows]
        return self.grid(Message("{name}: figures", name=group.name), (Message("Figure"), Message("Value"), RESTS_ON), lines,
                         narrow=False)

    def crossed(self, group: Group, rows: Iterable[Row], first: Message, figures: Sequence[tuple[str, Message]],
                caption: Message) -> str:
        """A line for each that has "pulls" among its rows, a column for each of the figures."""
        found: dict[str, dict[str, Row]] = {}
        for row in rows:
            of, _, figure = row.key.rpartition("_")
            found.setdefault(of, {})[figure] = row
        lines = [("", [self.head(of["pulls"].about),
                       *(f"<td>{self.value(group, of[figure]) if figure in of else '–'}</td>" for figure, _ in figures),
                       self.rests_on(of["pulls"])]) for of in found.values()]
        return self.grid(caption, (first, *(name for _, name in figures), RESTS_ON), lines)

    def grid(self, caption: Message, heads: Sequence[Message], lines: Iterable[tuple[str, list[str]]],
             narrow: bool = True) -> str:
        """A table; each line has its attributes and its cells."""
        top = "".join(f'<th scope="col"{_kind(head)}>{self.words(head)}</th>' for head in heads)
        body = "".join(f"<tr{attributes}>{''.join(cells)}</tr>" for attributes, cells in lines)
        return (f'<div class="wide"><table class="{"narrow" if narrow else "broad"}"><caption>{self.words(caption)}'
                f"</caption><thead><tr>{top}</tr></thead><tbody>{body}</tbody></table></div>")

    def head(self, name: str) -> str:
        return f'<th scope="row">{escape(render(name, self.language))}</th>'

    def rests_on(self, row: Row) -> str:
        return f'<td class="shots">{self.shots(row.record_ids)}</td>'

    def value(self, group: Group, row: Row) -> str:
        key = escape(f"{group.name}/{row.key}")
        return "".join(escape(said) if number is None else
                       f'<data value="{number[1]!r}" data-key="{key}/{number[0]}">{escape(said)}</data>'
                       for said, number in row.parts(self.language))

    def shots(self, ids: Iterable[str]) -> str:
        found = [id for id in ids if id in self.known]
        if not found:
            return ""
        links = ", ".join(f'<a href="#r-{escape(id)}">{n}</a>' for n, id in enumerate(found, 1))
        many = Message("{n:d} records", n=len(found)) if len(found) > 1 else Message("1 record")
        return f'<details class="shots"><summary>{self.words(many)}</summary>{links}</details>'


def _kind(head: Message) -> str:
    return ' class="shots"' if head == RESTS_ON else ' class="n"' if head in NUMBERS else ""


def _td(text: str, attributes: str = "") -> str:
    return f"<td{attributes}>{escape(text)}</td>"


def _marks(of: Evening) -> list[Mark]:
    """What was done and noted at any grinder, each once."""
    marks = {mark.record_id: mark for each in of.grinders for mark in each.chart.marks}
    marks |= {note.id: mark for note in of.notes if (mark := note_mark(note))}
    return sorted(marks.values(), key=lambda mark: moment(mark.at))


def _clock(at: str, several: bool) -> str:
    return at[:16].replace("T", " ") if several else at[11:16]
