"""Who pulled: how alike their doses and times were, which way they lean, and which steps were left out; and who would gain
most from the practice bar. For the manager alone; by name, never by speed, and what the grinder did is not put down to the
hands."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import sqrt
from statistics import fmean, stdev

from kiosk.bar.evening.day_chart import DayChart
from kiosk.bar.evening.figures import Figures, dose_off, moment
from kiosk.bar.evening.trend import mean_within
from kiosk.bar.messages import Message
from kiosk.bar.model import Pull

LEAST = 5               # pulls before a spread is told
LEAST_COMPARED = 20     # pulls on each side before a person's share is set against the others'
LEAST_SAVED, SURE = 3.0, 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Hands:
    """One person's pulls. `dose_sd_g`: spread of weighed doses about the recipe's; `time_sd_s`: spread of adjusted times
    once each setting run's level and the grinder's drift are taken out; `lean_s` is their mean, how far this person's pulls run
    from everybody's, and `lean_within_s` its 95 % interval's half-width. None where there are too few. `early` are those of
    the first drops `seen` that came well before their window."""

    name: str
    pulls: tuple[str, ...]
    dose_sd_g: float | None
    doses: tuple[str, ...]
    time_sd_s: float | None
    times: tuple[str, ...]
    skipped: tuple[tuple[str, int], ...]
    skipped_in: tuple[str, ...]
    lean_s: float | None
    lean_within_s: float | None
    seen: tuple[str, ...]
    early: tuple[str, ...]
    doses_off: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Practice:
    """Who would gain most from the practice bar, and at what: `n` of `all` pulls had the fault, `others` is the share among the
    others (0–1)."""

    name: str
    fault: Message
    n: int
    all: int
    others: float
    pulls: tuple[str, ...]


def practice(hands: Sequence[Hands]) -> Practice | None:
    """Where most pulls would be saved if this person did as the others do: none where nobody stands out by more than chance
    does (two standard errors of the difference of two shares), or where there is nobody else."""
    best, saved = None, LEAST_SAVED
    for each in hands:
        for fault, all_of, with_it in FAULTS:
            n, all_ = len(with_it(each)), len(all_of(each))
            others = [other for other in hands if other is not each]
            m, all_m = sum(len(with_it(other)) for other in others), sum(len(all_of(other)) for other in others)
            if min(all_, all_m) < LEAST_COMPARED:
                continue
            share, both = m / all_m, (n + m) / (all_ + all_m)
            sd = sqrt(both * (1 - both) * (1 / all_ + 1 / all_m))
            if n - all_ * share >= saved and n / all_ - share > SURE * sd:
                best = Practice(name=each.name, fault=fault, n=n, all=all_, others=share, pulls=with_it(each))
                saved = n - all_ * share
    return best


# What the practice bar teaches: of which pulls, and those that had the fault.
FAULTS: tuple[tuple[Message, Callable[[Hands], tuple[str, ...]], Callable[[Hands], tuple[str, ...]]], ...] = (
    (Message("an even tamp"), lambda each: each.seen, lambda each: each.early),
    (Message("weighing each dose"), lambda each: each.doses, lambda each: each.doses_off),
    (Message("the steps in their order"), lambda each: each.pulls, lambda each: each.skipped_in))


def people(figures: Figures, charts: Sequence[DayChart]) -> tuple[Hands, ...]:
    rest = _rest(figures, charts)
    names = sorted({pull.barista for pull in figures.pulls if pull.barista})
    told = {pull.id: pull.early for each in figures.grinders for run in each.told for pull in run}
    return tuple(_hands(name, [pull for pull in figures.pulls if pull.barista == name], rest, told) for name in names)


def _hands(name: str, pulls: Sequence[Pull], rest: dict[str, float], early: Mapping[str, bool | None]) -> Hands:
    lean_s, lean_within_s = mean_within([rest[pull.id] for pull in pulls if pull.id in rest] or [0.0])
    doses = [pull for pull in pulls if pull.dose_g is not None]
    off_g = [pull.dose_g - pull.recipe.dose_g for pull in pulls if pull.dose_g is not None]
    times = [pull for pull in pulls if pull.id in rest]
    steps = [step for pull in pulls for step in pull.skipped]
    return Hands(
        name=name, pulls=tuple(pull.id for pull in pulls),
        doses=tuple(pull.id for pull in doses), times=tuple(pull.id for pull in times),
        dose_sd_g=stdev(off_g) if len(off_g) >= LEAST else None,
        time_sd_s=stdev(rest[pull.id] for pull in times) if len(times) >= LEAST else None,
        skipped=tuple((step, steps.count(step)) for step in dict.fromkeys(steps)),
        skipped_in=tuple(pull.id for pull in pulls if pull.skipped),
        lean_s=lean_s if len(times) >= LEAST else None, lean_within_s=lean_within_s if len(times) >= LEAST else None,
        seen=tuple(pull.id for pull in pulls if early.get(pull.id) is not None),
        early=tuple(pull.id for pull in pulls if early.get(pull.id)),
        doses_off=tuple(pull.id for pull in doses if dose_off(pull)))


def _rest(figures: Figures, charts: Sequence[DayChart]) -> dict[str, float]:
    """Seconds of each pull that neither its setting run's level nor the grinder's drift explain, by id."""
    rest: dict[str, float] = {}
    for each, chart in zip(figures.grinders, charts):
        slope = each.drift.s_per_hour if each.drift else 0.0
        by_id = {point.id: point for point in chart.points}
        for run in each.runs:
            points = [by_id[id] for id in run.told]
            if len(points) < 2:
                continue
            since = moment(points[0].at)
            level = {p.id: p.off_s - slope * (moment(p.at) - since).total_seconds() / 3600 for p in points}
            mean = fmean(level.values())
            rest |= {id: value - mean for id, value in level.items()}
    return rest
