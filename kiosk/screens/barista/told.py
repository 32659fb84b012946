"""What a lane tells: its figures and what is said of them, what its keys say, where its steps stand. No widgets here."""

from kiosk.bar.guide import AFTER, Guide
from kiosk.bar.guide import guide as guides
from kiosk.bar.model import FIVE, PlannedPull, Step, beside
from kiosk.bar.weighing import cue_on_time, to_mend_g
from kiosk.screens.ui.look import Colour
from kiosk.screens.ui.words import N_, STEP_WORDS, _, amount, judged, number, window
from kiosk.station.lane import Lane, Work


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


BIN_IT, SERVE_ANYWAY, PUMP_ON, STOP_NOW = N_("Bin it"), N_("Serve anyway"), N_("Pump on"), N_("Stop now")


def next_key(service, work: Work) -> tuple[str, str]:
    """What the key to touch next says, and the line under it; a spoilt pull is to be poured away."""
    guide, planned, scale = work.guide, work.planned, service.scales.of(work.group)
    wrong = service.lanes.trouble(work.group)
    if wrong is not None and wrong.bin and not guide.pulling:
        return _(BIN_IT), ""
    if work.group in scale.claims.asking:
        return _(PUMP_ON), ""
    words = STEP_WORDS[guide.step]
    match guide.step:
        case Step.WARM:
            cups = {drink.cup for drink in planned.drinks}
            cup = _(cups.pop()) if len(cups) == 1 else _("two cups") if cups else _("1 cup")
            return _(words.done), f"{planned.cups} × {cup}" if planned.cups > 1 else cup
        case Step.DOSE if guide.dose_fits is False:
            return _("Keep it"), _("pull with this dose")
        case Step.DOSE:
            seen = guide.has_scale and guide.dose_g is None and scale.busy_with(work.group) is None
            return _(words.done), _("or let the scale see it") if seen else ""
        case Step.PURGE if not guide.full:
            return _("Purged"), _("and locked in")
        case Step.PULL if guide.pump_on_at_s is None:
            return _(PUMP_ON), ""
        case Step.PULL:
            return _("Stop"), ""
        case Step.SERVE:
            return _("Served"), goes_with(work)
    return _(words.done), ""


def dose_kept_or_right(guide: Guide) -> bool:
    """Whether to go on is the one thing to do next: not over a dose that is off and that nobody said to keep."""
    return guide.dose_fits is not False or guide.dose_kept or guide.step not in (Step.DOSE, Step.LEVEL, Step.TAMP)


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
    elsewhere = guide.step in (Step.PURGE, Step.JUDGE, Step.SERVE)      # where a caution stands, and where it is made
    return MADE if not (guide.full or listened_to or guide.has_scale or work.untouched or elsewhere) else ""


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


DOSED_G, DOSE_TO_G = 2.0, 60.0      # what is a dose begun, and what none any more
TENTHS_TO_G = 9.95      # a dose further off is told in whole grams: nobody reads tenths, and two figures stay as large as one


def aims(service, work: Work) -> bool:
    """Whether what is shown of the dose is only what it should come to: nothing is weighed, or another group's."""
    return work.guide.step in (Step.DOSE, Step.LEVEL) and work.guide.dose_g is None and (
        not work.guide.has_scale or service.scales.of(work.group).busy_with(work.group) is not None)


def dose_shown_g(service, work: Work) -> float | None:
    """What the dose weighs, as far as it can be told: live, or as it was noted where no dose stands on the scale."""
    if aims(service, work):
        return None
    guide, watch = work.guide, work.dose_watch
    live_g = watch.grams if watch is not None and guide.has_scale else None
    if guide.dose_g is None or live_g is not None and (DOSED_G < live_g <= DOSE_TO_G or watch.holds_empty):
        return live_g
    return guide.dose_g


