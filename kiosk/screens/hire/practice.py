"""The practice bar on the screen: pull, look, name the cause, be told why, mend it. No coffee needed."""

from pathlib import Path
from random import random, randrange
from threading import Thread

from kivy.clock import mainthread
from kivy.graphics import Color, Ellipse, Line, Rectangle
from kivy.lang import Builder
from kivy.properties import (
    BooleanProperty,
    ListProperty,
    NumericProperty,
    StringProperty,
)
from kivy.uix.boxlayout import BoxLayout
from kivy.uix.widget import Widget

from kiosk.bar.model import Noted
from kiosk.bar.training import CAUSES, PRACTICE, Cause, answers, lesson
from kiosk.practice.practice_bar import LONGEST_S, Practising
from kiosk.screens.ui.look import Colour, Type, look
from kiosk.screens.ui.room import Room
from kiosk.screens.ui.touch import Key
from kiosk.screens.ui.words import N_, _, amount, number

READY, PULLING, NAMING, TOLD, MENDED = range(5)
SPEEDS = (3, 1)         # bar seconds in a real one
TELLING_G = 10.0        # in the cup: less says nothing of the cause
DAYS = 30               # back: of lessons that count for the score
CAUSE_WORDS = {
    Cause.NONE: N_("Nothing wrong"), Cause.FINE: N_("Too fine"), Cause.COARSE: N_("Too coarse"),
    Cause.OVER: N_("Too much coffee"), Cause.UNDER: N_("Too little coffee"), Cause.SOFT: N_("Soft tamp"),
    Cause.CROOKED: N_("Crooked tamp"), Cause.UNPURGED: N_("Not purged"),
}


class Streams(Widget):
    """The two spouts over their cup: `flows` are grams a second left and right, `share` how full the cup is (0–1)."""

    flows = ListProperty([0, 0])
    share = NumericProperty(0)
    spits = BooleanProperty(False)

    def __init__(self, **given):
        super().__init__(**given)
        for cause in ("flows", "share", "spits", "pos", "size"):
            self.fbind(cause, self._draw)

    def _draw(self, *_):
        u = look.u
        across = min(self.width, 240 * u)
        mid, top, floor = self.center_x, self.top - 8 * u, self.y + 8 * u
        cup_w, cup_h = across * 0.62, (top - floor) * 0.36
        self.canvas.clear()
        with self.canvas:
            Color(*Colour.quiet)
            Rectangle(pos=(mid - across * 0.36, top - 22 * u), size=(across * 0.72, 22 * u))
            for side in (-1, 1):
                Rectangle(pos=(mid + side * across * 0.17 - 9 * u, top - 42 * u), size=(18 * u, 20 * u))
            Color(*Colour.next)
            for side, flow in zip((-1, 1), self.flows):
                wide = min(16.0, 6.5 * flow) * u
                if wide > 0.4 * u:
                    Rectangle(pos=(mid + side * across * 0.17 - wide / 2, floor + 4 * u),
                              size=(wide, top - 46 * u - floor))
            left, right = mid - cup_w / 2, mid + cup_w / 2
            Rectangle(pos=(left + 4 * u, floor + 4 * u), size=(cup_w - 8 * u, (cup_h - 4 * u) * min(1, self.share)))
            Color(*Colour.text)
            Line(points=[left, floor + cup_h, left, floor, right, floor, right, floor + cup_h], width=max(1.2, 2 * u))
            if self.spits:
                for n in range(9):
                    r = (3 + n % 4) * u
                    x = mid + (n - 4) * across * 0.09
                    Ellipse(pos=(x - r, top - (56 + 17 * (n % 3)) * u - r), size=(2 * r, 2 * r))


class Figure(BoxLayout):
    """One thing to look at: its name and what is right, then what it is now."""

    what = StringProperty()
    right_is = StringProperty()
    value = StringProperty()


