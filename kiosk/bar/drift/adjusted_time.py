"""Even time: what a pull's time would have been with dose and yield exactly the recipe's.

The yield part is physics: after the first drop the stream pours at the pace it has, so half the yield takes half the
pour. The dose part starts from physics (by Darcy's law the puck's resistance grows with its depth, and a fuller basket
packs denser: time goes with dose to the power 1.6 or so, from memory) and is then learned, for each grinder and coffee,
together with what a basket and each person add: a Bayesian linear regression, one pull at a time, in which the
setting run's centre is a coefficient too, so that a grinder on the move is not mistaken for a dose or a person.
"""

from dataclasses import dataclass, field
from math import hypot, sqrt

from kiosk.bar.model import SINGLE, TAPPED, Pull

DOSE_POWER, DOSE_POWER_SD = 1.6, 0.5
FIRST_DROP_SHARE = 0.16        # of the time, where the first drop was not seen: 4 s of 25 s
LATE_TAP, WORKED_BACK = "late tap", "worked back"     # words for a time that a table may give beside contact, scale, tap
WORKED_BACK_S = 2.5            # ± of a time worked back from the first drop, where nothing better is said
COMPARABLE = (0.5, 2.0)        # a yield further from the recipe's than this is another drink: no adjusted time
UNWEIGHED_DOSE_G = 0.5         # spread of doses that nobody weighed (common practice)
DOUBTED_AT = 2.0               # standard deviations past which a pull pulls on the coefficients no harder (Huber, 1964)


def adjusted_for_yield_s(pull: Pull) -> float | None:
    """The time the recipe's yield would have taken at this pull's pace, in seconds; None where that is not known."""
    if pull.time_s is None or pull.time_s <= 0 or pull.time_from == LATE_TAP:
        return None
    if pull.yield_g is None:
        return pull.time_s
    share = pull.yield_g / pull.recipe.yield_g
    if not COMPARABLE[0] <= share <= COMPARABLE[1]:
        return None
    first = pull.first_drop_s
    if first is None or not 0 < first < pull.time_s:
        first = FIRST_DROP_SHARE * pull.time_s
    return first + (pull.time_s - first) / share


def adjusted_time_s(pull: Pull, dose_power: float = DOSE_POWER) -> float | None:
    """The pull's time, in seconds, had dose and yield been exactly the recipe's; None where there is no telling.

    What was not measured is not corrected for. `dose_power` is the power of the dose that time goes with (1 to 3).
    """
    time_s = adjusted_for_yield_s(pull)
    if time_s is None or pull.dose_g is None:
        return time_s
    recipe = pull.recipe
    return time_s - dose_power * recipe.time_s * (pull.dose_g - recipe.dose_g) / recipe.dose_g


def time_sd_s(pull: Pull) -> float:
    """How far its time may be off for the way it was measured: standard deviation, seconds. None was told of a tap."""
    within_s = pull.time_within_s if pull.time_within_s is not None else WORKED_BACK_S if pull.time_from == WORKED_BACK else 0
    return within_s / 1.96


def tapped_unweighed(pull: Pull) -> bool:
    """Whether a finger alone told when it ended, with nothing weighed to set beside it: such a tap may be late."""
    return pull.yield_g is None and pull.time_from in (None, TAPPED)


