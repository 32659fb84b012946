"""What a notch of one grinder is worth in seconds, and its drift in notches an hour, each with its 95 % interval."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import exp, sqrt
from statistics import fmean, median

from kiosk.bar.evening.figures import GrinderFigures, PullOffRecipe, SettingRun
from kiosk.bar.evening.trend import t_quantile

LEAST = 3       # pulls on each side of a move that is counted
# What else moves the time, each in spreads of a single pull (from memory; chosen on the demo fortnight):
LEAN = 0.6              # a person, and the smaller basket: 3–5 % of the time
PACE, FADES_H = 0.5, 0.7       # how fast a grinder goes, an hour, and how long it keeps to that
PACE_AT_OPENING = 3.0           # while it warms up
ODD_AT, NEAR = 2.5, 6   # a pull further than that from the middle of its neighbours is held there (so many on each side)
MAD = 1.4826            # from the median deviation to the standard deviation of a normal law
UNKNOWN = 1e6           # variance of what nothing is known of beforehand
Z = 1.959964
NOTCH_S, NOTCH_SD_S = 2.0, 1.0      # what a notch is worth before a move was seen (common practice: 1–4 s)


@dataclass(frozen=True, slots=True)
class Within:
    """A figure and the ends of its 95 % interval."""

    value: float
    low: float
    high: float
    count: int

    @property
    def sd(self) -> float:
        """The standard error that the interval was made of, as if the value were normal."""
        return (self.high - self.low) / 2 / Z


@dataclass(frozen=True, slots=True)
class NotchWorth:
    """`s`: seconds that one notch finer adds, and `sd_s` its standard error. `by_drift`: its covariance with the drift."""

    s: Within
    by_drift: float
    sd_s: float


def notch_worth(each: GrinderFigures) -> NotchWorth | None:
    """From all pulls of each day with a move, hands, basket and drift in the model; `s.count` is the moves with three pulls
    on both sides. None where there is no such move.

    A level that goes at a pace which fades and comes anew, fastest while the grinder warms up, and that falls by a notch's
    worth at each turn: Kalman's filter (1960), all variances in those of a single pull, which the surprises give (Harvey,
    Forecasting, Structural Time Series Models and the Kalman Filter, 1989, 3.4). That a collar is turned because the last
    pulls ran off does no harm: the filter knows those pulls.
    """
    runs = [(run, pulls) for run, pulls in zip(each.runs, each.told) if pulls]
    moves = sum(_is_move(a, b) and min(len(before), len(after)) >= LEAST
                for (a, before), (b, after) in zip(runs, runs[1:]))
    begun = 1 + sum(not _is_move(a, b) for (a, _), (b, _) in zip(runs, runs[1:]))
    freedom = sum(len(pulls) for _, pulls in runs) - begun - 1
    if not moves or freedom < 1:
        return None
    slope = _slope_weights([pulls for _, pulls in runs])
    (value, by_slope), spread, squares = _filtered(_held(runs), slope)
    variance = squares / freedom
    if variance < 1e-9:
        return None
    sd_s = sqrt(variance * spread)
    reach = t_quantile(0.975, freedom) * sd_s
    return NotchWorth(Within(value, value - reach, value + reach, moves), variance * by_slope, sd_s)


def _is_move(before: SettingRun, after: SettingRun) -> bool:
    return before.day == after.day and before.setting != after.setting


def _held(runs: Sequence[tuple[SettingRun, Sequence[PullOffRecipe]]]) -> list[tuple[SettingRun, list[PullOffRecipe]]]:
    """The setting runs with odd pulls held near their neighbours: a tilted tamp says nothing of the grinder."""
    middles = [[median(near.off_s for near in pulls[max(0, n - NEAR):n + NEAR + 1]) for n in range(len(pulls))]
               for _, pulls in runs]
    apart = [abs(pull.off_s - middle) for (_, pulls), of_it in zip(runs, middles) for pull, middle in zip(pulls, of_it)]
    most_s = ODD_AT * MAD * median(apart)
    return [(run, [pull._replace(off_s=max(middle - most_s, min(middle + most_s, pull.off_s)))
                       for pull, middle in zip(pulls, of_it)]) for (run, pulls), of_it in zip(runs, middles)]


def _slope_weights(told: Sequence[Sequence[PullOffRecipe]]) -> dict[str, float]:
    """By pull: the day's drift is the sum of the seconds off with these weights."""
    hours = {pull.id: pull.hours - fmean(each.hours for each in pulls) for pulls in told for pull in pulls}
    spread = sum(hour ** 2 for hour in hours.values())
    return {id: hour / spread if spread > 0 else 0.0 for id, hour in hours.items()}


