"""Where a grinder's collar should stand when the bar opens again, and why.

A grinder ends its day warm, in the evening's air; it opens cold. So the day's own opening is asked first, and its
closing only where there was none to speak of, or where the two agree.
"""

from dataclasses import dataclass
from statistics import fmean

from kiosk.bar.evening.figures import GrinderFigures, PullOffRecipe
from kiosk.bar.evening.notch import NOTCH_S
from kiosk.bar.evening.trend import mean_within
from kiosk.bar.messages import Message

COUNTED = 12                # pulls of an opening, and of a closing
LEAST = 4
OPENING_H = 1.0             # how long a grinder's first pulls tell of opening
WORTH_A_NOTCH_S = 1.5       # less off than this at closing and a notch would overshoot
WORTH_A_NOTCH = 1.0         # the same of an opening, in notches: four pulls are as sure of it as that
SLOW, FAST = Message("slow"), Message("fast")


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """`setting` to open with, `why` in words, the pulls that it rests on. `turned` is how many notches coarser (finer
    below 0) that is than where it was left, and `by` how many it would have taken, to put the worst first."""

    setting: int
    why: Message
    record_ids: tuple[str, ...]
    turned: int = 0
    by: float = 0.0


def start(each: GrinderFigures) -> Start | None:
    """One notch at most from where the collar was left. None for a grinder that nothing was pulled from."""
    if each.setting is None or not each.runs:
        return None
    left, last_ids = each.setting, tuple(pull.id for pull in _closing(each))
    off_s, within_s = _sure([pull.off_s for pull in _closing(each)])
    opening = _opening(each)
    notches = fmean(setting + pull.off_s / NOTCH_S - left for setting, pull in opening) if opening else 0.0
    notches = notches if abs(notches) >= WORTH_A_NOTCH else 0.0
    ended = Message("its last {pulls:d} pulls ran {s:.1f} s {side}", pulls=len(last_ids), s=abs(off_s),
                    side=SLOW if off_s > 0 else FAST)
    if notches or (off_s and not opening):
        turned = 1 if (notches or off_s) > 0 else -1
        if off_s * turned > 0:
            why = Message("At {left} {ended} of the recipe (give or take {within_s:.1f} s).", left=left, ended=ended,
                          within_s=within_s)
        else:
            by = {"pulls": len(opening), "notches": abs(notches), "left": left}
            why = Message("The day's first {pulls:d} pulls would have been right {notches:.1f} notches coarser than {left}.", **by) \
                if turned > 0 else \
                Message("The day's first {pulls:d} pulls would have been right {notches:.1f} notches finer than {left}.", **by)
        ids = last_ids if off_s * turned > 0 else tuple(pull.id for _, pull in opening)
        return Start(setting=left + turned, why=why, record_ids=ids, turned=turned,
                     by=abs(notches) or abs(off_s) / NOTCH_S)
    if off_s:
        why = Message("The day's first {pulls:d} pulls were near enough there; {ended}, so judge the first two.",
                      pulls=len(opening), ended=ended)
        return Start(setting=left, why=why, record_ids=(*(pull.id for _, pull in opening), *last_ids))
    if not opening and not last_ids:
        return Start(setting=left, record_ids=(),
                     why=Message("It was left at {left}; too few pulls there to say more.", left=left))
    return Start(setting=left, why=Message("It was left at {left}, and nothing says otherwise.", left=left),
                 record_ids=tuple(dict.fromkeys((*(pull.id for _, pull in opening), *last_ids))))


def _closing(each: GrinderFigures) -> tuple[PullOffRecipe, ...]:
    """The last pulls where the collar was left. A few early first drops among others that are not early are a hand's
    doing, and say nothing of the grinder."""
    if not each.told or each.setting != each.runs[-1].setting:
        return ()
    last = each.told[-1]
    even = tuple(pull for pull in last if not pull.early)
    last = (even if len(even) > len(last) / 2 else last)[-COUNTED:]
    return last if len(last) >= LEAST else ()


def _opening(each: GrinderFigures) -> tuple[tuple[int, PullOffRecipe], ...]:
    """(setting, pull) of the last day's first hour."""
    day = each.runs[-1].day
    pulls = [(run.setting, pull) for run, told in zip(each.runs, each.told) if run.day == day
             for pull in told]
    first = [(setting, pull) for setting, pull in pulls if pull.hours <= pulls[0][1].hours + OPENING_H]
    first = first if len(first) >= LEAST else pulls[:LEAST]
    even = [(setting, pull) for setting, pull in first if not pull.early]
    first = (even if len(even) > len(first) / 2 else first)[:COUNTED]
    return tuple(first) if len(first) >= LEAST else ()


def _sure(values: list[float]) -> tuple[float, float]:
    """Their mean and its 95 % interval's half-width; a mean of 0 where it is not sure, or not worth turning for."""
    if len(values) < LEAST:
        return 0.0, 0.0
    mean, within = mean_within(values)
    if within is None:
        return 0.0, 0.0
    return (mean if abs(mean) > within and abs(mean) >= WORTH_A_NOTCH_S else 0.0), within
