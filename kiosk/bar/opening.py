"""Where a grinder's collar should stand when the bar opens again, and why."""

from dataclasses import dataclass

from kiosk.bar.figures import GrinderFigures
from kiosk.bar.tomorrow import closing


@dataclass(frozen=True, slots=True)
class Start:
    """`setting` to open with, `why` in words, and the pulls that it rests on."""

    setting: int
    why: str
    record_ids: tuple[str, ...]


def start(each: GrinderFigures) -> Start | None:
    """One notch at most from where the collar was left, and only where the last pulls are surely off the recipe; else
    where it was left. None for a grinder that nothing was pulled from."""
    if each.setting is None or not each.stretches:
        return None
    off_s, within_s, ids = closing(each)
    if not ids:
        return Start(each.setting, f"It was left at {each.setting}; too few pulls since to say more.", ids)
    if off_s is None:
        return Start(each.setting, f"Where it was left: its last {len(ids)} pulls were near enough.", ids)
    way, side, by = ("coarser", "slow", 1) if off_s > 0 else ("finer", "fast", -1)
    return Start(each.setting + by, f"Its last {len(ids)} pulls ran {abs(off_s):.1f} s {side} (give or take {within_s:.1f} s) "
                                    f"at {each.setting}: one notch {way}.", ids)
