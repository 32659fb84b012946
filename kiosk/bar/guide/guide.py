"""The guide: walks one pull through its steps. A pure step, (state, event) → state; replaying the events gives it back.

Taps come from a finger, sightings from the scale; both carry `t_s`, seconds on one monotonic clock. A sighting that
does not fit the moment changes nothing. Any tap, and any step the scale took by itself, can be undone: a state
remembers the one before it. What can happen is in `events`; this module takes each from there.
"""

from dataclasses import dataclass, fields, replace

from kiosk.bar.model import (
    BRISK,
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
    Missed,
    Pull,
    Recipe,
    ScaleSeen,
    SkipTo,
    Step,
    StopSeen,
    Tap,
    Undo,
    YieldSeen,
    YieldTapped,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Guide:
    """One pull on its way. Moments (`…_at_s`) are on the guide's clock; None is "has not happened" or "not known"."""

    recipe: Recipe
    full: bool = False                  # every step, for a new hire; else the brisk way
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
    drop_at_s: float | None = None
    drop_from: str | None = None
    pump_off_at_s: float | None = None
    off_from: str | None = None
    yield_g: float | None = None
    yield_from: str | None = None
    sink: str | None = None
    done: bool = False
    skipped: tuple[Step, ...] = ()
    step_s: tuple[tuple[str, float], ...] = ()
    notes: tuple[str, ...] = ()
    before: "Guide | None" = None

    @property
    def steps(self) -> tuple[Step, ...]:
        return EVERY_STEP if self.full else BRISK

    @property
    def pulling(self) -> bool:
        return self.pump_on_at_s is not None and self.pump_off_at_s is None

    @property
    def waiting_locked_in(self) -> bool:
        return self.step is Step.PULL and self.pump_on_at_s is None

    @property
    def ended(self) -> bool:
        return self.done or self.sink is not None

    @property
    def dose_fits(self) -> bool | None:
        if self.dose_g is None:
            return None
        low, high = self.recipe.dose_window_g
        return low - 1e-6 <= self.dose_g <= high + 1e-6

    @property
    def time_s(self) -> float | None:
        return _between(self.pump_on_at_s, self.pump_off_at_s)

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


SCALE_GONE = "The scale went away during this pull."
RESTARTED = "The kiosk restarted during this pull; times across it are by the wall clock."



def begin(recipe: Recipe, t_s: float, *, full: bool = False, has_scale: bool = False) -> Guide:
    return Guide(recipe=recipe, full=full, has_scale=has_scale, began_at_s=t_s, entered_at_s=t_s)


def step(guide: Guide, event: Event) -> Guide:
    """The state after `event`. Taps on an ended guide do nothing, but for Undo."""
    match event:
        case Undo():
            return guide.before or guide
        case _ if guide.ended:
            return guide
        case Forward() | Back() | SkipTo() | Bin() | DropTapped() | DoseTapped() | YieldTapped():
            after = _tapped(guide, event)
            return after if after is guide else replace(after, before=guide)
        case _:
            after = _seen(guide, event)
            moved_on = (after.step, after.done) != (guide.step, guide.done)
            return replace(after, before=guide) if moved_on else after


def _tapped(guide: Guide, tap: Tap) -> Guide:
    match tap:
        case Forward(t_s):
            return _forward(guide, t_s)
        case Back(t_s):
            return _back(guide, t_s)
        case SkipTo(t_s, name) if Step(name) in guide.steps:
            return _skip(guide, Step(name), t_s)
        case Bin(t_s, why):
            return _left(replace(guide, sink=why or "binned",
                                 pump_off_at_s=t_s if guide.pulling else guide.pump_off_at_s,
                                 off_from=TAPPED if guide.pulling else guide.off_from), t_s)
        case DropTapped(t_s) if guide.pulling and guide.drop_at_s is None:
            return replace(guide, drop_at_s=t_s, drop_from=TAPPED)
        case DoseTapped(t_s, dose_g) if guide.pump_on_at_s is None:
            return replace(guide, dose_g=dose_g, dose_from=TAPPED, dosed_at_s=guide.dosed_at_s or t_s, dose_kept=False)
        case YieldTapped(_, yield_g) if guide.pump_off_at_s is not None:
            return replace(guide, yield_g=yield_g, yield_from=TAPPED)
    return guide


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
            return replace(guide, pump_on_at_s=t_s)
        case Step.PULL:
            return _next(replace(guide, pump_off_at_s=t_s, off_from=TAPPED), t_s)
        case Step.SERVE:
            return _left(replace(guide, done=True), t_s)
    return _next(guide, t_s)


FOUND_AT = {
    Step.WARM: ("warmed",),
    Step.DOSE: ("dose_g", "dose_from", "dose_kept", "dosed_at_s"),
    Step.PURGE: ("purged",),
    Step.LOCK: ("locked_at_s",),
    Step.PULL: ("pump_on_at_s", "drop_at_s", "drop_from", "pump_off_at_s", "off_from", "yield_g", "yield_from"),
}
NOTHING_YET = {field.name: field.default for field in fields(Guide)}


def _back(guide: Guide, t_s: float) -> Guide:
    steps = guide.steps
    place = steps.index(guide.step)
    if guide.step is Step.PULL and guide.pump_on_at_s is not None:
        target = Step.PULL              # back from a running pull: the pump was not on
    elif place == 0:
        return guide
    else:
        target = steps[place - 1]
    forgotten = [name for each in EVERY_STEP[EVERY_STEP.index(target):] for name in FOUND_AT.get(each, ())
                 if not (target is Step.PULL and each is Step.LOCK)]
    return replace(_left(guide, t_s), step=target, skipped=tuple(s for s in guide.skipped if s != target),
                   **{name: NOTHING_YET[name] for name in forgotten})


def _skip(guide: Guide, target: Step, t_s: float) -> Guide:
    steps = guide.steps
    here, there = steps.index(guide.step), steps.index(target)
    if there <= here or there > steps.index(Step.PULL):
        return guide
    missed = steps[here:there]
    changes = {}
    if Step.WARM in missed:
        changes["warmed"] = False
    if Step.PURGE in missed:
        changes["purged"] = False
    if target is Step.PULL:
        changes["locked_at_s"] = guide.locked_at_s or t_s
    return replace(_left(guide, t_s), step=target, skipped=(*guide.skipped, *missed), **changes)


def _seen(guide: Guide, sighting: Event) -> Guide:
    match sighting:
        case DoseSeen(t_s, dose_g) if guide.pump_on_at_s is None:
            return _dose_seen(guide, dose_g, t_s)
        case DropSeen(_, at_s) if guide.pump_on_at_s is not None and guide.drop_from != TAPPED:
            return replace(guide, drop_at_s=at_s, drop_from=SCALE)
        case StopSeen(t_s, at_s) if guide.pulling:
            return _next(replace(guide, pump_off_at_s=max(at_s, guide.pump_on_at_s), off_from=SCALE), t_s)
        case YieldSeen(_, yield_g) if guide.pump_on_at_s is not None and guide.yield_from != TAPPED:
            return replace(guide, yield_g=yield_g, yield_from=SCALE)
        case CupTaken(t_s) if guide.step is Step.SERVE:
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


def _noted(guide: Guide, note: str) -> Guide:
    return guide if note in guide.notes else replace(guide, notes=(*guide.notes, note))


# ---- what it all comes to -----------------------------------------------------------------------------------------

def warnings(guide: Guide, t_s: float, *, lock_to_pump_s: float, grind_to_pull_s: float) -> tuple[str, ...]:
    """What to say aloud at `t_s`, each limit in seconds: a portafilter waiting in a hot group, grounds going stale."""
    if not guide.ended and SCALE_GONE in guide.notes and guide.yield_g is None:
        return (SCALE_GONE,)            # so that nobody waits for its cue
    if guide.ended or guide.pump_on_at_s is not None:
        return ()                       # too late to mend; the record has the seconds
    said = []
    locked_s = _between(guide.locked_at_s, t_s)
    if locked_s is not None and locked_s > lock_to_pump_s:
        said.append(f"Locked in {locked_s:.0f} s. Start at once: the hot group scorches the coffee.")
    ground_s = _between(guide.dosed_at_s, t_s)
    if ground_s is not None and ground_s > grind_to_pull_s:
        said.append(f"Ground {ground_s:.0f} s ago. Grind only what this pull needs, then pull.")
    return tuple(said)


def finished(guide: Guide, **about) -> Pull:
    """The record of an ended guide. `about` are the fields of Pull that the guide does not know: id, at, grinder …"""
    notes = list(guide.notes)
    if guide.pump_on_at_s is not None:
        for found, what in ((guide.dose_g, "dose"), (guide.first_drop_s, "first drop"), (guide.yield_g, "yield")):
            if found is None:
                notes.append(f"The {what} was not measured.")
    return Pull(
        recipe=guide.recipe, coffee=guide.recipe.coffee,
        dose_g=guide.dose_g, dose_from=guide.dose_from, dose_kept=guide.dose_kept,
        yield_g=guide.yield_g, yield_from=guide.yield_from,
        time_s=guide.time_s, time_from=guide.off_from if guide.time_s is not None else None,
        first_drop_s=guide.first_drop_s, first_drop_from=guide.drop_from if guide.first_drop_s is not None else None,
        grind_to_pull_s=guide.grind_to_pull_s, lock_to_pump_s=guide.lock_to_pump_s,
        warmed=guide.warmed, purged=guide.purged, skipped=tuple(str(s) for s in guide.skipped),
        step_s=guide.step_s, sink=guide.sink, notes=tuple(notes), **about)
