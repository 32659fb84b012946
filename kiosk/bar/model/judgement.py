"""The verdict of a finished pull: what was off, by how much, and beside which window."""

from collections.abc import Callable
from dataclasses import dataclass

from kiosk.bar.messages import Message, joined
from kiosk.bar.model.exact import beside
from kiosk.bar.model.recipe import Recipe
from kiosk.bar.model.record import Pull

CHOKED, GUSHED = 0.5, 2.0   # of the recipe's mean flow: past these, slow and fast are too mild (common practice)
FIRST = {"fast": Message("Fast"), "slow": Message("Slow"), "gushed": Message("Gushed"), "choked": Message("Choked"),
         "short": Message("Short"), "long": Message("Long")}
THEN = {"short": Message("short"), "long": Message("long")}
DOSE = {"over": Message("too much coffee"), "under": Message("too little coffee")}


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
    """`in_window`: the recipe's one rule (`Recipe.in_window`); None where the pull was not timed."""

    findings: tuple[Finding, ...]
    in_window: bool | None
    sentence: Message
    unweighed: bool = False             # judged on its time alone


def judge(pull: Pull) -> Judgement:
    """What `pull` came to beside its own recipe. What was not measured is not judged."""
    recipe = pull.recipe
    time = _off(pull.time_s, recipe.time_fits, recipe.time_window_s, "s", "fast", "slow")
    amount = _off(pull.yield_g, recipe.yield_fits, recipe.yield_window_g, "g", "short", "long")
    in_window = recipe.in_window(pull.time_s, pull.yield_g)
    if not in_window and pull.time_s is not None and (far := extreme(recipe, pull.time_s, pull.yield_g)) is not None:
        time = Finding(far, pull.time_s, *recipe.time_window_s, "s")
    off = tuple(finding for finding in (time, amount) if finding)
    if in_window and pull.time_s is not None:
        off = (Finding("in window", pull.time_s, *recipe.time_window_s, "s"),)
    drop_window = recipe.first_drop_from_s, recipe.first_drop_to_s
    drop = _off(pull.first_drop_s, lambda s: drop_window[0] <= s <= drop_window[1], drop_window, "s", "early drop", "late drop")
    dose = _off(pull.dose_g, recipe.dose_fits, recipe.dose_window_g, "g", "under", "over")
    findings = off + tuple(finding for finding in (drop, dose) if finding)
    return Judgement(findings, in_window, _sentence(pull, findings, in_window),
                     unweighed=pull.time_s is not None and pull.yield_g is None)


def _off(value: float | None, fits: Callable[[float], bool | None], window: tuple[float, float], unit: str,
         below: str, above: str) -> Finding | None:
    if value is None or fits(value):
        return None
    return Finding(below if value < window[0] else above, value, *window, unit)


def extreme(recipe: Recipe, time_s: float | None, yield_g: float | None) -> str | None:
    """ "choked" or "gushed", by the mean flow from pump on (g/s) beside the recipe's; None for neither.

    A pull stopped at once is neither, nor one that reached its yield slowly or was left to run over.
    """
    if not time_s or yield_g is None:
        return None
    share = yield_g / time_s / (recipe.yield_g / recipe.time_s)
    if share <= CHOKED and not recipe.time_fits(time_s) and time_s > recipe.time_s and yield_g < recipe.yield_window_g[0]:
        return "choked"
    if share >= GUSHED and not recipe.time_fits(time_s) and time_s < recipe.time_s and yield_g >= recipe.yield_window_g[0]:
        return "gushed"
    return None


def _sentence(pull: Pull, findings: tuple[Finding, ...], in_window: bool | None) -> Message:
    if pull.time_s is None and pull.yield_g is None:
        return Message("Neither time nor yield was measured.")
    first = findings[0].word if findings else ""
    if first in ("choked", "gushed"):
        said = [Message("{what}: {g:.1f} g in {s:.1f} s", what=FIRST[first], g=pull.yield_g, s=pull.time_s)]
    elif [f.word for f in findings if f.word in FIRST] == ["slow", "long"]:
        said = [Message("Ran over: {one}, {other}", one=_number(findings[0]), other=_number(findings[1]))]
    elif any(f.word in FIRST and f.word != "in window" for f in findings):
        off = [f for f in findings if f.word in FIRST]
        said = [Message("{what}: {beside}", what=words[f.word], beside=_number(f)) for words, f in zip((FIRST, THEN), off)]
    else:
        known = [_number(Finding("", value, *window, unit)) for value, window, unit in (
            (pull.time_s, pull.recipe.time_window_s, "s"), (pull.yield_g, pull.recipe.yield_window_g, "g"))
            if value is not None]
        said = [Message("In window: {known}", known=joined(", ", known))] if in_window else known
    said += [Message("{what}: {g:.1f} g ({low:.1f}–{high:.1f})", what=DOSE[f.word], g=g, low=low, high=high)
             for f in findings if f.word in DOSE for g, low, high in [beside(f.value, (f.low, f.high))]]
    missing = [Message("the {what} was not measured", what=what) for what, value in (
        (Message("time"), pull.time_s), (Message("yield"), pull.yield_g)) if value is None]
    return joined("; ", [joined(", ", said), *missing], ".")


def _number(finding: Finding) -> Message:
    value, low, high = beside(finding.value, (finding.low, finding.high))
    return Message("{value:.1f} {unit} ({low:g}–{high:g})", value=value, unit=finding.unit, low=low, high=high)
