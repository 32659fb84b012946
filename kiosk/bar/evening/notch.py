"""What a notch of one grinder is worth in seconds, and its drift in notches an hour, each with its 95 % interval."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from statistics import fmean

from kiosk.bar.evening.figures import GrinderFigures
from kiosk.bar.evening.trend import t_quantile

BESIDE = 12     # pulls before a move and after it that are compared
ASIDE = 2       # the last ones before it are left out: it was made because they ran off, in part by chance
LEAST = 3       # on each side
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
    """`s`: seconds that one notch finer adds. `by_drift`: its covariance with the day's drift."""

    s: Within
    by_drift: float


def notch_worth(each: GrinderFigures) -> NotchWorth | None:
    """From the pulls on both sides of each move, weighted by how sure each is, the day's drift taken out; `s.count` is
    the moves. None where no move has three pulls on both sides.

    This and the drift are both weighted sums of the pulls' even times: the interval and the covariance are those of
    such sums, exactly.
    """
    stretches = [(stretch, pulls) for stretch, pulls in zip(each.stretches, each.told) if pulls]
    freedom = sum(len(pulls) for _, pulls in stretches) - len(stretches) - 1
    if freedom < 1:
        return None
    middles = [(fmean(pull.hours for pull in pulls), fmean(pull.off_s for pull in pulls)) for _, pulls in stretches]
    spread = sum((pull.hours - hours) ** 2 for (_, pulls), (hours, _) in zip(stretches, middles) for pull in pulls)
    if spread <= 0:
        return None
    slope = {pull.id: (pull.hours - hours) / spread for (_, pulls), (hours, _) in zip(stretches, middles)
             for pull in pulls}
    drift = sum(slope[pull.id] * pull.off_s for _, pulls in stretches for pull in pulls)
    variance = sum((pull.off_s - off_s - drift * (pull.hours - hours)) ** 2
                   for (_, pulls), (hours, off_s) in zip(stretches, middles) for pull in pulls) / freedom
    moves = [(before_a_move(before), after[:BESIDE], b.setting - a.setting) for (a, before),
             (b, after) in zip(stretches, stretches[1:])
             if a.day == b.day and a.setting != b.setting]
    moves = [(before, after, notches) for before, after, notches in moves if min(len(before), len(after)) >= LEAST]
    if not moves or variance < 1e-9:
        return None
    sure = [notches ** 2 / (1 / len(before) + 1 / len(after)) for before, after, notches in moves]
    share = [weight / sum(sure) / notches for weight, (_, _, notches) in zip(sure, moves)]
    weights = dict.fromkeys(slope, 0.0)
    lever = 0.0
    for part, (before, after, _) in zip(share, moves):
        for pulls, sign in ((before, part), (after, -part)):
            for pull in pulls:
                weights[pull.id] += sign / len(pulls)
                lever -= sign / len(pulls) * pull.hours
    weights = {id: weight + lever * slope[id] for id, weight in weights.items()}
    value = sum(weights[pull.id] * pull.off_s for _, pulls in stretches for pull in pulls)
    reach = t_quantile(0.975, freedom) * sqrt(variance * sum(weight ** 2 for weight in weights.values()))
    return NotchWorth(Within(value, value - reach, value + reach, len(moves)),
                      variance * sum(weight * slope[id] for id, weight in weights.items()))


def together(today: NotchWorth | None, before: Within | None) -> NotchWorth | None:
    """The day's own moves and those of the weeks before, each counting by how sure it is; where no weeks are known,
    what is usual (2 ± 1 s, common practice), which holds its sign and size."""
    if before is None:
        usual = Within(NOTCH_S, NOTCH_S - Z * NOTCH_SD_S, NOTCH_S + Z * NOTCH_SD_S, 0)
        return None if today is None else together(today, usual)
    if today is None:
        return NotchWorth(before, 0.0)
    one, other = 1 / today.s.sd ** 2, 1 / before.sd ** 2
    value, reach = (one * today.s.value + other * before.value) / (one + other), Z / sqrt(one + other)
    return NotchWorth(Within(value, value - reach, value + reach, today.s.count + before.count),
                      today.by_drift * one / (one + other))


def before_a_move(pulls: Sequence) -> Sequence:
    """Those of a stretch's pulls that say where it stood when its collar was turned."""
    return pulls[-BESIDE - ASIDE:-ASIDE] if len(pulls) >= LEAST + ASIDE else pulls[:LEAST]


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
