"""Drift: one watch a grinder and coffee. Each pull in, a verdict out; a move of the collar begins a new stretch.

Three things are told apart, since each asks for something else: the stretch began off the recipe (the last move was
too small or too large), it drifts, or this pull was odd. The statistics are in `stretch`, what a dose, a basket and a
person do to the time is in `even`.
"""

from dataclasses import asdict, dataclass, replace
from math import log10, sqrt
from statistics import fmean, median
from typing import Any, Mapping, NamedTuple

from kiosk.bar import advice as to_do
from kiosk.bar.advice import COARSER, FINER, Advice
from kiosk.bar import diagnosis
from kiosk.bar.day import service_day
from kiosk.bar.diagnosis import Clue, Fault, Usual
from kiosk.bar.even import Effects, Evened, even_time_s, evened, evened_for_yield_s, regressors
from kiosk.bar.record import NotchMoved, Pull
from kiosk.bar.stretch import Sight, Stretch, mean_sd

__all__ = ["even_time_s", "Watch", "Verdict", "Flag", "Point"]

STEADY, BEGAN_OFF, DRIFTING, ODD, SPREAD, UNKNOWN = "steady", "began_off", "drifting", "odd", "spread", "unknown"
ALARM = 205.0               # evidence at which a flag is raised; see FALSE_ALARM
FALSE_ALARM = 370           # pulls between false flags, on average, on a grinder that does not move: measured, not less
WIDER_COUNTS = 5.0          # a wider spread is given a twentieth of the alarm's evidence, but is a quarter as common as a move
SURE = 0.95                 # probability at which a stretch is said to have begun off its recipe
AT_RECIPE = ((0.6, 0.2), (0.15, 0.7), (0.1, 3.0))   # a stretch begins so likely within so many spreads of its recipe
AS_EXPECTED = 0.15          # or where the stretch before and the notch between say
SPREAD_0, DOUBT_0 = 0.08, 0.35   # spread of even time, as a fraction of it, before anything is known; and its log's sd
DOUBT_LEAST = 0.10
WORTH_0, WORTH_SD_0 = 0.10, 0.05   # a notch is worth about this fraction of the time (common practice: 1–4 s)
WORTH_RANGE = (0.02, 0.4)
MOVES_A_PULL = 0.15         # how far a grinder may go between two pulls, in spreads: for the coefficients alone
SETTLED_BY = 8              # first pulls of a stretch that tell what the notch before it was worth
LOOKED_BACK = 100           # pulls back that a flag's sentence looks for the change
SETTLES = 15                # pulls that a flag stands although a notch would not bring the grinder nearer
OPENING = 10                # pulls of a service day within which the manager may allow more than one notch
KEPT = ("setting", "spread", "doubt", "worth", "worth_sd", "spread0", "day", "pulls_today", "flagged_for")
REMEMBERED = 150            # points kept for the chart


class Point(NamedTuple):
    """One pull on the chart: `value` leaves (`low`, `high`) exactly where the watch says that the grinder drifts.

    `value` is the signed evidence, log10(1 + Shiryaev-Roberts), positive where pulls run slower. The rest is in
    seconds off the recipe: this pull's even time, and the level that the grinder is now thought to be at.
    """

    at: str
    value: float
    low: float
    high: float
    kind: str
    deviation_s: float | None
    level_s: float | None
    pull_id: str


@dataclass(frozen=True, slots=True)
class Flag:
    """What is wrong with a grinder, the way to turn it (None where turning is no cure), and what that rests on.

    `one_false_in` is the stated false-alarm rate: pulls between two false flags, on average, at the least.
    """

    grinder: str
    coffee: str
    setting: int
    kind: str
    direction: str | None
    sentence: str
    evidence: dict[str, Any]
    one_false_in: int = FALSE_ALARM


@dataclass(frozen=True, slots=True)
class Verdict:
    """What a pull says. Times in seconds; `deviation_s` is even time less the recipe's time.

    `value`, `low`, `high`: the chart (see Point). `level_s` ± `level_within_s`: where the grinder is now thought to be
    off the recipe, with 90 % probability. `kind`: steady, began_off, drifting, odd, spread or unknown. `flag` is set on
    the pull that raises it; `standing` for as long as it holds.
    """

    even_s: float | None
    deviation_s: float | None
    value: float
    low: float
    high: float
    kind: str
    flag: Flag | None
    standing: Flag | None
    advice: Advice
    faults: tuple[Fault, ...] = ()
    level_s: float | None = None
    level_within_s: float | None = None
    pulls: int = 0


