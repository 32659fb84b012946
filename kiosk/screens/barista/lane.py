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

from kiosk.bar.guide import AFTER, Guide, Trouble
from kiosk.bar.guide import guide as guides
from kiosk.bar.model import FIVE, PlannedPull, Step, beside
from kiosk.bar.model.setup import CLEANING, HEATING, OUT
from kiosk.bar.model.tasks import RINSES
from kiosk.bar.weighing import cue_on_time, to_mend_g
from kiosk.screens.ui.handed import Handed
from kiosk.screens.ui.look import Colour, look
from kiosk.screens.ui.sheet import Flat, changed, outlined, rounded
from kiosk.screens.ui.touch import RING, Key
from kiosk.screens.ui.words import N_, STEP_WORDS, _, amount, drink_words, judged, number, window
from kiosk.station.lane import Lane, Work

STATE_WORDS = {HEATING: N_("Heating"), CLEANING: N_("Cleaning"), OUT: N_("Out of order")}
# Whether there is a figure, not what it is: nothing is laid out anew as it changes, and no rule of the layout is asked again.
THERE = {"big": "figured", "second": "paired", "first_track": "tracked", "second_track": "both_tracked"}
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
    first_track = ListProperty()        # of the big figure, and of the second: see ui.track
    second_track = ListProperty()
    track_judged = BooleanProperty(False)
    stop_word = StringProperty()        # in the title's place, as long as the pump should be stopped
    before = ListProperty()             # the last pull's curve
    told = StringProperty()
    warning = StringProperty()
    told_here = StringProperty()
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
        self.strong = guide.step is not Step.DOSE or guide.dose_fits is not False
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
        self.next_text, self.next_under = next_key(work, None if work.guide.pulling else self.service.lanes.trouble(self.group))
        self.side_text = _(side_key(self.service, work))
        self.big, self.big_colour, told = now_told(self.service, work)
        self.second, self.second_colour, said = second_figure(self.service, work)
        if self.second:
            told = said_beside(said, work.guide, self.pulling, self.narrow or self.low, self.named)
        elif self.cued:
            told = windows_told(work.guide)         # the title says to stop
        self.first_track, self.second_track, self.track_judged = tracks(self.service, work)
        self.before = list(lane.last.trace) if lane.last is not None else []
        self.told = told or (last_told(lane) if work.guide.step is Step.WARM and lane.last is not None else "")
        warnings = self.service.lanes.warnings(self.group)
        self.warning = _(warnings[0]) if warnings else ""
        curve = work.pour_watch.curve if work.pour_watch is not None and self.pulling else ()
        if len(curve) - len(self.points) >= CURVE_STEP or len(curve) < len(self.points) or not work.guide.pulling:
            self.points = list(curve)


def mark(guide: guides.Guide, step: Step) -> str:
    """done, now, ahead, skipped or untold: where the guide stands to one of the five. A step between two goes with the first."""
    order = guides.EVERY_STEP.index
    begun = [each for each in FIVE if order(each) <= order(guide.step)]
    if step in guide.skipped:
        return "skipped"
    if step in guide.not_told:
        return "untold"
    if step is begun[-1] and order(guide.step) <= order(Step.PULL):
        return "now"
    return "done" if step in begun else "ahead"


BIN_IT, SERVE_ANYWAY = N_("Bin it"), N_("Serve anyway")


def next_key(work: Work, wrong: Trouble | None = None) -> tuple[str, str]:
    """What the key to touch next says, and the line under it; a spoilt pull is to be poured away."""
    guide, planned = work.guide, work.planned
    if wrong is not None and wrong.bin and not guide.pulling:
        return _(BIN_IT), ""
    words = STEP_WORDS[guide.step]
    match guide.step:
        case Step.WARM:
            cups = {drink.cup for drink in planned.drinks}
            cup = _(cups.pop()) if len(cups) == 1 else _("two cups") if cups else _("1 cup")
            return _(words.done), f"{planned.cups} × {cup}" if planned.cups > 1 else cup
        case Step.DOSE if guide.dose_fits is False:
            return _("Keep it"), _("pull with this dose")
        case Step.DOSE:
            return _(words.done), _("or let the scale see it") if guide.has_scale and guide.dose_g is None else ""
        case Step.PURGE if not guide.full:
            return _("Purged"), _("and locked in")
        case Step.PULL if guide.pump_on_at_s is None:
            return _("Pump on"), ""
        case Step.PULL:
            return _("Stop"), ""
        case Step.SERVE:
            return _("Served"), goes_with(work)
    return _(words.done), ""