def _filtered(runs: Sequence[tuple[SettingRun, Sequence[PullOffRecipe]]],
              slope: Mapping[str, float]) -> tuple[tuple[float, float], float, float]:
    """(a notch's worth as the seconds off have it, and the same sum made of `slope` instead: their covariance), its variance
    in those of a pull, and the squares of the surprises."""
    labels = sorted({label for _, pulls in runs for pull in pulls for label in pull.labels})
    names = {name: n for n, name in enumerate(("level", "pace", "notch", *labels))}
    beforehand = [UNKNOWN, PACE_AT_OPENING ** 2, UNKNOWN, *(LEAN ** 2 for _ in labels)]
    known = [[variance * (i == j) for j in range(len(names))] for i, variance in enumerate(beforehand)]
    values, of_slope = [0.0] * len(names), [0.0] * len(names)
    squares, last, hours = 0.0, None, 0.0
    for run, pulls in runs:
        if last is None or not _is_move(last, run):
            hours = pulls[0].hours
            for at in (0, 1):           # another day, or another recipe: level and pace are anyone's guess again
                for row in known:
                    row[at] = 0.0
                known[at] = [0.0] * len(names)
                known[at][at] = beforehand[at]
                values[at] = of_slope[at] = 0.0
        last = run
        for pull in pulls:
            _passed(max(0.0, pull.hours - hours), known, values, of_slope)
            hours = max(hours, pull.hours)
            given = {0: 1.0, 2: runs[0][0].setting - run.setting} | {names[label]: 1.0 for label in pull.labels}
            carried = [sum(row[n] * x for n, x in given.items()) for row in known]
            total = 1 + sum(carried[n] * x for n, x in given.items())
            surprise, other = (seen - sum(found[n] * x for n, x in given.items())
                               for seen, found in ((pull.off_s, values), (slope[pull.id], of_slope)))
            squares += surprise ** 2 / total
            values = [value + c * surprise / total for value, c in zip(values, carried)]
            of_slope = [value + c * other / total for value, c in zip(of_slope, carried)]
            known = [[k - c * b / total for k, b in zip(row, carried)] for row, c in zip(known, carried)]
    return (values[2], of_slope[2]), known[2][2], squares


def _passed(hours: float, known: list[list[float]], *values: list[float]) -> None:
    """So many hours went by: the level went at its pace, the pace faded and another came."""
    left = exp(-hours / FADES_H)
    went_h = FADES_H * (1 - left)
    for value in values:
        value[0] += went_h * value[1]
        value[1] *= left
    known[0] = [k + went_h * pace for k, pace in zip(*known[:2])]
    known[1] = [left * pace for pace in known[1]]
    for row in known:
        row[0] += went_h * row[1]
        row[1] *= left
    known[1][1] += PACE ** 2 * (1 - left ** 2)


def together(today: NotchWorth | None, before: Within | None) -> NotchWorth | None:
    """The day's own moves and those of the weeks before, each counting by how sure it is; where no weeks are known,
    what is usual (2 ± 1 s, common practice), which holds its sign and size."""
    if before is None:
        usual = Within(NOTCH_S, NOTCH_S - Z * NOTCH_SD_S, NOTCH_S + Z * NOTCH_SD_S, 0)
        return None if today is None else together(today, usual)
    if today is None:
        return NotchWorth(before, 0.0, before.sd)
    one, other = 1 / today.s.sd ** 2, 1 / before.sd ** 2
    value, reach = (one * today.s.value + other * before.value) / (one + other), Z / sqrt(one + other)
    return NotchWorth(Within(value, value - reach, value + reach, today.s.count + before.count),
                      today.by_drift * one / (one + other), reach / Z)


def notches_per_hour(each: GrinderFigures, worth: NotchWorth | None) -> Within | None:
    """The drift in notches an hour, positive where the collar has to follow coarser.

    A ratio of two uncertain figures: its interval is Fieller's (Quarterly J. of the Royal Statistical Society B 16,
    1954), None where the worth of a notch is not sure enough for one.
    """
    if each.drift is None or worth is None or worth.s.value <= Z * worth.s.sd:
        return None
    drift, drift_sd = each.drift.s_per_hour, (each.drift.high - each.drift.low) / 2 / Z
    a = worth.s.value ** 2 - (Z * worth.s.sd) ** 2
    b = drift * worth.s.value - Z ** 2 * worth.by_drift
    c = drift ** 2 - (Z * drift_sd) ** 2
    reach = sqrt(max(0.0, b * b - a * c)) / a
    return Within(drift / worth.s.value, b / a - reach, b / a + reach, worth.s.count)
