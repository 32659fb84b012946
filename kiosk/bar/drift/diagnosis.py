"""Whose fault: grind, dose, tamp, or the pull itself, ranked with probabilities and the evidence in words.

Each cause says how the last pulls should look. A moved grinder moves everybody's pulls, and they stay moved. A wrong
dose shows on the scale, explains the time, and leaves with the next pull. A tamp goes by person and spreads the pulls
wider; a soft or tilted one lets the first drop fall early and the flow run away. The pull itself shows as a step
skipped, a wait, or a stop at the wrong yield. Bayes weighs these stories: over when the trouble began, how large it is,
whose it is, and over its sparing some pulls; beside them stands chance, under which nothing happened at all.

Every measure is in spreads of what is usual on this grinder, learned from it, so no law of flow is taken for granted.
"""

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from math import exp, log, sqrt
from statistics import fmean

from kiosk.bar.drift.adjusted_time import adjusted_for_yield_s
from kiosk.bar.messages import Message, from_json, to_json
from kiosk.bar.model import Pull

GRIND, DOSE, TAMP, PULL, CHANCE = "grind", "dose", "tamp", "pull", "chance"
BEFOREHAND = {GRIND: 1.2, DOSE: 0.2, TAMP: 0.2, PULL: 0.2, CHANCE: 0.03}   # odds, before looking (tuned)
LOOKED_AT = 12                # pulls back that the trouble may have begun
SIZES = (-6.0, -4.0, -2.5, -1.5, 1.5, 2.5, 4.0, 6.0)
SPARED = {GRIND: 0.03, DOSE: 0.3, TAMP: 0.2, PULL: 0.3}   # share of the pulls since then that show nothing of it
LOADED_WAIT_S = 5.0           # a loaded portafilter in a hot group (the guide's own limit)
GROUND_WAIT_S = 60.0          # ground coffee waiting to be pulled (common practice: at once)
SELDOM = 0.002                # tail of what the scale says of dose and yield: it seldom errs
SLIPS_USUAL, SLIPS_WORTH, SLIPS_THEN = 0.05, 20, 0.8    # before any was seen; what that is worth in pulls; where they are the cause


@dataclass(frozen=True, slots=True)
class Fault:
    """One cause ("chance" among them), its probability (0–1), and what speaks for it, in the user's words."""

    cause: str
    probability: float
    evidence: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Clue:
    """One pull as the diagnosis sees it. Lengths in spreads of the grinder's adjusted time; None is "not measured".

    `rest`: off where the grinder was, dose and yield made even. `dose`, `stop`: what the dose and the yield did to the
    time. `early`: how late the first drop fell for the time it took (early: < 0), `runaway`: how much faster the flow
    ended than it usually does, both in their own usual spreads. `slips`: steps missed, in words.
    """

    who: str | None
    rest: float
    dose: float | None = None
    stop: float | None = None
    early: float | None = None
    runaway: float | None = None
    slips: tuple[str, ...] = ()
    dose_off_g: float | None = None
    yield_off_g: float | None = None


@dataclass
class Usual:
    """What a measure usually is on this grinder: mean and spread, forgetting slowly, odd values held back."""

    mean: float
    spread: float
    pulls: int = 0

    def off(self, value: float) -> float:
        """In usual spreads, at most 4 either way: past that, more is no clearer."""
        return max(-4.0, min(4.0, (value - self.mean) / self.spread))

    def learn(self, value: float) -> None:
        self.pulls += 1
        share = max(1 / (self.pulls + 2), 1 / 60)
        off = max(-2.5, min(2.5, self.off(value)))
        self.mean += share * off * self.spread
        self.spread *= sqrt(1 + share / 2 * (min(off * off, 6.25) * 1.05 - 1))


def first_drop_share(pull: Pull) -> float | None:
    """Logarithm of the first drop's share of the time that the recipe's yield would have taken."""
    time_s = adjusted_for_yield_s(pull)
    if time_s is None or pull.first_drop_s is None or not 0.2 < pull.first_drop_s < time_s:
        return None
    return log(pull.first_drop_s / time_s)


