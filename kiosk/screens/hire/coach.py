"""The new hire's way: one step a screen. What to do, why, a picture, the caution, and one key."""

from pathlib import Path

from kivy.lang import Builder
from kivy.properties import (
    BooleanProperty,
    ColorProperty,
    NumericProperty,
    StringProperty,
)
from kivy.uix.boxlayout import BoxLayout

from kiosk.bar.guide import guide as guides
from kiosk.bar.guide import seen_in_the_cup
from kiosk.bar.model import FIVE, Step
from kiosk.bar.training import takes_milk
from kiosk.screens.barista.told import (
    BIN_IT,
    contains_words,
    dose_kept_or_right,
    goes_with,
    mark,
    next_key,
    now_told,
    parted,
    second_figure,
    side_key,
    stop_told,
    tap_side,
    windows_told,
)
from kiosk.screens.hire import pictures
from kiosk.screens.ui.look import Colour
from kiosk.screens.ui.room import Room
from kiosk.screens.ui.sheet import Flat, box, changed
from kiosk.screens.ui.words import (
    DOSE_WEIGHED,
    LOCK_COLD,
    LOCK_TWO,
    PULL_RUNS,
    STEP_WORDS,
    WARM_TWO,
    _,
    drink_words,
    number,
)
from kiosk.station.lane import Work


class StepText(BoxLayout):
    """What the page says of the step; a stop cue fills it, as it fills a lane."""

    cued = BooleanProperty(False)

    def __init__(self, **given):
        super().__init__(**given)
        for cause in ("cued", "pos", "size", "parent"):
            self.fbind(cause, changed)

    def flats(self) -> list[Flat]:
        return [box(Colour.next, *self.pos, *self.size)] if self.cued else []


class CoachScreen(Room):
    group = NumericProperty(1)
    title = StringProperty()
    contains = StringProperty()         # allergens, until it is served
    place = StringProperty()
    picture = StringProperty("warm")
    beside = StringProperty()           # the picture of the second drink's cup
    what = StringProperty()
    why = StringProperty()
    caution = StringProperty()
    sign = StringProperty()
    big_shown, big_unit = StringProperty(), StringProperty()
    big_colour = ColorProperty(Colour.text)
    second, second_unit = StringProperty(), StringProperty()
    second_colour = ColorProperty(Colour.text)
    pulling = BooleanProperty(False)
    warned = BooleanProperty(False)     # what is told is a warning
    told = StringProperty()
    next_text = StringProperty()
    next_under = StringProperty()
    undoable = BooleanProperty(False)
    strong = BooleanProperty(True)      # the key is what to touch next
    _wrong: str | None = None
    _stop = ""
    stop_now = BooleanProperty(False)
    side_text = StringProperty()
    milk = BooleanProperty(False)       # steamed milk goes into it

    def show(self):
        lane = self.service.lanes.coached()
        if lane is None:
            return
        guide, self.group = lane.work.guide, lane.group
        words = STEP_WORDS[guide.step]
        recipe = guide.recipe
        self.title = f"{lane.group} · {drink_words(lane.work.planned.title)}"
        self.contains = contains_words(lane.work.planned)
        steps = guide.steps
        self.place = _("Step {n} of {all}: {name}").format(
            n=steps.index(guide.step) + 1, all=len(steps), name=_(words.short))
        about = {"seconds": number(recipe.purge_s, "g"), "time": number(recipe.time_s, "g"),
                     "first": "–".join(number(s, "g") for s in (recipe.first_drop_from_s, recipe.first_drop_to_s))}
        self.what, self.why = _(words.what).format(**about), _(words.why).format(**about)
        if guide.step is Step.JUDGE:
            self.why = _(seen_in_the_cup(guide) or "") or self.why
        wrong = self.service.lanes.trouble(self.group)
        if wrong is not None:
            self.what, self.why = _(wrong.now), _(wrong.then)
        elif guide.step is Step.SERVE and goes_with(lane.work):
            self.what += " " + _("With it: {what}.").format(what=goes_with(lane.work))
        if wrong is None and (own := self._own_words(lane.work)):
            self.what = _(own)
        if wrong is None and self._stop:
            self.what = self._stop
        self.caution, self.sign = _(words.caution) if words.caution else "", words.sign
        if wrong is not None and wrong.pressure:
            self.caution, self.sign = _("Hot and under pressure. Face away; force nothing open."), "caution_steam"
        self.picture, self.beside = pictures.of_step(guide.step, lane.work.planned.drinks, wrong and wrong.what,
                                                    guide.pump_off_at_s is not None)
        self.next_text, self.next_under = next_key(self.service, lane.work)
        self.strong = dose_kept_or_right(guide)
        self.milk = any(map(takes_milk, lane.work.planned.drinks))
        self.undoable = bool(lane.last_work or guide.before)
        self.ids.steps.names = [_(STEP_WORDS[step].short) for step in FIVE]
        self.ids.steps.marks = [mark(guide, step) for step in FIVE]
        self.tick()

    @staticmethod
    def _own_words(work: Work) -> str:
        """What this pull asks for, where the step's own words would not be so; "" where they are."""
        guide, two = work.guide, work.planned.cups == 2
        if guide.step is Step.WARM and two:
            return WARM_TWO
        if guide.step is Step.LOCK and (two or not guide.warm):
            return LOCK_TWO if guide.warm else LOCK_COLD
        if guide.step is Step.DOSE and guide.has_scale:
            return DOSE_WEIGHED
        return PULL_RUNS if guide.step is Step.PULL and guide.pump_on_at_s is not None else ""

    def tells_stop_of(self, group: int) -> bool:
        return group == self.group

    def tick(self):
        lane = self.service.lanes.get(self.group)
        if lane is None or lane.work is None:
            return
        wrong = self.service.lanes.trouble(self.group)
        if (wrong and wrong.now) != self._wrong:        # the seconds in it run
            self._wrong = wrong and wrong.now
            self.show()
            return
        self.side_text = _(side_key(self.service, lane.work))
        stop = stop_told(lane.work, self.service.clock.s())
        if stop != self._stop:
            self._stop, self.stop_now = stop, bool(stop)
            self.show()
            return
        self.pulling = lane.work.guide.pulling
        big, self.big_colour, self.told = now_told(self.service, lane.work)
        second, self.second_colour, said = second_figure(self.service, lane.work)
        self.big_shown, self.big_unit = parted(big) if second else (big, "")
        self.second, self.second_unit = parted(second)
        if second:
            self.told = said or (windows_told(lane.work.guide) if lane.work.guide.pump_on_at_s is not None else "")
        elif stop:
            self.told = windows_told(lane.work.guide)
        if self.told == self.what or wrong is not None and wrong.bin and lane.work.guide.pump_off_at_s is None:
            self.told = ""              # the page says it already, or something else
        warnings = self.service.lanes.warnings(self.group)
        self.warned = bool(warnings) and _(warnings[0]) != self.what
        if self.warned:                 # it takes the place of all but a running pull's seconds
            self.told, self.second, self.second_unit = _(warnings[0]), "", ""
            if not self.pulling:
                self.big_shown = self.big_unit = ""
        elif warnings and lane.work.guide.pump_off_at_s is None:
            self.told = ""                  # the page says it already

    def tap_side(self):
        tap_side(self.service, self.group, self.rooms.open_weight)

    def tap_next(self):
        if self.next_text == _(BIN_IT):
            self.rooms.open_bin(self.group)
        else:
            self.service.tap(self.group, guides.Forward)

    def undo(self):
        self.service.tap(self.group, guides.Undo)

    def back(self):
        self.service.tap(self.group, guides.Back)


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
