"""The story that scales and signals tell of a bar's pulls, with or without a hand's word: readings in, pulls out.

Each scale is always listened to. A pull begins with what tells it best: a group's own signal, a hand, or the first drop
alone, from which its start is worked back. It keeps its pour until that has settled or its cup was lifted.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from math import hypot, inf

from kiosk.bar.model import CONTACT, SCALE, TAPPED, Recipe
from kiosk.bar.weighing.cue import Habits, learn, lesson
from kiosk.bar.weighing.portafilter import DoseWatch
from kiosk.bar.weighing.pour import PourWatch, begun_before
from kiosk.bar.weighing.sightings import (
    CupLifted,
    DoseRead,
    FirstDrop,
    FlowEnded,
    PortafilterSet,
    Sample,
    Settled,
    Sighting,
    StopNow,
)
from kiosk.bar.weighing.signal import WITHIN_S, GroupSignal, PumpRan
from kiosk.bar.weighing.untold import BELIEVED_AFTER_S, PourSeen, UntoldPour

TAP_WITHIN_S = 1.0          # a finger's moment (common practice, no source)
SAME_START_S = 3.0          # a hand's and a signal's word for one pump
PORTAFILTER_FROM_G = 430.0  # lighter, and it may be a cup or a jug
DOSE_KEPT_S = 300.0
LONGEST_S, DRIPS_S = 150.0, 30.0


@dataclass(slots=True)
class ToldPull:
    """One pull, as far as it went. Times are the feed's seconds, ± 19 times in 20; None: not measured."""

    recipe: Recipe
    group: int | None = None
    sightings: list[Sighting] = field(default_factory=list)
    dose_g: float | None = None
    on_s: float | None = None
    on_from: str | None = None
    on_within_s: float | None = None
    off_s: float | None = None
    off_from: str | None = None
    off_within_s: float | None = None
    drop_s: float | None = None
    cue_s: float | None = None
    yield_g: float | None = None
    flow_g_per_s: float | None = None
    lifted: bool = False

    @property
    def time_s(self) -> float | None:
        return None if self.on_s is None or self.off_s is None else self.off_s - self.on_s

    @property
    def first_drop_s(self) -> float | None:
        return None if self.on_s is None or self.drop_s is None else self.drop_s - self.on_s

    @property
    def stop_cue_s(self) -> float | None:
        return None if self.on_s is None or self.cue_s is None else self.cue_s - self.on_s

    def since_on_s(self, t_s: float) -> float:
        """Seconds since its pump went on; below any other where that is not known."""
        return -inf if self.on_s is None else t_s - self.on_s

    def started(self, t_s: float, source: str, within_s: float) -> None:
        self.on_s, self.on_from, self.on_within_s = t_s, source, within_s

    def stopped(self, t_s: float, source: str, within_s: float) -> None:
        self.off_s, self.off_from, self.off_within_s = t_s, source, within_s


@dataclass(slots=True)
class _Live:
    """A pull that goes on, with its watch on each scale that may still be its own. `sure` once it is no mere purge."""

    pull: ToldPull
    watches: dict[int, PourWatch] = field(default_factory=dict)
    dose_watch: DoseWatch | None = None         # while a hand has said that it is being dosed
    sure: bool = True

    @property
    def over(self) -> bool:
        return bool(self.watches) and all(watch.over for watch in self.watches.values())

    def pours_on(self, scale: int) -> bool:
        watch = self.watches.get(scale)
        return watch is not None and watch.pouring and not watch.over

    def waits_on(self, scale: int) -> bool:
        watch = self.watches.get(scale)
        return watch is not None and not watch.over and watch.on_s is not None


class _Scale:
    """What one scale remembers beside the pulls: its last readings, and the portafilter that is being dosed."""

    def __init__(self, bench: DoseWatch):
        self.untold = UntoldPour()
        self.bench = bench
        self.empty_g: float | None = None
        self.dose: tuple[float, float] | None = None        # (seconds, grams) of the last that was weighed


