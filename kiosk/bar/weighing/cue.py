"""The learned stop cue: how much still comes after the pump is told to stop, group by group.

Two things follow the cue. A person answers it after `reaction_s`, while the stream runs on; and once the pump is off
there is what the valve lets by, what drips, and what the scale had not shown yet, which grows with the flow:
`after_s` × flow + `drip_g`. Both are learned from the pulls so far, from a guess that is right for most machines.
The line is fitted as in Bayesian linear regression with a normal prior, reweighted for Student's t errors (Lange,
Little and Taylor, J. American Statistical Association 84 (1989) 881–896), so that one odd pull moves it little.
"""

from dataclasses import dataclass, replace
from math import sqrt

from kiosk.bar.model import Recipe

WIDE = (2.78, 2.57, 2.45, 2.36, 2.31, 2.26, 2.23, 2.20, 2.18, 2.16, 2.14)      # Student t, 97.5 %, 4 to 14 degrees
KEPT = 24                   # pulls remembered: a morning of one group
FADE = 0.96                 # weight of a pull beside the one after it: a machine changes over days, not pulls
REACTION_S, REACTION_SD_S = 0.45, 0.25       # hearing a tone and pressing a switch (common practice, no source)
AFTER_S, AFTER_SD_S = 0.7, 0.4
DRIP_G, DRIP_SD_G = 0.9, 0.8
NOISE_G, TAIL_DF = 0.25, 4
DELAY_S, DELAY_SD_S = 0.2, 0.15              # a scale's filter and its line
BEND_S, BEND_SD_S = 0.1, 0.15                # from the switch to the bend of a stream seen without delay: valve, spouts


@dataclass(frozen=True, slots=True, kw_only=True)
class Poured:
    """What one pull had to teach. None: it could not be told from this pull.

    `reaction_s` cue to pump off; `flow_g_per_s` at pump off; `after_g` came to the scale's face after pump off;
    `bend_s` from the tapped stop to the bend that it left in the curve. `pull_id` is its record's, where it has one.
    """

    reaction_s: float | None
    flow_g_per_s: float | None
    after_g: float | None
    bend_s: float | None = None
    pull_id: str = ""
    first_drop_s: float | None = None    # from a pump on that a hand or the group's signal told


