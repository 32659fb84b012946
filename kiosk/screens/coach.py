"""The new hire's way: one step a screen. What to do, why, a picture, the caution, and one key."""

from kivy.lang import Builder
from kivy.properties import BooleanProperty, ColorProperty, NumericProperty, StringProperty
from kivy.uix.boxlayout import BoxLayout

from kiosk.bar import guide as guides
from kiosk.bar.guide import Step
from kiosk.screens.lane import cued, goes_with, mark, next_key, now_told, side_key, tap_side
from kiosk.screens.look import Colour
from kiosk.screens.room import Room
from kiosk.screens.sheet import Flat, box, changed
from kiosk.screens.words import STEP_WORDS, _, number


class Told(BoxLayout):
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
        about = dict(seconds=number(recipe.purge_s, "g"), time=number(recipe.time_s, "g"),
                     first="–".join(number(s, "g") for s in (recipe.first_drop_from_s, recipe.first_drop_to_s)))
        self.what, self.why = _(words.what).format(**about), _(words.why).format(**about)
        if guide.step is Step.JUDGE:
            self.why = self._judged(lane) or self.why
        if guide.step is Step.SERVE and goes_with(lane.work):
            self.what += " " + _("With it: {what}.").format(what=goes_with(lane.work))
        self.caution, self.sign = _(words.caution) if words.caution else "", words.sign
        self.picture = str(guide.step)
        self.next_text, self.next_under = next_key(lane.work)
        self.undoable = bool(lane.last_work or guide.before)
        self.ids.steps.names = [_(STEP_WORDS[step].short) for step in guides.FIVE]
        self.ids.steps.marks = [mark(guide, step) for step in guides.FIVE]
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


Builder.load_string("""
<CoachScreen>:
    Page:
        BoxLayout:
            size_hint_y: None
            height: look.line
            Words:
                text: root.place
                size_u: Type.key
                bold: True
                halign: "left"
                color: Colour.next
            Words:
                text: root.title
                size_u: Type.body
                halign: "right"
                color: Colour.quiet
        StepRow:
            id: steps
            size_hint_y: None
            height: look.line
        BoxLayout:
            orientation: "vertical" if look.upright else "horizontal"
            spacing: look.wide
            Picture:
                name: root.picture
                size_hint_x: 1 if look.upright else 0.55
            Told:
                cued: root.stop_now
                orientation: "vertical"
                spacing: look.gap
                padding: look.gap if root.stop_now else 0
                Words:
                    text: root.what
                    size_u: Type.head
                    bold: True
                    halign: "left"
                    color: Colour.on_next if root.stop_now else Colour.text
                    size_hint_y: 1.25
                Words:
                    text: root.why
                    size_u: Type.body
                    halign: "left"
                    color: Colour.on_next if root.stop_now else Colour.quiet
                BoxLayout:
                    size_hint_y: 0.9
                    spacing: look.wide
                    opacity: 1 if root.big else 0
                    Running:
                        text: root.big
                        size_u: Type.figure
                        bold: True
                        color: root.big_colour
                        halign: "left"
                        size_hint_x: 0.5
                    Running:
                        text: root.told
                        size_u: Type.head if root.stop_now else Type.body
                        bold: root.stop_now
                        color: Colour.on_next if root.stop_now else Colour.text
                        halign: "left"
                    Key:
                        text: root.side_text
                        disabled: not root.side_text or root.stop_now
                        opacity: 0 if self.disabled else 1
                        size_hint: (None if self.disabled else 0.6), None
                        width: 0 if self.disabled else 1
                        height: look.key
                        pos_hint: {"center_y": 0.5}
                        on_tap: root.tap_side()
        Caution:
            sign: root.sign
            text: root.caution
            size_hint_y: None
            height: look.lines if root.caution else 0
        BoxLayout:
            orientation: "vertical" if look.upright else "horizontal"
            spacing: look.gap
            size_hint_y: None
            height: look.keys if look.upright else look.key
            BoxLayout:
                spacing: look.gap
                size_hint_x: 1 if look.upright else 1.6
                Key:
                    text: _("Undo")
                    size_u: Type.key
                    disabled: not root.undoable
                    on_tap: root.undo()
                Key:
                    text: _("Step back")
                    size_u: Type.key
                    on_tap: root.back()
                Key:
                    text: _("Bin…")
                    size_u: Type.key
                    on_tap: root.rooms.open_bin(root.group)
                Key:
                    text: _("All lanes")
                    size_u: Type.key
                    on_tap: root.rooms.go("station")
            Key:
                text: root.next_text
                under: root.next_under
                kind: "next"
                size_u: Type.head
                on_tap: root.tap_next()
""")
