"""What a watch says of a pull: its verdict, a flag with its evidence in words, a point on the chart."""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean
from typing import Any, NamedTuple

from kiosk.bar.drift.advice import Advice
from kiosk.bar.drift.diagnosis import Fault

STEADY, BEGAN_OFF, DRIFTING, ODD, SPREAD, UNKNOWN = "steady", "began_off", "drifting", "odd", "spread", "unknown"
FALSE_ALARM = 370           # pulls between false flags, on average, on a grinder that does not move: measured, not less


class ChartedPull(NamedTuple):
    """One pull on the chart: `value` leaves (`low`, `high`) exactly where the watch says that the grinder
    drifts or that its pulls spread.

    `value` is the signed evidence, log10(1 + Shiryaev-Roberts), positive where pulls run slower. The rest is in
    seconds off the recipe: this pull's even time, and the level that the grinder is now thought to be at.
    """

    at: str
    value: float
    low: float
    high: float
    kind: str
    deviation_s: float | None
    level_s: float | None
    pull_id: str


@dataclass(frozen=True, slots=True)
class Flag:
    """What is wrong with a grinder, the way to turn it (None where turning is no cure), and what that rests on.

    `one_false_in` is the stated false-alarm rate: pulls between two false flags, on average, at the least.
    """

    grinder: str
    coffee: str
    setting: int
    kind: str
    direction: str | None
    sentence: str
    evidence: dict[str, Any]
    one_false_in: int = FALSE_ALARM


@dataclass(frozen=True, slots=True)
class Verdict:
    """What a pull says. Times in seconds; `deviation_s` is even time less the recipe's time.

    `value`, `low`, `high`: the chart (see Point). `level_s` ± `level_within_s`: where the grinder is now thought to be
    off the recipe, with 90 % probability. `kind`: steady, began_off, drifting, odd, spread or unknown. `flag` is set on
    the pull that raises it; `standing` for as long as it holds.
    """

    even_s: float | None
    deviation_s: float | None
    value: float
    low: float
    high: float
    kind: str
    flag: Flag | None
    standing: Flag | None
    advice: Advice
    faults: tuple[Fault, ...] = ()
    level_s: float | None = None
    level_within_s: float | None = None
    pulls: int = 0

def drifted(where: str, offs_s: Sequence[float]) -> tuple[str, dict[str, Any]]:
    """The sentence and the figures for a grinder that moved, from the last even times off the recipe."""
    since = change_at(offs_s)
    now, was = fmean(offs_s[since:]), fmean(offs_s[:since]) if since else 0.0
    many = len(offs_s) - since
    way = "slower" if now > was else "faster"
    sentence = f"{where} has moved: the last {many} pulls ran {abs(now - was):.1f} s {way} than those before." \
        if many > 1 else f"{where} has moved: the last pull ran {abs(now - was):.1f} s {way} than those before."
    return sentence, {"last_pulls": many, "before_s": round(was, 2), "after_s": round(now, 2)}


def change_at(values: Sequence[float]) -> int:
    """How many of the values came before the likeliest step (least squares); 0 for a single one."""
    total, best, at, before = sum(values), -1.0, 0, 0.0
    for k in range(1, len(values)):
        before += values[k - 1]
        after = len(values) - k
        gain = (before / k - (total - before) / after) ** 2 * k * after
        if gain > best:
            best, at = gain, k
    return at