@dataclass(frozen=True, slots=True)
class Habits:
    """One group's last pulls, and what follows from them."""

    pulls: tuple[Poured, ...] = ()

    def reaction_s(self) -> float:
        """Seconds from the cue to pump off, as this bar does it."""
        return _robust_mean([p.reaction_s for p in self.pulls], REACTION_S, REACTION_SD_S, 0.12)

    def bend_s(self) -> float:
        """Seconds from the switch to the bend in the scale's curve: the machine's part and the scale's."""
        return _robust_mean([p.bend_s for p in self.pulls], DELAY_S + BEND_S, 0.25, 0.1)

    def delay_s(self) -> float:
        """Seconds by which the scale is late: its likely share of the bend's delay; no curve tells the two apart."""
        share = DELAY_SD_S**2 / (DELAY_SD_S**2 + BEND_SD_S**2)
        return max(0.0, DELAY_S + share * (self.bend_s() - DELAY_S - BEND_S))

    def first_drop(self, recipe: Recipe) -> tuple[float, float]:
        """(seconds from pump on to the first drop, ± 19 times in 20) of this group's next pull.

        Mean and spread of the pulls that were told, held by the recipe's own window as by so many pulls (a normal mean
        and variance with a conjugate prior; the wider Student t for few pulls).
        """
        low, high = recipe.first_drop_from_s, recipe.first_drop_to_s
        told = [each.first_drop_s for each in self.pulls if each.first_drop_s is not None]
        middle = sorted(told)[len(told) // 2] if told else (low + high) / 2
        near = [each for each in told if abs(each - middle) <= 4.0]
        weight, prior_sd = 0.5, (high - low) / 4
        mean = (weight * (low + high) / 2 + sum(near)) / (weight + len(near))
        squares = 2 * prior_sd**2 * (0.25 if near else 1.0) + sum((each - mean) ** 2 for each in near)
        sd = sqrt(squares / (2 + len(near)) * (1 + 1 / (weight + len(near))))
        return mean, WIDE[min(len(near), len(WIDE) - 1)] * sd

    def untimely(self, recipe: Recipe, since_s: float) -> float:
        """By how many of its own ± a first drop is off that falls `since_s` after pump on."""
        usual_s, within_s = self.first_drop(recipe)
        return abs(since_s - usual_s) / within_s

    def overdue(self, recipe: Recipe, since_s: float) -> bool:
        """Whether the first drop has surely fallen by `since_s` after pump on."""
        return since_s > sum(self.first_drop(recipe))

    @property
    def taught(self) -> bool:
        """Whether any pull told where its pump stopped."""
        return any(p.bend_s is not None for p in self.pulls)

    def after(self) -> tuple[float, float]:
        """(after_s, drip_g): what comes after pump off is after_s × flow + drip_g."""
        known = [(pull.flow_g_per_s, pull.after_g) for pull in self.pulls
                 if pull.after_g is not None and pull.flow_g_per_s is not None]
        after_s, drip_g = AFTER_S, DRIP_G
        for _ in range(8 if known else 0):
            a11, a12, a22 = 1 / AFTER_SD_S**2, 0.0, 1 / DRIP_SD_G**2
            b1, b2 = AFTER_S * a11, DRIP_G * a22
            for age, (flow, after_g) in enumerate(reversed(known)):
                off = (after_g - after_s * flow - drip_g) / NOISE_G
                weight = FADE**age * (TAIL_DF + 1) / (TAIL_DF + off * off) / NOISE_G**2
                a11, a12, a22 = a11 + weight * flow * flow, a12 + weight * flow, a22 + weight
                b1, b2 = b1 + weight * flow * after_g, b2 + weight * after_g
            det = a11 * a22 - a12 * a12
            after_s, drip_g = (a22 * b1 - a12 * b2) / det, (a11 * b2 - a12 * b1) / det
        return after_s, drip_g


def lesson(poured: Poured | None, first_drop_s: float | None, pull_id: str = "") -> Poured | None:
    """What a pull teaches: its pour, where that settled, and its first drop, where its pump on was told; else None."""
    if poured is None and first_drop_s is None:
        return None
    return replace(poured or Poured(reaction_s=None, flow_g_per_s=None, after_g=None), first_drop_s=first_drop_s,
                   pull_id=pull_id)


def learn(habits: Habits, poured: Poured) -> Habits:
    """The habits with one more pull in them."""
    return replace(habits, pulls=(*habits.pulls, poured)[-KEPT:])


def unlearn(habits: Habits, pull_id: str) -> Habits:
    """The habits without the pull that had this id, where it is among them: it was taken back."""
    return replace(habits, pulls=tuple(each for each in habits.pulls if each.pull_id != pull_id))


def habits_from(kept: dict) -> Habits:
    """The habits that `dataclasses.asdict` wrote. Raises ValueError for anything else."""
    try:
        return Habits(tuple(Poured(**pull) for pull in kept["pulls"]))
    except (TypeError, KeyError) as wrong:
        raise ValueError(f"not the habits of a group: {wrong}") from None


def cue_on_time(recipe: Recipe, time_s: float) -> str | None:
    """Without a scale: "stop" from the recipe's time on, "pale" once the window is over, None before."""
    if time_s > recipe.time_window_s[1]:
        return "pale"
    return "stop" if time_s >= recipe.time_s else None


def _robust_mean(seen: list[float | None], prior: float, prior_sd: float, noise: float) -> float:
    known = [value for value in seen if value is not None]
    mean = prior
    if known:
        middle = sorted(known)[len(known) // 2]
        # Beginning at the middle one keeps a first, distracted pull from setting the scale of what is odd.
        mean = middle if len(known) > 2 else prior
    for _ in range(12 if known else 0):
        top, bottom = prior / prior_sd**2, 1 / prior_sd**2
        for age, value in enumerate(reversed(known)):
            off = (value - mean) / noise
            weight = FADE**age * (TAIL_DF + 1) / (TAIL_DF + off * off) / noise**2
            top, bottom = top + weight * value, bottom + weight
        mean = top / bottom
    return mean