def counts(pull: Pull) -> bool:
    """Whether a pull says anything of its grinder: not a practice one, nor a sink shot that was somebody's slip."""
    if pull.practice:
        return False
    if pull.sink is None:
        return True
    low, high = pull.recipe.dose_window_g
    grinders_own = any(word in pull.sink.lower() for word in ("gush", "chok"))
    return grinders_own and pull.dose_g is not None and low <= pull.dose_g <= high


class Watch:
    """The pulls of one grinder and coffee.

    `words` say on this collar what "finer" and "coarser" are ({"finer": "turn left", …}); `purge_g` clears the old
    grounds; `notches_at_opening` is how many notches a move may take before service (1, unless the manager allows more).
    """

    def __init__(self, grinder: str, coffee: str, *, words: Mapping[str, str] = to_do.PLAIN_WORDS,
                 purge_g: float = to_do.PURGE_G, notches_at_opening: int = 1):
        self.grinder, self.coffee = grinder, coffee
        self.words, self.purge_g, self.notches_at_opening = dict(words), purge_g, notches_at_opening
        self.effects = Effects()
        self.spread, self.doubt = SPREAD_0, DOUBT_0
        self.worth, self.worth_sd = WORTH_0, WORTH_SD_0
        self.setting: int | None = None
        self.targets: dict[str, tuple] = {}
        self.day, self.pulls_today = "", 0
        self.points: list[Point] = []
        self.usual = {"dose": Usual(0.0, 0.5), "stop": Usual(0.0, 0.5), "early": Usual(-1.85, 0.15), "runaway": Usual(0.1, 0.2)}
        self.standing: Flag | None = None
        self.left: tuple[float, float, int] | None = None   # level and sd of the stretch before, and the move since
        self._begin(None)

    # -- what happens ------------------------------------------------------------------------------------------------

    def moved(self, move: NotchMoved):
        """The collar was turned: the stretch is over. Moves of other grinders or coffees are none of this watch's."""
        if move.grinder == self.grinder and move.coffee == self.coffee and move.after != self.setting:
            self._turned_to(move.after, move.before)

    def update(self, pull: Pull) -> Verdict:
        """Judge a finished pull. One that says nothing of the grinder (practice, a slip) changes nothing."""
        seen = evened(pull, self.effects) if counts(pull) else None
        if seen is None:
            return self._keep(pull, self._verdict(pull, None, None, UNKNOWN, None))
        if self.setting is not None and pull.setting != self.setting:
            self._turned_to(pull.setting, self.setting)
        elif self._recipe_changed(pull):
            self.left = None
            self._begin(None)
        self.setting = pull.setting
        day = service_day(pull.at) if pull.at else self.day
        self.day, self.pulls_today = day, self.pulls_today + 1 if day == self.day else 1
        self.targets[pull.basket] = _targets(pull)
        self._look(pull, seen)
        sight = self.stretch.update(seen.deviation / self.spread0, seen.blur / self.spread0)
        self.sight = sight
        self._learn(pull)
        if len(self.first) < SETTLED_BY:
            self.first.append(seen.deviation)
        self.recent.append(seen.deviation)
        del self.recent[:-LOOKED_BACK]
        kind = self._kind(sight)
        flag = None
        if kind in (BEGAN_OFF, DRIFTING, SPREAD):
            direction = self._direction(sight, kind)
            if self.standing is None or (self.standing.kind, self.standing.direction) != (kind, direction):
                flag = self.standing = self._flag(pull, kind, direction, sight)
        elif self.standing is not None and sight.evidence < ALARM / 5 and kind == STEADY:
            self.standing = None
        self.flagged_for = self.flagged_for + 1 if self.standing and not flag else 0
        verdict = self._keep(pull, self._verdict(pull, seen, sight, kind, flag))
        if self._settled():
            self._spread_learned()
            self._begin(mean_sd([(value * self.spread0, p) for value, p in sight.levels]))
        return verdict

    def _settled(self) -> bool:
        """A flag that nobody need turn the collar for has stood long enough: what it found is the new usual."""
        if self.standing is None or self.flagged_for < SETTLES:
            return False
        return self.standing.kind == SPREAD or self.standing.kind == DRIFTING and abs(self._off(self.sight.levels)) < 0.5

    def chart(self) -> tuple[Point, ...]:
        """The last pulls, oldest first, across stretches."""
        return tuple(self.points)

    # -- stretches ---------------------------------------------------------------------------------------------------

    def _begin(self, expected: tuple[float, float] | None):
        """A new stretch; `expected` is mean and sd of its centre as the stretch before would have it."""
        anchors = [(weight, 0.0, width * self.spread) for weight, width in AT_RECIPE]
        if expected:
            anchors.append((AS_EXPECTED, *expected))
        self.spread0 = self.spread
        self.stretch = Stretch(tuple((w, c / self.spread0, max(sd / self.spread0, 0.2)) for w, c, sd in anchors), self.doubt)
        self.sight: Sight | None = None
        self.first: list[float] = []     # deviations of the first pulls, and of the last ones
        self.recent: list[float] = []
        self.clues: list[Clue] = []      # the last pulls, off the recipe
        self.bases: list[float] = []     # and where the stretch's centre was thought to be before each
        self.standing, self.flagged_for = None, 0
        self.effects.forget("centre", 0.0, 0.3)

    def _turned_to(self, after: int, before: int):
        if self.sight is not None:
            self._worth_learned()
            level, sd = mean_sd(self.sight.levels)
            self.left = level * self.spread0, sd * self.spread0, after - before
            self._spread_learned()
        elif self.left:                       # turned again with no pull between
            self.left = (*self.left[:2], self.left[2] + after - before)
        expected = None
        if self.left:
            level, sd, notches = self.left
            expected = level - self.worth * notches, sqrt(sd ** 2 + (self.worth_sd * notches) ** 2)
        self._begin(expected)
        self.setting = after

    def _worth_learned(self):
        """What the last move did, against what a notch was thought to be worth (a Kalman step on a constant)."""
        if not self.left or not self.left[2] or len(self.first) < to_do.JUDGE_BY:
            return
        level, sd, notches = self.left
        seen = (level - median(self.first)) / notches
        noise = (sd ** 2 + 1.57 * self.spread ** 2 / len(self.first) + (0.5 * self.spread) ** 2) / notches ** 2
        gain = self.worth_sd ** 2 / (self.worth_sd ** 2 + noise)
        self.worth = min(max(self.worth + gain * (seen - self.worth), WORTH_RANGE[0]), WORTH_RANGE[1])
        self.worth_sd *= sqrt(1 - gain)

    def _spread_learned(self):
        pulls = self.stretch.pulls
        if pulls >= 5:
            self.spread = self.spread0 * self.sight.spread
            self.doubt = max(DOUBT_LEAST, 1 / sqrt(1 / self.doubt ** 2 + 2 * (pulls - 1)))

    def _recipe_changed(self, pull: Pull) -> bool:
        return self.targets.get(pull.basket, _targets(pull)) != _targets(pull)

    def _learn(self, pull: Pull):
        time_s = evened(pull, Effects()).deviation + sum(
            Effects()[name] * x for name, x in regressors(pull).items())
        blur = 0.0 if pull.dose_g is not None else evened(pull, self.effects).blur
        self.effects.learn({"centre": 1.0, **regressors(pull)}, time_s, sqrt(self.spread ** 2 + blur ** 2),
                           MOVES_A_PULL * self.spread)

    def _look(self, pull: Pull, seen: Evened):
        """Keep what the diagnosis needs of a pull, and learn what is usual here."""
        recipe, spread_s = pull.recipe, self.spread * pull.recipe.time_s
        clue = Clue(
            who=pull.barista, rest=seen.deviation / self.spread, slips=diagnosis.slips(pull),
            dose=None if pull.dose_g is None else self.effects["dose"] * (pull.dose_g / recipe.dose_g - 1) / self.spread,
            stop=None if pull.yield_g is None else (pull.time_s - evened_for_yield_s(pull)) / spread_s,
            dose_off_g=None if pull.dose_g is None else pull.dose_g - recipe.dose_g,
            yield_off_g=None if pull.yield_g is None else pull.yield_g - recipe.yield_g)
        measures = {"dose": clue.dose, "stop": clue.stop, "early": diagnosis.first_drop_share(pull),
                    "runaway": diagnosis.quickening(pull)}
        told = {name: value for name, value in measures.items() if value is not None}
        self.clues.append(replace(clue, **{name: self.usual[name].off(told[name])
                                           for name in ("early", "runaway") if name in told}))
        for name, value in told.items():
            self.usual[name].learn(value)
        self.bases.append(mean_sd(self.sight.centres)[0] * self.spread0 / self.spread if self.sight else 0.0)
        del self.clues[:-diagnosis.LOOKED_AT], self.bases[:-diagnosis.LOOKED_AT]

    def faults(self) -> tuple[Fault, ...]:
        """Causes of the last pull, or of the run that it ends, likeliest first; empty where a stretch has no pulls."""
        if not self.clues:
            return ()
        base = self.bases[0]
        return diagnosis.diagnose([replace(clue, rest=clue.rest - base) for clue in self.clues],
                                  self.usual["dose"].spread, self.usual["stop"].spread)

    # -- verdicts ----------------------------------------------------------------------------------------------------

    def _off(self, weighed) -> float:
        """Probability, signed by side, that a level is off the recipe by more than half a notch."""
        half = 0.5 * self.worth / self.spread0
        slow = sum(p for v, p in weighed if v > half)
        fast = sum(p for v, p in weighed if v < -half)
        return slow if slow >= fast else -fast

    def _kind(self, sight: Sight) -> str:
        if sight.evidence >= ALARM:
            return SPREAD if WIDER_COUNTS * sight.wider > sight.slower + sight.faster else DRIFTING
        if self.stretch.pulls >= to_do.JUDGE_BY and abs(self._off(sight.centres)) >= SURE:
            return BEGAN_OFF
        return ODD if sight.odd >= 0.5 else STEADY

    def _direction(self, sight: Sight, kind: str) -> str | None:
        if kind == SPREAD:
            return None
        if kind == DRIFTING:
            return COARSER if sight.slower > sight.faster else FINER
        return COARSER if self._off(sight.centres) > 0 else FINER

    def _flag(self, pull: Pull, kind: str, direction: str | None, sight: Sight) -> Flag:
        target_s = pull.recipe.time_s
        level = mean_sd(sight.levels)[0] * self.spread0 * target_s
        where = f"{self.grinder} at {pull.setting}"
        evidence = {"pulls": self.stretch.pulls, "level_s": round(level, 2), "odds": round(sight.evidence, 1),
                    "spread_s": round(self.spread0 * sight.spread * target_s, 2)}
        side = "slow" if direction == COARSER else "fast"
        if kind == BEGAN_OFF:
            evidence["certainty"] = round(abs(self._off(sight.centres)), 3)
            sentence = f"{where} has run {abs(level):.0f} s {side} since it was set."
        elif kind == DRIFTING:
            since = self._since()
            now, was = fmean(self.recent[since:]), fmean(self.recent[:since]) if since else 0.0
            evidence |= {"last_pulls": len(self.recent) - since, "before_s": round(was * target_s, 2), "after_s": round(now * target_s, 2)}
            sentence = (f"{where} has moved: the last {len(self.recent) - since} pulls ran "
                        f"{abs(now - was) * target_s:.1f} s {'slower' if now > was else 'faster'} than those before.")
        else:
            sentence = f"{where} is uneven: its pulls spread wider than before, so the hands come first, not the collar."
        return Flag(self.grinder, self.coffee, pull.setting, kind, direction, sentence, evidence)

    def _since(self) -> int:
        """How many of the stretch's pulls came before the likeliest change (least squares, medians being too coarse)."""
        recent, total = self.recent, sum(self.recent)
        best, at, before = -1.0, 0, 0.0
        for k in range(1, len(recent)):
            before += recent[k - 1]
            n = len(recent) - k
            gain = (before / k - (total - before) / n) ** 2 * k * n
            if gain > best:
                best, at = gain, k
        return at

    def _verdict(self, pull: Pull, seen: Evened | None, sight: Sight | None, kind: str, flag: Flag | None) -> Verdict:
        limit = log10(1 + ALARM)
        target_s = pull.recipe.time_s
        if sight is None:
            return Verdict(even_time_s(pull), None, 0.0, -limit, limit, kind, None, self.standing,
                           Advice(to_do.HOLD, "Leave the collar: this pull says nothing of the grinder."), pulls=self.stretch.pulls)
        level, sd = mean_sd(sight.levels)
        faults = self.faults() if kind != STEADY or _off_recipe(pull) else ()
        value = log10(1 + sight.evidence) * (1 if sight.slower >= sight.faster else -1)
        return Verdict(seen.even_s, seen.deviation * target_s, value, -limit, limit, kind, flag, self.standing,
                       self._advice(sight, faults, target_s), faults, level * self.spread0 * target_s,
                       1.645 * sd * self.spread0 * target_s, self.stretch.pulls)

    def _advice(self, sight: Sight, faults: tuple[Fault, ...], target_s: float) -> Advice:
        flag = self.standing
        level, sd = mean_sd(sight.levels)
        scale_s = self.spread0 * target_s
        return to_do.advise(to_do.Standing(
            pulls=self.stretch.pulls, flagged=flag is not None, direction=flag.direction if flag else None,
            flagged_for=self.flagged_for, off=self._off(sight.levels), level_s=(level * scale_s, sd * scale_s),
            worth_s=(self.worth * target_s, self.worth_sd * target_s), faults=faults, purge_g=self.purge_g,
            most_notches=self.notches_at_opening if self.pulls_today <= OPENING else 1), self.words)

    def _keep(self, pull: Pull, verdict: Verdict) -> Verdict:
        self.points.append(Point(pull.at, verdict.value, verdict.low, verdict.high, verdict.kind, verdict.deviation_s,
                                 verdict.level_s, pull.id))
        del self.points[:-REMEMBERED]
        return verdict

    # -- memory ------------------------------------------------------------------------------------------------------

    def memory(self) -> dict[str, Any]:
        """All that the watch knows, as JSON can hold it: `Watch.resume` goes on as if it had never stopped."""
        return {
            "version": 1, **{name: getattr(self, name) for name in KEPT}, "effects": asdict(self.effects), 
            "first": self.first, "recent": self.recent,
            "targets": {basket: list(target) for basket, target in self.targets.items()},
            "standing": asdict(self.standing) if self.standing else None, "left": list(self.left) if self.left else None,
            "points": [[_short(item) for item in point] for point in self.points], "stretch": self.stretch.memory(), "usual": {name: asdict(usual) for name, usual in self.usual.items()},
            "clues": [asdict(clue) for clue in self.clues], "bases": self.bases,
        }

    def resume(self, memory: dict[str, Any]):
        """Take up what `memory` gave. Raises ValueError where it is not whole: start afresh, and replay the day."""
        try:
            if memory["version"] != 1:
                raise ValueError("from another version")
            for name in KEPT:
                setattr(self, name, memory[name])
            self.first, self.recent = list(memory["first"]), list(memory["recent"])
            self.effects = Effects(**memory["effects"])
            self.targets = {basket: tuple(target) for basket, target in memory["targets"].items()}
            self.standing = Flag(**memory["standing"]) if memory["standing"] else None
            self.left = tuple(memory["left"]) if memory["left"] else None
            self.points = [Point(*point) for point in memory["points"]]
            self.stretch = Stretch.resumed(memory["stretch"])
            self.sight = self.stretch.sight() if self.stretch.pulls else None
            self.usual = {name: Usual(**usual) for name, usual in memory["usual"].items()}
            self.clues = [Clue(**clue | {"slips": tuple(clue["slips"])}) for clue in memory["clues"]]
            self.bases = list(memory["bases"])
        except (KeyError, TypeError) as wrong:
            raise ValueError(f"not what a watch remembers: {wrong}") from None


def _short(item: Any) -> Any:
    return round(item, 4) if isinstance(item, float) else item


def _off_recipe(pull: Pull) -> bool:
    """Whether time, dose or yield, as far as they were measured, lie outside the recipe's windows."""
    recipe = pull.recipe
    measured = ((pull.time_s, recipe.time_window_s), (pull.dose_g, recipe.dose_window_g), (pull.yield_g, recipe.yield_window_g))
    return any(value is not None and not low <= value <= high for value, (low, high) in measured)


def _targets(pull: Pull) -> tuple[float, float, float]:
    return pull.recipe.dose_g, pull.recipe.yield_g, pull.recipe.time_s