@dataclass
class Effects:
    """What moves the time, learned: value and covariance of each named coefficient (Kalman, 1960, for a fixed state).

    All are fractions of the recipe's time: "dose" for each fraction of dose over the recipe's, "single" for the
    smaller basket, "by NAME" for a person, "centre" for the setting run.
    """

    names: list[str] = field(default_factory=lambda: ["centre", "dose"])
    value: list[float] = field(default_factory=lambda: [0.0, DOSE_POWER])
    covariance: list[list[float]] = field(default_factory=lambda: [[0.09, 0.0], [0.0, DOSE_POWER_SD ** 2]])

    BEFORE = {"single": 0.04, "by": 0.03}    # what a basket and a person add is about this large, as a fraction

    def __getitem__(self, name: str) -> float:
        return self.value[self.names.index(name)] if name in self.names else 0.0

    def sd(self, name: str) -> float:
        """Standard deviation of a coefficient: of one never met, what it might be."""
        if name in self.names:
            at = self.names.index(name)
            return sqrt(self.covariance[at][at])
        return self.BEFORE[name.split()[0]]

    def apart_variance(self, one: str, other: str) -> float:
        """Variance of what is not known of how far two coefficients lie apart."""
        if one == other:
            return 0.0
        both = 0.0
        if one in self.names and other in self.names:
            both = self.covariance[self.names.index(one)][self.names.index(other)]
        return max(0.0, self.sd(one) ** 2 + self.sd(other) ** 2 - 2 * both)

    def forget(self, name: str, value: float, sd: float) -> None:
        """Set one coefficient anew, independent of the others: the centre, when a setting run begins."""
        at = self.names.index(name)
        for row in self.covariance:
            row[at] = 0.0
        self.covariance[at] = [0.0] * len(self.names)
        self.covariance[at][at] = sd ** 2
        self.value[at] = value

    def learn(self, given: dict[str, float], response: float, sd: float, wander: float = 0.0) -> None:
        """One pull: `given` maps names to their regressors, `response` is the fraction over the recipe's time.

        `sd` is the pull's own noise; `wander` how far the centre may have gone since the pull before.
        """
        for name in given:
            if name not in self.names:
                self.names.append(name)
                self.value.append(0.0)
                for row in self.covariance:
                    row.append(0.0)
                self.covariance.append([0.0] * (len(self.names) - 1) + [self.BEFORE[name.split()[0]] ** 2])
        x = [given.get(name, 0.0) for name in self.names]
        self.covariance[0][0] += wander ** 2
        carried = [sum(c * xi for c, xi in zip(row, x)) for row in self.covariance]
        known = sum(c * xi for c, xi in zip(carried, x))
        surprise = response - sum(v * xi for v, xi in zip(self.value, x))
        doubt = max(1.0, abs(surprise) / sqrt(known + sd ** 2) / DOUBTED_AT)
        total = known + (sd * doubt) ** 2
        self.value = [v + c * surprise / total for v, c in zip(self.value, carried)]
        self.covariance = [[c - a * b / total for c, b in zip(row, carried)]
                           for row, a in zip(self.covariance, carried)]


@dataclass(frozen=True, slots=True)
class Adjusted:
    """A pull's adjusted time, its deviation as a fraction of the recipe's time, and the sd of what was corrected away."""

    even_s: float
    deviation: float
    blur: float


def regressors(pull: Pull) -> dict[str, float]:
    """What of this pull moves its time: the regressors of `Effects`, without the centre."""
    given = {}
    if pull.dose_g is not None:
        given["dose"] = pull.dose_g / pull.recipe.dose_g - 1
    if pull.basket == SINGLE:
        given["single"] = 1.0
    if pull.barista:
        given[f"by {pull.barista}"] = 1.0
    return given


def adjusted(pull: Pull, effects: Effects) -> Adjusted | None:
    """The pull made even by what has been learned; None where it has no time that can be compared."""
    time_s = adjusted_for_yield_s(pull)
    if time_s is None:
        return None
    target_s, given = pull.recipe.time_s, regressors(pull)
    deviation = time_s / target_s - 1 - sum(effects[name] * x for name, x in given.items())
    if "dose" in given:
        blur = effects.sd("dose") * given["dose"]
    else:
        blur = effects["dose"] * UNWEIGHED_DOSE_G / pull.recipe.dose_g
    return Adjusted(target_s * (1 + deviation), deviation, hypot(blur, time_sd_s(pull) / target_s))


def learn(pull: Pull, effects: Effects, spread: float, wander: float) -> None:
    """Let `effects` learn from a pull with an adjusted time; `spread` and `wander` are as in `Effects.learn`."""
    even_s, seen = adjusted_for_yield_s(pull), adjusted(pull, effects)
    if even_s is None or seen is None:
        return
    blur = time_sd_s(pull) / pull.recipe.time_s if pull.dose_g is not None else seen.blur
    effects.learn({"centre": 1.0, **regressors(pull)}, even_s / pull.recipe.time_s - 1, sqrt(spread ** 2 + blur ** 2), wander)
