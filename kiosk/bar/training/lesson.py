"""A lesson without coffee: a pull with one hidden cause, to be named from what the screen shows of it. Pure.

A wrong dose stands in what the scale wrote down. A group that was not purged spits steam. A blocked spout gives nothing,
a crooked tamp lets one run ahead. A bed not spread holds for a while, then the stream spurts. A soft tamp lets the first
drop fall early for the time that the pull takes. Aroma that is gone shows in a thin crema: of grounds that lay, or of
beans that are old. What is left is the grind: slow is too fine, fast is too coarse. Looked at in this order no two causes
are alike where the dose is weighed. By eye alone, too much coffee looks like too fine, too little like too coarse.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from enum import StrEnum
from random import Random

from kiosk.bar.messages import Message, joined
from kiosk.bar.model import Exact, Recipe, beside
from kiosk.bar.model.lessons import CAUSES, Cause, Lesson

UNEVEN = 0.08           # of the stream, beyond half, in one spout: an eye tells 58 from 42 (chosen)
ALONE = 0.9             # of the stream in one spout: the other is blocked (chosen)
EARLY = 0.69            # of the recipe's first drop, at that pace: an even bed's drop falls later (chosen)
EYE_OFF_G = 2.5         # an eye reads a cup to the nearest mark, 5 g apart, and so by so much too high or too low (chosen)
LAIN_MIN = 5.0          # grounds that lay longer have lost their aroma (common practice: minutes)
LATE_SLOW, LATE_FAST = 1.025, 0.98   # of the recipe's first drop at that pace: later points to a deep bed (chosen on the practice puck)
AGAIN, UNTRIED = 3.0, 2.0    # how much likelier a cause comes up that was just missed, or was not met yet (chosen)


ALIKE = {Cause.FINE: Cause.OVER, Cause.OVER: Cause.FINE, Cause.COARSE: Cause.UNDER, Cause.UNDER: Cause.COARSE}   # by eye


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenPull:
    """What the screen showed of a pull, and nothing else.

    Times in seconds from pump on; `dose_g` is None where nothing is weighed, and `yield_g` is then what an eye makes of
    the cup. `left` is the left spout's share of the stream, 0 to 1; `spat` whether the group spat steam before the first
    drop; `first_drop_s` is None where none fell, `spurted_s` where the stream kept even; `lain_min` how long the grounds
    lay before the pull.
    """

    recipe: Recipe
    dose_g: float | None
    time_s: float
    yield_g: float
    first_drop_s: float | None
    left: float = 0.5
    spat: bool = False
    spurted_s: float | None = None
    thin: bool = False
    lain_min: float = 0.0
    cold: bool = False

    @property
    def weighed(self) -> bool:
        return self.dose_g is not None

    @property
    def dose_off_g(self) -> float:
        """How far the dose is outside its tolerance, signed; 0 within, and where it was not weighed."""
        if self.dose_g is None or self.recipe.dose_fits(self.dose_g):
            return 0.0
        low, high = self.recipe.dose_window_g
        return min(0.0, self.dose_g - low) + max(0.0, self.dose_g - high)

    @property
    def even_s(self) -> float:
        """The time to the recipe's yield at this pull's pace, to the tenth that is shown: a pump stopped early or late
        changes no cause."""
        first_s = self.first_drop_s if self.first_drop_s is not None else self.time_s
        if self.yield_g < 1 or first_s >= self.time_s:
            return round(self.time_s * self.recipe.yield_g / max(self.yield_g, 1.0), 1)
        return round(first_s + (self.time_s - first_s) * self.recipe.yield_g / self.yield_g, 1)

    @property
    def drop_for_pace(self) -> float | None:
        """How late the first drop fell for the pull's pace, 1 as the recipe has it; None where none fell."""
        recipe = self.recipe
        usual = (recipe.first_drop_from_s + recipe.first_drop_to_s) / 2 / recipe.time_s
        return None if self.first_drop_s is None else self.first_drop_s / self.even_s / usual

    @property
    def early(self) -> bool:
        return self.drop_for_pace is not None and self.drop_for_pace < EARLY

    @property
    def slow(self) -> bool:
        """Too slow at its pace, whenever the pump was stopped; `fast` as well."""
        return not self.recipe.time_fits(self.even_s) and self.even_s > self.recipe.time_s

    @property
    def fast(self) -> bool:
        return not self.recipe.time_fits(self.even_s) and self.even_s < self.recipe.time_s

    @property
    def ahead(self) -> float:
        """The stronger spout's share of the stream, 0.5 to 1."""
        return max(self.left, 1 - self.left)


