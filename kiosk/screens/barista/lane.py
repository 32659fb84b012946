"""A lane's card: what its group is doing, the one key to touch next, and the way out."""

from pathlib import Path

from kivy.lang import Builder
from kivy.properties import (
    BooleanProperty,
    ColorProperty,
    ListProperty,
    NumericProperty,
    ObjectProperty,
    StringProperty,
)
from kivy.uix.boxlayout import BoxLayout

from kiosk.bar.guide import guide as guides
from kiosk.bar.model import FIVE, Step
from kiosk.bar.model.setup import CLEANING, HEATING, OUT
from kiosk.bar.model.tasks import RINSES
from kiosk.screens.barista.told import (
    BIN_IT,
    STOP_NOW,
    aims,
    contains_words,
    dose_kept_or_right,
    last_figures,
    last_told,
    mark,
    next_key,
    now_told,
    parted,
    said_beside,
    second_figure,
    side_key,
    stop_told,
    tap_side,
    tracks,
    windows_told,
)
from kiosk.screens.ui.handed import Handed
from kiosk.screens.ui.look import Colour, look
from kiosk.screens.ui.sheet import Flat, changed, outlined, rounded
from kiosk.screens.ui.touch import RING, Key
from kiosk.screens.ui.words import N_, STEP_WORDS, _, drink_words
from kiosk.station.lane import Lane
from kiosk.station.lanes import WHOSE_POUR

STATE_WORDS = {HEATING: N_("Heating"), CLEANING: N_("Cleaning"), OUT: N_("Out of order")}
# Whether there is a figure, not what it is: nothing is laid out anew as it changes, and no rule of the layout is asked again.
THERE = {"big": "figured", "second": "paired", "first_track": "tracked", "second_track": "both_tracked"}
FEW_SIGNS = 4       # of a live figure: "36.4"
CURVE_STEP = 3      # points that a curve grows by at once: a pixel or two


