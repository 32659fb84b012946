"""What the timers of grinders that dose by time want tomorrow: the same sum as in service, over the records of the day."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from kiosk.bar.drift import Dosing
from kiosk.bar.evening.figures import Figures, GrinderFigures, moment
from kiosk.bar.model import Pull, SettingChanged


@dataclass(frozen=True, slots=True, kw_only=True)
class TimerWanted:
    """The timer of `grinder`, with `coffee`, stands at `timer_s` and wants `tenths` of a second more (less: < 0): its last
    `doses`, those of `record_ids`, lay `off_g` off the recipe (light: < 0), at `g_per_s` grams a second."""

    grinder: str
    coffee: str
    timer_s: float
    tenths: int
    off_g: float
    doses: int
    g_per_s: float
    record_ids: tuple[str, ...]


def timers_wanted(figures: Figures, changes: Sequence[SettingChanged], timers: Mapping[str, float]) -> tuple[TimerWanted, ...]:
    """`changes` of the settings, the earliest first, left each grinder's timer at `timers`, in seconds."""
    began, by_id = timers_before(changes, timers), {pull.id: pull for pull in figures.pulls}
    found = (_wanted(each, by_id, changes, began.get(each.grinder, 0.0)) for each in figures.grinders)
    return tuple(each for each in found if each is not None)


def timers_before(changes: Iterable[SettingChanged], timers: Mapping[str, float]) -> dict[str, float]:
    """Where the timers stood before `changes`, the earliest first, which left them at `timers`."""
    found = dict(timers)
    for change in reversed(list(changes)):
        found |= {name: before_s for name, (before_s, _) in _set(change).items()}
    return found


def _set(change: SettingChanged) -> dict[str, tuple[float, float]]:
    """By grinder, the timer before and after a change of the settings; a grinder that it does not speak of is not in it."""
    match change.path.split("."):
        case ["grinders"]:
            before, after = (each if isinstance(each, dict) else {} for each in (change.before, change.after))
            return {name: (_timer_of(before.get(name)), _timer_of(after.get(name))) for name in {**before, **after}}
        case ["grinders", name]:
            return {name: (_timer_of(change.before), _timer_of(change.after))}
        case ["grinders", name, "timer_s"]:
            return {name: (_seconds(change.before), _seconds(change.after))}
    return {}


def _timer_of(grinder: Any) -> float:
    return _seconds(grinder.get("timer_s")) if isinstance(grinder, dict) else 0.0


def _seconds(value: Any) -> float:
    return float(value) if isinstance(value, int | float) else 0.0


def _wanted(each: GrinderFigures, by_id: Mapping[str, Pull], changes: Sequence[SettingChanged],
            began_s: float) -> TimerWanted | None:
    """By the doses since the collar was turned last, as a notch changes what the timer grinds, even where it was turned back; those
    before it tell its pace."""
    dosing = Dosing(began_s)
    weighed: list[Pull] = []
    own = [(change.at, seconds[each.grinder][1]) for change in changes if each.grinder in (seconds := _set(change))]
    turns = [moment(move.at) for move in each.moves]
    for n, run in enumerate(each.runs):
        if n and (run.setting != each.runs[n - 1].setting or any(moment(each.runs[n - 1].since) < at <= moment(run.since) for at in turns)):
            dosing.turned()
        for pull in (by_id[id] for id in run.told):
            while own and moment(own[0][0]) <= moment(pull.at):
                dosing.set_timer(own.pop(0)[1])
            dosing.observe(pull)
            weighed += [pull] if dosing.takes(pull) else []
    for _, timer_s in own:
        dosing.set_timer(timer_s)
    if each.runs and any(at > moment(each.runs[-1].since) for at in turns):
        dosing.turned()
    wanted = dosing.wanted
    return None if wanted is None else TimerWanted(
        grinder=each.grinder, coffee=each.coffee, timer_s=dosing.timer_s, tenths=wanted.tenths, off_g=wanted.off_g,
        doses=wanted.doses, g_per_s=wanted.g_per_s, record_ids=tuple(pull.id for pull in weighed[-wanted.doses:]))