class PracticeScreen(Room):
    title = StringProperty()
    told = StringProperty()
    points = ListProperty()
    window = ListProperty([20, 30, 45, 55])
    naming = BooleanProperty(False)

    def __init__(self, **given):
        super().__init__(**given)
        self.practice = Practising(randrange(2**32))
        self._speed, self._answers, self._phase = SPEEDS[0], [], READY

    # ---- the course of a lesson -----------------------------------------------------------------------------------

    def enter(self):
        self._answers = []
        self.next()
        Thread(target=self._look_back, args=(self.service.barista,), daemon=True, name="sums").start()

    def _look_back(self, name):
        book = self.service.book
        days = [book.day(day) for day in book.days()[-DAYS:]]
        self._looked_back(name, [pair for day in days for pair in answers(day.of(Noted), name)])

    @mainthread
    def _looked_back(self, name, found):
        if name == self.service.barista:
            self._answers = found + [pair for pair in self._answers if pair not in found]
            self._draw_title()

    def next(self):
        self.cause = lesson.next_cause(lesson.score(self._answers), random())
        self._prepare(self.cause, READY)
        self.told = _("Someone else dosed, tamped and locked in. Pull it, look, then name what is wrong.")

    def mend(self):
        self._before = dict(self._values())
        self._prepare(Cause.NONE, MENDED)
        self.told = _(lesson.MENDS[self.cause])

    def _prepare(self, cause, phase):
        if phase == READY:
            self._before = {}
        self._mending = phase == MENDED
        self.practice.prepare(cause)
        self.points, self.ids.streams.share, self.ids.streams.flows = [], 0, [0, 0]
        low_s, high_s = self.practice.recipe.time_window_s
        self.window = [low_s, high_s, *self.practice.recipe.yield_window_g]
        self._go_to(READY)

    def begin(self):
        self.practice.begin()
        self._began_s = self.service.clock.s()
        self.told = _("Watch the stream. Stop when the cup holds {g:.0f} g.").format(g=self.practice.recipe.yield_g)
        self._go_to(PULLING)

    def stop(self):
        self.practice.stop(min(LONGEST_S, self._t_s()))
        poured = self.practice.poured
        if poured.settled_g < TELLING_G and self._t_s() < LONGEST_S:
            self._prepare(Cause.NONE if self._mending else self.cause, MENDED if self._mending else READY)
            self.told = _("Too short to tell anything. Pull it again.")
            return
        stopped_s = self.practice.stopped_s
        self.points = [*self.points, (stopped_s, poured(stopped_s)), (stopped_s + 4, poured.settled_g)]
        self.ids.streams.spits = False
        self.ids.streams.share = poured.settled_g / self.practice.recipe.yield_window_g[1]
        if self._mending:
            self.told = _(lesson.why(lesson.named(self.practice.seen()), self.practice.seen()))
        else:
            self.told = _("What is wrong?")
        self._go_to(MENDED if self._mending else NAMING)

    def name_it(self, said: Cause):
        seen = self.practice.seen()
        pair = str(self.cause), str(said)
        self._answers = [*self._answers, pair]
        self.service.book.keep(Noted(
            id=self.service.book.new_id(), at=self.service.clock.at(), what=PRACTICE, by=self.service.barista,
            facts={"cause": pair[0], "named": pair[1], "dose_g": seen.dose_g, "time_s": round(seen.time_s, 1),
                   "first_drop_s": seen.first_drop_s and round(seen.first_drop_s, 1), "yield_g": seen.yield_g}))
        verdict = _("Right: {cause}.") if said is self.cause else _("No. It was: {cause}.")
        self.told = f"{verdict.format(cause=_(CAUSE_WORDS[self.cause]))} {_(lesson.why(self.cause, seen))} " \
                    f"{_(lesson.MENDS[self.cause])}"
        self._go_to(TOLD)

    def speed(self):
        self._speed = SPEEDS[(SPEEDS.index(self._speed) + 1) % len(SPEEDS)]
        self._go_to(self._phase)

    # ---- what it shows --------------------------------------------------------------------------------------------

    def tick(self):
        if self._phase != PULLING:
            return
        t_s, practice = self._t_s(), self.practice
        grams = practice.grams(t_s)
        self.points = [*self.points, (t_s, grams)]
        streams = self.ids.streams
        streams.flows, streams.share = practice.streams(t_s), grams / practice.recipe.yield_window_g[1]
        streams.spits = practice.spits(t_s)
        self._draw_figures()
        if t_s >= LONGEST_S:
            self.stop()

    def _t_s(self) -> float:
        return (self.service.clock.s() - self._began_s) * self._speed

    def _go_to(self, phase):
        self._phase, self.naming = phase, phase == NAMING
        if phase != PULLING:
            self.ids.streams.flows = [0, 0]
        self._draw_title()
        self._draw_figures()
        keys = self.ids.choices
        keys.clear_widgets()
        if phase == NAMING:
            for cause in (*CAUSES[1:], CAUSES[0]):
                keys.add_widget(self._key(_(CAUSE_WORDS[cause]), lambda cause=cause: self.name_it(cause)))
            return
        back = self._key(_("Back"), self.rooms.home)
        if phase == READY:
            keys.add_widget(back)
            pace = _("{n} times as fast").format(n=self._speed) if self._speed > 1 else _("Real speed")
            keys.add_widget(self._key(pace, self.speed))
            keys.add_widget(self._key(_("Pump on"), self.begin, "next"))
        elif phase == PULLING:
            keys.add_widget(self._key(_("Stop"), self.stop, "next"))
        else:
            keys.add_widget(back)
            if phase == TOLD and self.cause is not Cause.NONE:
                keys.add_widget(self._key(_("Fix it, pull again"), self.mend))
            keys.add_widget(self._key(_("Next pull"), self.next, "next"))

    @staticmethod
    def _key(words, then, kind="plain") -> Key:
        key = Key(text=words, kind=kind, size_u=Type.body)
        key.bind(on_tap=lambda key: then())
        return key

    def _draw_title(self):
        found = lesson.score(self._answers)
        told = _("right: {n} of {all}").format(n=found.told, all=found.lessons) if found.lessons else ""
        self.title = " · ".join(part for part in (_("Practice"), self.service.barista or "", told) if part)

    def _draw_figures(self):
        recipe = self.practice.recipe
        windows = (recipe.dose_window_g, (recipe.first_drop_from_s, recipe.first_drop_to_s), recipe.time_window_s,
                   recipe.yield_window_g, None, None)
        names = (_("Dose"), _("First drop"), _("Time"), _("Yield"), _("Left : right"), _("Steam"))
        values = list(self._values().values())
        before = list(self._before.values()) or [""] * len(values)
        rows = self.ids.figures
        while len(rows.children) < len(names):
            rows.add_widget(Figure())
        for row, name, window, value, was in zip(reversed(rows.children), names, windows, values, before):
            row.what = name
            even = "50 : 50" if name == names[4] else _("none")
            row.right_is = "–".join(number(end, ".3g") for end in window) if window else even
            row.value = f"{was} › {value}" if was and value and was != value else value

    def _values(self) -> dict[str, str]:
        """What each figure shows now, in the order of the rows; "" for what has not happened."""
        practice, poured = self.practice, self.practice.poured
        shown = dict.fromkeys(("dose", "drop", "time", "yield", "spouts", "steam"), "")
        shown["dose"] = amount(practice.dose_g, ".1f", "g")
        if poured is None:
            return shown
        over = practice.stopped_s is not None
        t_s = practice.stopped_s if over else self._t_s()
        drop_s = practice.first_drop_s(t_s)
        shown["drop"] = amount(drop_s, ".1f", "s") if drop_s is not None else ""
        shown["time"] = amount(t_s, ".1f", "s")
        shown["yield"] = amount(poured.settled_g if over else practice.grams(t_s), ".1f", "g")
        if drop_s is not None:
            left = round(100 * practice.left)
            shown["spouts"] = f"{left} : {100 - left}"
            shown["steam"] = _("it spurted") if practice.spat else _("none")
        elif practice.spits(t_s):
            shown["steam"] = _("it spits")
        return shown


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