def quickening(pull: Pull) -> float | None:
    """Logarithm of the flow in the last third of the pour over that in the first third; None without a curve."""
    if pull.time_s is None or len(pull.trace) < 8:
        return None
    curve = [(s, g) for s, g in pull.trace if s <= pull.time_s]
    began = next((s for s, g in curve if g >= 1.0), None)
    if began is None or pull.time_s - began < 4:
        return None
    third = (pull.time_s - began) / 3
    poured = [_at(curve, began + n * third) for n in range(4)]
    first, last = poured[1] - poured[0], poured[3] - poured[2]
    return log(last / first) if first > 0.5 and last > 0.5 else None


def _at(curve: Sequence[tuple[float, float]], moment_s: float) -> float:
    for (s0, g0), (s1, g1) in zip(curve, curve[1:]):
        if s1 >= moment_s:
            return g0 + (g1 - g0) * (moment_s - s0) / (s1 - s0) if s1 > s0 else g1
    return curve[-1][1]


def slips(pull: Pull) -> tuple[str, ...]:
    """What was missed on the way to this pull, in words."""
    said = []
    if pull.purged is False or "purge" in pull.skipped:
        said.append(Message("the group was not purged"))
    if pull.lock_to_pump_s is not None and pull.lock_to_pump_s > LOADED_WAIT_S:
        said.append(Message("it waited {s:.0f} s in the hot group", s=pull.lock_to_pump_s))
    if pull.grind_to_pull_s is not None and pull.grind_to_pull_s > GROUND_WAIT_S:
        said.append(Message("its grounds waited {s:.0f} s", s=pull.grind_to_pull_s))
    return tuple(said)


class Clues:
    """The last pulls of a setting run as the diagnosis sees them, and what is usual on the grinder, learned on the way."""

    def __init__(self) -> None:
        self.clues: list[Clue] = []      # off the recipe …
        self.bases: list[float] = []     # … and where the setting run's centre was thought to be before each
        self.slips = SLIPS_USUAL         # the share of this grinder's pulls that show a slip: what all of them show explains none
        self.usual = {"dose": Usual(0.0, 0.5), "stop": Usual(0.0, 0.5), "early": Usual(-1.85, 0.15),
                      "runaway": Usual(0.1, 0.2)}

    def observe(self, pull: Pull, deviation: float, dose_power: float, centre: float, spread: float) -> None:
        """Keep a pull: its even deviation, the setting run's centre and the spread are fractions of the recipe's time."""
        recipe, spread_s = pull.recipe, spread * pull.recipe.time_s
        dose_off_g = None if pull.dose_g is None else pull.dose_g - recipe.dose_g
        yield_off_g = None if pull.yield_g is None else pull.yield_g - recipe.yield_g
        measured = {
            "dose": None if dose_off_g is None else dose_power * dose_off_g / recipe.dose_g / spread,
            "stop": None if yield_off_g is None or pull.time_s is None or (even_s := adjusted_for_yield_s(pull)) is None
            else (pull.time_s - even_s) / spread_s,
            "early": first_drop_share(pull), "runaway": quickening(pull)}
        off = {name: None if value is None else self.usual[name].off(value) for name, value in measured.items()}
        self.clues.append(Clue(pull.barista, deviation / spread, measured["dose"], measured["stop"], off["early"],
                               off["runaway"], slips(pull), dose_off_g, yield_off_g))
        self.bases.append(centre / spread)
        self.slips += (bool(self.clues[-1].slips) - self.slips) / (SLIPS_WORTH + 1)
        for name, value in measured.items():
            if value is not None:
                self.usual[name].learn(value)
        del self.clues[:-LOOKED_AT], self.bases[:-LOOKED_AT]

    def begin(self) -> None:
        """A new setting run: what the pulls before it showed is settled."""
        self.clues, self.bases = [], []

    def faults(self) -> tuple[Fault, ...]:
        """Causes of the last pull, or of the run that it ends; empty where a setting run has no pulls."""
        if not self.clues:
            return ()
        return diagnose([replace(clue, rest=clue.rest - self.bases[0]) for clue in self.clues],
                        self.usual["dose"].spread, self.usual["stop"].spread, self.slips)

    def memory(self) -> dict:
        return {"clues": [asdict(clue) | {"slips": list(map(to_json, clue.slips))} for clue in self.clues],
                "bases": list(self.bases), "slips": self.slips, "usual": {name: asdict(usual) for name, usual in self.usual.items()}}

    @classmethod
    def restored(cls, memory: dict) -> "Clues":
        """Those that `memory` was taken from. Raises KeyError or TypeError where it is not whole."""
        clues = cls()
        clues.clues = [Clue(**clue | {"slips": tuple(map(from_json, clue["slips"]))}) for clue in memory["clues"]]
        clues.bases = list(memory["bases"])
        clues.slips = float(memory.get("slips", SLIPS_USUAL))
        clues.usual = {name: Usual(**usual) for name, usual in memory["usual"].items()}
        return clues


