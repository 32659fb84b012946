"""The evening's page: the sentence, the three things, a chart and figures for each grinder, hands, waste, service, and
every pull at the end."""

from collections.abc import Container, Iterable
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
    Weeks,
    clock,
    groups,
    moment,
    note_mark,
    span_name,
)
from kiosk.bar.messages import ENGLISH, Language, Message, joined
from kiosk.bar.model import Pull, judge
from kiosk.page.chart import LEGEND, curve_svg, day_svg
from kiosk.page.sheet import NUMBERS, PageSheet
from kiosk.page.weeks import weeks_part

HANDS = (("pulls", Message("Pulls")), ("dose", Message("Doses spread by")), ("time", Message("Times spread by")), ("lean", Message("Times lean by")), ("early", Message("Early first drops")),
         ("skipped", Message("With a step skipped")))
RUNS = (("pulls", Message("Pulls")), ("even", Message("Adjusted time")), ("spread", Message("Spread")),
        ("drift", Message("Drift (95 %)")))
MANY, OF_EACH = ("stretch_", "hour_"), ("move", "flag")      # rows with a table of their own: setting runs, hours; of all
MOST_PULLS = 5000       # listed one by one
NOTE = Message("Adjusted time is what a pull would have taken with dose and yield exactly the recipe’s. Intervals hold the "
               "truth 95 times in a hundred. What was not measured is left out, never guessed.")


def page(of: Evening, title: str = "", currency: str = "", weeks: Weeks | None = None, burrs_kg: float = 0.0,
         language: Language = ENGLISH, price_per_kg: float | None = None) -> str:
    """One HTML document, headed by `title` (the bar's name), with the `weeks` before it where they are given."""
    sheet, name = EveningSheet(of, language), language.render(span_name(of.summary.figures))
    return sheet.document(title, name, "".join((
        sheet.header(title, name, of.summary.sentence), "<main>", sheet.things(), *sheet.figures(currency), sheet.done(),
        weeks_part(sheet, weeks, burrs_kg, of.by_week, currency, price_per_kg) if weeks else "", sheet.pulls(), sheet.notes(), "</main>")))


class EveningSheet(PageSheet):
    """The parts of an evening's page. With `links` every pull of it stands on the page; not where they are too many. `key` tells
    it from other bars' on the same page."""

    def __init__(self, of: Evening, language: Language, links: bool = True, key: str = ""):
        self.of = of
        self.many = len(of.summary.figures.pulls) > MOST_PULLS
        listed = {pull.id for pull in of.summary.figures.pulls} if not self.many else set()
        super().__init__(language, listed | {mark.record_id for mark in _marks(of)} if links else (), key)

    def figures(self, currency: str, without: Container[str] = ()) -> Iterable[str]:
        """Each grinder, the hands, what was lost, the service; `without` are the kinds of groups that stand elsewhere."""
        by_kind: dict[str, list[Group]] = {}
        for group in groups(self.of, currency):
            by_kind.setdefault(group.kind, []).append(group)
        for n, (group, each) in enumerate(zip(by_kind.get("grinder", ()), self.of.grinders)):
            yield self.grinder(group, each, n)
        for group in by_kind.get("people", ()):
            yield self.section(group.name, self.hands(group))
        for group in (group for kind in ("waste", "service") if kind not in without for group in by_kind.get(kind, ())):
            yield self.section(group.name, self.table(group.rows, group))

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
            chart = self.figure(day_svg(each.chart, f"{self.key}{number}", self.language), LEGEND)
        single = [row for row in group.rows if not row.key.startswith(MANY) and row.key not in OF_EACH]
        runs = [row for row in group.rows if row.key.startswith("stretch_")]
        return self.section(group.name, chart + self.table(single, group) + (self.crossed(
            group, runs, Message("Setting"), RUNS, Message("Runs: the pulls at one setting"))
            if runs and not self.of.by_week else "") + self.hours(group))

    def hours(self, group: Group) -> str:
        items = "".join(f"<li><b>{escape(row.about)}</b> {self.value(group, row)} {self.shots(row.record_ids)}</li>"
                        for row in group.rows if row.key.startswith("hour_"))
        head = self.words(Message("In their window, hour by hour"))
        return f'<h3>{head}</h3><ul class="hours">{items}</ul>' if items else ""

    def hands(self, group: Group) -> str:
        single = [row for row in group.rows if not row.about]
        return self.crossed(group, [row for row in group.rows if row.about], Message("Who"), HANDS,
                            Message("By name; what the grinder did is taken out of the times")) + (
            self.table(single, group) if single else "")

    def done(self) -> str:
        where = {mark.record_id: each.figures.grinder for each in self.of.grinders for mark in each.chart.marks
                 if mark.kind in (NOTCH, PURGE, FLAG)}
        lines = [(f' id="r-{escape(mark.record_id)}"',
                  [_td(text) for text in (clock(mark.at, self.of.several_days), where.get(mark.record_id, ""),
                                          self.say(mark.kind), self.say(mark.words))]) for mark in _marks(self.of)]
        heads = Message("At"), Message("Grinder"), Message("What"), Message("In words")
        return self.section(Message("Done and noted"), self.grid(
            Message("Notches, purges, flags, bags, readings, checks"), heads, lines)) if lines else ""

    def pulls(self) -> str:
        pulls = self.of.summary.figures.pulls
        if self.many:
            return f"<p>{self.words(Message('{n:d} pulls are too many for a page: they are in the export.', n=len(pulls)))}</p>"
        if not pulls:
            return ""
        heads = (Message("At"), Message("Grinder"), Message("Setting"), Message("Basket"), Message("Who"), *NUMBERS, Message("Verdict"))
        table = self.grid(Message("Every pull, in turn"), heads, [self.pull(pull) for pull in pulls])
        summary = self.words(Message("Show the pulls that the figures rest on"))
        return self.section(Message("Every pull"), f"<details><summary>{summary}</summary>{table}</details>", "every")

    def pull(self, pull: Pull) -> tuple[str, list[str]]:
        curve = curve_svg(pull, self.language)
        verdict = self.words(Message("Into the sink: {why}.", why=Message(pull.sink)) if pull.sink else judge(pull).sentence)
        more = f'<details><summary>{self.words(Message("Curve"))}</summary>{curve}</details>' if curve else ""
        measured = (pull.dose_g, pull.yield_g, pull.time_s, adjusted_time_s(pull))
        return f' id="r-{escape(pull.id)}"', [
            *map(_td, (clock(pull.at, self.of.several_days), pull.grinder, str(pull.setting), self.say(pull.basket),
                       pull.barista if self.of.names and pull.barista else "–")),
            *(_td("–" if value is None else self.language.number(value, ".1f"), ' class="n"') for value in measured),
            f"<td>{verdict}{more}</td>"]

    def notes(self) -> str:
        said = [NOTE]
        if len({pull.at[-6:] for pull in self.of.summary.figures.pulls}) > 1:
            said.append(CLOCKS_CHANGED)
        return f'<footer><p class="note">{self.words(joined(" ", said))}</p></footer>'


def _td(text: str, attributes: str = "") -> str:
    return f"<td{attributes}>{escape(text)}</td>"


def _marks(of: Evening) -> list[Mark]:
    """What was done and noted at any grinder, each once."""
    marks = {mark.record_id: mark for each in of.grinders for mark in each.chart.marks}
    marks |= {note.id: mark for note in of.notes if (mark := note_mark(note))}
    return sorted(marks.values(), key=lambda mark: moment(mark.at))
