"""Every figure of an evening as rows to tap; the pulls that a figure rests on; one pull with its curve."""

from pathlib import Path

from kivy.lang import Builder
from kivy.properties import ListProperty, ObjectProperty, StringProperty
from kivy.uix.widget import Widget

from kiosk.bar.drift import adjusted_time_s
from kiosk.bar.evening import groups
from kiosk.bar.messages import render
from kiosk.bar.model import SCALE, Pull, Step, judge
from kiosk.screens.ui.look import Type, look
from kiosk.screens.ui.paging import Paging
from kiosk.screens.ui.room import Room
from kiosk.screens.ui.touch import Key
from kiosk.screens.ui.words import STEP_WORDS, _, amount, judged, spoken

BESIDE, TITLE = 100, 36       # u of a room's height that its last row of keys takes, and a heading over its rows


class FigureKey(Key):
    """One figure: its name left, what it comes to right."""

    value = StringProperty()


class FiguresScreen(Room):
    """`evening` and the group to begin with are set by whoever opens it (Rooms.open_figures)."""

    evening = ObjectProperty(None, allownone=True)
    wanted = StringProperty()
    page = StringProperty()

    @property
    def _tabs(self) -> int:
        return look.rows(BESIDE) - 1        # the last place turns them

    def enter(self):
        if self.rooms.came_from in ("pulls", "pull"):
            return
        self._groups = groups(self.evening, self.service.setup.manager.currency)
        names = [group.name for group in self._groups]
        self._group = names.index(self.wanted) if self.wanted in names else 0
        self._rows = Paging()
        self._turned = Paging(self._group // self._tabs * self._tabs)
        self._draw()

    def _draw(self):
        tabs, rows = self.ids.tabs, self.ids.rows
        tabs.clear_widgets()
        rows.clear_widgets()
        self._turned = self._turned.over(len(self._groups), self._tabs)
        for n, group in self._turned.of(list(enumerate(self._groups))):
            key = Key(text=render(group.name, spoken()), size_u=Type.body, on=n == self._group)
            key.bind(on_tap=lambda key, n=n: self.choose(n))
            tabs.add_widget(key)
        for _n in range(self._turned.blank):
            tabs.add_widget(Widget())
        found = self._groups[self._group].rows if self._groups else ()
        self._rows = self._rows.over(len(found), look.rows(BESIDE))
        for row in self._rows.of(found):
            key = FigureKey(text=_(row.name), value=row.render(spoken()), kind="plain" if row.record_ids else "quiet")
            if row.record_ids:
                key.bind(on_tap=lambda key,
                         row=row: self.rooms.open_pulls(_(row.name), row.record_ids, self.evening, "figures"))
            rows.add_widget(key)
        for _n in range(self._rows.blank):
            rows.add_widget(Key(opacity=0, disabled=True))
        self.page = _("{n} of {all}").format(n=self._rows.page, all=self._rows.pages)

    def choose(self, group: int):
        self._group, self._rows = group, Paging()
        self._draw()

    def more_tabs(self):
        self._turned = self._turned.turned()
        self._draw()

    def turn(self):
        self._rows = self._rows.turned()
        self._draw()


class PullsScreen(Room):
    """The records that a figure rests on: pulls to be tapped, and what else it was made of."""

    title = StringProperty()
    ids_asked = ListProperty()
    evening = ObjectProperty(None, allownone=True)
    back_to = StringProperty("today")
    page = StringProperty()

    def enter(self):
        if self.rooms.came_from != "pull":
            self._first = 0
        self._draw()

    def _draw(self):
        rows = self.ids.rows
        rows.clear_widgets()
        per_page = look.rows(BESIDE + TITLE)
        pulls = {pull.id: pull for pull in self.evening.summary.figures.pulls}
        marks = {mark.record_id: mark for each in self.evening.grinders for mark in each.chart.marks}
        shown = [id for id in self.ids_asked if id in pulls or id in marks]
        if self._first >= len(shown):
            self._first = 0

        def day(at: str) -> str:
            return f"{at[:10]} " if self.evening.several_days else ""

        for id in shown[self._first:self._first + per_page]:
            if id in pulls:
                key = FigureKey(text=day(pulls[id].at) + pull_told(pulls[id], self.evening.names), value=measured(pulls[id]))
                key.bind(on_tap=lambda key, id=id: self.rooms.open_pull(id))
            else:
                key = FigureKey(text=f"{day(marks[id].at)}{marks[id].at[11:16]}  {_(marks[id].kind)}", value=_(marks[id].words),
                                kind="quiet")
            rows.add_widget(key)
        for _n in range(per_page - len(shown[self._first:self._first + per_page])):
            rows.add_widget(Key(opacity=0, disabled=True))
        self._per_page, self._count = per_page, len(shown)
        self.page = _("{n} to {last} of {all}").format(
            n=self._first + 1 if shown else 0, last=min(self._first + per_page, len(shown)), all=len(shown))

    def turn(self, by: int):
        first = self._first + by * self._per_page
        if 0 <= first < self._count:
            self._first = first
            self._draw()


class PullScreen(Room):
    """One pull: its curve against its window, and all that was measured of it."""

    pull_id = StringProperty()
    title = StringProperty()
    facts = StringProperty()
    no_curve = StringProperty()
    points = ListProperty()
    window = ListProperty([20, 30, 45, 55])

    def enter(self):
        pull = self.service.book.find(self.pull_id)
        if not isinstance(pull, Pull):
            self.title, self.facts, self.points, self.no_curve = _("This pull is not in the book any more."), "", [], ""
            return
        self.title = pull_told(pull, self.service.setup.manager.people)
        self.points = list(pull.trace)
        self.window = [*pull.recipe.time_window_s, *pull.recipe.yield_window_g]
        self.no_curve = "" if len(pull.trace) > 1 else _("No curve was kept of this pull.")
        self.facts = "\n".join(facts(pull))


def pull_told(pull: Pull, names: bool) -> str:
    drinks = ", ".join(_(drink) for drink in pull.drinks) or _(pull.basket)
    return f"{pull.at[11:16]}  {drinks}, {pull.grinder} {pull.setting}" + (f", {pull.barista}" if pull.barista and names
                                                                           else "")


def measured(pull: Pull) -> str:
    values = [_("not measured") if value is None else amount(value, ".1f", unit)
              for value, unit in ((pull.dose_g, "g"), (pull.yield_g, "g"), (pull.time_s, "s"))]
    return "  ·  ".join(values) + (f"\n{_('sink')}: {_(pull.sink)}" if pull.sink else "")


def facts(pull: Pull) -> list[str]:
    said = [judged(judge(pull)) if pull.sink is None else _("Into the sink: {why}.").format(why=_(pull.sink))]
    said.append(_("Dose {dose}, yield {yield_}, time {time}").format(
        dose=_number(pull.dose_g, "g"), yield_=_number(pull.yield_g, "g"), time=_number(pull.time_s, "s")))
    said.append(_("First drop {drop}, adjusted time {even}").format(
        drop=_number(pull.first_drop_s, "s"), even=_number(adjusted_time_s(pull), "s")))
    said.append(_("Ground {ground} before, locked in {locked} before the pump").format(
        ground=_number(pull.grind_to_pull_s, "s"), locked=_number(pull.lock_to_pump_s, "s")))
    if pull.skipped:
        said.append(_("Skipped: {steps}").format(steps=", ".join(_left_out(step) for step in pull.skipped)))
    if pull.not_told:
        said.append(_("Not told: {steps}").format(steps=", ".join(_left_out(step) for step in pull.not_told)))
    if pull.time_within_s is not None and pull.on_from == SCALE:
        said.append(_("Pump on worked back from the first drop: ± {s:.1f} s").format(s=pull.time_within_s))
    return said + [_(note) for note in pull.notes]


def _left_out(step: str) -> str:
    return _(STEP_WORDS[Step(step)].short) if step in set(Step) else step


def _number(value: float | None, unit: str) -> str:
    return _("not measured") if value is None else amount(value, ".1f", unit)


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
