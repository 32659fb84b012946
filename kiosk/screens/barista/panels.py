"""Short visits: into the sink, a notch turned, who is on the station."""

from dataclasses import replace
from pathlib import Path

from kivy.lang import Builder
from kivy.properties import BooleanProperty, NumericProperty, StringProperty
from kivy.uix.widget import Widget

from kiosk.bar.guide import guide as guides
from kiosk.bar.model import COARSER, EVERY_STEP, FINER, Step
from kiosk.screens.ui.keyboard import Typed
from kiosk.screens.ui.paging import Paging
from kiosk.screens.ui.room import Room
from kiosk.screens.ui.touch import Key
from kiosk.screens.ui.words import BIN_REASONS, _, amount, drink_words


class BinScreen(Room):
    """A lane's way out: bin the shot and why, a step back, or begin again."""

    group = NumericProperty(1)
    title = StringProperty()
    last = StringProperty()             # the pull served before, while this one is untouched
    of_last = BooleanProperty(False)    # it is the one to bin
    untouched = BooleanProperty(False)  # nothing was done for this one yet
    skippable = BooleanProperty(False)  # its step may be left out

    def enter(self):
        self.of_last = False
        self._show()

    def _show(self):
        lane = self.service.lanes[self.group]
        last = lane.last_work if lane.can_bring_back else None
        self.last = _("The last one: {title}").format(title=drink_words(last.planned.title)) if last else ""
        work = lane.last_work if self.of_last else lane.work
        self._key = work.key if work else ""
        self.untouched = work is not None and not self.of_last and work.untouched
        order = EVERY_STEP.index
        self.skippable = work is not None and not self.of_last and order(work.guide.step) < order(Step.PULL)
        self.title = f"{self.group} · {drink_words(work.planned.title)}" if work else ""

    def choose_last(self):
        self.of_last = not self.of_last
        self._show()

    def on_kv_post(self, _base):
        for reason in BIN_REASONS:
            key = Key(text=_(reason), kind="warn")
            key.bind(on_tap=lambda key, reason=reason: self.leave(guides.Bin, reason.lower()))
            self.ids.why.add_widget(key)

    def leave(self, kind, *values):
        """Done to the pull that the title names, even if its cup was lifted meanwhile."""
        if self.service.lanes.makes(self.group, self._key) or (
                kind is guides.Bin and self.service.bring_back(self.group, self._key)):
            self.service.tap(self.group, kind, *values)
        self.rooms.home()

    def back_a_step(self):
        self.leave(guides.Back)

    def again(self):
        """From its first step; one that was not touched yet goes with its order."""
        if self.service.lanes.makes(self.group, self._key):
            if self.untouched:
                self.service.orders.cancel(self.service.lanes[self.group].work.waiting.order_id)
            else:
                self.service.redo(self.group)
        self.rooms.home()

    def skip(self):
        """The step is left out, and the record says so."""
        work = self.service.lanes[self.group].work
        if work is not None and work.key == self._key:
            steps = work.guide.steps
            self.leave(guides.SkipTo, str(steps[min(steps.index(work.guide.step) + 1, len(steps) - 1)]))


class WeightScreen(Room):
    """A weight written down by hand: the dose before the pull, the yield after it."""

    group = NumericProperty(1)
    grams = NumericProperty(0)
    title = StringProperty()
    known = BooleanProperty(False)      # it was weighed: by now, or before
    written = StringProperty()

    def enter(self):
        work = self.service.lanes[self.group].work
        guide, self._key = work.guide, work.key
        self._after = guide.pump_off_at_s is not None
        known, wanted = (guide.yield_g, guide.recipe.yield_g) if self._after else (guide.dose_g, guide.recipe.dose_g)
        self.grams, self.known = round(wanted if known is None else known, 1), known is not None
        asked = _("Yield of this pull") if self._after else _("The dose weighs")
        self.title = f"{self.group} · {drink_words(work.planned.title)}: {asked}"
        self._say()

    def _say(self):
        self.written = _("Save") if self.known else _("Exactly {g}").format(g=amount(self.grams, ".1f", "g"))

    def add(self, grams: float):
        self.grams, self.known = round(min(200.0, max(0.0, self.grams + grams)), 1), True
        self._say()

    def done(self):
        """Written to the pull that the title names, even if its cup was lifted meanwhile."""
        served = not self.service.lanes.makes(self.group, self._key)
        if not served or self.service.bring_back(self.group, self._key):
            self.service.tap(self.group, guides.YieldTapped if self._after else guides.DoseTapped, self.grams)
            if served:
                self.service.tap(self.group, guides.Forward)
        self.rooms.home()