def shows(cause: Cause, seen: SeenPull) -> bool:
    """Whether what is seen is what `cause` alone would show."""
    match cause:
        case Cause.OVER:
            return seen.dose_off_g > 0 or (not seen.weighed and seen.slow)
        case Cause.UNDER:
            return seen.dose_off_g < 0 or (not seen.weighed and seen.fast)
        case Cause.UNPURGED:
            return seen.spat
        case Cause.BLOCKED:
            return seen.ahead > ALONE
        case Cause.CROOKED:
            return 0.5 + UNEVEN < seen.ahead <= ALONE
        case Cause.CHANNEL:
            return seen.spurted_s is not None
        case Cause.SOFT:
            return seen.early
        case Cause.STALE:
            return seen.thin and seen.lain_min > LAIN_MIN
        case Cause.OLD:
            return seen.thin and seen.lain_min <= LAIN_MIN
        case Cause.FINE:
            return seen.slow
        case Cause.COARSE:
            return seen.fast
        case Cause.COLD:
            return seen.cold
    return not any(shows(other, seen) for other in CAUSES[1:])


# What is looked at first explains what comes after it: the dose before the way it was made, that before the grind.
BY_SCALE = (Cause.OVER, Cause.UNDER)
THEN = (Cause.UNPURGED, Cause.BLOCKED, Cause.CROOKED, Cause.CHANNEL, Cause.SOFT, Cause.STALE, Cause.OLD, Cause.COLD,
        Cause.FINE, Cause.COARSE)


def named(seen: SeenPull) -> Cause:
    """The cause, by what is on the screen alone; of two that look alike, the likelier."""
    if seen.weighed:
        return next((cause for cause in BY_SCALE + THEN if shows(cause, seen)), Cause.NONE)
    found = next((cause for cause in THEN if shows(cause, seen)), Cause.NONE)
    return _likelier(found, seen) if found in ALIKE else found


def _likelier(grind: Cause, seen: SeenPull) -> Cause:
    """Water takes longer to wet a deep bed than one as slow that is fine, so a first drop late for its pace points to the
    dose; coffees swell too differently to be sure of it."""
    deep = (seen.drop_for_pace or 1.0) > (LATE_SLOW if grind is Cause.FINE else LATE_FAST)
    return ALIKE[grind] if deep is (grind is Cause.FINE) else grind


