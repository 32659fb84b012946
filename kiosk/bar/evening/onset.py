"""From when a grinder drifted in a day, how far off its recipe it got, and how far it stands off now.

Whether it drifted at all is for the watch and the day's trend to say. From when is the middle of what the day's pulls
leave likely for one change, a step or the beginning of a ramp, turned notches taken out at what one is usually worth. How
far is what the cups showed: means of neighbouring pulls as they ran, whatever was turned meanwhile.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate
from math import exp, sqrt
from statistics import fmean, stdev

from kiosk.bar.drift import BEGAN_OFF, GRIND, HANDS
from kiosk.bar.evening.figures import GrinderFigures
from kiosk.bar.evening.notch import NOTCH_S
from kiosk.bar.evening.trend import t_quantile
from kiosk.bar.model import FlagRaised

LEAST_S_PER_HOUR = 0.05         # less would be said as 0.0
WORTH_SAYING_S = 1.5
RAMPS_ARE = 3.0                 # times as likely as steps before a pull is seen: grinders warm (common practice)
TOGETHER = 8                    # pulls that a mean is taken over: half the spread of one by 1/√8


@dataclass(frozen=True, slots=True, kw_only=True)
class Onset:
    """`since`: wall time of the first pull that had changed. Seconds off the recipe, positive slower: `worst_s` the mean
    of neighbouring pulls that lay furthest its way, `now_s` that of the day's last ones, within `within_s` (95 %)."""

    since: str
    slower: bool
    worst_s: float
    now_s: float
    within_s: float


def onset(each: GrinderFigures) -> Onset | None:
    """None where nothing drifted, or where pulls are of several days or fewer than twice those a mean takes."""
    drift = each.drift
    flagged = [flag for flag in each.flags if flag.what == "drifting"]
    looked = [flag for flag in each.flags if flag.what in (HANDS, BEGAN_OFF)]
    by_hand = bool(looked) and looked[-1].what == HANDS and looked[-1].evidence.get("cause") != GRIND    # else it could not be told yet
    found = flagged or (drift and not by_hand and drift.sure and drift.in_all_s >= WORTH_SAYING_S
                        and abs(drift.s_per_hour) >= LEAST_S_PER_HOUR)
    pulls = [(pull, run.setting) for run, told in zip(each.runs, each.told) for pull in told]
    if not found or len(pulls) < 2 * TOGETHER or len({run.day for run in each.runs}) > 1:
        return None
    first, (begins, ends) = pulls[0][1], _run_of(each, flagged[0]) if flagged else (0, len(pulls))
    at = begins + change_at([pull.hours for pull, _ in pulls[begins:ends]],
                            [pull.off_s + NOTCH_S * (setting - first) for pull, setting in pulls[begins:ends]])
    offs_s = [pull.off_s for pull, _ in pulls]
    means = [fmean(offs_s[n:n + TOGETHER]) for n in range(min(at, ends - TOGETHER), ends - TOGETHER + 1)]
    if flagged:
        before_s = fmean(offs_s[begins:at]) if at > begins else 0.0
        slower = fmean(offs_s[at:ends]) > before_s
    else:
        slower = drift is not None and drift.s_per_hour > 0
    last = offs_s[-TOGETHER:]
    return Onset(since=each.at[pulls[at][0].id], slower=slower, worst_s=max(means) if slower else min(means),
                 now_s=fmean(last), within_s=t_quantile(0.975, TOGETHER - 1) * stdev(last) / sqrt(TOGETHER))


def _run_of(each: GrinderFigures, flag: FlagRaised) -> tuple[int, int]:
    """Where the run that was first flagged begins and ends among the pulls told; a turn answers it, and what comes after is
    another story. From the day's first pull where the run itself is short."""
    begins = 0
    for run, told in zip(each.runs, each.told):
        ends = begins + len(told)
        if flag.pull_id in run.pulls and ends >= TOGETHER:
            return (begins if len(told) >= TOGETHER else 0), ends
        begins = ends
    return 0, begins


def change_at(hours: Sequence[float], values: Sequence[float]) -> int:
    """The index of the first value after the one change, of at least four values.

    Each place and shape, a step or a ramp that begins there and goes on, is weighed by its likelihood under normal noise;
    of the likelier shape the median place is returned. A best fit alone takes a ramp for a step in its middle.
    """
    n, mean = len(values), fmean(values)
    ys = [value - mean for value in values]
    steps, ramps = [0.0] * n, [0.0] * n             # squares that each explains
    rest, sum_y, sum_h, sum_hh, sum_hy = 0, 0.0, 0.0, 0.0, 0.0
    for k in range(n - 1, -1, -1):
        h, y = hours[k], ys[k]
        rest, sum_y, sum_h, sum_hh, sum_hy = rest + 1, sum_y + y, sum_h + h, sum_hh + h * h, sum_hy + h * y
        if rest < 3:
            continue
        x = sum_h - rest * h                        # of max(0, hours − h), over all values
        spread = sum_hh - 2 * h * sum_h + rest * h * h - x * x / n
        ramps[k] = (sum_hy - h * sum_y) ** 2 / spread if spread > 1e-9 else 0.0
        steps[k] = sum_y ** 2 * n / (k * rest) if k >= 3 else 0.0
    most = max(*steps, *ramps)
    noise = max(1e-12, (sum(y * y for y in ys) - most) / (n - 3))
    step, ramp = ([exp((each - most) / 2 / noise) if each else 0.0 for each in shape] for shape in (steps, ramps))
    likely = step if sum(step) > RAMPS_ARE * sum(ramp) else ramp
    half = sum(likely) / 2
    return next(k for k, so_far in enumerate(accumulate(likely)) if so_far >= half)
