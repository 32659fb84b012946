"""A lesson without coffee: a pull with one hidden cause, to be named from what the screen shows of it. Pure.

A wrong dose shows on the scale. A group that was not purged spits steam. A crooked tamp lets one spout run ahead. A
soft one lets the first drop fall early for the time that the pull takes. What is left is the grind: slow is too fine,
fast is too coarse. Looked at in this order no two causes are alike.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from enum import StrEnum

from kiosk.bar.model import Recipe

UNEVEN = 0.08           # of the stream, beyond half, in one spout: an eye tells 58 from 42 (chosen)
EARLY = 0.11            # of the time to the recipe's yield: an even bed's drop falls later (common practice: 3 of 25 s)
AGAIN, UNTRIED = 3.0, 2.0    # how much likelier a cause comes up that was just missed, or was not met yet (chosen)


class Cause(StrEnum):
    NONE = "none"
    FINE = "fine"
    COARSE = "coarse"
    OVER = "over"
    UNDER = "under"
    SOFT = "soft"
    CROOKED = "crooked"
    UNPURGED = "unpurged"


CAUSES = tuple(Cause)


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenPull:
    """What the screen showed of a pull, and nothing else.

    Times in seconds from pump on; `left` is the left spout's share of the stream, 0 to 1; `spat` whether the group spat
    steam before the first drop; `first_drop_s` is None where none fell.
    """

    recipe: Recipe
    dose_g: float
    time_s: float
    yield_g: float
    first_drop_s: float | None
    left: float = 0.5
    spat: bool = False

    @property
    def dose_off_g(self) -> float:
        """How far the dose is outside its tolerance, signed; 0 within."""
        low, high = self.recipe.dose_window_g
        return min(0.0, self.dose_g - low) + max(0.0, self.dose_g - high)

    @property
    def even_s(self) -> float:
        """The time to the recipe's yield at this pull's pace: a pump stopped early or late changes no cause."""
        first_s = self.first_drop_s if self.first_drop_s is not None else self.time_s
        if self.yield_g < 1 or first_s >= self.time_s:
            return self.time_s * self.recipe.yield_g / max(self.yield_g, 1.0)
        return first_s + (self.time_s - first_s) * self.recipe.yield_g / self.yield_g

    @property
    def early(self) -> bool:
        return self.first_drop_s is not None and self.first_drop_s < EARLY * self.even_s

    @property
    def uneven(self) -> bool:
        return abs(self.left - 0.5) > UNEVEN


def named(seen: SeenPull) -> Cause:
    """The cause, by the figures on the screen alone."""
    low_s, high_s = seen.recipe.time_window_s
    if abs(seen.dose_off_g) > 1e-6:
        return Cause.OVER if seen.dose_off_g > 0 else Cause.UNDER
    if seen.spat:
        return Cause.UNPURGED
    if seen.uneven:
        return Cause.CROOKED
    if seen.early:
        return Cause.SOFT
    if seen.even_s > high_s:
        return Cause.FINE
    return Cause.COARSE if seen.even_s < low_s else Cause.NONE


def why(cause: Cause, seen: SeenPull) -> str:
    """How `cause` shows, with this pull's own figures."""
    dose_g, first_s = seen.dose_g, seen.first_drop_s or 0.0
    least_g, most_g = seen.recipe.yield_window_g
    time_s = seen.time_s if least_g <= seen.yield_g <= most_g else seen.even_s
    low_g, high_g = seen.recipe.dose_window_g
    most = 100 * max(seen.left, 1 - seen.left)
    match cause:
        case Cause.OVER:
            return f"The scale shows {dose_g:.1f} g, more than {high_g:g} g. A deeper puck slows the water."
        case Cause.UNDER:
            return f"The scale shows {dose_g:.1f} g, less than {low_g:g} g. A thin puck lets the water through."
        case Cause.UNPURGED:
            return "It spat steam before the first drop: the water in the group was too hot."
        case Cause.CROOKED:
            return f"One spout ran ahead with {most:.0f} % of the stream: the puck is thin on that side."
        case Cause.SOFT:
            return f"The first drop fell after {first_s:.1f} s, early for a pull of {time_s:.0f} s: the puck is loose."
        case Cause.FINE:
            return f"Dose, drop and spouts are right, and it takes {time_s:.0f} s: the grind is too fine."
        case Cause.COARSE:
            return f"Dose, drop and spouts are right, and it takes only {time_s:.0f} s: the grind is too coarse."
    return f"Dose, drop and spouts are right, and {time_s:.0f} s is in the window: leave it alone."


MENDS = {
    Cause.NONE: "Change nothing.",
    Cause.FINE: "Turn the collar coarser, one notch at a time.",
    Cause.COARSE: "Turn the collar finer, one notch at a time.",
    Cause.OVER: "Take grounds out until the scale says right.",
    Cause.UNDER: "Add grounds until the scale says right.",
    Cause.SOFT: "Tamp firm: lean on it.",
    Cause.CROOKED: "Level first, then tamp straight.",
    Cause.UNPURGED: "Let the group run before you lock in.",
}


@dataclass(frozen=True, slots=True)
class Score:
    """The lessons so far: `table` counts each (cause, what it was named)."""

    table: dict[tuple[Cause, Cause], int] = field(default_factory=dict)

    def met(self, cause: Cause) -> int:
        return sum(n for (true, _), n in self.table.items() if true is cause)

    def right(self, cause: Cause) -> int:
        return self.table.get((cause, cause), 0)

    @property
    def lessons(self) -> int:
        return sum(self.table.values())

    @property
    def told(self) -> int:
        return sum(self.right(cause) for cause in CAUSES)

    @property
    def share(self) -> float | None:
        """Of the lessons, named rightly, 0 to 1; None before the first."""
        return self.told / self.lessons if self.lessons else None

    def taken_for(self, cause: Cause) -> tuple[tuple[Cause, int], ...]:
        """What `cause` was wrongly named, most often first."""
        wrong = [(said, n) for (true, said), n in self.table.items() if true is cause and said is not cause]
        return tuple(sorted(wrong, key=lambda pair: -pair[1]))


def score(answers: Iterable[tuple[str, str]]) -> Score:
    """The score of (cause, named) pairs; a pair that is of no lesson of ours is left out."""
    table: dict[tuple[Cause, Cause], int] = {}
    for true, said in answers:
        if true in CAUSES and said in CAUSES:
            pair = Cause(true), Cause(said)
            table[pair] = table.get(pair, 0) + 1
    return Score(table)


def next_cause(so_far: Score, chance: float) -> Cause:
    """What to hide next, by `chance` (0 up to 1): causes not met yet and those that were missed come more often."""
    weights = []
    for cause in CAUSES:
        met = so_far.met(cause)
        weights.append(UNTRIED if met == 0 else 1 + AGAIN * (1 - so_far.right(cause) / met))
    left = chance * sum(weights)
    for cause, weight in zip(CAUSES, weights):
        left -= weight
        if left < 0:
            return cause
    return CAUSES[-1]