FIRST_DROP, NOTE_DOSE, NOTE_YIELD = N_("First drop"), N_("Note dose"), N_("Note yield")
MADE = N_("Made, not timed")


def side_key(service, work: Work | None) -> str:
    """What can be said by hand now because no scale says it; "" for nothing."""
    if work is None:
        return ""
    guide = work.guide
    if not guide.pulling and guide.pump_off_at_s is not None and (wrong := service.lanes.trouble(work.group)) is not None and wrong.bin:
        return SERVE_ANYWAY
    if guide.has_scale and (guide.pump_on_at_s is not None or service.scales.of(work.group).busy_with(work.group) is None):
        return ""
    if guide.pulling:
        return FIRST_DROP if guide.drop_at_s is None else ""
    if guide.pump_off_at_s is not None:
        return NOTE_YIELD
    if guide.step in (Step.DOSE, Step.LEVEL, Step.TAMP):
        return NOTE_DOSE
    listened_to = any(each.group == work.group for each in service.setup.signals)
    return MADE if not (guide.full or listened_to or guide.has_scale or work.untouched) else ""


def tap_side(service, group: int, note) -> None:
    """What that key does: the first drop is seen now, or `note(group)` asks for the weight."""
    if side_key(service, service.lanes[group].work) == FIRST_DROP:
        service.tap(group, guides.DropTapped)
    elif side_key(service, service.lanes[group].work) == SERVE_ANYWAY:
        service.tap(group, guides.Forward)
    elif side_key(service, service.lanes[group].work) == MADE:
        service.tap(group, guides.NotTimed)
    else:
        note(group)


def contains_words(planned: PlannedPull) -> str:
    return _("Contains {what}").format(what=", ".join(_(each) for each in planned.allergens)) if planned.allergens else ""


def goes_with(work: Work) -> str:
    """The cup, and what goes beside or into it."""
    parts = []
    for drink in dict.fromkeys(work.planned.drinks):
        parts += [_(drink.milk)] if drink.milk else [_(drink.after)] if drink.after else []
        parts += [_(drink.beside)] if drink.beside else []
    return ", ".join(dict.fromkeys(parts))


def now_told(service, work: Work) -> tuple[str, list, str]:
    """The big figure, its colour, and the line under it."""
    guide, recipe = work.guide, work.guide.recipe
    t_s = service.clock.s()
    if guide.pump_on_at_s is not None or guide.step is Step.SERVE:
        return pull_told(work, t_s)
    if work.group in service.scales.of(work.group).claims.asking:
        return "?", Colour.warn, _("Coffee pours")
    match guide.step:
        case Step.DOSE | Step.LEVEL:
            return dose_told(service, work)
        case Step.PULL:
            waited = t_s - (guide.locked_at_s or t_s)
            return f"{waited:.0f} s", Colour.next, _("Start at once")
        case Step.PURGE:
            return f"{recipe.purge_s:.0f} s", Colour.water, _("Hot water: hands away")
        case Step.TAMP:
            told = amount(guide.dose_g, ".1f", "g") if guide.dose_g is not None else ""
            return told, Colour.text, _("Light, firm, polish")
        case Step.WARM:
            return (_("2 cups") if work.planned.cups == 2 else _("1 cup")), Colour.quiet, ""
    return "", Colour.text, _(STEP_WORDS[guide.step].what)


def dose_told(service, work: Work) -> tuple[str, list, str]:
    guide, recipe = work.guide, work.guide.recipe
    busy = service.scales.of(work.group).busy_with(work.group)
    if busy is not None and guide.dose_g is None:
        return amount(recipe.dose_g, "g", "g"), Colour.quiet, _("Target: the scale serves group {n}").format(n=busy)
    wanted = _("Target {dose:g} g").format(dose=recipe.dose_g)
    if not guide.has_scale and guide.dose_g is None:
        return amount(recipe.dose_g, "g", "g"), Colour.quiet, _("Target: weigh it by hand")
    live_g = work.dose_watch.grams if work.dose_watch is not None and guide.has_scale else None
    if guide.dose_g is not None and (live_g is None or abs(live_g - guide.dose_g) > 30):
        live_g = guide.dose_g
    if live_g is None:
        return "–", Colour.quiet, wanted
    if work.dose_watch is not None and work.dose_watch.unclear:
        return "?", Colour.warn, _("Which portafilter? Show it empty first.")
    if work.dose_watch is not None and work.dose_watch.holds_empty:
        return amount(live_g, ".1f", "g"), Colour.text, _("Portafilter tared. {wanted}").format(wanted=wanted)
    if not -1 <= live_g <= 60:
        return "–", Colour.quiet, wanted
    mend = to_mend_g(recipe, live_g)
    if mend is None:
        return amount(live_g, ".1f", "g"), Colour.good, _("Right")
    if abs(mend) >= 9.95:           # so far off nobody reads tenths, and two figures stay as large as one
        told = _("add {g:.0f} g") if mend > 0 else _("take out {g:.0f} g")
    else:
        told = _("add {g:.1f} g") if mend > 0 else _("take out {g:.1f} g")
    return amount(live_g, ".1f", "g"), Colour.text, told.format(g=abs(mend)) if live_g > 2 else wanted


