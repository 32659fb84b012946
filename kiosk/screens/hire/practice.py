"""The practice bar on the screen: pull, look, name the cause, be told why, mend it. No coffee needed."""

from pathlib import Path
from random import random, randrange

from kivy.clock import mainthread
from kivy.graphics import Color, Ellipse, Line, Quad, RoundedRectangle
from kivy.lang import Builder
from kivy.properties import (
    BooleanProperty,
    ListProperty,
    NumericProperty,
    StringProperty,
)
from kivy.uix.boxlayout import BoxLayout
from kivy.uix.widget import Widget

from kiosk.bar.model import DOUBLE
from kiosk.bar.model.lessons import AS_THE_BAR, BLIND_TEST, WITH, Lesson
from kiosk.bar.training import ALIKE, AMOUNTS, MENDS, Cause, Mend, deck, lesson
from kiosk.practice.practice_bar import LONGEST_S, Practising
from kiosk.screens.hire.causes import CAUSE_WORDS
from kiosk.screens.ui.look import Colour, Type, look
from kiosk.screens.ui.room import Room
from kiosk.screens.ui.touch import Key
from kiosk.screens.ui.words import N_, _, amount, window
from kiosk.station.teaching import lessons_of

READY, PULLING, NAMING, TOLD, MENDING = range(5)
SPEEDS = (3, 1)         # bar seconds in a real one
TELLING_G = 10.0        # in the cup: less says nothing of the cause
# Where to look, and to mend: two touches, so that no room needs thirteen keys at once.
GRIND, DOSE, PUCK, GROUP, COFFEE = N_("Grind"), N_("Dose"), N_("Puck"), N_("Group"), N_("Coffee, cup")
CAUSES_OF = {GRIND: (Cause.FINE, Cause.COARSE), DOSE: (Cause.OVER, Cause.UNDER), PUCK: (Cause.SOFT, Cause.CROOKED, Cause.CHANNEL),
             GROUP: (Cause.UNPURGED, Cause.BLOCKED), COFFEE: (Cause.STALE, Cause.OLD, Cause.COLD)}
MEND_WORDS = {
    Mend.COARSER: N_("{n} coarser"), Mend.FINER: N_("{n} finer"), Mend.TAKE: N_("{n} g less"), Mend.ADD: N_("{n} g more"),
    Mend.FIRM: N_("Tamp firm"), Mend.STRAIGHT: N_("Tamp straight"), Mend.SPREAD: N_("Spread level"), Mend.FLUSH: N_("Purge"),
    Mend.CLEAN: N_("Clean spouts"), Mend.GRIND_NEW: N_("Grind anew"), Mend.BAG: N_("Fresh beans"), Mend.WARM: N_("Warm the cup"),
}


