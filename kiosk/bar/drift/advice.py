"""The next notch: whether to turn the collar, which way, what that should do, and how long to wait and see.

The rules, in order: two pulls at a setting before anything is said of it; technique before the collar; no notch
without a flag that stands; none that would not bring the grinder nearer its recipe, so that noise is never chased.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from kiosk.bar.drift.diagnosis import CHANCE, DOSE, GRIND, PULL, TAMP, Fault
from kiosk.bar.drift.dosing import Timed
from kiosk.bar.messages import Message, joined

FINER, COARSER = "finer", "coarser"
NOTCH, HOLD, TECHNIQUE = "notch", "hold", "technique"      # and DOSE
JUDGE_BY = 2            # pulls at a new setting before the next move
PURGE_G = 5.0           # grounds of the old setting that are still in the way (common practice)
BLAMED = 0.5            # probability from which a cause is acted on
PATIENCE = 5            # pulls that a standing flag leaves technique to mend itself, unless technique is nearly certain
NEARLY_CERTAIN = 0.9
NEARER = 0.65           # probability that a notch brings the grinder nearer, from which it is worth turning
OFF, BACK = 0.5, 0.8    # off by more than this share of a notch, it does; to take the last notch back, more is asked
WHOLE = 0.95            # seconds or grams; less is said to the tenth, or not at all, and never as 0
PLAIN_WORDS = {FINER: Message("finer"), COARSER: Message("coarser")}


@dataclass(frozen=True, slots=True)
class Advice:
    """What to do next. `act` is "notch", "hold", "technique" or "dose".

    For a notch: `direction`, `notches`, `expected_s` (low, middle, high change of the time; nine moves in ten fall
    within), `purge_g` of the old grounds, and `judge_by`, the pulls to make before the next move.
    """

    act: str
    sentence: str
    direction: str | None = None
    notches: int = 0
    expected_s: tuple[float, float, float] | None = None
    purge_g: float = 0.0
    judge_by: int = JUDGE_BY


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """How a grinder stands: what advice rests on.

    `pulls` at this setting, `flagged_for` so many of them; `direction` of the flag, None for one that no notch cures.
    `off` is the probability of being off by more than OFF of a notch (of BACK where the flag would take the last
    move back), signed: above zero where it runs slow.
    `level_s` and `worth_s` (seconds that a notch is worth, above zero) are (mean, standard deviation). `timed`: the grinder
    doses by time; `timer` is what its timer wants, where its doses lie off.
    """

    pulls: int
    flagged: bool
    direction: str | None
    flagged_for: int
    off: float
    level_s: tuple[float, float]
    worth_s: tuple[float, float]
    faults: tuple[Fault, ...] = ()
    purge_g: float = PURGE_G
    most_notches: int = 1
    timed: bool = False
    timer: Timed | None = None


def advise(standing: Standing, words: Mapping[str, str] = PLAIN_WORDS) -> Advice:
    """The next step. `words` say on this collar what "finer" and "coarser" are ({"finer": "turn left", …})."""
    if standing.pulls < JUDGE_BY:
        return Advice(HOLD, Message("Leave the grind setting: judge at least {JUDGE_BY} pulls at this setting first.",
                                    JUDGE_BY=JUDGE_BY))
    if standing.timer is not None and (not standing.flagged or standing.direction is None):
        return Advice(DOSE, Message("Leave the grind setting. {timer}", timer=standing.timer.sentence))
    blamed = next((fault for fault in standing.faults if fault.cause != CHANCE), None)
    if blamed and blamed.cause != GRIND and blamed.probability >= BLAMED:
        if not standing.flagged or standing.flagged_for <= PATIENCE or blamed.probability >= NEARLY_CERTAIN:
            return _technique(blamed)
    if not standing.flagged:
        return Advice(HOLD, Message("Leave the grind setting: nothing says that the grinder is off."))
    if standing.direction is None:
        return Advice(TECHNIQUE, Message("Leave the grind setting: the pulls are uneven. Dose, level and tamp with care."))
    slow = standing.direction == COARSER
    if (standing.off if slow else -standing.off) < NEARER:
        return Advice(HOLD, Message("Leave the grind setting: a notch would not bring it nearer yet. Judge the next pull."))
    return _turn(standing, words)


TECHNIQUES = {   # cause → act, what is said where there is no evidence in words, and what to do
    DOSE: (DOSE, Message("the dose explains it"), Message("Weigh the next dose to the recipe.")),
    TAMP: (TECHNIQUE, Message("it looks like the tamp"), Message("Level, and tamp firm and straight.")),
    PULL: (TECHNIQUE, Message("it looks like the pull itself"), Message("Walk the next pull step by step.")),
}


def _technique(blamed: Fault) -> Advice:
    act, likely, then = TECHNIQUES[blamed.cause]
    why = joined("; ", list(blamed.evidence)) if blamed.evidence else likely
    return Advice(act, Message("Leave the grind setting: {why}. {then}", why=why, then=then))


def _turn(standing: Standing, words: Mapping[str, str]) -> Advice:
    level_s, level_sd_s = standing.level_s
    worth_s, worth_sd_s = standing.worth_s
    sure_notches = int((abs(level_s) - level_sd_s) / (worth_s + worth_sd_s) + 0.5)
    notches = max(1, min(standing.most_notches, sure_notches))
    sign = 1 if standing.direction == FINER else -1
    middle, reach = sign * worth_s * notches, 1.645 * worth_sd_s * notches
    in_all = round(abs(level_s) / worth_s)
    direction = standing.direction or ""
    collar = words.get(direction, direction)
    said = {"many": Message("One notch") if notches == 1 else Message("{n:d} notches", n=notches),
            "direction": Message(direction), "how": "" if collar == direction else f" ({collar})",
            "middle": abs(middle), "way": Message("slower") if sign > 0 else Message("faster")}
    parts = [Message("{many} {direction}{how}: about {middle:.0f} s {way}.", **said) if abs(middle) >= WHOLE else
             Message("{many} {direction}{how}: about {middle:.1f} s {way}.", **said),
             Message("Purge {purge_g:.0f} g of the old grounds, then judge at least {JUDGE_BY} pulls.", purge_g=standing.purge_g,
                     JUDGE_BY=JUDGE_BY) if standing.purge_g >= WHOLE else
             Message("Judge at least {JUDGE_BY} pulls.", JUDGE_BY=JUDGE_BY)]
    if in_all > notches:
        parts.append(Message("About {n:d} notches in all, one at a time.", n=in_all))
    if standing.timed:
        parts.append(Message("Weigh the next dose: a notch changes what the timer grinds."))
    return Advice(NOTCH, joined(" ", parts), standing.direction, notches, (middle - reach, middle, middle + reach), standing.purge_g)
