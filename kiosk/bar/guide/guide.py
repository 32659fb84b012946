"""The guide: walks one pull through its steps. A pure step, (state, event) → state; replaying the events gives it back.

Taps come from a finger, sightings from the scale; both carry `t_s`, seconds on one monotonic clock. A sighting that
does not fit the moment changes nothing. Any tap, and any step the scale took by itself, can be undone: a state
remembers the one before it. What can happen is in `events`; this module takes each from there.
"""

from dataclasses import dataclass, fields, replace
from math import hypot
from typing import Any

from kiosk.bar.messages import Message
from kiosk.bar.model import (
    BRISK,
    CONTACT,
    EVERY_STEP,
    SCALE,
    TAPPED,
    Back,
    Bin,
    CupTaken,
    DoseSeen,
    DoseTapped,
    DropSeen,
    DropTapped,
    Event,
    Forward,
    GoTo,
    GroupPurged,
    Missed,
    NotTimed,
    PourOver,
    Pull,
    PumpOffSeen,
    PumpOnSeen,
    Recipe,
    ScaleSeen,
    SkipTo,
    Step,
    StopSeen,
    Tap,
    Undo,
    WhosePour,
    YieldSeen,
    YieldTapped,
    extreme,
    not_known,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Guide:
    """One pull on its way. Moments (`…_at_s`) are on the guide's clock; None is "has not happened" or "not known"."""

    recipe: Recipe
    full: bool = False                  # every step, for a new hire; else the brisk way
    warm: bool = True                   # there is a cup to warm
    has_scale: bool = False
    step: Step = Step.WARM
    began_at_s: float = 0.0
    entered_at_s: float = 0.0
    warmed: bool | None = None
    purged: bool | None = None
    dose_g: float | None = None
    dose_from: str | None = None
    dose_kept: bool = False
    dosed_at_s: float | None = None
    locked_at_s: float | None = None
    pump_on_at_s: float | None = None
    on_from: str | None = None
    on_within_s: float | None = None    # ± of pump_on_at_s, None where a hand told it
    drop_at_s: float | None = None
    drop_from: str | None = None
    pump_off_at_s: float | None = None
    off_from: str | None = None
    off_within_s: float | None = None
    stop_tapped_at_s: float | None = None
    taken_back_s: float | None = None   # a stop that was told and taken back
    yield_g: float | None = None
    yield_from: str | None = None
    sink: str | None = None
    done: bool = False
    skipped: tuple[Step, ...] = ()
    not_told: tuple[Step, ...] = ()
    step_s: tuple[tuple[str, float], ...] = ()
    notes: tuple[str, ...] = ()
    moved_at_s: float | None = None     # when what was seen, and no tap since, had another key to touch next
    before: "Guide | None" = None

    @property
    def first(self) -> Step:
        """Where it begins: without a cup to warm, with what comes after that."""
        return self.steps[0 if self.warm else 1]

    @property
    def steps(self) -> tuple[Step, ...]:
        return EVERY_STEP if self.full else BRISK

    @property
    def pulling(self) -> bool:
        return self.pump_on_at_s is not None and self.pump_off_at_s is None and self.step is Step.PULL

    @property
    def waiting_locked_in(self) -> bool:
        return self.step is Step.PULL and self.pump_on_at_s is None

    @property
    def ended(self) -> bool:
        return self.done or self.sink is not None

    @property
    def dose_fits(self) -> bool | None:
        return self.recipe.dose_fits(self.dose_g)

    @property
    def time_s(self) -> float | None:
        return _between(self.pump_on_at_s, self.pump_off_at_s)

    @property
    def time_within_s(self) -> float | None:
        """± of `time_s`, 19 times in 20; None where hands told both its ends, or there is none."""
        known = [each for each in (self.on_within_s, self.off_within_s) if each is not None]
        return hypot(*known) if known and self.time_s is not None else None

    @property
    def first_drop_s(self) -> float | None:
        return _between(self.pump_on_at_s, self.drop_at_s)

    @property
    def grind_to_pull_s(self) -> float | None:
        return _between(self.dosed_at_s, self.pump_on_at_s)

    @property
    def lock_to_pump_s(self) -> float | None:
        return _between(self.locked_at_s, self.pump_on_at_s)


def _between(start_s: float | None, end_s: float | None) -> float | None:
    return None if start_s is None or end_s is None else max(0.0, end_s - start_s)


NOTHING_SHARE = 0.2         # of the yield: less than that in the cup is no coffee to serve
CONFIRMS_S = 1.5            # a tap so soon after what was seen moved on was meant for the key that stood there before
BELIEVED = 2.0              # a stop tapped later than so many times the recipe's time, with nothing weighed, was forgotten
RESUMES_S = 0.4             # the signal again so soon after it went: it was the contact, and the pump ran on
REPLACES_S = 3.0            # the group's own signal so near a tap is the same pump going on or off, told better
LATE_STOP = Message("Stop was tapped long after the pull should have ended: its time is not known.")
LIFTED_EARLY = Message("The cup was lifted before the pump was seen to stop: the time is not known.")
MADE_NOT_TIMED = Message("It was made, and nobody timed it.")
SCALE_GONE = Message("The scale went away during this pull.")
NO_DOSE = Message("The dose was not measured.")
NO_FIRST_DROP = Message("The first drop was not measured.")
NO_YIELD = Message("The yield was not measured.")
PROBABLY_ITS = Message("Two pulls could have been this one: it was taken for the one whose first drop was due.")
PROBABLY = Message("Nobody told which group poured this: it was taken for the one that was ready first.")
UNCERTAIN = frozenset((PROBABLY_ITS, PROBABLY))
RESTARTED = Message("The kiosk restarted during this pull; times across it are by the wall clock.")



def begin(recipe: Recipe, t_s: float, *, full: bool = False, has_scale: bool = False, warm: bool = True,
          moved_at_s: float | None = None) -> Guide:
    """A pull's guide at its first step; without a cup to `warm`, at the one after that. `moved_at_s`: that of the pull before,
    whose key stood where this one's stands."""
    guide = Guide(recipe=recipe, full=full, warm=warm, has_scale=has_scale, began_at_s=t_s, entered_at_s=t_s, moved_at_s=moved_at_s)
    return replace(guide, step=guide.first)


def step(guide: Guide, event: Event) -> Guide:
    """The state after `event`. Taps on an ended guide do nothing, but for Undo.

    >>> from kiosk.bar.model import usual
    >>> guide = begin(usual("House", "double"), 0.0, has_scale=True)
    >>> for event in (Forward(5.0), DoseSeen(20.0, 16.1), Forward(25.0), Forward(30.0), Forward(32.0)):
    ...     guide = step(guide, event)
    >>> guide.step, guide.dose_g, guide.pulling
    (<Step.PULL: 'pull'>, 16.1, True)
    >>> guide = step(guide, StopSeen(58.0, 57.0, 0.25))
    >>> guide.time_s, step(guide, Undo(59.0)).pulling
    (25.0, True)
    """
    match event:
        case Undo():
            return _undone(guide)
        case _ if guide.ended:
            return guide
        case Forward() | Back() | SkipTo() | GoTo() | Bin() | DropTapped() | DoseTapped() | YieldTapped() | NotTimed():
            after = _tapped(guide, event)
            return after if after is guide else replace(after, before=guide, moved_at_s=None)
        case _:
            after = _seen(guide, event)
            if _asks(after) != _asks(guide):
                after = replace(after, moved_at_s=event.t_s)
            moved_on = (after.step, after.done) != (guide.step, guide.done)
            return replace(after, before=guide) if moved_on else after


def _asks(guide: Guide) -> tuple[object, ...]:
    """What the key to touch next would tell."""
    return guide.step, guide.ended, guide.pulling, guide.step is Step.DOSE and guide.dose_fits is False


def _tapped(guide: Guide, tap: Tap) -> Guide:
    match tap:
        case Forward(t_s) if guide.moved_at_s is not None and t_s - guide.moved_at_s < CONFIRMS_S:
            return guide
        case Forward(t_s):
            return _forward(guide, t_s)
        case Back(t_s):
            return _back(guide, t_s)
        case GoTo(t_s, name) if Step(name) in guide.steps:
            return _go_to(guide, Step(name), t_s)
        case SkipTo(t_s, name) if Step(name) in guide.steps:
            return _skip(guide, Step(name), t_s)
        case Bin(t_s, why):
            return _left(replace(guide, sink=why or "binned",
                                 pump_off_at_s=t_s if guide.pulling else guide.pump_off_at_s,
                                 off_from=TAPPED if guide.pulling else guide.off_from), t_s)
        case DropTapped(t_s) if guide.pulling and guide.drop_at_s is None:
            return replace(guide, drop_at_s=t_s, drop_from=TAPPED)
        case DoseTapped(t_s, dose_g):
            told = replace(guide, dose_g=dose_g, dose_from=TAPPED, dose_kept=False)     # by whoever wrote until the pump was on, too
            return told if guide.pump_on_at_s is not None else replace(told, dosed_at_s=guide.dosed_at_s or t_s)
        case NotTimed(t_s) if guide.step is not Step.SERVE:
            return _untimed(guide, t_s)
        case YieldTapped(_, yield_g) if guide.pump_off_at_s is not None:
            return _yields(guide, yield_g, TAPPED)
    return guide


def _undone(guide: Guide) -> Guide:
    """The state before; a stop that is taken back is remembered, in case it is given again."""
    before = guide.before
    if before is None:
        return guide
    if before.pulling and guide.pump_off_at_s is not None and guide.sink is None:
        return replace(before, taken_back_s=guide.pump_off_at_s)
    return before


def _forward(guide: Guide, t_s: float) -> Guide:
    match guide.step:
        case Step.WARM:
            return _next(replace(guide, warmed=True), t_s)
        case Step.DOSE:
            return _next(replace(guide, dosed_at_s=guide.dosed_at_s or t_s, dose_kept=guide.dose_fits is False), t_s)
        case Step.PURGE:
            # The brisk way locks in with the same tap: the clock on a loaded portafilter starts here, never late.
            return _next(replace(guide, purged=True, locked_at_s=None if guide.full else t_s), t_s)
        case Step.LOCK:
            return _next(replace(guide, locked_at_s=t_s), t_s)
        case Step.PULL if guide.pump_on_at_s is None:
            return replace(guide, pump_on_at_s=t_s, on_from=TAPPED)
        case Step.PULL if guide.taken_back_s is not None and _since(guide, t_s) > guide.recipe.time_window_s[1]:
            return _next(replace(guide, pump_off_at_s=guide.taken_back_s, off_from=TAPPED, taken_back_s=None), t_s)
        case Step.PULL if not _believed(guide, t_s):
            late = replace(guide, stop_tapped_at_s=t_s)
            return _next(_noted(late, LATE_STOP), t_s)
        case Step.PULL:
            return _next(replace(guide, pump_off_at_s=t_s, off_from=TAPPED, off_within_s=None), t_s)
        case Step.SERVE:
            return _left(replace(guide, done=True), t_s)
    return _next(guide, t_s)


TOLD_AT_STOP = "pump_off_at_s", "off_from", "off_within_s", "stop_tapped_at_s", "yield_g", "yield_from"
FOUND_AT = {
    Step.WARM: ("warmed",),
    Step.DOSE: ("dose_g", "dose_from", "dose_kept", "dosed_at_s"),
    Step.PURGE: ("purged",),
    Step.LOCK: ("locked_at_s",),
    Step.PULL: ("pump_on_at_s", "on_from", "on_within_s", "drop_at_s", "drop_from", *TOLD_AT_STOP),
}
NOTHING_YET: dict[str, Any] = {field.name: field.default for field in fields(Guide)}


def _back(guide: Guide, t_s: float) -> Guide:
    steps = guide.steps
    place = steps.index(guide.step)
    if guide.pump_off_at_s is not None and steps[place - 1] is Step.PULL:       # the pump ran: its stop is told again
        again = {name: NOTHING_YET[name] for name in TOLD_AT_STOP}
        return replace(_left(guide, t_s), step=Step.PULL, taken_back_s=guide.pump_off_at_s, **again)
    if guide.step is Step.PULL and guide.pump_on_at_s is not None:
        target = Step.PULL              # back from a running pull: the pump was not on
    elif guide.step is guide.first:
        return guide
    else:
        target = steps[place - 1]
    forgotten = [name for each in EVERY_STEP[EVERY_STEP.index(target):] for name in FOUND_AT.get(each, ())
                 if not (target is Step.PULL and each is Step.LOCK)]
    return replace(_left(guide, t_s), step=target, skipped=tuple(s for s in guide.skipped if s != target),
                   not_told=tuple(s for s in guide.not_told if s != target),
                   **{name: NOTHING_YET[name] for name in forgotten})


def _skip(guide: Guide, target: Step, t_s: float) -> Guide:
    steps = guide.steps
    here, there = steps.index(guide.step), steps.index(target)
    if there <= here or there > steps.index(Step.PULL):
        return guide
    missed = steps[here:there]
    changes: dict[str, Any] = {}
    if Step.WARM in missed:
        changes["warmed"] = False
    if Step.PURGE in missed:
        changes["purged"] = False
    if target is Step.PULL:
        changes["locked_at_s"] = guide.locked_at_s or t_s
    return replace(_left(guide, t_s), step=target, skipped=(*guide.skipped, *missed), **changes)


def _go_to(guide: Guide, target: Step, t_s: float) -> Guide:
    """To a step whose label was touched. What was passed over is neither done nor skipped: nobody told."""
    here, there = guide.steps.index(guide.step), guide.steps.index(target)
    if guide.pump_on_at_s is not None or there > guide.steps.index(Step.PULL):
        return guide                    # a pull that runs is not left by a touch on a word
    while guide.steps.index(guide.step) > there:
        guide = _back(guide, t_s)
    if there <= here:
        return guide
    missed = tuple(each for each in guide.steps[here:there] if each not in guide.skipped)
    locked: dict[str, Any] = {"locked_at_s": guide.locked_at_s or t_s} if target is Step.PULL else {}
    return replace(_left(guide, t_s), step=target, not_told=(*guide.not_told, *missed), **locked)


def _believed(guide: Guide, t_s: float) -> bool:
    """Whether a stop tapped at `t_s` can be the moment at which the pump stopped, where no scale has a say."""
    return (guide.has_scale and guide.drop_from == SCALE) or _since(guide, t_s) <= BELIEVED * guide.recipe.time_s


def _since(guide: Guide, t_s: float) -> float:
    """Seconds since the pump went on; 0 before."""
    return _between(guide.pump_on_at_s, t_s) or 0.0


def _untimed(guide: Guide, t_s: float) -> Guide:
    """On to the cup, with nothing made up on the way."""
    on = _to_the_pull(guide, t_s) if guide.step is not Step.PULL else guide
    return _noted(replace(_left(on, t_s), step=Step.SERVE), MADE_NOT_TIMED)


def _to_the_pull(guide: Guide, t_s: float) -> Guide:
    """What was seen shows that the steps up to the pull are over; of those nobody told, it is not known."""
    steps = guide.steps
    missed = steps[steps.index(guide.step):steps.index(Step.PULL)]
    if Step.DOSE in missed and guide.dose_g is not None:
        missed = tuple(step for step in missed if step is not Step.DOSE)
    if Step.PURGE in missed and guide.purged:
        missed = tuple(step for step in missed if step is not Step.PURGE)
    return replace(_left(guide, t_s), step=Step.PULL, not_told=(*guide.not_told, *missed))


def _pump_on(guide: Guide, seen: PumpOnSeen) -> Guide:
    if EVERY_STEP.index(guide.step) > EVERY_STEP.index(Step.PULL):
        stopped_s = guide.pump_off_at_s if seen.source == guide.off_from == CONTACT else None
        if stopped_s is not None and 0 <= seen.at_s - stopped_s <= RESUMES_S:
            return replace(_left(guide, seen.t_s), step=Step.PULL, pump_off_at_s=None, off_from=None, off_within_s=None)
        return guide
    told: dict[str, Any] = {"pump_on_at_s": seen.at_s, "on_from": seen.source, "on_within_s": seen.within_s, "moved_at_s": seen.t_s}
    if guide.pump_on_at_s is None:
        on = guide if guide.step is Step.PULL else _to_the_pull(guide, seen.t_s)
        return replace(on, **told)
    better = guide.on_from == SCALE or abs(seen.at_s - guide.pump_on_at_s) <= REPLACES_S
    return replace(guide, **told) if better and seen.source != SCALE else guide


def _pump_off(guide: Guide, seen: PumpOffSeen) -> Guide:
    told: dict[str, Any] = {"pump_off_at_s": max(seen.at_s, guide.pump_on_at_s or seen.at_s), "off_from": seen.source, "off_within_s": seen.within_s}
    if guide.pump_off_at_s is None:
        return _next(replace(guide, **told), seen.t_s) if guide.step is Step.PULL else replace(guide, **told)
    nearby = guide.pump_off_at_s is not None and abs(seen.at_s - guide.pump_off_at_s) <= REPLACES_S
    return replace(guide, **told) if nearby else guide


def _purged(guide: Guide, t_s: float) -> Guide:
    """The group ran shortly. Where the pull had been taken to begin with it, it had not."""
    if guide.pulling and guide.drop_at_s is None:
        return replace(guide, purged=True, **{name: NOTHING_YET[name] for name in FOUND_AT[Step.PULL]})
    if guide.pump_on_at_s is not None or EVERY_STEP.index(guide.step) > EVERY_STEP.index(Step.PULL):
        return guide
    guide = replace(guide, purged=True, skipped=tuple(step for step in guide.skipped if step is not Step.PURGE))
    return _next(guide, t_s) if guide.step is Step.PURGE else guide


def _not_its_pour(guide: Guide, t_s: float) -> Guide:
    """Nothing that only the scale had shown of the pour stays; what hands and the group's signal told does."""
    by_scale = {("drop_at_s", "drop_from"): guide.drop_from, ("yield_g", "yield_from"): guide.yield_from,
                ("pump_off_at_s", "off_from", "off_within_s"): guide.off_from}
    fields_of_it = [name for names, source in by_scale.items() if source == SCALE for name in names]
    bare = replace(guide, **{name: NOTHING_YET[name] for name in fields_of_it})
    still_on = guide.step is Step.SERVE and bare.pump_off_at_s is None
    return replace(_left(bare, t_s), step=Step.PULL) if still_on else bare


def _seen(guide: Guide, sighting: Event) -> Guide:
    match sighting:
        case PumpOnSeen():
            return _pump_on(guide, sighting)
        case PumpOffSeen() if guide.pump_on_at_s is not None:
            return _pump_off(guide, sighting)
        case GroupPurged(t_s):
            return _purged(guide, t_s)
        case PourOver(t_s, _) if guide.pulling:
            return _noted(replace(_left(guide, t_s), done=True), LIFTED_EARLY)
        case DoseSeen(t_s, dose_g) if guide.pump_on_at_s is None:
            return _dose_seen(guide, dose_g, t_s)
        case DropSeen(_, at_s) if guide.pump_on_at_s is not None and guide.drop_from != TAPPED:
            return replace(guide, drop_at_s=at_s, drop_from=SCALE)
        case WhosePour(t_s, its_own) if guide.pump_on_at_s is not None:
            told = replace(guide, notes=tuple(each for each in guide.notes if each not in UNCERTAIN))
            return told if its_own else _not_its_pour(told, t_s)
        case StopSeen(t_s, at_s, within_s) if guide.pump_on_at_s is not None and guide.pump_off_at_s is None:
            stopped = replace(guide, pump_off_at_s=max(at_s, guide.pump_on_at_s), off_from=SCALE, off_within_s=within_s)
            return _next(stopped, t_s) if guide.step is Step.PULL else stopped
        case YieldSeen(_, yield_g) if guide.pump_on_at_s is not None and guide.yield_from != TAPPED:
            return _yields(guide, max(0.0, yield_g), SCALE)        # nothing in a cup weighs less than nothing
        case CupTaken(t_s) if guide.step is Step.SERVE:
            if guide.yield_g is not None and guide.yield_g < NOTHING_SHARE * guide.recipe.yield_g and \
                    extreme(guide.recipe, guide.time_s, guide.yield_g) == "choked":
                return _left(replace(guide, sink="choked"), t_s)        # nobody serves an empty cup
            return _left(replace(guide, done=True), t_s)
        case Missed(_, why):
            return _noted(guide, why)
        case ScaleSeen(_, there):
            gone_in_pull = guide.has_scale and not there and guide.pump_on_at_s is not None and guide.yield_g is None
            guide = replace(guide, has_scale=there)
            return _noted(guide, SCALE_GONE) if gone_in_pull else guide
    return guide


def _dose_seen(guide: Guide, dose_g: float, t_s: float) -> Guide:
    seen = replace(guide, dose_g=dose_g, dose_from=SCALE)
    if EVERY_STEP.index(guide.step) > EVERY_STEP.index(Step.DOSE):
        # Weighed again after the step, say with a pinch taken out: the later weight is the true one.
        return replace(seen, dose_kept=guide.dose_kept and seen.dose_fits is False)
    seen = replace(seen, dosed_at_s=t_s if seen.dose_fits else None)
    return _next(seen, t_s) if guide.step is Step.DOSE and seen.dose_fits else seen


def _next(guide: Guide, t_s: float) -> Guide:
    steps = guide.steps
    on = replace(_left(guide, t_s), step=steps[steps.index(guide.step) + 1])
    # Dosed while the cup was still warming: the brisk way does not ask for the dose again.
    return _next(on, t_s) if on.step is Step.DOSE and on.dose_fits and not on.full else on


def _left(guide: Guide, t_s: float) -> Guide:
    """The step is left: its seconds are kept."""
    return replace(guide, entered_at_s=t_s, step_s=(*guide.step_s, (str(guide.step), max(0.0, t_s - guide.entered_at_s))))


def _yields(guide: Guide, yield_g: float, how: str) -> Guide:
    """The yield is known, after all if need be."""
    return replace(guide, yield_g=yield_g, yield_from=how, notes=tuple(each for each in guide.notes if each not in not_known.EVERY))


def _noted(guide: Guide, note: str) -> Guide:
    return guide if note in guide.notes else replace(guide, notes=(*guide.notes, note))


# ---- what it all comes to -----------------------------------------------------------------------------------------

def warnings(guide: Guide, t_s: float, *, lock_to_pump_s: float, grind_to_pull_s: float) -> tuple[str, ...]:
    """What to say aloud at `t_s`, each limit in seconds: a portafilter waiting in a hot group, grounds going stale."""
    if not guide.ended and SCALE_GONE in guide.notes and guide.yield_g is None:
        return (SCALE_GONE,)            # so that nobody waits for its cue
    if guide.ended or guide.pump_on_at_s is not None or guide.step in (Step.JUDGE, Step.SERVE):
        return ()                       # too late to mend; the record has the seconds
    said = []
    locked_s = _between(guide.locked_at_s, t_s)
    if locked_s is not None and locked_s > lock_to_pump_s:
        said.append(Message("Locked in {locked_s:.0f} s. Start at once: it scorches.", locked_s=locked_s))
    ground_s = _between(guide.dosed_at_s, t_s)
    if ground_s is not None and ground_s > grind_to_pull_s:
        said.append(Message("Ground {ground_s:.0f} s ago. Grind just before.", ground_s=ground_s))
    return tuple(said)


def finished(guide: Guide, **about: Any) -> Pull:
    """The record of an ended guide. `about` are the fields of Pull that the guide does not know: id, at, grinder …"""
    notes = list(guide.notes)
    if guide.pump_on_at_s is not None:
        for found, unknown in ((guide.dose_g, NO_DOSE), (guide.first_drop_s, NO_FIRST_DROP), (guide.yield_g, NO_YIELD)):
            if found is None:
                notes.append(unknown)
    return Pull(
        recipe=guide.recipe, coffee=guide.recipe.coffee,
        dose_g=guide.dose_g, dose_from=guide.dose_from, dose_kept=guide.dose_kept,
        yield_g=guide.yield_g, yield_from=guide.yield_from,
        time_s=guide.time_s, time_from=guide.off_from if guide.time_s is not None else None,
        time_within_s=None if guide.time_within_s is None else round(guide.time_within_s, 2), on_from=guide.on_from,
        stop_tapped_s=_between(guide.pump_on_at_s, guide.stop_tapped_at_s),
        first_drop_s=guide.first_drop_s, first_drop_from=guide.drop_from if guide.first_drop_s is not None else None,
        grind_to_pull_s=guide.grind_to_pull_s, lock_to_pump_s=guide.lock_to_pump_s,
        warmed=guide.warmed, purged=guide.purged, skipped=tuple(str(s) for s in guide.skipped),
        not_told=tuple(str(s) for s in guide.not_told),
        step_s=guide.step_s, sink=guide.sink, notes=tuple(notes), **about)