def second_figure(service, work: Work) -> tuple[str, list, str]:
    """The figure beside the big one, its colour, and what there is to say of both: grams in the cup while a pull is weighed,
    what a dose lacks or has too much; an empty one where there is no more to show."""
    guide, recipe = work.guide, work.guide.recipe
    if guide.step in (Step.DOSE, Step.LEVEL) and guide.pump_on_at_s is None:
        figure, _colour, said = dose_told(service, work)
        others = guide.dose_g is None and service.scales.of(work.group).busy_with(work.group) is not None
        live_g = work.dose_watch.grams if work.dose_watch is not None and guide.has_scale else guide.dose_g
        weighed = figure.endswith(" g") and live_g is not None and -1 <= live_g <= 60 and live_g > 2
        mend = to_mend_g(recipe, live_g) if weighed else None
        if mend is None or others:
            return "", Colour.text, ""
        sign = "+" if mend > 0 else "−"
        return f"{sign}{amount(abs(mend), '.1f', 'g')}", Colour.warn, said
    if guide.pump_on_at_s is None:
        return "", Colour.text, ""
    watch = work.pour_watch
    live_g = watch.grams if watch is not None and guide.has_scale else None
    grams = guide.yield_g if guide.yield_g is not None else live_g
    if grams is None:
        return "", Colour.text, ""
    waits_s = service.clock.s() - guide.pump_on_at_s if guide.pulling and guide.drop_at_s is None else 0.0
    late = waits_s > recipe.first_drop_to_s
    longest_s = recipe.time_window_s[1]
    if waits_s and waits_s <= longest_s and watch is not None and watch.comes:  # past that nothing flows, and that is said
        return amount(max(0.0, grams), ".1f", "g"), Colour.text, _("coffee comes")
    if guide.pump_off_at_s is None:
        return amount(max(0.0, grams), ".1f", "g"), Colour.text, _("no drop yet") if late else ""
    shown, *_ends = beside(max(0.0, grams), recipe.yield_window_g)
    return amount(shown, ".1f", "g"), Colour.good if recipe.yield_fits(grams) else Colour.warn, ""


def windows_told(guide: Guide) -> str:
    """What seconds and grams should come to, where no curve says it."""
    ends_s, ends_g = guide.recipe.time_window_s, guide.recipe.yield_window_g
    if guide.time_s is not None:
        _, *ends_s = beside(guide.time_s, ends_s)
    if guide.yield_g is not None:
        _, *ends_g = beside(guide.yield_g, ends_g)
    return f"{window(*ends_s)} s, {window(*ends_g)} g"


def said_beside(said: str, guide: Guide, pulling: bool, short: bool, named: bool) -> str:
    """The line under two live figures. On a narrow or low lane the figures have the room: their signs and tracks say the rest."""
    if short:
        return said if pulling else ""
    return said if not pulling or named else f"{said}  {windows_told(guide)}".strip()


DOSE_FROM_G = 5.0       # below its target a dose's track begins: the last grams are what is looked at