def dose_told(service, work: Work) -> tuple[str, list, str]:
    guide, recipe = work.guide, work.guide.recipe
    wanted = _("Target {dose:g} g").format(dose=recipe.dose_g)
    if guide.dose_g is None and (busy := service.scales.of(work.group).busy_with(work.group)) is not None:
        return amount(recipe.dose_g, "g", "g"), Colour.quiet, _("Target: the scale serves group {n}").format(n=busy)
    if guide.dose_g is None and not guide.has_scale:
        return amount(recipe.dose_g, "g", "g"), Colour.quiet, _("Target: weigh it by hand")
    dose_g = dose_shown_g(service, work)
    if dose_g is None:
        return "–", Colour.quiet, wanted
    if work.dose_watch is not None and work.dose_watch.unclear:
        return "?", Colour.warn, _("Which portafilter? Show it empty first.")
    if work.dose_watch is not None and work.dose_watch.holds_empty:
        return amount(dose_g, ".1f", "g"), Colour.text, _("Portafilter tared. {wanted}").format(wanted=wanted)
    if not -1 <= dose_g <= DOSE_TO_G:
        return "–", Colour.quiet, wanted
    mend = to_mend_g(recipe, dose_g)
    if mend is None:
        return amount(dose_g, ".1f", "g"), Colour.good, _("Right")
    if abs(mend) >= TENTHS_TO_G:
        told = _("add {g:.0f} g") if mend > 0 else _("take out {g:.0f} g")
    else:
        told = _("add {g:.1f} g") if mend > 0 else _("take out {g:.1f} g")
    return amount(dose_g, ".1f", "g"), Colour.text, told.format(g=abs(mend)) if dose_g > DOSED_G else wanted


def dosed_g(service, work: Work) -> float | None:
    """The same where there is coffee in it, and no doubt of whose portafilter it is."""
    dose_g = dose_shown_g(service, work) if work.guide.step in (Step.DOSE, Step.LEVEL) else None
    if dose_g is None or not DOSED_G < dose_g <= DOSE_TO_G or (work.dose_watch is not None and work.dose_watch.unclear):
        return None
    return dose_g


def second_figure(service, work: Work) -> tuple[str, list, str]:
    """The figure beside the big one, its colour, and what there is to say of both: grams in the cup while a pull is weighed,
    what a dose lacks or has too much; an empty one where there is no more to show."""
    guide, recipe = work.guide, work.guide.recipe
    if guide.pump_on_at_s is None:
        dose_g = dosed_g(service, work)
        mend = to_mend_g(recipe, dose_g) if dose_g is not None else None
        if mend is None:
            return "", Colour.text, ""
        _figure, _colour, said = dose_told(service, work)
        return f"{'+' if mend > 0 else '−'}{amount(abs(mend), '.1f' if abs(mend) < TENTHS_TO_G else '.0f', 'g')}", Colour.warn, said
    grams = cup_g(work)
    if grams is None:
        return "", Colour.text, ""
    shown = amount(grams, ".1f", "g")
    waits_s = service.clock.s() - guide.pump_on_at_s if guide.pulling and guide.drop_at_s is None else 0.0
    late = waits_s > recipe.first_drop_to_s
    if waits_s and waits_s <= recipe.time_window_s[1] and work.pour_watch is not None and work.pour_watch.comes:
        return shown, Colour.text, _("coffee comes")       # past that nothing flows, and that is said
    if guide.pump_off_at_s is None:
        return shown, Colour.text, _("no drop yet") if late else ""
    shown, *_ends = beside(grams, recipe.yield_window_g)
    return amount(shown, ".1f", "g"), Colour.good if recipe.yield_fits(grams) else Colour.warn, ""


def cup_g(work: Work) -> float | None:
    """Grams in the cup: the yield, or what the scale shows of it so far."""
    guide, watch = work.guide, work.pour_watch
    live_g = watch.grams if watch is not None and guide.has_scale else None
    grams = guide.yield_g if guide.yield_g is not None else live_g
    return None if grams is None else max(0.0, grams)


def parted(figure: str) -> tuple[str, str]:
    """Its number, and its unit; one that says no unit is a pull's seconds."""
    number_, blank, unit = figure.partition(" ")
    return number_, unit if blank else "s" if figure[:1].isdigit() else ""


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
        dose_g = dosed_g(service, work)
        return [] if dose_g is None else [recipe.dose_g - DOSE_FROM_G, dose_g, *recipe.dose_window_g], [], dose_g is not None
    if guide.pump_off_at_s is None and not guide.pulling:
        return [], [], False
    elapsed_s, grams = (guide.pump_off_at_s or service.clock.s()) - guide.pump_on_at_s, cup_g(work)
    in_cup = [] if grams is None else [0.0, grams, *recipe.yield_window_g]
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
    grams = cup_g(work)
    weight = "" if grams is None else _("{g:.1f} g of {target:.0f}").format(g=grams, target=recipe.yield_g)
    if not guide.pulling:
        shown, *ends = beside(elapsed, (low, high))
        colour = Colour.good if recipe.time_fits(elapsed) else Colour.warn
        return number(shown, ".1f"), colour, f"{window(*ends)} s, {weight or _('yield not weighed')}"
    if cued(work, t_s):
        told = _("Stop: past its time") if elapsed > high else _(STOP_NOW)
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
    return _("Past its time: stop") if past_time(work, t_s) else _(STOP_NOW)


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
