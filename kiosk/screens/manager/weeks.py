"""The weeks: the setting that suits each coffee, day by day, with what it means; wear, room, this week against last."""

from datetime import date
from pathlib import Path

from kivy.core.text import Label as Text
from kivy.graphics import Color, Line, Rectangle
from kivy.lang import Builder
from kivy.properties import NumericProperty, ObjectProperty, StringProperty
from kivy.uix.widget import Widget

from kiosk.bar.evening import DAY, DAYS, Evening, Row, Weeks, behind, of_week, week_groups
from kiosk.screens.manager.figures import FigureKey
from kiosk.screens.ui.look import Colour, Type, look
from kiosk.screens.ui.paging import Paging
from kiosk.screens.ui.room import Room
from kiosk.screens.ui.touch import Key
from kiosk.screens.ui.words import _, spoken
from kiosk.station.evenings import evening_of, weeks_of, weeks_to

SPANS = (28, 91, 365)   # days
ROWS = 2                # of figures, under the plot of a panel that lies


class WeeksScreen(Room):
    days = NumericProperty(SPANS[0])
    title = StringProperty()
    page = StringProperty()
    weeks = ObjectProperty(None, allownone=True)
    rows = NumericProperty(ROWS)
    _groups = ()

    def enter(self):
        self.ask_no_more()
        if self.rooms.came_from == "pulls":
            return self._draw()             # back from a figure
        self._group, self._shown = 0, Paging()
        self.open(self.days)

    def open(self, days: int):
        self.days, self.title, self.page = days, _("Adding up …"), ""
        self.weeks, self._groups, self.ids.plot.suits = None, (), ()
        self.ids.rows.clear_widgets()
        book, to = self.service.book, self.service.book.day_now()
        self._to = to
        self.ask(lambda: weeks_of(book, to, days), self._show, self._failed)

    def _failed(self):
        self.title = _("The weeks could not be added up. Their records are kept: have the kiosk's log looked at.")

    def _show(self, found: Weeks | None):
        self.weeks = found
        self._groups = week_groups(found, self.service.setup.manager.burrs_kg) if found else ()
        self._group = min(self._group, max(0, len(self._groups) - 1))
        self._draw()

    def _draw(self):
        rows = self.ids.rows
        rows.clear_widgets()
        self.ids.plot.suits = ()
        if not self._groups:
            self.title, self.page = _("There is no day in the book yet."), ""
            return
        group = self._groups[self._group]
        self.title = _("{name}: the last {n} days").format(name=_(group.name), n=self.days)
        per_page = self.rows = ROWS * (3 if look.upright else 2 if look.roomy else 1)
        self._shown = self._shown.over(len(group.rows), per_page)
        for row in self._shown.of(group.rows):
            key = FigureKey(text=_(row.name), value=row.render(spoken()))
            key.bind(on_tap=lambda key, row=row: self.down(row))
            rows.add_widget(key)
        for _n in range(self._shown.blank):
            rows.add_widget(Key(opacity=0, disabled=True))
        self.page = _("{n} of {all}").format(n=self._shown.page, all=self._shown.pages)
        if self._group < len(self.weeks.grinders):
            self.ids.plot.suits = self.weeks.grinders[self._group].suits

    def down(self, row: Row):
        """From a figure of a week to the records that made it, from any other to the days, and from a day to all of its own."""
        if self.weeks is None:          # not added up yet
            return
        if row.key.startswith(DAY):
            self.rooms.room("today").open(row.key.removeprefix(DAY))
            return self.rooms.go("today")
        if week := of_week(row, *weeks_to(self._to, self.days)):
            first, last, figure = week
            self.title, book, setup = _("Adding up …"), self.service.book, self.service.setup
            return self.ask(lambda: evening_of(book, setup, first, last), lambda found: self._open(row, figure, found), self._failed,
                            about=row)
        self.ask_no_more()
        self._group, self._shown = [group.name for group in self._groups].index(DAYS), Paging()
        self._draw()

    def _open(self, row: Row, figure: str, week: Evening):
        if self.rooms.open is self:
            self.rooms.open_pulls(_(row.name), behind(week, figure), week, "weeks")

    def turn(self):
        if self.weeks is None:
            return
        self.ask_no_more()
        self._shown = self._shown.turned()
        self._draw()

    def next_group(self):
        if self.weeks is None:
            return
        self.ask_no_more()
        self._group, self._shown = (self._group + 1) % max(1, len(self._groups)), Paging()
        self._draw()

    def next_span(self):
        self.open(SPANS[(SPANS.index(self.days) + 1) % len(SPANS)])


class SuitsPlot(Widget):
    """The suiting setting, one point a day, finer downwards; the days that nothing was pulled on leave a gap."""

    suits = ObjectProperty(())

    def __init__(self, **given):
        super().__init__(**given)
        for cause in ("suits", "pos", "size"):
            self.fbind(cause, self._draw)

    def _draw(self, *_changed):
        self.canvas.clear()
        if not self.suits or self.height < 20:
            return
        u = look.u
        days = [date.fromisoformat(each.day).toordinal() for each in self.suits]
        settings = [each.setting for each in self.suits]
        low, high = min(settings), max(settings)
        if high - low < 2:
            low, high = (low + high) / 2 - 1, (low + high) / 2 + 1
        left, bottom, wide, tall = self.x + 34 * u, self.y + 22 * u, self.width - 44 * u, self.height - 54 * u
        span = max(1, days[-1] - days[0])

        def place(day, setting):
            return left + (day - days[0]) / span * wide, bottom + (setting - low) / (high - low) * tall

        with self.canvas:
            for notch in range(int(low) if low == int(low) else int(low) + 1, int(high) + 1,
                               max(1, int((high - low) / 5))):
                _x, y = place(days[0], notch)
                Color(*Colour.grid)
                Line(points=[left, y, left + wide, y], width=1)
                _words(str(notch), left - 8 * u, y, "right")
            Color(*Colour.water)
            run: list[float] = []
            for n, (day, setting) in enumerate(zip(days, settings)):
                if n and day - days[n - 1] > 3 and run:
                    Line(points=run, width=2.5 * u)
                    run = []
                run += place(day, setting)
            Line(points=run if len(run) > 2 else run * 2, width=2.5 * u)
            _words(_("grind setting that suits, finer below"), left, self.y + self.height - 12 * u, "left")
            for each, side in ((self.suits[0], 0), (self.suits[-1], 1)):
                _words(each.day, left + side * wide, self.y + 10 * u, "right" if side else "left")


def _words(text: str, x: float, y: float, side: str) -> None:
    drawn = Text(text=text, font_size=Type.small * look.u)
    drawn.refresh()
    width, height = drawn.texture.size
    Color(*Colour.quiet)
    Rectangle(texture=drawn.texture, size=(width, height), pos=(round(x - (width if side == "right" else 0)), round(y - height / 2)))


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