class NotchScreen(Room):
    """One notch, one way: chosen, purged, noted."""

    grinder_name = StringProperty()
    direction = StringProperty()
    purge_g = NumericProperty(6)
    notches = NumericProperty(1)        # more than one only as the advice at opening has it
    done_text = StringProperty()
    shown = StringProperty()
    told = StringProperty()
    asked = StringProperty()

    def enter(self):
        self._choose(self.service.setup.grinder(self.grinder_name) or self.service.setup.grinders[0])

    def _choose(self, grinder):
        self.grinder_name, self.purge_g = grinder.name, grinder.purge_g
        flag = self.service.grinding.flag(grinder)
        self.direction = flag.direction or "" if flag else ""
        self.told = f"{_(flag.sentence)} {_(self.service.grinding.to_do(grinder)[1])}" if flag else \
            _("No flag on {name}. Turn it only for a reason you know.").format(name=grinder.name)
        if not flag and (timed := self.service.grinding.timer(grinder)) is not None:
            self.told = _(timed.sentence)
        self._morning = None if flag else next((each for each in self.service.notes.morning if each.grinder == grinder.name), None)
        if self._morning is not None:
            self.direction, self.told = self._morning.direction, f"{_(self._morning.words)}. {_(self._morning.why)}"
        self.asked = _("Not now") if flag or self._morning else _("Back")
        self._show()

    def _show(self):
        grinder = self.service.setup.grinder(self.grinder_name)
        self.shown = _("{name}\nat {shown}").format(name=grinder.name, shown=grinder.shown)
        flag, (_act, _sentence, advised) = self.service.grinding.flag(grinder), self.service.grinding.to_do(grinder)
        self.notches = max(1, advised) if flag and flag.direction == self.direction else 1
        self.done_text = _("Which way?") if not self.direction else _("Turned one notch") if self.notches == 1 else \
            _("Turned {n} notches").format(n=self.notches)
        for direction, key in ((FINER, self.ids.finer), (COARSER, self.ids.coarser)):
            key.on = self.direction == direction
            own = grinder.words(direction)          # "turn left": what this bar calls it
            notches = (self.notches if key.on else 1) * (1 if direction == COARSER else -1)
            key.under = ", ".join((*((_(own),) if own != direction else ()), _("to {shown}").format(
                shown=replace(grinder, setting=grinder.setting + notches).shown)))

    def next_grinder(self):
        grinders = self.service.setup.grinders
        names = [grinder.name for grinder in grinders]
        self._choose(grinders[(names.index(self.grinder_name) + 1) % len(grinders)])

    def turn(self, direction: str):
        self.direction = direction
        self._show()

    def purge(self, more_g: float):
        self.purge_g = min(50, max(0, self.purge_g + more_g))

    def done(self):
        if self.direction:
            grinder = self.service.setup.grinder(self.grinder_name)
            complaints = self.service.grinding.move(grinder, self.direction, self.purge_g, self.notches)
            if complaints:
                self.told = _(complaints[0])
            else:
                self.service.notes.turned(grinder.name)
                self.rooms.home()

    def not_now(self):
        grinder = self.service.setup.grinder(self.grinder_name)
        if self.service.grinding.flag(grinder):
            self.service.grinding.put_aside(grinder)
        if any(each.grinder == grinder.name for each in self.service.notes.morning):
            self.service.notes.put_aside(grinder.name)
        self.rooms.home()

    def undo(self):
        self.service.grinding.undo_move()
        self.enter()


PEOPLE = 11             # beside Nobody


class WhoScreen(Typed, Room):
    """So many people at once; of more, the others by the page, or by their first letter."""

    def enter(self):
        super().enter()
        self._shown = Paging()
        self._draw()

    def _draw(self):
        self.ids.practise.under = self.service.barista or ""
        self.ids.names.clear_widgets()
        staff = self.service.setup.staff
        room = PEOPLE if len(staff) <= PEOPLE else PEOPLE - 2
        self._shown = self._shown.over(len(staff), room)
        for person in self._shown.of(staff):
            key = Key(text=person.name, under=_("every step") if self.service.teaching.every_step(person) else "",
                      on=person.name == self.service.barista)
            key.bind(on_tap=lambda key, person=person: self.choose(person.name))
            self.ids.names.add_widget(key)
        for _place in range(self._shown.blank if room < PEOPLE else 0):
            self.ids.names.add_widget(Widget())     # the keys below stay where they are
        nobody = Key(text=_("Nobody"), kind="quiet", on=self.service.barista is None)
        nobody.bind(on_tap=lambda key: self.choose(None))
        self.ids.names.add_widget(nobody)
        if room < PEOPLE:
            find = Key(text=_("Find"), kind="quiet")
            find.bind(on_tap=lambda key: self.typed(""))
            more = Key(text=_("More"), under=_("{n} of {all}").format(n=self._shown.page, all=self._shown.pages), kind="quiet")
            more.bind(on_tap=lambda key: self._more())
            self.ids.names.add_widget(find)
            self.ids.names.add_widget(more)

    def typed(self, letters: str):
        self.rooms.find({person.name: person.name for person in self.service.setup.staff}, self.choose, letters)

    def _more(self):
        self._shown = self._shown.turned()
        self._draw()

    def choose(self, name):
        self.service.choose(name)
        self.rooms.home()


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
