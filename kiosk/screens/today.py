"""Today, or any day kept: the day in words, what to do tomorrow, and each grinder's even times across the hours."""

from datetime import datetime
from threading import Thread

from kivy.clock import mainthread
from kivy.graphics import Color, Ellipse, Line, Rectangle
from kivy.lang import Builder
from kivy.properties import BooleanProperty, ListProperty, NumericProperty, ObjectProperty, StringProperty
from kivy.uix.boxlayout import BoxLayout
from kiosk.screens.room import Room
from kivy.uix.widget import Widget

from kiosk.bar.even import even_time_s
from kiosk.bar.figures import Figures, GrinderFigures
from kiosk.bar.summary import Summary, as_text, summary
from kiosk.screens.look import Colour, look
from kiosk.screens.words import _

LINES = 15              # of the figures on one page


class TodayScreen(Room):
    """The sum is made on a thread of its own; `day` is the service day on the screen."""

    day = StringProperty()
    sentence = StringProperty()
    to_do = StringProperty()
    figures = StringProperty()
    every_figure = BooleanProperty(False)

    def enter(self):
        self.every_figure = False
        self.open(self.service.book.today().day)

    def open(self, day: str):
        self.day, self.sentence, self.to_do, self.figures = day, _("Adding up …"), "", ""
        self.ids.grinders.clear_widgets()
        Thread(target=self._add_up, args=(day,), daemon=True).start()

    def _add_up(self, day: str):
        self._show(day, summary(self.service.book.records(day, day), day))

    @mainthread
    def _show(self, day: str, found: Summary):
        if day != self.day:
            return                      # another day was asked for meanwhile
        self.sentence = _(found.sentence)
        self.to_do = "\n".join(f"{n}.  {_(thing.what)}\n     {_(thing.because)}" for n, thing in enumerate(found.to_do, 1)) \
            or _("Nothing to do tomorrow but the same again.")
        self._lines = as_text(found).split("\n")[3:]
        self._first = 0
        for each in found.figures.grinders[:3]:
            self.ids.grinders.add_widget(GrinderDay(each, found.figures))
        self._page()

    def _page(self):
        rows = LINES * 2 if look.upright else LINES
        if self._first >= len(self._lines):
            self._first = 0
        self.figures = "\n".join(self._lines[self._first:self._first + rows])

    def turn(self):
        """From words to figures, then through the figures' pages, and back to words."""
        if self.every_figure:
            self._first += LINES * 2 if look.upright else LINES
            if self._first >= len(self._lines):
                self.every_figure, self._first = False, 0
        else:
            self.every_figure = True
        self._page()

    def earlier(self):
        days = [day for day in self.service.book.days() if day < self.day]
        if days:
            self.open(days[-1])

    def later(self):
        days = [day for day in (*self.service.book.days(), self.service.book.today().day) if day > self.day]
        if days:
            self.open(days[0])


class GrinderDay(BoxLayout):
    """One grinder's day: what it came to, over its even times."""

    told = StringProperty()

    def __init__(self, each: GrinderFigures, figures: Figures, **given):
        super().__init__(**given)
        share = f"{each.in_window}/{each.judged}" if each.judged else "–"
        drift = _("drift {s:+.1f} s an hour").format(s=each.drift.s_per_hour) if each.drift else _("drift not known yet")
        moves = _("{n} notch moves").format(n=len(each.moves))
        self.told = _("{grinder} at {setting}, {coffee}: {pulls} pulls, {share} in window, {drift}, {moves}").format(
            grinder=each.grinder, setting=each.setting, coffee=each.coffee, pulls=each.pulls, share=share, drift=drift,
            moves=moves)
        told = {id for stretch in each.stretches for id in stretch.told}
        pulls = [pull for pull in figures.pulls if pull.grinder == each.grinder and pull.coffee == each.coffee]
        points = [(datetime.fromisoformat(pull.at).timestamp(), even - pull.recipe.time_s, pull.id in told)
                  for pull in pulls if (even := even_time_s(pull)) is not None]
        within_s = min((pull.recipe.time_within_s for pull in pulls), default=5.0)
        self.add_widget(EvenTimes(points=points, within_s=within_s,
                                  moves=[datetime.fromisoformat(move.at).timestamp() for move in each.moves]))


class EvenTimes(Widget):
    """Even times, seconds off the recipe, over the day: the window as a band, moves as lines, sink shots as crosses."""

    points = ListProperty()
    moves = ListProperty()
    within_s = NumericProperty(5)

    def __init__(self, **given):
        super().__init__(**given)
        self.bind(pos=self._draw, size=self._draw)

    def _draw(self, *_):
        self.canvas.clear()
        if not self.points:
            return
        times = [t for t, _off, _told in self.points] + list(self.moves)
        first, last = min(times), max(times)
        span = max(last - first, 600.0)
        reach = self.within_s * 2
        r = 2.6 * look.u

        def place(t, off):
            x = self.x + r + (t - first) / span * (self.width - 2 * r)
            return x, self.center_y + max(-1, min(1, off / reach)) * (self.height / 2 - r)

        with self.canvas:
            Color(*Colour.good[:3], 0.22)
            Rectangle(pos=(self.x, self.center_y - self.height / 4), size=(self.width, self.height / 2))
            Color(*Colour.line)
            Line(points=[self.x, self.center_y, self.right, self.center_y], width=1)
            Color(*Colour.next)
            for t in self.moves:
                x, _y = place(t, 0)
                Line(points=[x, self.y, x, self.top], width=1.2, dash_length=4, dash_offset=3)
            for t, off, told in self.points:
                x, y = place(t, off)
                if told:
                    Color(*Colour.water)
                    Ellipse(pos=(x - r, y - r), size=(2 * r, 2 * r))
                else:
                    Color(*Colour.warn)
                    Line(points=[x - r, y - r, x + r, y + r], width=1.2)
                    Line(points=[x - r, y + r, x + r, y - r], width=1.2)


Builder.load_string("""
<GrinderDay>:
    orientation: "vertical"
    Words:
        text: root.told
        size_u: 16
        halign: "left"
        size_hint_y: None
        height: 42 * look.u

<TodayScreen>:
    Page:
        Words:
            text: root.day + ":  " + root.sentence
            size_u: 20
            bold: True
            halign: "left"
            size_hint_y: None
            height: 84 * look.u
        BoxLayout:
            orientation: "vertical" if look.upright else "horizontal"
            spacing: 12 * look.u
            Words:
                text: root.figures if root.every_figure else root.to_do
                font_name: "RobotoMono-Regular" if root.every_figure else "Roboto"
                size_u: 15 if root.every_figure else 17
                halign: "left"
                valign: "top"
            BoxLayout:
                id: grinders
                orientation: "vertical"
                spacing: 6 * look.u
                size_hint: (0, 0.001) if root.every_figure else (1, 1)
                opacity: 0 if root.every_figure else 1
        BoxLayout:
            spacing: 6 * look.u
            size_hint_y: None
            height: 84 * look.u
            Key:
                text: _("Earlier")
                size_u: 20
                on_tap: root.earlier()
            Key:
                text: _("Later")
                size_u: 20
                on_tap: root.later()
            Key:
                text: _("More") if root.every_figure else _("Every figure")
                size_u: 20
                on_tap: root.turn()
            Key:
                text: _("Back")
                kind: "next"
                on_tap: root.rooms.home()
""")