class Streams(Widget):
    """The two spouts over their cup: `flows` are grams a second left and right, `share` how full the cup is (0–1)."""

    flows = ListProperty([0, 0])
    share = NumericProperty(0)
    spits = BooleanProperty(False)
    pale = NumericProperty(0)
    spurts = BooleanProperty(False)

    def __init__(self, **given):
        super().__init__(**given)
        for cause in ("flows", "share", "spits", "pale", "spurts", "pos", "size"):
            self.fbind(cause, self._draw)

    def _draw(self, *_changed):
        u = look.u
        across, top, floor = min(self.width, 240 * u), self.top - 6 * u, self.y + 6 * u
        mid, cup_h = self.center_x - across * 0.06, min((top - floor) * 0.42, across * 0.58)
        self.canvas.clear()
        with self.canvas:
            self._portafilter(mid, top, across)
            self._cup(mid, floor, across, cup_h)
            spout, surface = top - 52 * u, floor + 12 * u + (cup_h - 18 * u) * min(1.0, self.share)
            Color(*(dark + (pale - dark) * self.pale for dark, pale in zip(Colour.coffee, Colour.crema)))
            for side, flow in zip((-1, 1), self.flows):
                wide = min(16.0, 6.5 * flow) * u
                if wide > 0.4 * u:              # it narrows as it falls
                    x = mid + side * across * SPOUT
                    _tapered(x, spout, wide, surface, max(0.5 * wide, 1.2 * u))
                    for n in range(3 if self.spurts else 0):
                        Ellipse(pos=(x + (n - 1) * 14 * u - 3 * u, spout - (12 + 22 * n) * u), size=(6 * u, 6 * u))
            Color(*Colour.text)
            if self.spits:
                for n in range(9):
                    r = (3 + n % 4) * u
                    x = mid + (n - 4) * across * 0.09
                    Ellipse(pos=(x - r, top - (66 + 15 * (n % 3)) * u - r), size=(2 * r, 2 * r))

    def _portafilter(self, mid: float, top: float, across: float):
        """The basket's rim, its body with a handle to the right, and the two spouts under it."""
        u = look.u
        Color(*Colour.faint)
        RoundedRectangle(pos=(mid + across * 0.28, top - 19 * u), size=(across * 0.3, 11 * u), radius=[5 * u])
        Color(*Colour.quiet)
        RoundedRectangle(pos=(mid - across * 0.34, top - 8 * u), size=(across * 0.68, 8 * u), radius=[3 * u])
        _tapered(mid, top - 8 * u, across * 0.6, top - 28 * u, across * 0.44)
        for side in (-1, 1):
            x = mid + side * across * SPOUT
            Line(points=[mid, top - 28 * u, x, top - 38 * u, x, top - 48 * u], width=4 * u, joint="round", cap="none")

    def _cup(self, mid: float, floor: float, across: float, high: float):
        """In section: its walls lean out, a handle and a saucer; the coffee in it with its crema on top."""
        u, rim, foot = look.u, across * 0.58, across * 0.4
        base, share = floor + 8 * u, min(1.0, self.share)
        Color(*Colour.quiet)
        RoundedRectangle(pos=(mid - across * 0.42, floor), size=(across * 0.84, 6 * u), radius=[3 * u])
        Line(ellipse=(mid + rim * 0.36, base + high * 0.32, high * 0.46, high * 0.46, 0, 180), width=3 * u)
        Color(*Colour.text)
        _tapered(mid, base + high, rim, base, foot)
        Color(*Colour.ground)
        low, inner, tall = base + 4 * u, foot - 6 * u, high - 4 * u
        _tapered(mid, base + high, rim - 8 * u, low, inner)
        if share > 0:
            full = inner + (rim - 8 * u - inner) * share
            level = low + tall * share
            crema = min(level - low, 6 * u)
            Color(*Colour.coffee)
            _tapered(mid, level, full, low, inner)
            Color(*Colour.crema)
            _tapered(mid, level, full, level - crema, full - (full - inner) * crema / (level - low))


SPOUT = 0.14            # of the breadth: how far a spout stands from the middle


