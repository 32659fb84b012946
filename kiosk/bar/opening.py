"""Where a grinder's collar should stand when the bar opens again, and why."""

from dataclasses import dataclass
from datetime import timedelta

from kiosk.bar.figures import GrinderFigures, moment
from kiosk.bar.daychart import DayChart, Point
from kiosk.bar.notch import Within
from kiosk.bar.tomorrow import CLOSING_PULLS, NOTCH_S, WORTH_A_NOTCH_S
from kiosk.bar.trend import mean_within

OPENING = timedelta(hours=1)    # how long a cold grinder's first pulls tell of opening
LEAST = 4                       # pulls


@dataclass(frozen=True, slots=True)
class Start:
    """`setting` to open with, `why` in words, and the pulls that it rests on."""

    setting: int
    why: str
    record_ids: tuple[str, ...]


def start(each: GrinderFigures, chart: DayChart, worth: Within | None) -> Start | None:
    """One notch at most from where the collar was left, and only where the last pulls are surely off the recipe; else
    where it was left. None for a grinder that nothing was pulled from."""
    if each.setting is None or not each.stretches:
        return None
    last = each.stretches[-1]
    by_id = {point.id: point for point in chart.points}
    closing = [by_id[id] for id in last.told[-CLOSING_PULLS:]] if last.setting == each.setting else []
    ids = tuple(point.id for point in closing)
    if len(closing) < LEAST:
        return Start(each.setting, f"It was left at {each.setting}; too few pulls since to say more.", ids)
    off_s, within_s = mean_within([point.off_s for point in closing])
    ran = f"its last {len(closing)} pulls ran {_off(off_s)} (give or take {within_s:.1f} s)"
    if abs(off_s) > within_s and abs(off_s) >= WORTH_A_NOTCH_S:
        way, by = ("coarser", 1) if off_s > 0 else ("finer", -1)
        return Start(each.setting + by, f"At {each.setting} {ran}: one notch {way}.", ids)
    return Start(each.setting, f"Where it was left: {ran}.", ids)


def suited(points: list[Point], worth_s: float = NOTCH_S) -> float:
    """The setting, in notches and parts of one, that would have put these pulls on their recipe."""
    return sum(point.setting + point.off_s / worth_s for point in points) / len(points)


def _off(off_s: float) -> str:
    return f"{abs(off_s):.1f} s {'slow' if off_s > 0 else 'fast'}"
