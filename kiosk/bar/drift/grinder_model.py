"""What past setting runs taught of a grinder: how its pulls spread, and what a notch is worth. Fractions of the time."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from statistics import median

from kiosk.bar.drift.rush import LEAST, USUAL_DOUBT, USUAL_SPREAD

LEAST_DOUBT = 0.07
WORTH_RANGE = (0.02, 0.4)
UNLIKE = 0.5                   # two moves of a notch differ by half a spread or so, for reasons of their own


@dataclass
class GrinderModel:
    """`spread` of adjusted time and `doubt`, the standard deviation of its logarithm; `worth` of a notch and its sd.

    They start from common practice: pulls spread by 2 s in 25, a notch is worth 1 to 4 s.
    """

    spread: float = USUAL_SPREAD
    doubt: float = USUAL_DOUBT
    worth: float = 0.10
    worth_sd: float = 0.05

    def learn_spread(self, spread: float, doubt: float, pulls: int) -> None:
        """After a setting run of so many pulls, `spread` is how they spread, its logarithm known to `doubt`."""
        if pulls >= LEAST:
            self.spread, self.doubt = spread, max(LEAST_DOUBT, doubt)

    def learn_move(self, left: tuple[float, float], first: Sequence[float], notches: int) -> None:
        """The collar went `notches` (coarser: > 0) from a level `left` (mean, sd) to a setting run that began with `first`.

        A step of Kalman's filter (1960) on a constant; the first pulls by their median, whose variance is 1.57 times
        that of the mean.
        """
        if not notches or len(first) < 2:
            return
        seen = (left[0] - median(first)) / notches
        noise = (left[1] ** 2 + (1.57 / len(first) + UNLIKE ** 2) * self.spread ** 2) / notches ** 2
        gain = self.worth_sd ** 2 / (self.worth_sd ** 2 + noise)
        self.worth = min(max(self.worth + gain * (seen - self.worth), WORTH_RANGE[0]), WORTH_RANGE[1])
        self.worth_sd *= sqrt(1 - gain)