def diagnose(clues: list[Clue], usual_dose: float = 0.5, usual_stop: float = 0.5,
             usual_slips: float = SLIPS_USUAL) -> tuple[Fault, ...]:
    """Causes of the last pull, or of the run that it ends, likeliest first; probabilities sum to 1.

    `clues`: the setting run's pulls, oldest first (the last `LOOKED_AT` are read). `usual_dose`, `usual_stop`: what a dose
    or a stop well within tolerance does to the time, in spreads; `usual_slips`: the share of pulls with a slip. Raises
    ValueError for no clues.
    """
    if not clues:
        raise ValueError("no pull to diagnose")
    clues = clues[-LOOKED_AT:]
    people = {clue.who for clue in clues}
    shown = [_Shown(clue, usual_dose, usual_stop, usual_slips) for clue in clues]
    stories = {
        GRIND: [_story([s.moved(size) for s in shown], GRIND) for size in SIZES],
        DOSE: [_story([s.dosed() for s in shown], DOSE)],
        TAMP: [_story([s.tamped(size) if s.clue.who == who else 1.0 for s in shown], TAMP)
               for who in people for size in SIZES] + [_story([s.uneven() for s in shown], TAMP)] * len(SIZES),
        PULL: [_story([s.stopped() for s in shown], PULL)] * len(SIZES)
              + [_story([s.slipped(size) for s in shown], PULL) for size in SIZES],
        CHANCE: [1.0],
    }
    odds = {cause: BEFOREHAND[cause] * fmean(likely) for cause, likely in stories.items()}
    total = sum(odds.values())
    return tuple(Fault(cause, odds[cause] / total, _words(cause, clues))
                 for cause in sorted(odds, key=odds.__getitem__, reverse=True))


def _story(ratios: list[float], cause: str) -> float:
    """How much likelier the pulls are if the trouble began at some one of them, than if nothing happened."""
    spared, run, total = SPARED[cause], 1.0, 0.0
    for ratio in reversed(ratios):
        run *= spared + (1 - spared) * ratio
        total += run
    return total / len(ratios)


