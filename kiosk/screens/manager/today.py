"""Today, or any day kept: the day in one sentence, three things to do tomorrow, each grinder's day. All of it can be
tapped."""

from pathlib import Path

from kivy.lang import Builder
from kivy.properties import BooleanProperty, ObjectProperty, StringProperty

from kiosk.bar.evening import Evening, GrinderEvening, day_name
from kiosk.screens.manager import day_plot as dayplot  # noqa: F401  its rule is used below
from kiosk.screens.ui.look import look
from kiosk.screens.ui.paging import Paging
from kiosk.screens.ui.room import Room
from kiosk.screens.ui.touch import Key
from kiosk.screens.ui.words import _
from kiosk.station.evenings import evening_of

CHARTS = 2              # one above the other, where the panel has room; else one


class TodayScreen(Room):
    """The sum is made on a thread of its own; `day` is the service day on the screen, `evening` what it came to."""

    day = StringProperty()
    title = StringProperty()
    sentence = StringProperty()
    quiet = StringProperty()
    more = BooleanProperty(False)
    evening = ObjectProperty(None, allownone=True)

    def enter(self):
        """Back from a figure or a pull, the day is still there; from the station it is today, added up anew."""
        if self.rooms.came_from not in ("figures", "pulls", "pull", "weeks"):
            self.open(self.service.book.day_now())

    def open(self, day: str):
        self.day, self.title, self.sentence, self.quiet = day, _(day_name(day)), _("Adding up …"), ""
        self.evening, self.more, self._shown = None, False, Paging()
        self.ids.things.clear_widgets()
        self.ids.charts.clear_widgets()
        book, setup = self.service.book, self.service.setup
        self.ask(lambda: evening_of(book, setup, day), self._show, self._failed)

    def _failed(self):
        self.sentence = _("This day could not be added up. Its records are kept: have the kiosk's log looked at.")

    def _show(self, found: Evening):
        self.evening, self.sentence = found, _(found.summary.sentence)
        for n, thing in enumerate(found.summary.to_do, 1):
            key = ThingKey(text=_(thing.what), place=str(n), because=_(thing.because))
            key.bind(on_tap=lambda key,
                     thing=thing: self.rooms.open_pulls(_(thing.what), thing.record_ids, found, "today"))
            self.ids.things.add_widget(key)
        if not found.summary.to_do and found.summary.figures.pulls:
            self.quiet = _("Change nothing tomorrow.")
        self.more = len(found.grinders) > self._at_once
        self._charts()

    @property
    def _at_once(self) -> int:
        return CHARTS if look.roomy or look.upright else 1

    def _charts(self):
        grinders = self.evening.grinders
        self.ids.charts.clear_widgets()
        self._shown = self._shown.over(len(grinders), self._at_once)
        for each in self._shown.of(grinders):
            key = GrinderKey(text=grinder_name(each), start=grinder_start(each), under=grinder_told(each), chart=each.chart)
            key.bind(on_tap=lambda key, each=each: self.rooms.open_figures(self.evening, each.name))
            self.ids.charts.add_widget(key)

    def next_charts(self):
        self._shown = self._shown.turned()
        self._charts()

    def figures(self):
        if self.evening is not None:
            self.rooms.open_figures(self.evening, "")

    def earlier(self):
        days = [day for day in self.service.book.days() if day < self.day]
        if days:
            self.open(days[-1])

    def later(self):
        days = [day for day in (*self.service.book.days(), self.service.book.day_now()) if day > self.day]
        if days:
            self.open(days[0])


class ThingKey(Key):
    """A thing to do: what, and under it why. Tapped, it shows the pulls it rests on."""

    because = StringProperty()
    place = StringProperty()


class GrinderKey(Key):
    """A grinder's day, to be tapped for its figures."""

    says_under = False
    chart = ObjectProperty(None, allownone=True)
    start = StringProperty()            # where to begin tomorrow


def grinder_name(each: GrinderEvening) -> str:
    return f"{each.figures.grinder}, {each.figures.coffee}"


def grinder_start(each: GrinderEvening) -> str:
    return _("tomorrow at {setting}").format(setting=each.start.setting) if each.start is not None else ""


def grinder_told(each: GrinderEvening) -> str:
    """How its day was, in one line."""
    figures = each.figures
    parts = [_("left at {setting}").format(setting=figures.setting)]
    if figures.judged:
        parts.append(_("{good} of {judged} in window").format(good=figures.in_window, judged=figures.judged))
    if figures.drift:
        drift = figures.drift
        parts.append(_("{s:+.1f} s an hour ({low:+.1f} to {high:+.1f})").format(
            **{name: round(value, 1) + 0.0 for name,
               value in (("s", drift.s_per_hour), ("low", drift.low), ("high", drift.high))}))
    else:
        parts.append(_("too few to tell drift"))
    return ", ".join(parts)


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