class Story:
    """Feed it in order of time; each call yields what it came to: sightings, and a pull when it is over.

    `observe(sample, scale)` takes readings, `edge` a group's signal, `deed` a hand's word ("dose", "tare", "lock in",
    "pump on", "pump off", "scale lost"; of scale 1), `close` ends it.
    """

    def __init__(self, recipe: Recipe, habits: Habits = Habits(), empties: tuple[tuple[str, float], ...] = ()):
        self.recipe, self.habits, self.empties = recipe, habits, empties
        self._own: dict[int | None, Habits] = {}            # by group, once a pull of it has taught
        self._scales: dict[int, _Scale] = {}
        self._signals: dict[int, GroupSignal] = {}
        self._live: list[_Live] = []
        self._hand: _Live | None = None                     # the pull that hands told last

    # ---- readings

    def observe(self, sample: Sample, scale: int = 1) -> Iterator[Sighting | ToldPull]:
        yield from self._tick(sample.t_s)
        state = self._scale(scale)
        seen = state.untold.observe(sample)
        hand = self._hand
        if hand is not None and hand.dose_watch is not None and scale == 1:
            yield from self._note(hand, hand.dose_watch.observe(sample))
        pouring = next((live for live in self._live if live.pours_on(scale)), None)
        waiting = [live for live in self._live if live.waits_on(scale)]
        if pouring is not None:
            yield from self._feed(pouring, scale, sample)
            if not pouring.pours_on(scale):
                yield from self._free_again(waiting, scale, sample.t_s)
        elif waiting:
            yield from self._await_the_drop(waiting, scale, sample)
        elif seen is not None:
            yield from self._found(seen, scale)
        else:
            self._weigh_the_dose(state, sample)
            for live in self._live:                         # a cup made ready, or late drips
                if scale in live.watches and (not live.pull.lifted or live.watches[scale].awaits_cup(sample.t_s)):
                    yield from self._feed(live, scale, sample)
        yield from self._end_the_old(sample.t_s)

    def _scale(self, number: int) -> _Scale:
        if number not in self._scales:
            self._scales[number] = _Scale(DoseWatch(self.recipe, self.empties))
        return self._scales[number]

    def _feed(self, live: _Live, scale: int, sample: Sample) -> Iterator[Sighting]:
        watch = live.watches[scale]
        yield from self._note(live, watch.observe(sample))
        if live.pull.cue_s is None:
            live.pull.flow_g_per_s = watch.flow_g_per_s

    def _await_the_drop(self, waiting: list[_Live], scale: int, sample: Sample) -> Iterator[Sighting]:
        """Several pumps may be on: the drop belongs to the one whose turn it is by its time."""
        drops = []
        for live in waiting:
            seen = live.watches[scale].observe(sample)
            if live.watches[scale].pouring:
                drops.append((live, seen))
            else:
                yield from self._note(live, seen)
        if not drops:
            return
        drop_s = min((sighting.t_s for _, seen in drops for sighting in seen if isinstance(sighting, FirstDrop)),
                     default=sample.t_s - BELIEVED_AFTER_S)
        owner, seen = min(drops, key=lambda each: self._untimely(each[0].pull, drop_s))
        for live, _ in drops:
            if live is not owner and live.pull.on_s is not None:
                live.watches[scale] = PourWatch(live.pull.recipe, self._habits(live.pull.group), sample.t_s)
                live.watches[scale].pump_on(live.pull.on_s)
        owner.watches = {scale: owner.watches[scale]}       # its cup stands here, and on no other scale
        yield from self._note(owner, seen)

    def _free_again(self, waiting: list[_Live], scale: int, t_s: float) -> Iterator[Sighting]:
        """A pour has ended: what another pull gave meanwhile fell beside the scale."""
        for live in waiting:
            overdue = self._habits(live.pull.group).overdue(live.pull.recipe, live.pull.since_on_s(t_s))
            if (overdue or live.pull.off_s is not None) and not live.watches[scale].pouring:
                lost = live.watches[scale].falls_beside(t_s)
                yield from self._note(live, lost if len(live.watches) == 1 else ())     # another scale may have it

    def _untimely(self, pull: ToldPull, drop_s: float) -> float:
        return self._habits(pull.group).untimely(pull.recipe, pull.since_on_s(drop_s))

    def _found(self, seen: PourSeen, scale: int) -> Iterator[Sighting | ToldPull]:
        """Coffee falls that nobody announced: its pump went on as long before the first drop as it does here."""
        for live in [each for each in self._live if each.over or each is self._hand]:
            yield from self._end(live)
        usual_s, within_s = self._habits(None).first_drop(self.recipe)
        live, began_s = _Live(ToldPull(self.recipe)), seen.drop_at_s - usual_s
        live.pull.started(began_s, SCALE, hypot(within_s, seen.earlier_s))
        self._live.append(live)
        yield from self._watch(live, scale, began_s)

    def _watch(self, live: _Live, scale: int, began_s: float) -> Iterator[Sighting]:
        """A watch on that scale from the pump's start on, shown what stood there before."""
        state = self._scale(scale)
        readings = list(state.untold.readings)
        watch, seen = begun_before(live.pull.recipe, self._habits(live.pull.group), began_s, readings)
        live.watches[scale] = watch
        yield from self._note(live, (*seen, *watch.pump_on(began_s)))
        for sample in readings:
            if sample.t_s > began_s:
                yield from self._feed(live, scale, sample)
        if state.dose is not None and began_s - state.dose[0] <= DOSE_KEPT_S and live.pull.dose_g is None:
            live.pull.dose_g = state.dose[1]
        state.dose = state.empty_g = None
        state.bench = DoseWatch(self.recipe, self.empties)

    def _weigh_the_dose(self, state: _Scale, sample: Sample) -> None:
        """A dose that nobody announced: a portafilter that rests, then the same with coffee in it."""
        for seen in state.bench.observe(sample):
            match seen:
                case PortafilterSet(_, grams, name):
                    state.empty_g = grams if name is not None or grams >= PORTAFILTER_FROM_G else None
                case DoseRead(t_s, dose_g, name):
                    if (name or state.empty_g is not None) and abs(dose_g / self.recipe.dose_g - 1) <= 0.5:
                        state.dose = t_s, dose_g
                        self._learn_the_empty(state.empty_g)

    def _learn_the_empty(self, grams: float | None) -> None:
        if grams is not None and all(abs(grams - each) > 1.0 for _, each in self.empties):
            self.empties = (*self.empties, (f"{grams:.0f} g", grams))

    # ---- a group's signal

    def edge(self, t_s: float, group: int, on: bool) -> Iterator[Sighting | ToldPull]:
        signal = self._signals.setdefault(group, GroupSignal())
        yield from self._tick(t_s)
        live = self._of(group)
        ran = signal.edge(t_s, on, ready=False, weighed=live is not None and live.pull.drop_s is not None)
        if on and (live is None or live.pull.off_s is not None):
            if live is not None and live.over:
                yield from self._end(live)
            yield from self._begin(t_s, group)
        for each in ran:
            yield from self._ran(group, each)
        live = self._of(group)
        if not on and live is not None and not live.sure:
            self._live.remove(live)                         # a purge, or one of a backflush's many

    def _begin(self, t_s: float, group: int) -> Iterator[Sighting]:
        told = self._hand
        if told is not None and told.pull.off_s is None and told.pull.group is None and (
                told.pull.on_s is None and told.watches or abs((told.pull.on_s or -inf) - t_s) <= SAME_START_S):
            told.pull.group = group
            told.pull.started(t_s, CONTACT, WITHIN_S)
            for watch in told.watches.values():
                yield from self._note(told, watch.pump_on(t_s))
            return
        live = _Live(ToldPull(self.recipe, group), sure=False)
        live.pull.started(t_s, CONTACT, WITHIN_S)
        self._live.append(live)
        for scale in self._scales:
            yield from self._watch(live, scale, t_s)

    def _ran(self, group: int, ran: PumpRan) -> Iterator[Sighting]:
        live = self._of(group)
        if live is None:
            return
        if ran.what == "on":
            live.sure = True
        elif ran.what == "off":
            live.sure = True
            if live.pull.off_from != CONTACT:
                live.pull.stopped(ran.at_s, CONTACT, WITHIN_S)
                for watch in live.watches.values():
                    yield from self._note(live, watch.pump_off(ran.at_s))

    def _of(self, group: int) -> _Live | None:
        return next((live for live in reversed(self._live) if live.pull.group == group), None)

    def _tick(self, t_s: float) -> Iterator[Sighting]:
        for group, signal in self._signals.items():
            live = self._of(group)
            weighed = live is not None and live.pull.drop_s is not None
            for each in signal.at(t_s, ready=False, weighed=weighed):
                yield from self._ran(group, each)

    # ---- what hands told

    def deed(self, t_s: float, deed: str) -> Iterator[Sighting | ToldPull]:
        hand = self._hand
        if deed == "scale lost":
            for state in self._scales.values():
                state.untold.lost()
            if hand is not None and hand.dose_watch is not None:
                yield from self._note(hand, hand.dose_watch.lost(t_s))
            for live in self._live:
                for watch in live.watches.values():
                    yield from self._note(live, watch.lost(t_s))
            return
        if deed == "tare":
            if hand is not None and hand.dose_watch is not None:
                yield from self._note(hand, hand.dose_watch.tared(t_s))
            return
        if hand is not None and deed in ("dose", "lock in") and (hand.watches or hand.pull.on_s is not None):
            yield from self._end(hand)
        if self._hand is None:
            self._hand = _Live(ToldPull(self.recipe))
            self._live.append(self._hand)
        hand = self._hand
        if deed == "dose":
            hand.dose_watch = DoseWatch(self.recipe, self.empties, t_s)
            return
        hand.dose_watch = None
        if not hand.watches:
            hand.watches[1] = PourWatch(self.recipe, self._habits(hand.pull.group), t_s)
        watch = hand.watches[min(hand.watches)]
        if deed == "pump on" and hand.pull.on_from != CONTACT:
            hand.pull.started(t_s, TAPPED, TAP_WITHIN_S)
            yield from self._note(hand, watch.pump_on(t_s))
        elif deed == "pump off" and hand.pull.off_from != CONTACT:
            hand.pull.stopped(t_s, TAPPED, TAP_WITHIN_S)
            yield from self._note(hand, watch.pump_off(t_s))

    # ---- what it comes to

    def close(self) -> Iterator[ToldPull]:
        """The feed is at its end."""
        for live in list(self._live):
            yield from self._end(live)

    def _note(self, live: _Live, sightings: tuple[Sighting, ...]) -> Iterator[Sighting]:
        pull = live.pull
        for sighting in sightings:
            pull.sightings.append(sighting)
            match sighting:
                case DoseRead(_, dose_g, _):
                    pull.dose_g = dose_g
                case FirstDrop(t_s, _):
                    pull.drop_s = t_s
                case StopNow(t_s, _):
                    pull.cue_s = t_s
                case FlowEnded(t_s, within_s):
                    pull.stopped(t_s, SCALE, within_s)
                case Settled(_, yield_g):
                    pull.yield_g = yield_g
                case CupLifted():
                    pull.lifted = True
            yield sighting

    def _end_the_old(self, t_s: float) -> Iterator[ToldPull]:
        for live in list(self._live):
            if live is self._hand:
                continue                                    # a hand's last word may come late
            pull = live.pull
            dry = pull.off_s is not None and t_s - pull.off_s > DRIPS_S
            gone = live.over and pull.lifted and not any(watch.awaits_cup(t_s) for watch in live.watches.values())
            if gone or dry or pull.since_on_s(t_s) > LONGEST_S:
                yield from self._end(live)

    def _end(self, live: _Live) -> Iterator[ToldPull]:
        self._live.remove(live)
        if live is self._hand:
            self._hand = None
        pull = live.pull
        if not live.sure or not (pull.sightings or pull.on_s is not None):
            return
        poured = next((watch.poured for watch in live.watches.values() if watch.poured), None)
        taught = lesson(poured, pull.first_drop_s if pull.on_from in (TAPPED, CONTACT) else None)
        if taught is not None:
            self._own[pull.group] = learn(self._habits(pull.group), taught)
        yield pull

    def _habits(self, group: int | None) -> Habits:
        return self._own.get(group) or self._own.get(None) or self.habits