class LaneCard(Handed):
    """Draws one lane. `show` is given the lane whenever something changed, `tick` many times a second."""

    service = ObjectProperty()
    group = NumericProperty(1)
    title = StringProperty()
    who = StringProperty()
    step = StringProperty()             # the one that the hands are at
    contains = StringProperty()         # allergens, for as long as the drink is on the card
    step_names = ListProperty()
    step_marks = ListProperty()
    big = StringProperty()
    big_colour = ColorProperty(Colour.text)
    second = StringProperty()           # the other live figure: grams in the cup, or what to add to a dose or take out
    second_colour = ColorProperty(Colour.text)
    big_shown, big_unit = StringProperty(), StringProperty()                # beside a second one a figure's unit stands apart
    second_shown, second_unit = StringProperty(), StringProperty()
    long = BooleanProperty(False)       # one of the two has three places before its point
    first_track = ListProperty()        # of the big figure, and of the second: see ui.track
    second_track = ListProperty()
    track_judged = BooleanProperty(False)
    stop_word = StringProperty()        # in the title's place, as long as the pump should be stopped
    before = ListProperty()             # the last pull's curve
    told = StringProperty()
    warning = StringProperty()
    told_here = StringProperty()
    aim = StringProperty()              # that the figure is what to come to, and nothing that was weighed
    figure_says = StringProperty()      # what a touch on the figure does, "" for nothing
    coached = BooleanProperty(False)    # its pull has a page for every step
    every_step = StringProperty()
    next_text = StringProperty()
    next_under = StringProperty()
    busy = BooleanProperty(False)
    pulling = BooleanProperty(False)
    curved = BooleanProperty(False)     # a curve is being weighed
    named = BooleanProperty(False)      # it is drawn, with its window's numbers
    wide = BooleanProperty(True)
    low = BooleanProperty(False)
    flat = BooleanProperty(False)
    narrow = BooleanProperty(False)
    close = BooleanProperty(False)
    figured, paired = BooleanProperty(False), BooleanProperty(False)        # as THERE has it
    tracked, both_tracked = BooleanProperty(False), BooleanProperty(False)
    undoable = BooleanProperty(False)
    cleaning = BooleanProperty(False)   # cleaner may go through the group now
    tastable = BooleanProperty(False)   # the group is free, and what it made last can be tasted
    first = BooleanProperty(False)      # the lane that needs a hand next
    strong = BooleanProperty(True)      # its key is what to touch next, not one way of two
    cued = BooleanProperty(False)       # stop the pump now
    side_text = StringProperty()        # what a finger may say that no scale does: a first drop, a weight
    points = ListProperty()
    window = ListProperty([20, 30, 45, 55])

    def __init__(self, **given):
        for event in ("on_bin", "on_note", "on_coach", "on_taste"):
            self.register_event_type(event)
        super().__init__(**given)
        for cause in ("first", "cued", "pos", "size", "parent"):
            self.fbind(cause, changed)
        for figure, there in THERE.items():
            self.fbind(figure, lambda _lane, value, there=there: setattr(self, there, bool(value)))

    def flats(self) -> list[Flat]:
        """The edge of the lane, orange where it needs a hand next; a stop cue fills it."""
        place = *self.pos, *self.size
        if self.cued:
            return [rounded(Colour.next, *place, look.round)]
        return outlined(Colour.next if self.first else Colour.edge, *place, look.round, RING * look.u)

    def on_bin(self):
        """The way out of this pull was asked for."""

    def on_taste(self):
        """How the last pull tasted is to be said."""

    def on_note(self):
        """A weight is to be written down by hand."""

    def on_coach(self):
        """The page of the step was asked for."""

    # ---- what a finger does ---------------------------------------------------------------------------------------

    def tap_next(self):
        if self.next_text == _(BIN_IT):
            self.dispatch("on_bin")
        else:
            self.service.tap(self.group, guides.Forward)

    def undo(self):
        self.service.tap(self.group, guides.Undo)

    def go_to(self, place: int):
        """A step's label was touched: there the hands are."""
        self.service.tap(self.group, guides.GoTo, str(self._steps[place]))

    def tap_figure(self):
        if self.coached:
            self.dispatch("on_coach")
        else:
            self.tap_side()

    def cleaner(self):
        self.service.tasks.cleaner(self.group)

    def tap_side(self):
        if self.service.lanes[self.group].work is None:
            (self.service.rinsed if self.group in self.service.tasks.rinsing else self.service.next_state)(self.group)
            return
        tap_side(self.service, self.group, lambda _group: self.dispatch("on_note"))

    # ---- what it shows --------------------------------------------------------------------------------------------

    def show(self, lane: Lane):
        work = lane.work
        self.left = self.service.setup.left_handed(self.service.barista)
        self.busy = work is not None
        self.tastable = work is None and lane.last is not None and lane.last.sink is None
        self.undoable = bool(lane.last_work or (work and work.guide.before))
        if work is None:
            self.who, self.contains, self.step_names, self.step_marks = "", "", [], []
            self.second_shown = self.second_unit = self.big_unit = ""
            self.next_text = self.next_under = self.warning = self.side_text = self.second = self.stop_word = ""
            self.pulling, self.cued, self.coached, self.points = False, False, False, []
            self.first_track = self.second_track = []
            state = self.service.setup.closed.get(lane.group)
            self.title = f"{_('Group {n}').format(n=lane.group)} · {_('Free') if state is None else _(STATE_WORDS[state])}"
            self.big = last_figures(lane) if state is None else _(STATE_WORDS[state])
            self.big_colour = Colour.quiet if state is None else Colour.warn
            self.told = last_told(lane) if state is None else _("Nothing is planned here.")
            self.before = list(lane.last.trace) if state is None and lane.last is not None else []
            self.curved = bool(self.before)
            if self.curved:
                self.window = [*lane.last.recipe.time_window_s, *lane.last.recipe.yield_window_g]
            self.side_text = _("Not in use…") if state is None else _("Next state")
            self.cleaning = state == CLEANING
            rinsing = self.service.tasks.rinsing.get(lane.group)
            if rinsing is not None:
                self.title = f"{_('Group {n}').format(n=lane.group)} · {_('Cleaning')}"
                self.big, self.told = _(rinsing.words), _("Cleaner burns: gloves and eye protection. Hot water: hands away.")
                self.big_colour, self.curved, self.tastable, self.cleaning = Colour.warn, False, False, False
                self.side_text = _("Rinsed") if rinsing.rinses < RINSES else _("Poured away")
            self.big_shown = self.big
            return
        self.cleaning = False
        guide = work.guide
        self.title = f"{lane.group} · {drink_words(work.planned.title)}"
        self.every_step = _("every step")
        self.contains = contains_words(work.planned)
        self._steps = FIVE if guide.warm else FIVE[1:]
        self.step_names = [_(STEP_WORDS[step].short) for step in self._steps]
        self.step_marks = [mark(guide, step) for step in self._steps]
        self.step = guide.step
        self.strong = dose_kept_or_right(guide)
        self.coached = self.service.lanes.coached() is lane
        self.who = f"{work.barista} · {self.every_step}" if self.coached else work.barista or ""
        self.pulling = guide.pump_on_at_s is not None
        self.curved = self.pulling and guide.has_scale
        low_s, high_s = guide.recipe.time_window_s
        low_g, high_g = guide.recipe.yield_window_g
        self.window = [low_s, high_s, low_g, high_g]
        self.tick(lane)

    def tick(self, lane: Lane):
        work = lane.work
        if work is None:
            return
        self.stop_word = stop_told(work, self.service.clock.s())
        self.cued = bool(self.stop_word)
        key, self.next_under = next_key(self.service, work)
        self.next_text = key if not (self.cued and self.close) else self.stop_word if self.wide and not self.flat else _(STOP_NOW)
        self.side_text = _(side_key(self.service, work))
        self.big, self.big_colour, told = now_told(self.service, work)
        self.second, self.second_colour, said = second_figure(self.service, work)
        self.big_shown, self.big_unit = parted(self.big) if self.second else (self.big, "")
        self.second_shown, self.second_unit = parted(self.second)
        self.long = max(len(self.big_shown), len(self.second_shown)) > FEW_SIGNS
        if self.second:
            told = said_beside(said, work.guide, self.pulling, self.low or self.close, self.named)
        elif self.cued:
            told = windows_told(work.guide)         # the title, or the key, says to stop
        self.first_track, self.second_track, self.track_judged = tracks(self.service, work)
        self.before = list(lane.last.trace) if lane.last is not None else []
        self.told = told or (last_told(lane) if work.guide.step is Step.WARM and lane.last is not None else "")
        self.aim = _("Target") if aims(self.service, work) else ""
        warnings = self.service.lanes.warnings(self.group)
        hot = self.close and work.guide.step is Step.PURGE and warnings != (WHOSE_POUR,)       # the caution keeps its place
        self.warning = _(warnings[0]) if warnings and not hot else ""
        curve = work.pour_watch.curve if work.pour_watch is not None and self.pulling else ()
        if len(curve) - len(self.points) >= CURVE_STEP or len(curve) < len(self.points) or not work.guide.pulling:
            self.points = list(curve)


class LaneFigure(Key):
    """What a lane tells; with a `text` it is also the key that has no room of its own."""

    def flats(self) -> list[Flat]:
        return super().flats() if self.text else []

    def on_touch_down(self, touch):
        return super().on_touch_down(touch) if self.text else BoxLayout.on_touch_down(self, touch)


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
