"""Drift: one watch a grinder and coffee. Each pull in, a verdict out; a move of the collar begins a new setting run.

Three things are told apart, since each asks for something else: the setting run began off the recipe (the last move was
too small or too large), it drifts, or this pull was odd. The statistics are in `change_detector`, what a dose, a
basket and a person do to the time in `adjusted_time`, what past runs taught in `grinder_model`, whose fault it was in
`diagnosis` and `attribution`, and what to do about it in `advice`.
"""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, replace
from math import hypot, log10, sqrt
from typing import Any

from kiosk.bar.drift import advice as to_do
from kiosk.bar.drift import attribution
from kiosk.bar.drift.adjusted_time import (
    Adjusted,
    Effects,
    adjusted,
    adjusted_time_s,
    learn,
    tapped_unweighed,
)
from kiosk.bar.drift.advice import COARSER, FINER, Advice
from kiosk.bar.drift.change_detector import ChangeDetector, Sight, mean_sd
from kiosk.bar.drift.diagnosis import CHANCE, GRIND, TAMP, Clues, Fault
from kiosk.bar.drift.dosing import Dosing
from kiosk.bar.drift.grinder_model import GrinderModel
from kiosk.bar.drift.on_its_way import AT_MOST, on_its_way
from kiosk.bar.drift.rush import Resemblance, Rush, Seen
from kiosk.bar.drift.verdict import (
    BEGAN_OFF,
    DRIFTING,
    HANDS,
    LATE_STOPS,
    ODD,
    SPREAD,
    STEADY,
    UNKNOWN,
    ChartedPull,
    Flag,
    Verdict,
    by_hand,
    drifted,
    late_stops,
    off_since_set,
    one_persons,
    stands,
)
from kiosk.bar.messages import Message
from kiosk.bar.model import NotchMoved, Pull, service_day

__all__ = ["adjusted_time_s", "counts", "Watch", "Verdict", "Flag", "ChartedPull",
           "STEADY", "BEGAN_OFF", "DRIFTING", "ODD", "SPREAD", "UNKNOWN"]

ALARM = 230.0               # evidence at which a flag is raised; what that comes to is verdict.FALSE_ALARM
WIDER_COUNTS = 5.0          # it gets a twentieth of the alarm's evidence, but is a quarter as common as a move
SURE = 0.95                 # probability at which a setting run is said to have begun off its recipe
AT_RECIPE = ((0.75, 0.1), (0.1, 0.7), (0.05, 3.0))  # a setting run begins so likely within so many spreads of its recipe
AS_EXPECTED = 0.05          # or where the run before and the notch between say (both tuned on seeds that no bench has)
MOVES_A_PULL = 0.15         # how far a grinder may go between two pulls, in spreads: for the coefficients alone
FIRST = 8                   # pulls of a setting run that tell what the notch before it was worth
LOOKED_BACK = 100           # pulls back that a flag's sentence looks for the change
SETTLES = 15                # pulls that a flag stands although a notch would not bring the grinder nearer
LATELY = 40                 # pulls for which a move is still the last word, so that the way back is looked at twice
LEAN = 0.05                 # of a person never met, as a fraction of the time (3–5 %, from memory)
OTHERS = 3                  # pulls of others since the change, before a grinder is named
SURE_OF_GRINDER = 0.95       # the share beside the hands from which a grinder is named
ALIKE_ASKS = 10.0           # how much more evidence is asked for, by what a rush shares (tuned on even seeds of the bench)
LOOKS_AGAIN = 5             # pulls after which a flag that blames a hand is looked at anew
LATE_AT_MOST, LATE_BY = 8, 3.0      # so many taps in a row, so many spreads too late, may be just that
BLAMED = (HANDS, LATE_STOPS)
OPENING = 10                # pulls of a service day within which the manager may allow more than one notch
CHARTED = 150               # points kept for the chart
KEPT = ("setting", "in_flight", "last_move", "day", "pulls_today", "flagged_for", "spread0")


def counts(pull: Pull) -> bool:
    """Whether a pull says anything of its grinder: not a practice one, nor a sink shot that was somebody's slip."""
    if pull.practice:
        return False
    if pull.sink is None:
        return True
    grinders_own = any(word in pull.sink.lower() for word in ("gush", "chok"))
    return grinders_own and pull.recipe.dose_fits(pull.dose_g) is True