def why(cause: Cause, seen: SeenPull) -> Message:
    """How `cause` shows, with this pull's own figures; by eye alone, what else would look the same."""
    match cause:
        case Cause.OVER | Cause.UNDER if seen.dose_g is not None:
            dose_g, least_g, most_g = beside(seen.dose_g, seen.recipe.dose_window_g)
            return Message("{g:.1f} g was dosed, more than {most:.1f} g: a deeper puck slows the water.", g=dose_g, most=most_g) \
                if cause is Cause.OVER else \
                Message("{g:.1f} g was dosed, less than {least:.1f} g: a thin puck lets the water through.", g=dose_g, least=least_g)
        case Cause.UNPURGED:
            return Message("It spurted steam before the first drop: the water in the group was too hot.")
        case Cause.BLOCKED:
            return Message("One spout alone ran: the other is blocked.")
        case Cause.CROOKED:
            return Message("One spout ran ahead with {share:.0f} % of the stream: the puck is thin on that side.",
                           share=100 * seen.ahead)
        case Cause.CHANNEL:
            return Message("After {s:.0f} s it spurted and paled at once: the water broke a channel through the puck.",
                           s=seen.spurted_s)
        case Cause.SOFT:
            return joined(" ", [_pace(seen), Message("For that, the first drop after {s:.1f} s is early: the puck is loose.",
                                                     s=seen.first_drop_s)])
        case Cause.STALE:
            return Message("The crema is thin, and the grounds lay {min:.0f} min: their aroma is gone.", min=seen.lain_min)
        case Cause.OLD:
            return Message("The crema is thin though the grounds are fresh: the beans are old.")
        case Cause.COLD:
            return Message("The cup is cold: the coffee cools and the crema falls.")
        case Cause.FINE | Cause.OVER:
            return joined(" ", [_pace(seen), *_drop(seen), _grind(seen, Cause.FINE)])
        case Cause.COARSE | Cause.UNDER:
            return joined(" ", [_pace(seen), *_drop(seen), _grind(seen, Cause.COARSE)])
    return joined(" ", [_pace(seen), *_drop(seen), Message("Leave it alone.")])


def _grind(seen: SeenPull, grind: Cause) -> Message:
    if seen.weighed:
        return Message("Too slow, and nothing else is off: the grind is too fine.") if grind is Cause.FINE else \
            Message("Too fast, and nothing else is off: the grind is too coarse.")
    if grind is Cause.FINE:
        return Message("Too slow: too fine or too much coffee. The first drop points to too much coffee, but only a weighed dose "
                       "tells.") if _likelier(grind, seen) is Cause.OVER else \
            Message("Too slow: too fine or too much coffee. The first drop points to too fine, but only a weighed dose tells.")
    return Message("Too fast: too coarse or too little coffee. The first drop points to too little coffee, but only a weighed "
                   "dose tells.") if _likelier(grind, seen) is Cause.UNDER else \
        Message("Too fast: too coarse or too little coffee. The first drop points to too coarse, but only a weighed dose tells.")


def _pace(seen: SeenPull) -> Message:
    """Time and yield together, as they stand on the screen, and what they come to where the pump was stopped elsewhere."""
    window_s, alike = seen.recipe.time_window_s, abs(seen.even_s - seen.time_s) < 0.5
    if seen.recipe.yield_fits(seen.yield_g) and alike and seen.recipe.time_fits(seen.even_s) is seen.recipe.time_fits(seen.time_s):
        time_s, low_s, high_s = beside(seen.time_s, window_s)
        return Message("{g:.1f} g in {s:.1f} s (right: {low:g}–{high:g} s).", g=seen.yield_g, s=time_s, low=low_s, high=high_s)
    even_s, low_s, high_s = beside(seen.even_s, window_s)
    return Message("{g:.1f} g in {s:.1f} s: at that pace {wanted:.0f} g take {even:.1f} s (right: {low:g}–{high:g} s).",
                   g=seen.yield_g, s=seen.time_s, even=even_s, low=low_s, high=high_s, wanted=seen.recipe.yield_g)


def _drop(seen: SeenPull) -> list[Message]:
    recipe, drop_s = seen.recipe, seen.first_drop_s
    if drop_s is None or recipe.first_drop_from_s <= drop_s <= recipe.first_drop_to_s:
        return []
    shown_s, _, _ = beside(drop_s, (recipe.first_drop_from_s, recipe.first_drop_to_s))
    return [Message("The first drop was late ({s:.1f} s).", s=shown_s) if drop_s > recipe.first_drop_to_s else
            Message("The first drop was early ({s:.1f} s).", s=shown_s)]