def tracks(service, work: Work) -> tuple[list[float], list[float], bool]:
    """What the tracks under the two figures show, and whether it is judged by now."""
    guide, recipe = work.guide, work.guide.recipe
    if guide.pump_on_at_s is None:
        if guide.step not in (Step.DOSE, Step.LEVEL):
            return [], [], False
        figure, _colour, said = dose_told(service, work)
        dose_g = guide.dose_g
        if guide.has_scale and work.dose_watch is not None and work.dose_watch.grams is not None:
            dose_g = work.dose_watch.grams
        if dose_g is None or not 2 < dose_g <= 60 or not figure.endswith(" g"):
            return [], [], False
        return [recipe.dose_g - DOSE_FROM_G, dose_g, *recipe.dose_window_g], [], True
    if guide.pump_off_at_s is None and not guide.pulling:
        return [], [], False
    elapsed_s = (guide.pump_off_at_s or service.clock.s()) - guide.pump_on_at_s
    watch = work.pour_watch
    grams = guide.yield_g if guide.yield_g is not None else watch.grams if watch is not None and guide.has_scale else None
    in_cup = [] if grams is None else [0.0, max(0.0, grams), *recipe.yield_window_g]
    return [0.0, elapsed_s, *recipe.time_window_s], in_cup, not guide.pulling


def past_time(work: Work, t_s: float) -> bool:
    on_s = work.guide.pump_on_at_s
    return on_s is not None and t_s - on_s > work.guide.recipe.time_window_s[1]


def pull_told(work: Work, t_s: float) -> tuple[str, list, str]:
    guide, recipe = work.guide, work.guide.recipe
    if not guide.pulling and guide.pump_off_at_s is None:
        grams = _("yield not weighed") if guide.yield_g is None else amount(guide.yield_g, ".1f", "g")
        return "–", Colour.quiet, _("Not timed, {yield_}").format(yield_=grams)
    elapsed = (guide.pump_off_at_s or t_s) - guide.pump_on_at_s
    low, high = recipe.time_window_s
    watch = work.pour_watch
    live_g = watch.grams if watch is not None and guide.has_scale else None
    grams = guide.yield_g if guide.yield_g is not None else live_g
    weight = "" if grams is None else _("{g:.1f} g of {target:.0f}").format(g=max(0.0, grams), target=recipe.yield_g)
    if not guide.pulling:
        shown, *ends = beside(elapsed, (low, high))
        colour = Colour.good if recipe.time_fits(elapsed) else Colour.warn
        return number(shown, ".1f"), colour, f"{window(*ends)} s, {weight or _('yield not weighed')}"
    if cued(work, t_s):
        told = _("Stop: past its time") if elapsed > high else _("Stop now")
        return number(elapsed, ".1f"), Colour.on_next, f"{told}  {weight}".strip()
    if guide.first_drop_s is not None:
        weight = weight or _("first drop {s:.1f} s").format(s=guide.first_drop_s)
    elif elapsed > recipe.first_drop_to_s:
        weight = _("no drop yet") + (f"  {weight}" if weight else "")
    return number(elapsed, ".1f"), Colour.text, weight


def cued(work: Work, t_s: float) -> bool:
    """The pump should be stopped now: the scale's cue, or the recipe's time where there is no scale. Never where the
    machine stops by its own volume."""
    guide = work.guide
    if not guide.pulling or work.by_volume:
        return False
    by_time = cue_on_time(guide.recipe, t_s - guide.pump_on_at_s)
    weighed = guide.has_scale and work.pour_watch is not None and work.pour_watch.grams is not None
    return work.cue_at_s is not None or by_time == "pale" or (by_time is not None and not weighed)


def stop_told(work: Work, t_s: float) -> str:
    """"" as long as the pump need not be stopped."""
    if not cued(work, t_s):
        return ""
    return _("Past its time: stop") if past_time(work, t_s) else _("Stop now")


def last_figures(lane: Lane) -> str:
    """What the last pull of a free group came to."""
    last = lane.last
    if last is None:
        return ""
    measured = ((last.time_s, last.recipe.time_window_s, "s"), (last.yield_g, last.recipe.yield_window_g, "g"))
    return ", ".join(amount(beside(value, ends)[0], ".1f", unit) for value, ends, unit in measured if value is not None)


def last_told(lane: Lane) -> str:
    """How the last pull was; of one that was poured away, what to do otherwise."""
    if lane.last is not None and lane.last.sink in AFTER:
        return _(AFTER[lane.last.sink])
    return f"{_('Last')}: {judged(lane.last_said)}" if lane.last_said is not None else ""


class LaneFigure(Key):
    """What a lane tells; with a `text` it is also the key that has no room of its own."""

    def flats(self) -> list[Flat]:
        return super().flats() if self.text else []

    def on_touch_down(self, touch):
        return super().on_touch_down(touch) if self.text else BoxLayout.on_touch_down(self, touch)


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
