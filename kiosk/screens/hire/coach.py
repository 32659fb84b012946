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
from kiosk.bar.model import Step
from kiosk.bar.model.steps import FIVE
from kiosk.screens.barista.lane import (
    cued,
    goes_with,
    mark,
    next_key,
    now_told,
    side_key,
    tap_side,
)
from kiosk.screens.ui.look import Colour
from kiosk.screens.ui.room import Room
from kiosk.screens.ui.sheet import Flat, box, changed
from kiosk.screens.ui.words import STEP_WORDS, _, number


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
    place = StringProperty()
    picture = StringProperty("warm")
    what = StringProperty()
    why = StringProperty()
    caution = StringProperty()
    sign = StringProperty()
    big = StringProperty()
    big_colour = ColorProperty(Colour.text)
    told = StringProperty()
    next_text = StringProperty()
    next_under = StringProperty()
    undoable = BooleanProperty(False)
    stop_now = BooleanProperty(False)
    side_text = StringProperty()

    def show(self):
        lane = self.service.coached()
        if lane is None:
            return
        guide, self.group = lane.work.guide, lane.group
        words = STEP_WORDS[guide.step]
        recipe = guide.recipe
        self.title = f"{lane.group} · {_(lane.work.planned.title)}"
        steps = guide.steps
        self.place = _("Step {n} of {all}: {name}").format(
            n=steps.index(guide.step) + 1, all=len(steps), name=_(words.short))
        about = {"seconds": number(recipe.purge_s, "g"), "time": number(recipe.time_s, "g"),
                     "first": "–".join(number(s, "g") for s in (recipe.first_drop_from_s, recipe.first_drop_to_s))}
        self.what, self.why = _(words.what).format(**about), _(words.why).format(**about)
        if guide.step is Step.JUDGE:
            self.why = self._judged(lane) or self.why
        if guide.step is Step.SERVE and goes_with(lane.work):
            self.what += " " + _("With it: {what}.").format(what=goes_with(lane.work))
        self.caution, self.sign = _(words.caution) if words.caution else "", words.sign
        self.picture = str(guide.step)
        self.next_text, self.next_under = next_key(lane.work)
        self.undoable = bool(lane.last_work or guide.before)
        self.ids.steps.names = [_(STEP_WORDS[step].short) for step in FIVE]
        self.ids.steps.marks = [mark(guide, step) for step in FIVE]
        self.tick()

    def tick(self):
        lane = self.service.lanes.get(self.group)
        if lane is None or lane.work is None:
            return
        self.side_text = _(side_key(self.service, lane.work))
        self.stop_now = cued(lane.work, self.service.clock.s())
        self.big, self.big_colour, self.told = now_told(self.service, lane.work)
        if self.told == self.what:
            self.told = ""
        warnings = self.service.warnings(self.group)
        if warnings:
            self.told = _(warnings[0])

    def _judged(self, lane) -> str:
        """What the pull came to, and what to ask of oneself."""
        guide = lane.work.guide
        said = []
        if guide.time_s is not None:
            low, high = guide.recipe.time_window_s
            said.append((
                _("{s:.0f} s is too fast ({low:.0f}–{high:.0f}). Was the dose right, the tamp firm and straight?")
                if guide.time_s < low else
                _("{s:.0f} s is too slow ({low:.0f}–{high:.0f}). Was the dose right, the tamp not too hard?")
                if guide.time_s > high else _("{s:.0f} s is right ({low:.0f}–{high:.0f}).")).format(
                    s=guide.time_s, low=low, high=high))
        if guide.yield_g is not None:
            low, high = guide.recipe.yield_window_g
            said.append((
                _("{g:.1f} g is too little ({low:.0f}–{high:.0f}): stop later.") if guide.yield_g < low else
                _("{g:.1f} g is too much ({low:.0f}–{high:.0f}): stop sooner.") if guide.yield_g > high else
                _("{g:.1f} g is right ({low:.0f}–{high:.0f}).")).format(g=guide.yield_g, low=low, high=high))
        return " ".join(said)

    def tap_side(self):
        tap_side(self.service, self.group, self.rooms.open_weight)

    def tap_next(self):
        self.service.tap(self.group, guides.Forward)

    def undo(self):
        self.service.tap(self.group, guides.Undo)

    def back(self):
        self.service.tap(self.group, guides.Back)


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