def stopped(seen: SeenPull) -> Message | None:
    """What the hand on the pump did, apart from the cause; None where the cup is right, or where no eye could say that it is not."""
    recipe, within_g = seen.recipe, 0.0 if seen.weighed else EYE_OFF_G
    nearest_g = min(max(recipe.yield_g, seen.yield_g - within_g), seen.yield_g + within_g)      # that could be in the cup
    if recipe.yield_fits(nearest_g):
        return None
    grams, least, most = beside(seen.yield_g, recipe.yield_window_g)
    if nearest_g > recipe.yield_g:
        return Message("Stopped late: {g:.1f} g, right is {least:g}–{most:g}.", g=grams, least=least, most=most)
    return Message("Stopped early: {g:.1f} g, right is {least:g}–{most:g}.", g=grams, least=least, most=most)


WOULD_SHOW = {
    Cause.NONE: Message("Something is off: look again."),
    Cause.SOFT: Message("Then the first drop would fall early for the time it takes."),
    Cause.CROOKED: Message("Then one spout would run ahead, and the other still run."),
    Cause.BLOCKED: Message("Then one spout would not run at all."),
    Cause.CHANNEL: Message("Then the stream would spurt and pale at once."),
    Cause.UNPURGED: Message("Then it would spit steam before the first drop."),
    Cause.STALE: Message("Then the grounds would have lain, and the crema be thin."),
    Cause.OLD: Message("Then fresh grounds would give a thin crema."),
    Cause.COLD: Message("The cup is warm."),
}


def why_not(said: Cause, cause: Cause, seen: SeenPull) -> Message:
    """Why it is not `said` but `cause`: what that would have shown; or, where that shows as well, that something before it explains it."""
    low_s, high_s = seen.recipe.time_window_s
    if not seen.weighed and ALIKE.get(said) is cause and shows(said, seen):
        return Message("By eye it could be that, too.")
    if said is not Cause.NONE and shows(said, seen):
        return Message("It looks like that, but something else explains it.")
    match said:
        case Cause.OVER | Cause.UNDER if seen.weighed:
            return Message("The dose is right.") if not seen.dose_off_g else \
                Message("The dose is off the other way.")
        case Cause.OVER | Cause.FINE:
            return Message("Then {wanted:.0f} g would take longer than {s:g} s.", wanted=seen.recipe.yield_g, s=Exact(high_s))
        case Cause.UNDER | Cause.COARSE:
            return Message("Then {wanted:.0f} g would be there before {s:g} s.", wanted=seen.recipe.yield_g, s=Exact(low_s))
    return WOULD_SHOW[said]


class Mend(StrEnum):
    """What can be done before the next pull; those of `AMOUNTS` by how much."""

    COARSER = "coarser"
    FINER = "finer"
    TAKE = "take"
    ADD = "add"
    FIRM = "firm"
    STRAIGHT = "straight"
    SPREAD = "spread"
    FLUSH = "flush"
    CLEAN = "clean"
    GRIND_NEW = "grind new"
    BAG = "bag"
    WARM = "warm"


AMOUNTS = {Mend.COARSER: (1, 2, 3), Mend.FINER: (1, 2, 3), Mend.TAKE: (1, 2, 3), Mend.ADD: (1, 2, 3)}   # notches, or grams
MENDS = {Cause.FINE: Mend.COARSER, Cause.COARSE: Mend.FINER, Cause.OVER: Mend.TAKE, Cause.UNDER: Mend.ADD, Cause.SOFT: Mend.FIRM,
         Cause.CROOKED: Mend.STRAIGHT, Cause.CHANNEL: Mend.SPREAD, Cause.UNPURGED: Mend.FLUSH, Cause.BLOCKED: Mend.CLEAN,
         Cause.STALE: Mend.GRIND_NEW, Cause.OLD: Mend.BAG, Cause.COLD: Mend.WARM}


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


def deck(lesson: Lesson, seed: int) -> tuple[Cause, ...]:
    """What to hide in each pull of a lesson that a trainer put together: each of its faults as often as the others, as far as
    the pulls go round, in no order but the `seed`'s."""
    chance = Random(seed)
    faults = [cause for cause in CAUSES if cause in lesson.faults]
    dealt: list[Cause] = []
    while len(dealt) < lesson.pulls:
        dealt += chance.sample(faults, len(faults))
    return tuple(dealt[:lesson.pulls])


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