class Watch:
    """The pulls of one grinder and coffee.

    `words` say on this collar what "finer" and "coarser" are ({"finer": "turn left", …}); `purge_g` clears the old
    grounds; `notches_at_opening` is how many notches a move may take before service (1, but for the manager's leave);
    `timer_s` is what the timer of a grinder that doses by time stands at, 0 for one that does not.

    >>> from kiosk.bar.model import usual
    >>> house, watch = usual("House", "double"), Watch("Left", "House")
    >>> def pulled(minute: int, time_s: float) -> Verdict:
    ...     return watch.update(Pull(id=f"{minute}", at=f"2026-03-14T09:{minute:02}:00+01:00", grinder="Left", coffee="House",
    ...                              setting=12, recipe=house, dose_g=16.0, yield_g=house.yield_g, time_s=time_s))
    >>> [pulled(minute, 25.0 + minute % 3).kind for minute in range(20)][-1]
    'steady'
    >>> found = [pulled(minute, 31.0 + minute % 3) for minute in range(20, 30)][-1]
    >>> found.kind, found.standing.direction
    ('drifting', 'coarser')
    """

    sight: Sight                    # what the run shows so far
    first: list[float]              # deviations of the run's first pulls, and of the last ones
    recent: list[float]
    block: list[Seen]               # pulls that have not yet taught how they spread and resemble each other
    people: list[tuple[float, str | None, bool]]    # deviations with people in, who, told by a tap alone
    standing: Flag | None
    attributed: attribution.Attributed | None
    raised: list[Flag]              # since none stood: none of them is raised twice

    def __init__(self, grinder: str, coffee: str, *, words: Mapping[str, str] = to_do.PLAIN_WORDS,
                 purge_g: float = to_do.PURGE_G, notches_at_opening: int = 1, timer_s: float = 0.0):
        self.grinder, self.coffee = grinder, coffee
        self.words, self.purge_g, self.notches_at_opening = dict(words), purge_g, notches_at_opening
        self.dosing = Dosing(timer_s)
        self.effects, self.known, self.clues, self.alike = Effects(), GrinderModel(), Clues(), Resemblance()
        self.setting: int | None = None
        self.targets: dict[str, tuple] = {}
        self.day, self.pulls_today = "", 0
        self.points: list[ChartedPull] = []
        self.in_flight: int | None = None                   # the setting before the last turn, while pulls of it may come
        self.last_move = 0                                  # in notches, coarser above zero
        self.left: tuple[float, float, int] | None = None   # level and sd of the setting run before, and the notches since
        self._begin(None)

    @property
    def timer_s(self) -> float:
        """What the grinder's timer stands at."""
        return self.dosing.timer_s

    @timer_s.setter
    def timer_s(self, timer_s: float) -> None:
        self.dosing.set_timer(timer_s)

    # -- what happens ------------------------------------------------------------------------------------------------

    def moved(self, move: NotchMoved) -> None:
        """The collar was turned: the setting run is over. Moves of other grinders or coffees are none of this watch's."""
        if move.grinder == self.grinder and move.coffee == self.coffee and move.after != self.setting:
            self._turned_to(move.after, move.before)
            self.in_flight = move.before

    def update(self, pull: Pull) -> Verdict:
        """Judge a finished pull. One that says nothing of the grinder (practice, a slip) changes nothing."""
        seen = adjusted(pull, self.effects) if counts(pull) else None
        if seen is None:
            return self._keep(pull, self._untold(pull))
        if self._in_flight(pull):
            return self._keep(pull, self._untold(pull))         # of the old setting, whose run is over
        self._run_of(pull)
        self.dosing.observe(pull)
        self.clues.observe(pull, seen.deviation, self.effects["dose"], self._centre(), self.known.spread)
        tapped = tapped_unweighed(pull)
        own = self.effects[f"by {pull.barista}"] - self._lean(pull.barista)[0] if pull.barista else 0.0
        self.sight = self.detector.update(*self._new_in(pull, seen), tapped)
        self.people = (self.people + [(seen.deviation + own, pull.barista, tapped)])[-LOOKED_BACK:]
        learn(pull, self.effects, self.known.spread, MOVES_A_PULL * self.known.spread)
        self.first = (self.first + [seen.deviation])[:FIRST]
        self.recent = (self.recent + [seen.deviation])[-LOOKED_BACK:]
        kind = self._kind()
        flag = self._flagged(pull, kind)
        verdict = self._keep(pull, self._verdict(pull, seen, kind, flag))
        if self._settled():
            self._learn_of_run()
            self.left = None
            self._begin(self._level())
        return verdict

    def _new_in(self, pull: Pull, seen: Adjusted) -> tuple[float, float]:
        """How far off the recipe, and how blurred, in spreads, the pull is by what is new in it beside its rush."""
        before = self.rush.last[0] if self.rush.last else pull.barista
        unsure = self.effects.apart_variance(f"by {before}", f"by {pull.barista}") / 2
        self.block.append(Seen(seen.deviation, self.rush.fade(pull.barista, pull.at), unsure))
        shown, blur = self.rush.observe(seen.deviation / self.spread0, pull.barista, pull.at, self.alike.share)
        if len(self.block) == LOOKED_BACK:
            self._learn_block()
        return shown, hypot(blur, seen.blur / self.spread0)

    def _lean(self, who: str) -> tuple[float, float]:
        """What was known of a person's lean when the setting run began: value and standard deviation."""
        return self.leans.get(who, (0.0, LEAN))

    def chart(self) -> tuple[ChartedPull, ...]:
        """The last pulls, oldest first, across setting runs."""
        return tuple(self.points)

    def faults(self) -> tuple[Fault, ...]:
        """Causes of the last pull, or of the run that it ends, likeliest first; empty where a setting run has no pulls.

        While a flag stands, grinder and tamp share what they have together as the whole run shows it, person by person.
        """
        found, seen = self.clues.faults(), self.attributed
        if seen is None or not seen.shares or not found:
            return found                # too few pulls to tell person by person
        by_cause = {fault.cause: fault for fault in found}
        both = by_cause[GRIND].probability + by_cause[TAMP].probability
        hands = 1 - dict(seen.shares)[attribution.GRINDER]
        by_cause[GRIND] = replace(by_cause[GRIND], probability=both * (1 - hands))
        by_cause[TAMP] = replace(by_cause[TAMP], probability=both * hands)
        return tuple(sorted(by_cause.values(), key=lambda fault: -fault.probability))

    # -- setting runs ---------------------------------------------------------------------------------------------------

    def _begin(self, expected: tuple[float, float] | None) -> None:
        """A new setting run; `expected` is mean and sd of its centre as the setting run before would have it."""
        self.spread0 = self.known.spread
        anchors = [(weight, 0.0, width) for weight, width in AT_RECIPE]
        if expected:
            anchors.append((AS_EXPECTED, expected[0] / self.spread0, max(expected[1] / self.spread0, 0.2)))
        self.detector = ChangeDetector(tuple(anchors), self.known.doubt, self.alike.tail)
        self.sight, self.first, self.recent, self.people = self.detector.sight(), [], [], []
        self.leans = {name.removeprefix("by "): (self.effects[name], self.effects.sd(name))
                      for name in self.effects.names if name.startswith("by ")}
        self.rush, self.block = Rush(), []
        self.standing, self.attributed, self.raised = None, None, []
        self.flagged_for = 0
        self.clues.begin()
        self.effects.forget("centre", 0.0, 0.3)

    def _in_flight(self, pull: Pull) -> bool:
        """Whether it was ground before the collar was turned, as the evening has it too: it belongs to the run before. None is
        on its way over night."""
        if self.detector.pulls >= AT_MOST or pull.at and service_day(pull.at) != self.day:
            self.in_flight = None
        return on_its_way(pull.setting, self.in_flight, self.setting, self.detector.pulls)

    def _run_of(self, pull: Pull) -> None:
        """See that the setting run is this pull's: its setting, its recipe."""
        targets = pull.recipe.dose_g, pull.recipe.yield_g, pull.recipe.time_s
        if self.setting is not None and pull.setting != self.setting:
            self._turned_to(pull.setting, self.setting)
        elif self.targets.get(pull.basket, targets) != targets:
            self._learn_of_run()
            self.left = self.in_flight = None
            self._begin(None)
        self.setting, self.targets[pull.basket] = pull.setting, targets
        day = service_day(pull.at) if pull.at else self.day
        self.day, self.pulls_today = day, self.pulls_today + 1 if day == self.day else 1

    def _turned_to(self, after: int, before: int) -> None:
        if self.detector.pulls:
            self._learn_of_run()
            self.left = (*self._level(), after - before)
        elif self.left:                       # turned again with no pull between
            self.left = (*self.left[:2], self.left[2] + after - before)
        expected = None
        if self.left:
            level, sd, notches = self.left
            expected = level - self.known.worth * notches, sqrt(sd ** 2 + (self.known.worth_sd * notches) ** 2)
        self._begin(expected)
        self.dosing.turned()
        self.setting, self.last_move, self.in_flight = after, after - before, None

    def _learn_of_run(self) -> None:
        if self.left:
            self.known.learn_move(self.left[:2], self.first, self.left[2])
        self._learn_block()
        # Near and wide are but two widths of many: where pulls have a tail, those near their middle get more room, too (chosen).
        self.known.learn_spread(self.alike.spread * (1 + self.alike.tail), self.alike.doubt, self.detector.pulls)

    def _learn_block(self) -> None:
        self.alike.learn(self.block)
        self.block = []

    def _settled(self) -> bool:
        """A flag that nobody need turn the collar for has stood long enough: what it found is the new usual."""
        if self.standing is None or self.flagged_for < SETTLES:
            return False
        near = abs(self._off(self.sight.levels)) < 0.5
        return self.standing.kind in (SPREAD, HANDS, LATE_STOPS) or self.standing.kind == DRIFTING and near

    def _centre(self) -> float:
        return mean_sd(self.sight.centres)[0] * self.spread0 if self.detector.pulls else 0.0

    def _level(self) -> tuple[float, float]:
        """Where the grinder now is off the recipe: mean and standard deviation, fractions of the time."""
        level, sd = mean_sd(self.sight.levels)
        return level * self.spread0, sd * self.spread0

    def _alarm(self) -> float:
        """Evidence at which a flag is raised: more where pulls resemble each other, for what taking that out leaves."""
        return ALARM * (1 + ALIKE_ASKS * self.alike.share)

    # -- verdicts ----------------------------------------------------------------------------------------------------

    def _off(self, weighed: Sequence[tuple[float, float]], share: float = to_do.OFF) -> float:
        """Probability, signed by side (slow: > 0), of being off the recipe by more than that share of a notch."""
        reach = share * self.known.worth / self.spread0
        slow = sum(p for v, p in weighed if v > reach)
        fast = sum(p for v, p in weighed if v < -reach)
        return slow if slow >= fast else -fast

    def _kind(self) -> str:
        sight = self.sight
        if sight.evidence >= self._alarm():
            return SPREAD if WIDER_COUNTS * sight.wider > sight.slower + sight.faster else DRIFTING
        if self.detector.pulls >= to_do.JUDGE_BY and abs(self._off(sight.centres)) >= SURE:
            return BEGAN_OFF
        return ODD if sight.odd >= 0.5 else STEADY

    def _flagged(self, pull: Pull, kind: str) -> Flag | None:
        """The flag that this pull raises, if it does; one that its evidence has left is taken down."""
        flag = None
        if kind in (BEGAN_OFF, DRIFTING, SPREAD):
            slow = self.sight.slower > self.sight.faster if kind == DRIFTING else self._off(self.sight.centres) > 0
            side = "" if kind == SPREAD else COARSER if slow else FINER
            raised = next((each for each in self.raised if (_family(each.kind), each.evidence.get("side", "")) == (kind, side)),
                          None)
            asked_again = raised is not None and raised.kind in BLAMED and (
                self.flagged_for < 3 or self.flagged_for % LOOKS_AGAIN == LOOKS_AGAIN - 1)
            if raised is None or asked_again:
                flag = self._flag(pull, kind, side or None)
                if raised is not None and flag.kind == raised.kind and (raised.evidence.get("who") or not flag.evidence.get("who")):
                    flag = None
            self.standing = flag or raised
            if flag is not None:
                self.raised = [each for each in self.raised if each is not raised] + [flag]
        elif kind == STEADY and self.sight.evidence < self._alarm() / 5:
            self.standing, self.raised, self.attributed = None, [], None
        self.flagged_for = self.flagged_for + 1 if self.standing and not flag else 0
        return flag

    def _flag(self, pull: Pull, kind: str, direction: str | None) -> Flag:
        target_s = pull.recipe.time_s
        where, level_s = stands(self.grinder, pull.setting), self._level()[0] * target_s
        evidence = {"pulls": self.detector.pulls, "level_s": round(level_s, 2), "odds": round(self.sight.evidence, 1),
                    "spread_s": round(self.spread0 * self.sight.spread * target_s, 2), "side": direction or ""}
        if kind == BEGAN_OFF:
            sentence = off_since_set(where, abs(level_s) if direction == COARSER else -abs(level_s))
            evidence["certainty"] = round(abs(self._off(self.sight.centres)), 3)
        elif kind == DRIFTING:
            sentence, figures = drifted(where, [deviation * target_s for deviation in self.recent])
            evidence |= figures
            if self._stopped_late(figures, target_s):
                kind, sentence = LATE_STOPS, late_stops(where, figures)
            else:
                whole = self.spread0 * self.sight.spread
                self.attributed = attribution.attribute(
                    [(off, who) for off, who, _ in self.people], whole,
                    {who: self._lean(who)[1] for _, who, _ in self.people if who is not None})
                by_cause = {fault.cause: fault.probability for fault in self.faults()}
                likeliest = max((cause for cause in by_cause if cause != CHANCE), key=lambda cause: by_cause[cause])
                evidence |= {"cause": likeliest, "probability": round(by_cause[likeliest], 3)}
                sure = (by_cause[GRIND] >= SURE_OF_GRINDER * (by_cause[GRIND] + by_cause[TAMP])
                        and self._shared_by_others(figures["last_pulls"]))
                if likeliest != GRIND or not sure:
                    kind = HANDS
                    who = self.attributed.who if likeliest == TAMP else None
                    sentence = by_hand(where, likeliest, figures)
                    if who is not None:
                        own = self._persons(who, self.attributed.since, target_s)
                        sentence = one_persons(where, own)
                        evidence |= {"who": who} | {f"own_{name}": value for name, value in own.items()}
            direction = direction if kind == DRIFTING else None
        else:
            sentence = Message("{where} is uneven: its pulls spread wider than before. The hands come first, not the grind setting.",
                               where=where)
        return Flag(self.grinder, self.coffee, pull.setting, kind, direction, sentence, evidence)

    def _stopped_late(self, figures: dict, target_s: float) -> bool:
        """Whether a few taps with nothing weighed, each of them far too late for a grinder, are all that changed."""
        many, spread_s = figures["last_pulls"], self.spread0 * self.sight.spread * target_s
        last = self.people[-many:]
        return (many <= LATE_AT_MOST and figures["before_pulls"] > 0 and all(tapped for _, _, tapped in last)
                and figures["after_s"] - figures["before_s"] > LATE_BY * spread_s)

    def _shared_by_others(self, last_pulls: int) -> bool:
        """Whether somebody else, too, pulled since the change; in a bar of one, nobody has to."""
        everybody = {who for _, who, _ in self.people}
        last = [who for _, who, _ in self.people[-last_pulls:]]
        most = max(set(last), key=last.count)
        return len(everybody) == 1 or len(last) - last.count(most) >= OTHERS

    def _persons(self, who: str, since: int, target_s: float) -> dict[str, float]:
        """What one person's own pulls show before and after the change, from the pull `since` on, that is put down to them."""
        own = [(n, off * target_s) for n, (off, name, _) in enumerate(self.people) if name == who]
        before, after = [off for n, off in own if n < since], [off for n, off in own if n >= since]
        was = sum(before) / len(before) if before else 0.0
        return {"last_pulls": len(after), "before_pulls": len(before), "before_s": round(was, 2),
                "after_s": round(sum(after) / len(after), 2)}

    def _verdict(self, pull: Pull, seen: Adjusted, kind: str, flag: Flag | None) -> Verdict:
        target_s, limit = pull.recipe.time_s, log10(1 + self._alarm())
        level, sd = self._level()
        side = 1 if self.sight.slower >= self.sight.faster else -1
        faults = self.faults() if kind != STEADY or _off_recipe(pull) else ()
        direction = self.standing.direction if self.standing else None
        back = FINER if self.last_move > 0 else COARSER if self.last_move < 0 else None
        takes_back = direction is not None and direction == back and self.detector.pulls <= LATELY
        standing = to_do.Standing(
            pulls=self.detector.pulls, flagged=self.standing is not None, flagged_for=self.flagged_for,
            direction=direction, off=self._off(self.sight.levels, to_do.BACK if takes_back else to_do.OFF),
            level_s=(level * target_s, sd * target_s), faults=faults, purge_g=self.purge_g,
            worth_s=(self.known.worth * target_s, self.known.worth_sd * target_s),
            most_notches=self.notches_at_opening if self.pulls_today <= OPENING else 1,
            timed=bool(self.dosing.timer_s), timer=self.dosing.wanted)
        return Verdict(
            even_s=seen.even_s, deviation_s=seen.deviation * target_s, value=side * log10(1 + self.sight.evidence),
            low=-limit, high=limit, kind=kind, flag=flag, standing=self.standing,
            advice=to_do.advise(standing, self.words), faults=faults, level_s=level * target_s,
            level_within_s=1.645 * sd * target_s, pulls=self.detector.pulls)

    def _untold(self, pull: Pull) -> Verdict:
        limit = log10(1 + self._alarm())
        return Verdict(
            even_s=adjusted_time_s(pull), deviation_s=None, value=0.0, low=-limit, high=limit, kind=UNKNOWN, flag=None,
            standing=self.standing, pulls=self.detector.pulls,
            advice=Advice(to_do.HOLD, Message("Leave the grind setting: this pull says nothing of the grinder.")))

    def _keep(self, pull: Pull, verdict: Verdict) -> Verdict:
        self.points.append(ChartedPull(pull.at, verdict.value, verdict.low, verdict.high, verdict.kind, verdict.deviation_s,
                                       verdict.level_s, pull.id))
        del self.points[:-CHARTED]
        return verdict

    # -- memory ------------------------------------------------------------------------------------------------------

    def memory(self) -> dict[str, Any]:
        """All that the watch knows, as JSON can hold it: `restore` goes on as if it had never stopped."""
        return {
            "version": 6, **{name: getattr(self, name) for name in KEPT}, "effects": asdict(self.effects),
            "known": asdict(self.known), "clues": self.clues.memory(), "stretch": self.detector.memory(),
            "first": self.first, "recent": self.recent, "people": [list(each) for each in self.people],
            "leans": {who: list(lean) for who, lean in self.leans.items()},
            "rush": self.rush.memory(), "block": [list(seen) for seen in self.block], "alike": asdict(self.alike),
            "dosing": asdict(self.dosing),
            "attributed": asdict(self.attributed) if self.attributed else None, "left": list(self.left) if self.left else None,
            "targets": {basket: list(target) for basket, target in self.targets.items()},
            "standing": self.standing.to_json() if self.standing else None,
            "raised": [flag.to_json() for flag in self.raised],
            "points": [[_short(item) for item in point] for point in self.points],
        }

    def restore(self, memory: dict[str, Any]) -> None:
        """Take up what `memory` gave. Raises ValueError where it is not whole: replay the last days instead."""
        try:
            if memory["version"] != 6:
                raise ValueError("not what this version of a watch remembers")
            kept = {name: memory[name] for name in KEPT}
            kept |= {
                "effects": Effects(**memory["effects"]), "known": GrinderModel(**memory["known"]),
                "clues": Clues.restored(memory["clues"]), "detector": ChangeDetector.restored(memory["stretch"]),
                "first": list(memory["first"]), "recent": list(memory["recent"]),
                "leans": {who: tuple(lean) for who, lean in memory["leans"].items()},
                "rush": Rush.restored(memory["rush"]), "block": [Seen(*seen) for seen in memory["block"]],
                "alike": Resemblance(**memory["alike"]),
                "dosing": Dosing(**memory["dosing"]),
                "people": [(off, who, tapped) for off, who, tapped in memory["people"]],
                "attributed": attribution.Attributed(**memory["attributed"] | {"shares": tuple(
                    (cause, share) for cause, share in memory["attributed"]["shares"])}) if memory["attributed"] else None,
                "left": tuple(memory["left"]) if memory["left"] else None,
                "targets": {basket: tuple(target) for basket, target in memory["targets"].items()},
                "standing": Flag.from_json(memory["standing"]) if memory["standing"] else None,
                "raised": [Flag.from_json(flag) for flag in memory["raised"]],
                "points": [ChartedPull(*point) for point in memory["points"]]}
        except (KeyError, TypeError, AttributeError) as wrong:
            raise ValueError(f"not what a watch remembers: {wrong}") from None
        timer_s = self.timer_s          # where it stands now, whatever it stood at then
        for name, value in kept.items():
            setattr(self, name, value)
        self.timer_s = timer_s
        self.sight = self.detector.sight()


def _family(kind: str) -> str:
    """What the numbers say, of which a flag says whose doing it is."""
    return DRIFTING if kind in BLAMED else kind


def _short(item: Any) -> Any:
    return round(item, 4) if isinstance(item, float) else item


def _off_recipe(pull: Pull) -> bool:
    """Whether time, dose or yield, as far as they were measured, lie outside the recipe's windows."""
    recipe = pull.recipe
    return False in (recipe.time_fits(pull.time_s), recipe.dose_fits(pull.dose_g), recipe.yield_fits(pull.yield_g))