def _tapered(mid: float, top: float, top_wide: float, low: float, low_wide: float) -> None:
    """A shape of another breadth at its top than at its foot."""
    Quad(points=(mid - low_wide / 2, low, mid + low_wide / 2, low, mid + top_wide / 2, top, mid - top_wide / 2, top))


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

    def __init__(self, **given):
        super().__init__(**given)
        self.practice = Practising(randrange(2**32))
        self._speed, self._answers, self._phase = SPEEDS[0], [], READY
        self._part: str | None = None           # of what can be named or mended: the one chosen
        self._lesson: Lesson | None = None      # the one that is under way, its pulls still to come, and the answers so far
        self._deck: list[Cause] = []
        self._given: list[tuple[str, str]] = []

    # ---- the course of a lesson -----------------------------------------------------------------------------------

    def enter(self):
        self._answers = []
        self._begin(None)
        name = self.service.barista
        self.service.aside.begin("sums", lambda: self._look_back(name))

    def _begin(self, given: Lesson | None):
        """The bar's own recipe, with a scale or without, in a lesson as it has it."""
        setup = self.service.setup
        weighed = self.service.scales.first.there if given is None or given.scale == AS_THE_BAR else given.scale == WITH
        self.practice = Practising(randrange(2**32), recipe=setup.recipe(setup.coffees[0], DOUBLE), weighed=weighed)
        self._lesson, self._given = given, []
        self._deck = list(deck(given, randrange(2 ** 32))) if given else []
        self.next()

    def _look_back(self, name):
        self._looked_back(name, list(lessons_of(self.service.book, name)))

    @mainthread
    def _looked_back(self, name, found):
        if name == self.service.barista:
            self._answers = found + [pair for pair in self._answers if pair not in found]
            self._draw_title()

    def _end_lesson(self):
        """What it came to, kept as the hire's; without a scale, how many no eye could have told."""
        done, found, practice = self._lesson, lesson.score(self._given), self.practice
        by_eye = 0 if practice.weighed else sum(found.met(cause) for cause in ALIKE)
        missed = ", ".join(dict.fromkeys(_(CAUSE_WORDS[cause]) for cause, said in found.table if cause is not said))
        self._lesson, self.cause = None, Cause.NONE
        self.service.teaching.lesson_done(done, found, by_eye, self.service.barista)
        self._tell(_("{lesson}: {n} of {all} right.").format(lesson=_(done.name), n=found.told, all=found.lessons),
                   _("Missed: {what}.").format(what=missed) if missed else "",
                   _("Of these, {n} were too fine or too coarse, or a wrong dose: no eye tells which.").format(n=by_eye) if by_eye else "")

    def next(self):
        if self._lesson is not None:
            return self.prepare(self._deck.pop()) if self._deck else self._end_lesson()
        if self._given:
            return self._begin(None)        # a lesson is over: the bar's own practice again
        self.cause = lesson.next_cause(lesson.score(self._answers), random())
        self.prepare(self.cause)

    def prepare(self, cause: Cause):
        self.cause, self._before, self._mending = self.practice.prepare(cause), {}, False
        self._ready(_("Someone else dosed, tamped and locked in. Pull it, look, then name what is wrong."))

    def mend(self, what: Mend, much: int = 1):
        """What the hand does, right or wrong, and how much of it: the next pull shows."""
        self._before, self._mending = dict(self._values()), True
        self.practice.mend(what, much)
        self._ready(_("Done: {what}. Pull it again.").format(what=_(MEND_WORDS[what]).format(n=much)))

    def _ready(self, told: str):
        self.points, self.ids.streams.share, self.ids.streams.flows = [], 0, [0, 0]
        low_s, high_s = self.practice.recipe.time_window_s
        self.window, self.told = [low_s, high_s, *self.practice.recipe.yield_window_g], told
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
            self.practice.again()
            return self._ready(_("Too short to tell anything. Pull it again."))
        stopped_s = self.practice.stopped_s
        self.points = [*self.points, (stopped_s, self.practice.grams(stopped_s)), (stopped_s + 4, self.practice.seen().yield_g)]
        self.ids.streams.spits = self.ids.streams.spurts = False
        self.ids.streams.share = poured.settled_g / self.practice.recipe.yield_window_g[1]
        if not self._mending:
            self.told = _("What is wrong?")
            return self._go_to(NAMING)
        self.cause = lesson.named(self.practice.seen())
        self._tell(lesson.why(self.cause, self.practice.seen()), lesson.stopped(self.practice.seen()) or "")

    def name_it(self, said: Cause):
        seen = self.practice.seen()
        pair = str(self.cause), str(said)
        self._answers = [*self._answers, pair]
        self.service.teaching.practised(self.service.barista, self.cause, said, seen, self._lesson)
        if self._lesson is not None:
            self._given.append(pair)
            if self._lesson.blind:
                return self.next()
        verdict = _("Right: {cause}.") if said is self.cause else _("No. It was: {cause}.")
        self._tell(verdict.format(cause=_(CAUSE_WORDS[self.cause])), "" if said is self.cause else lesson.why_not(said, self.cause, seen),
                   lesson.why(self.cause, seen), lesson.stopped(seen) or "")

    def _tell(self, *said: str):
        self.told = " ".join(_(each) for each in said if each)
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
        streams.spits, streams.spurts = practice.spits(t_s), practice.spurts(t_s)
        streams.pale = practice.pale(t_s) if self._lesson is None or self._lesson.colour else 0
        self._draw_figures()
        if t_s >= LONGEST_S:
            self.stop()

    def _t_s(self) -> float:
        return (self.service.clock.s() - self._began_s) * self._speed

    def _go_to(self, phase, part=None):
        self._phase, self._part = phase, part
        if phase != PULLING:
            self.ids.streams.flows = [0, 0]
        self._draw_title()
        self._draw_figures()
        keys = self.ids.choices
        keys.clear_widgets()
        made = self._keys()
        for key in [made[-1], *made[:-1]] if self.left and made[-1].kind == "next" else made:
            keys.add_widget(key)

    def _keys(self) -> list[Key]:
        phase, back = self._phase, self._key(_("Back"), self.rooms.home)
        if phase in (NAMING, MENDING):
            return self._keys_of(phase, self._part)
        if phase == READY:
            given = self.service.setup.lesson_of(self.service.barista)
            pace = _("{n} times as fast").format(n=self._speed) if self._speed > 1 else _("Real speed")
            offered = [] if self._lesson is not None or self._mending else [BLIND_TEST, given] if given else [BLIND_TEST]
            lessons = [self._key(_(each.name), lambda each=each: self._begin(each)) for each in offered]
            return [back, self._key(pace, self.speed), *lessons, self._key(_("Pump on"), self.begin, "next")]
        if phase == PULLING:
            return [self._key(_("Stop"), self.stop, "next")]
        fix = [self._key(_("Fix it…"), lambda: self._go_to(MENDING))] if self.cause is not Cause.NONE else []
        on = _("Result") if self._lesson is not None and not self._deck else _("Next pull")
        return [back, *fix, self._key(on, self.next, "next")]

    def _keys_of(self, phase: int, part: str | None) -> list[Key]:
        """Of naming or mending: first where, then what."""
        if part is None:
            wheres = [self._key(_(where), lambda where=where: self._go_to(phase, where)) for where in CAUSES_OF]
            last = self._key(_(CAUSE_WORDS[Cause.NONE]), lambda: self.name_it(Cause.NONE)) if phase == NAMING else \
                self._key(_("Back"), lambda: self._go_to(TOLD))
            return [*wheres, last]
        whats = [self._key(_(CAUSE_WORDS[cause]), lambda cause=cause: self.name_it(cause)) for cause in CAUSES_OF[part]] \
            if phase == NAMING else [
                self._key(_(MEND_WORDS[what]).format(n=much), lambda what=what, much=much: self.mend(what, much))
                for what in (MENDS[cause] for cause in CAUSES_OF[part]) for much in AMOUNTS.get(what, (1,))]
        return [*whats, self._key(_("Back"), lambda: self._go_to(phase))]

    @staticmethod
    def _key(words, then, kind="plain") -> Key:
        key = Key(text=words, kind=kind, size_u=Type.body)
        key.bind(on_tap=lambda key: then())
        return key

    def _draw_title(self):
        found = lesson.score(self._answers)
        told = _("right: {n} of {all}").format(n=found.told, all=found.lessons) if found.lessons else ""
        if self._lesson is not None:
            told = _("{lesson}, pull {n} of {all}").format(lesson=_(self._lesson.name), n=self._lesson.pulls - len(self._deck),
                                                           all=self._lesson.pulls)
        self.title = " · ".join(part for part in (_("Practice"), self.service.barista or "", told) if part)

    def _draw_figures(self):
        recipe = self.practice.recipe
        windows = (recipe.dose_window_g, (recipe.first_drop_from_s, recipe.first_drop_to_s), recipe.time_window_s, recipe.yield_window_g)
        right = [window(*ends) for ends in windows]
        right += ["50 : 50", _("even"), _("warm, thick"), _("1 min ago")]
        names = (_("Dose"), _("First drop"), _("Time"), _("Yield"), _("Left : right"), _("Stream"), _("Cup, crema"), _("Ground"))
        values = list(self._values().values())
        before = list(self._before.values()) or [""] * len(values)
        rows = self.ids.figures
        while len(rows.children) < len(names):
            rows.add_widget(Figure())
        for row, name, right_is, value, was in zip(reversed(rows.children), names, right, values, before):
            row.what, row.right_is = name, right_is
            row.value = f"{was} › {value}" if was and value and was != value else value

    def _values(self) -> dict[str, str]:
        """What each figure shows now, in the order of the rows; "" for what has not happened. The dose that was written down
        is shown with the rest, once the pull is over: else nobody would watch it."""
        practice, poured = self.practice, self.practice.poured
        shown = dict.fromkeys(("dose", "drop", "time", "yield", "spouts", "stream", "cup", "ground"), "")
        if poured is None:
            return shown
        over = practice.stopped_s is not None
        t_s = practice.stopped_s if over else self._t_s()
        drop_s = practice.first_drop_s(t_s)
        about = "" if practice.weighed else "≈ "
        shown["drop"] = about + amount(drop_s, ".1f", "s") if drop_s is not None else ""
        shown["time"] = amount(t_s, ".1f", "s")
        shown["yield"] = about + amount(practice.seen().yield_g if over else practice.grams(t_s), ".1f", "g")
        if drop_s is not None:
            left = round(100 * practice.left)
            shown["spouts"] = f"{left} : {100 - left}"
        shown["stream"] = self._stream(t_s, drop_s)
        if over:
            hidden = practice.hidden
            shown["dose"] = amount(practice.dose_g, ".1f", "g") if practice.weighed else _("not weighed")
            shown["cup"] = f"{_('cold') if hidden.cold else _('warm')}, {_('thin') if practice.thin else _('thick')}"
            shown["ground"] = _("{n:.0f} min ago").format(n=max(1.0, hidden.lain_min))
        return shown

    def _stream(self, t_s: float, drop_s: float | None) -> str:
        practice, spurted_s = self.practice, self.practice.spurted_s(t_s)
        if drop_s is None:
            return _("it spits") if practice.spits(t_s) else ""
        if spurted_s is not None:
            return _("spurted, {s:.0f} s").format(s=spurted_s)
        return _("spurted steam") if practice.spat else _("even")


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
