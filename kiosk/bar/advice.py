"""The next notch: whether to turn the collar, which way, what it should do, and how long to wait and see."""

from dataclasses import dataclass
from typing import Mapping

FINER, COARSER = "finer", "coarser"
NOTCH, HOLD, TECHNIQUE, DOSE = "notch", "hold", "technique", "dose"
JUDGE_BY = 2            # pulls at a new setting before anything is said of it
PURGE_G = 5.0           # grounds of the old setting that are still in the way (common practice)
PLAIN_WORDS = {FINER: "finer", COARSER: "coarser"}


@dataclass(frozen=True, slots=True)
class Advice:
    """What to do next. `act` is "notch", "hold", "technique" or "dose".

    For a notch: `direction`, `notches`, `expected_s` (low, middle, high change of the time; 90 % of moves fall
    within), `purge_g` of the old grounds, and `judge_by`, the pulls to make before the next move.
    """

    act: str
    sentence: str
    direction: str | None = None
    notches: int = 0
    expected_s: tuple[float, float, float] | None = None
    purge_g: float = 0.0
    judge_by: int = JUDGE_BY


def hold(why: str) -> Advice:
    return Advice(HOLD, why)


def turn(direction: str, worth_s: tuple[float, float], notches: int = 1, purge_g: float = PURGE_G,
         words: Mapping[str, str] = PLAIN_WORDS) -> Advice:
    """Turn the collar. `worth_s` is mean and standard deviation of the seconds that one notch is worth (mean > 0)."""
    sign = 1 if direction == FINER else -1
    middle, reach = sign * worth_s[0] * notches, 1.645 * worth_s[1] * notches
    low, high = sorted((middle - reach, middle + reach))
    collar = words.get(direction, direction)
    how = "" if collar == direction else f" ({collar})"
    many = "One notch" if notches == 1 else f"{notches} notches"
    sentence = (f"{many} {direction}{how}: about {abs(middle):.0f} s {'slower' if sign > 0 else 'faster'}. "
                f"Purge {purge_g:.0f} g of the old grounds, then judge at least {JUDGE_BY} pulls.")
    return Advice(NOTCH, sentence, direction, notches, (low, middle, high), purge_g)