class _Shown:
    """How much likelier a pull is under each cause than when nothing is wrong."""

    def __init__(self, clue: Clue, usual_dose: float, usual_stop: float, usual_slips: float):
        self.clue = clue
        self.rest = max(-7.0, min(7.0, clue.rest))
        self.calm = _near(self.rest, 0.0, 1.0)
        self.looks = 1.0     # under a cause that says nothing of first drop and flow, they may still wander a little
        for look in (clue.early, clue.runaway):
            if look is not None:
                self.looks *= _near(look, 0.0, 1.25) / _near(look, 0.0, 1.0)
        self.dose = _ratio(clue.dose, usual_dose)
        self.stop = _ratio(clue.stop, usual_stop)
        then = max(SLIPS_THEN, usual_slips)
        self.slip = then / usual_slips if clue.slips else (1 - then) / (1 - usual_slips)

    def moved(self, size: float) -> float:
        return _near(self.rest, size, 1.1) / self.calm * self.looks

    def dosed(self) -> float:
        return self.dose * _near(self.rest, 0.0, 1.4) / self.calm * self.looks

    def tamped(self, size: float) -> float:
        return _near(self.rest, size, 1.8) / self.calm * self._badly(size < 0)

    def uneven(self) -> float:
        return _near(self.rest, 0.0, 2.2) / self.calm * self._badly(self.rest < 0)

    def _badly(self, fast: bool) -> float:
        if not fast:
            return self.looks
        ratio = 1.0
        for look, side in ((self.clue.early, -1), (self.clue.runaway, 1)):
            if look is not None:
                ratio *= _near(look, 2.0 * side, 2.0) / _near(look, 0.0, 1.0)
        return ratio

    def stopped(self) -> float:
        return self.stop * _near(self.rest, 0.0, 1.4) / self.calm * self.looks

    def slipped(self, size: float) -> float:
        return self.slip * _near(self.rest, size, 1.6) / self.calm * self.looks


def _near(x: float, centre: float, spread: float, tail: float = 0.01) -> float:
    """Density of x, up to a factor, with a tail so heavy that no single number settles anything."""
    return exp(-0.5 * ((x - centre) / spread) ** 2) / spread + tail


def _ratio(effect: float | None, usual: float) -> float:
    """How much likelier an effect is where its cause went wrong (by 3 spreads or so) than where it did not."""
    if effect is None:
        return 1.0
    effect = max(-6.0, min(6.0, effect))
    return _near(effect, 0.0, 3.0, SELDOM) / _near(effect, 0.0, max(usual, 0.3), SELDOM)


def _words(cause: str, clues: list[Clue]) -> tuple[str, ...]:
    last = clues[-1]
    said: list[str] = []
    if cause == GRIND:
        same = 0
        for clue in reversed(clues):
            if clue.rest * last.rest <= 0 or abs(clue.rest) < 0.5:
                break
            same += 1
        if same > 1:
            ran = Message("the last {n:d} pulls all ran {side}", n=same, side=_side(last.rest))
            people = {clue.who for clue in clues[-same:] if clue.who}
            said.append(Message("{ran}, by {n:d} people", ran=ran, n=len(people)) if len(people) > 1 else ran)
        if last.dose is not None and abs(last.dose) < 1:
            said.append(Message("the dose does not explain it"))
    elif cause == DOSE:
        off = [clue.dose_off_g for clue in clues if clue.dose is not None and clue.dose_off_g is not None and abs(clue.dose) >= 1]
        if off:
            worst_g = max(off, key=abs)
            said.append(Message("the dose was {g:+.1f} g off", g=worst_g) if len(off) == 1 else
                        Message("{n:d} of the last {all:d} doses were off, by {g:+.1f} g at most", n=len(off),
                                all=len(clues), g=worst_g))
        if abs(last.rest) < 1.5 and last.dose is not None:
            said.append(Message("made even for the dose, the time is right"))
    elif cause == TAMP:
        theirs = [clue.rest for clue in clues if clue.who == last.who]
        others = [clue.rest for clue in clues if clue.who != last.who]
        if last.who and others and abs(fmean(theirs) - fmean(others)) > 1:
            said.append(Message("{name}'s pulls run {side}, the others' do not", name=last.who,
                                side=_side(fmean(theirs) - fmean(others))))
        if last.early is not None and last.early < -1.5:
            said.append(Message("the first drop fell early"))
        if last.runaway is not None and last.runaway > 1.5:
            said.append(Message("the flow ran away"))
    elif cause == PULL:
        said += last.slips
        if last.stop is not None and last.yield_off_g is not None and abs(last.stop) >= 1:
            said.append(Message("it was stopped {g:.0f} g {when}", g=abs(last.yield_off_g),
                                when=Message("late") if last.yield_off_g > 0 else Message("early")))
    return tuple(said)


def _side(off: float) -> Message:
    return Message("slow") if off > 0 else Message("fast")
