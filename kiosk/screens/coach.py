"""The new hire's way: one step a screen. What to do, why, a picture, the caution, and one key."""

from kivy.lang import Builder
from kivy.properties import BooleanProperty, ColorProperty, NumericProperty, StringProperty

from kiosk.bar import guide as guides
from kiosk.bar.guide import Step
from kiosk.screens.lane import goes_with, mark, next_key, now_told
from kiosk.screens.look import Colour
from kiosk.screens.room import Room
from kiosk.screens.words import STEP_WORDS, _, number


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

    def show(self):
        lane = self.service.coached()
        if lane is None:
            return
        guide, self.group = lane.work.guide, lane.group
        words = STEP_WORDS[guide.step]
        recipe = guide.recipe
        self.title = f"{lane.group} · {_(lane.work.planned.title)}"
        steps = guide.steps
        self.place = _("Step {n} of {all}: {name}").format(n=steps.index(guide.step) + 1, all=len(steps), name=_(words.short))
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
        self.big, self.big_colour, self.told = now_told(self.service, lane.work)
        if self.told == self.what:
            self.told = ""
        warnings = self.service.warnings(self.group)
        if warnings:
            self.told = _(warnings[0])

    def _judged(self, lane) -> str:
        guide = lane.work.guide
        low, high = guide.recipe.time_window_s
        if guide.time_s is None:
            return ""
        if guide.time_s < low:
            return _("{s:.0f} s is too fast ({low:.0f}–{high:.0f}). Was the dose right, the tamp firm and straight?").format(
                s=guide.time_s, low=low, high=high)
        if guide.time_s > high:
            return _("{s:.0f} s is too slow ({low:.0f}–{high:.0f}). Was the dose right, the tamp not too hard?").format(
                s=guide.time_s, low=low, high=high)
        return _("{s:.0f} s is right ({low:.0f}–{high:.0f}).").format(s=guide.time_s, low=low, high=high)

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
            BoxLayout:
                orientation: "vertical"
                spacing: look.gap
                Words:
                    text: root.what
                    size_u: Type.head
                    bold: True
                    halign: "left"
                    size_hint_y: 1.25
                Words:
                    text: root.why
                    size_u: Type.body
                    halign: "left"
                    color: Colour.quiet
                BoxLayout:
                    size_hint_y: 0.9
                    opacity: 1 if root.big else 0
                    Words:
                        text: root.big
                        size_u: Type.figure
                        bold: True
                        color: root.big_colour
                        halign: "left"
                        size_hint_x: 0.5
                    Words:
                        text: root.told
                        size_u: Type.body
                        halign: "left"
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
