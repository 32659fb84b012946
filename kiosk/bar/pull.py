"""The verdict of a finished pull: what was off, by how much, and beside which window."""

from dataclasses import dataclass

from kiosk.bar.record import Pull

CHOKED, GUSHED = 0.5, 2.0   # of the recipe's mean flow; beyond it words like slow and fast are too mild (common practice)


@dataclass(frozen=True, slots=True)
class Finding:
    """One word of the verdict with its number and the window beside it.

    `word`: fast, slow, gushed, choked (time, s); short, long (yield, g); over, under (dose, g); early drop, late drop
    (first drop, s); in window (time, s, where time and yield are both right).
    """

    word: str
    value: float
    low: float
    high: float
    unit: str


@dataclass(frozen=True, slots=True)
class Judgement:
    """`in_window`: time and yield both within the recipe's; None where what was measured cannot say."""

    findings: tuple[Finding, ...]
    in_window: bool | None
    sentence: str


def judge(pull: Pull) -> Judgement:
    """What `pull` came to beside its own recipe. What was not measured is not judged."""
    recipe = pull.recipe
    time = _beside(pull.time_s, recipe.time_window_s, "s", "fast", "slow")
    amount = _beside(pull.yield_g, recipe.yield_window_g, "g", "short", "long")
    if pull.time_s and pull.yield_g is not None:
        low, high = recipe.time_window_s
        share = pull.yield_g / pull.time_s / (recipe.yield_g / recipe.time_s)
        if share <= CHOKED and pull.time_s >= low:
            time = Finding("choked", pull.time_s, low, high, "s")
        elif share >= GUSHED and pull.time_s <= high:
            time = Finding("gushed", pull.time_s, low, high, "s")
    drop = _beside(pull.first_drop_s, (recipe.first_drop_from_s, recipe.first_drop_to_s), "s", "early drop", "late drop")
    dose = _beside(pull.dose_g, recipe.dose_window_g, "g", "under", "over")
    off = tuple(finding for finding in (time, amount) if finding)
    in_window = False if off else (True if pull.time_s is not None and pull.yield_g is not None else None)
    if in_window:
        off = (Finding("in window", pull.time_s, *recipe.time_window_s, "s"),)
    findings = off + tuple(finding for finding in (drop, dose) if finding)
    return Judgement(findings, in_window, _sentence(pull, findings, in_window))


def _beside(value: float | None, window: tuple[float, float], unit: str, below: str, above: str) -> Finding | None:
    if value is None or window[0] - 1e-6 <= value <= window[1] + 1e-6:
        return None
    return Finding(below if value < window[0] else above, value, *window, unit)


def _sentence(pull: Pull, findings: tuple[Finding, ...], in_window: bool | None) -> str:
    if in_window is None:
        missing = " and ".join(name for name, value in (("time", pull.time_s), ("yield", pull.yield_g)) if value is None)
        start = f"Not judged: {missing} not measured"
    else:
        off = [finding for finding in findings if finding.word in ("choked", "gushed")] or \
              [finding for finding in findings if finding.unit == "s" and "drop" not in finding.word] + \
              [finding for finding in findings if finding.word in ("short", "long")]
        start = ", ".join(f"{f.word}: {f.value:.1f} {f.unit} ({f.low:.0f}–{f.high:.0f})" for f in off)
        start = start[0].upper() + start[1:]
    dose = [f"dose {f.word}: {f.value:.1f} g ({f.low:.1f}–{f.high:.1f})" for f in findings if f.word in ("over", "under")]
    return "; ".join([start, *dose]) + "."
