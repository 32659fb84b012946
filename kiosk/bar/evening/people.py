"""Who pulled: how alike their doses and times were, and which steps were left out. For the manager alone; by name,
never by speed, and what the grinder did is not put down to the hands."""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean, stdev

from kiosk.bar.evening.day_chart import DayChart
from kiosk.bar.evening.figures import Figures, moment

LEAST = 5       # pulls before a spread is told


@dataclass(frozen=True, slots=True, kw_only=True)
class Hands:
    """One person's pulls. `dose_sd_g`: spread of weighed doses about the recipe's; `time_sd_s`: spread of even times
    once each stretch's level and the grinder's drift are taken out. None where there are too few."""

    name: str
    pulls: tuple[str, ...]
    dose_sd_g: float | None
    doses: tuple[str, ...]
    time_sd_s: float | None
    times: tuple[str, ...]
    skipped: tuple[tuple[str, int], ...]
    skipped_in: tuple[str, ...]


def people(figures: Figures, charts: Sequence[DayChart]) -> tuple[Hands, ...]:
    rest = _rest(figures, charts)
    names = sorted({pull.barista for pull in figures.pulls if pull.barista})
    return tuple(_hands(name, [pull for pull in figures.pulls if pull.barista == name], rest) for name in names)


def _hands(name: str, pulls, rest: dict[str, float]) -> Hands:
    doses = [pull for pull in pulls if pull.dose_g is not None]
    times = [pull for pull in pulls if pull.id in rest]
    steps = [step for pull in pulls for step in pull.skipped]
    return Hands(
        name=name, pulls=tuple(pull.id for pull in pulls),
        doses=tuple(pull.id for pull in doses), times=tuple(pull.id for pull in times),
        dose_sd_g=stdev(pull.dose_g - pull.recipe.dose_g for pull in doses) if len(doses) >= LEAST else None,
        time_sd_s=stdev(rest[pull.id] for pull in times) if len(times) >= LEAST else None,
        skipped=tuple((step, steps.count(step)) for step in dict.fromkeys(steps)),
        skipped_in=tuple(pull.id for pull in pulls if pull.skipped))


def _rest(figures: Figures, charts: Sequence[DayChart]) -> dict[str, float]:
    """Seconds of each pull that neither its stretch's level nor the grinder's drift explain, by id."""
    rest = {}
    for each, chart in zip(figures.grinders, charts):
        slope = each.drift.s_per_hour if each.drift else 0.0
        by_id = {point.id: point for point in chart.points}
        for stretch in each.stretches:
            points = [by_id[id] for id in stretch.told]
            if len(points) < 2:
                continue
            since = moment(points[0].at)
            level = {p.id: p.off_s - slope * (moment(p.at) - since).total_seconds() / 3600 for p in points}
            mean = fmean(level.values())
            rest |= {id: value - mean for id, value in level.items()}
    return rest
