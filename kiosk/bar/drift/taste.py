"""What a taste means beside the numbers of its pull, and the one thing to change first.

The table is common practice, without a source, but for the extraction yield. It never speaks against the drift watch: where
a flag stands for the grinder, a taste that asks for the other way changes nothing on the collar.
"""

from dataclasses import dataclass

from kiosk.bar.messages import Message
from kiosk.bar.model import COARSER, FINER, Pull

SOUR, BITTER, BOTH, THIN, HARSH, RIGHT = "sour", "bitter", "sour and bitter", "thin", "harsh", "right"
TASTES = (SOUR, BITTER, BOTH, THIN, HARSH, RIGHT)
LONGER_G = 3.0              # how much longer or shorter the next one is stopped
EY_WINDOW = 18.0, 22.0      # % of the dose dissolved, what tables for espresso show (from memory)

ONE_FINER, ONE_COARSER = Message("One notch finer, nothing else."), Message("One notch coarser, nothing else.")
LONGER = Message("Stop {g:g} g later, nothing else. Where it stays sour: water a degree hotter.", g=LONGER_G)
SHORTER = Message("Stop {g:g} g sooner, nothing else.", g=LONGER_G)
LEVEL = Message("Leave the grinder. Spread the grounds level and tamp straight.")
DOSE_RIGHT = Message("Dose {g:g} g, nothing else.")
CLEAN = Message("Clean basket, shower screen and spouts first. Where it stays bitter, stop {g:g} g sooner.", g=LONGER_G)
KEEP = Message("Keep it as it is.")
NUMBERS_FIRST = Message("The times ask for {way}: turn that first, then taste again.")
HANDS_FIRST = Message("The times point at dose or tamp: put that right first, then taste again.")


@dataclass(frozen=True, slots=True)
class Tasted:
    """`why` is what the taste most likely comes from, `change` the one thing for the next pull. `turns` is "finer" or
    "coarser" where the change is a notch, `longer_g` how much more is to run into the cup."""

    why: Message
    change: Message
    turns: str | None = None
    longer_g: float = 0.0


def extraction_yield(tds_percent: float, yield_g: float, dose_g: float) -> float:
    """% of the dose that is in the cup: TDS × beverage / dose (Lockhart, The Soluble Solids in Beverage Coffee, 1957).

    >>> extraction_yield(10.0, 36.0, 18.0)
    20.0
    """
    return tds_percent * yield_g / dose_g


def taste(found: str, pull: Pull, flag: str | None = None, hands: bool = False) -> Tasted:
    """What `found` (one of TASTES) means of that pull. `flag` is the way that a standing flag asks the collar to be turned,
    `hands` whether it blames dose or tamp instead."""
    if found == RIGHT:
        return Tasted(Message("It is as it should be."), KEEP)
    if found == BOTH:
        return Tasted(Message("Sour and bitter at once: the water ran through a channel."), LEVEL)
    if hands:
        return Tasted(_why(found, pull), HANDS_FIRST)
    answer = _by_numbers(found, pull)
    if flag is not None and answer.turns != flag:
        return Tasted(answer.why, Message(NUMBERS_FIRST.template, way=Message(flag)), flag)
    return answer


def _by_numbers(found: str, pull: Pull) -> Tasted:
    recipe, why = pull.recipe, _why(found, pull)
    off = recipe.dose_fits(pull.dose_g) is False
    if off and pull.dose_g is not None and (pull.dose_g < recipe.dose_g) == (found in (SOUR, THIN)):
        return Tasted(why, Message(DOSE_RIGHT.template, g=recipe.dose_g))
    fast, slow = _beside(pull.time_s, recipe.time_window_s)
    short, long = _beside(pull.yield_g, recipe.yield_window_g)
    match found:
        case "sour":
            return Tasted(why, ONE_FINER, FINER) if fast and not short else Tasted(why, LONGER, longer_g=LONGER_G)
        case "bitter":
            if slow and not long:
                return Tasted(why, ONE_COARSER, COARSER)
            return Tasted(why, SHORTER, longer_g=-LONGER_G) if long else Tasted(why, CLEAN)
        case "thin":
            return Tasted(why, ONE_FINER, FINER) if fast and not long else Tasted(why, SHORTER, longer_g=-LONGER_G)
    if slow and not long:
        return Tasted(why, ONE_COARSER, COARSER)
    return Tasted(why, SHORTER, longer_g=-LONGER_G) if long else Tasted(why, LEVEL)


def _why(found: str, pull: Pull) -> Message:
    fast, slow = _beside(pull.time_s, pull.recipe.time_window_s)
    short, long = _beside(pull.yield_g, pull.recipe.yield_window_g)
    match found:
        case "sour":
            return Message("Too little was drawn out: it ran too fast.") if fast else \
                Message("Too little was drawn out: it was stopped early.") if short else \
                Message("Too little was drawn out, though time and yield are right.")
        case "bitter":
            return Message("Too much was drawn out: it ran too slowly.") if slow else \
                Message("Too much was drawn out: it ran too long.") if long else \
                Message("Time and yield are right: old coffee on metal tastes bitter.")
        case "thin":
            return Message("Too much water for the coffee: it ran too long.") if long else \
                Message("Too much water for the coffee.")
        case "harsh":
            return Message("It dries the mouth: too much was drawn out, or the water found a channel.")
    return Message("It is as it should be.")


def _beside(value: float | None, window: tuple[float, float]) -> tuple[bool, bool]:
    return (False, False) if value is None else (value < window[0], value > window[1])
