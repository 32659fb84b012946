"""A grinder that will not sit still: it warms up, its beans age, and it keeps some of the last grounds in its chute."""

from dataclasses import dataclass, replace
from math import exp


@dataclass(frozen=True, slots=True, kw_only=True)
class PracticeGrinder:
    """`notch` is where the collar stands; `right_notch` gave the recipe's time when the burrs were cold.

    `per_hour` and `warm_up` are in notches, positive where the grind gets coarser: the first goes on all day, the
    second comes within the first hour and stays. `chute_g` grams of what was ground last stay inside; `chute_coarser`
    says how coarse they are, in notches off the right grind.
    """

    notch: int = 20
    right_notch: float = 20.0
    per_hour: float = 0.0
    warm_up: float = 0.0
    warm_up_h: float = 0.4
    chute_g: float = 4.0
    chute_coarser: float = 0.0

    def coarser(self, running_h: float) -> float:
        """How many notches coarser than right it grinds `running_h` hours after it was switched on."""
        warmed = 1 - exp(-running_h / self.warm_up_h)
        return self.notch - self.right_notch + self.per_hour * running_h + self.warm_up * warmed

    def moved(self, notches: int) -> "PracticeGrinder":
        """The collar turned: coarser for more than 0. What is in the chute stays as it was."""
        return replace(self, notch=self.notch + notches)

    def ground(self, grams: float, running_h: float = 0.0) -> tuple["PracticeGrinder", float]:
        """The grinder after grinding `grams` (0 or more), and how many notches off right those grounds are on average.

        Old and new mix in the chute, so what comes out goes from the one to the other as exp(−grams / `chute_g`).
        """
        new = self.coarser(running_h)
        if grams <= 0 or self.chute_g <= 0:
            return (self if grams <= 0 else replace(self, chute_coarser=new)), new
        left = exp(-grams / self.chute_g)
        old_share = self.chute_g / grams * (1 - left)
        came_out = new + (self.chute_coarser - new) * old_share
        return replace(self, chute_coarser=new + (self.chute_coarser - new) * left), came_out
