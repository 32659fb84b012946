"""Weighing: what a scale's readings mean for the guide of the lane that it serves."""

from collections.abc import Callable, Iterable, Mapping
from math import hypot

from kiosk.bar.guide import guide as guides
from kiosk.bar.model import CONTACT, EVERY_STEP, KEY, SCALE, PumpOnSeen, Setup, Step, WhosePour, YieldSeen, not_known
from kiosk.bar.weighing import (
    BELIEVED_AFTER_S,
    DoseWatch,
    PourSeen,
    PourWatch,
    Sample,
    Sighting,
    UntoldPour,
    begun_before,
    event_of,
    lesson,
    whose,
)
from kiosk.bar.weighing import sightings as live
from kiosk.book import Book
from kiosk.station.claims import Claims
from kiosk.station.lane import Lane, Work
from kiosk.station.learned import Learned
from kiosk.station.signals import Signals
from kiosk.station.turns import DOSED, DOSING, ScaleTurns, watched

LIFTED_BELOW_G = 100.0
SAME_EMPTY_G = 1.0              # of a portafilter, knocked out and wiped
LATE_S = 0.5                    # a pump told later than that is looked for in the readings from before
TIMELY = 2.0                    # of its own ±: a pull whose drop could have fallen then, too
POURING_FROM = EVERY_STEP.index(Step.PURGE)     # a cup may stand ready before the pump is on


class Weighing:
    """The `number`th scale, 1 or 2. `setup()` is the bar's as it is now, `lanes` are the station's, `happened(group, event)` takes
    what was seen to its guide, `unordered(groups)` begins a pull that nobody ordered, `cue(work)` says that a pump is to be
    stopped. `there` is whether it answers now."""

    def __init__(self, number: int, book: Book, clock: Callable[[], float], setup: Callable[[], Setup], lanes: Mapping[int, Lane],
                 signals: Signals, *, happened: Callable[[int, guides.Event], None],
                 unordered: Callable[[Iterable[int]], Work | None], cue: Callable[[Work], None], sound: Callable[[str], None],
                 publish: Callable[[], None]):
        self.number, self.learned, self._clock, self._setup, self._lanes = number, Learned(book), clock, setup, lanes
        self._signals, self._happened, self._cue, self._sound = signals, happened, cue, sound
        self.turns = ScaleTurns(number, setup, lanes, signals, self.learned)
        self.claims = Claims(self.turns, signals, unordered, self._of_an_untold_run, self._given, publish)
        self.there = False
        self.latest: Sample | None = None
        self._untold = UntoldPour()
        self._pours_from: tuple[str, float] | None = None       # the pull that a stream was given to last, and since when, about
        self._others_since: dict[tuple[str, str], float] = {}   # whose coffee a stream's end gives to whom now, and since when
        self._load_of: str | None = None         # the pull whose dose stands on the scale, until it is lifted

    # ---- the scale's side -----------------------------------------------------------------------------------------

    def answering(self, there: bool) -> None:
        """The scale answers, or has stopped answering."""
        if there == self.there:
            return
        self.there = there
        self.latest = None
        self._untold.lost()
        if not there:
            self.claims.lost()
        t_s = self._clock()
        for work in self.turns.works:
            for watch in (work.dose_watch, work.pour_watch):
                if watch is not None and not there:
                    watch.lost(t_s)
            if not there and work.guide.pulling:
                self._sound("flag")
            self._happened(work.group, guides.ScaleSeen(t_s, there))

    def observe(self, sample: Sample) -> None:
        self.answering(True)
        self.latest = sample
        if sample.grams < LIFTED_BELOW_G:
            self._load_of = None
        if self.claims.observe(sample):
            return
        begun = self.turns.begun()
        for work, watch in watched(self.turns.works):
            if all(work is not each for each in begun):
                for sighting in watch.pass_by(sample):
                    self._tell(work, sighting, sample.t_s)
        poured = next((each for each in watched(begun) if each[1].pouring), None)
        if poured is not None:
            owner, watch = poured
            self._untold.forget()
            self._untold.pass_by(sample)
            for sighting in watch.observe(sample):
                if isinstance(sighting, live.CupLifted) and self._ends_as_anothers(owner, sighting.t_s, lifted=True):
                    break               # that cup was the other's, which has been told of it
                self._tell(owner, sighting, sample.t_s)
            self._both_on_it(owner, begun, sample.t_s)
            self._ends_as_anothers(owner, sample.t_s)
            if owner.pour_watch is None or owner.pour_watch.over:
                self._free_again([work for work in begun if work is not owner], sample.t_s)
        elif begun:
            self._untold.observe(sample)
            self._await_the_drop(begun, sample)
        elif (seen := self._untold.observe(sample)) is not None:
            readings = list(self._untold.readings)
            self._untold.forget()
            self.claims.found(seen, readings)
        else:
            for work in self.turns.idle(self._load_of):
                self._feed(work, sample)

    def _feed(self, work: Work, sample: Sample) -> None:
        watch = work.pour_watch or work.dose_watch
        if watch is not None:
            for sighting in watch.observe(sample):
                self._tell(work, sighting, sample.t_s)

    # ---- several pumps over one scale -----------------------------------------------------------------------------

    def _both_on_it(self, owner: Work, begun: list[Work], t_s: float) -> None:
        """More cups stand here than this pull has, and another pump runs: what falls cannot be told apart."""
        others = [work for work in begun if work is not owner and work.guide.pulling]
        if not others or not owner.guide.pulling or owner.pour_watch is None:
            return
        if owner.pour_watch.cups > max(1, owner.planned.cups):
            for work, watch in watched((owner, *others)):
                for sighting in watch.cannot_tell(t_s, not_known.TOGETHER):
                    self._tell(work, sighting, t_s)

    def _ends_as_anothers(self, owner: Work, t_s: float, lifted: bool = False) -> bool:
        """Another pump ran as well: where the stream ended with that one and not with its own, it was the other's. Whether it
        was; asked while a stopped stream dies away, and for the last time as its cup is `lifted`."""
        guide, told = owner.guide, owner.guide.drop_from == SCALE and owner.guide.drop_at_s is not None
        key, from_s = self._pours_from or ("", None)
        drop_s = guide.drop_at_s if told else from_s if key == owner.key else None
        since, self._others_since = self._others_since, {}
        if guide.on_from != CONTACT or drop_s is None or guide.ended or owner.pour_watch is None:
            return False
        own_off_s = guide.pump_off_at_s if guide.off_from == CONTACT else None
        for other in self.turns.works:
            theirs, began_s = other.guide, other.guide.pump_on_at_s
            ran = theirs.on_from == CONTACT and theirs.drop_at_s is None and not theirs.ended and other.pour_watch is not None
            if other is owner or not ran or began_s is None or began_s > drop_s:
                continue
            end = None
            if whose.stops_tell(own_off_s, theirs.pump_off_at_s, t_s, lifted):
                end = owner.pour_watch.ends_with(own_off_s, theirs.pump_off_at_s, t_s)
            elif not lifted:
                continue
            own_off, other_off = (self.turns.untimely(each, drop_s) if told else 0.0 for each in (owner, other))
            odds = whose.odds_of_the_other(own_off, other_off, end)
            if odds > whose.SURELY and end is not None:
                pair = owner.key, other.key
                self._others_since[pair] = since.get(pair, t_s)
                if lifted or t_s - self._others_since[pair] >= whose.FOR_S:
                    self._given_over(owner, other, began_s, t_s)
                    return True
            if odds < -whose.CLEARLY and not guides.UNCERTAIN.isdisjoint(guide.notes):
                self._happened(owner.group, WhosePour(t_s, True))
        return False

    def _given_over(self, owner: Work, other: Work, began_s: float, t_s: float) -> None:
        """The coffee was the other's after all: it sees the pour from its beginning, and the first keeps nothing of it."""
        readings, off_s = list(self._untold.readings), other.guide.pump_off_at_s
        self._happened(owner.group, WhosePour(t_s, False))
        self._elsewhere(owner, t_s)
        self._looked_back(other, began_s, readings).pump_on(began_s)
        self._caught_up(other, began_s, [each for each in readings if off_s is None or each.t_s <= off_s])
        if off_s is not None and other.pour_watch is not None:
            other.pour_watch.pump_off(off_s)
            self._caught_up(other, off_s, readings)

    def _await_the_drop(self, begun: list[Work], sample: Sample) -> None:
        """Several pumps may be on with one scale: the first drop belongs to the pull whose turn it is by its time."""
        drops: dict[str, tuple[Work, tuple[Sighting, ...]]] = {}
        for work, watch in watched(begun):
            seen = watch.observe(sample)
            if watch.pouring:
                drops[work.key] = work, seen
            else:
                for sighting in seen:
                    self._tell(work, sighting, sample.t_s)
        if not drops:
            return
        drop_s = min((sighting.t_s for _, seen in drops.values() for sighting in seen if isinstance(sighting, live.FirstDrop)),
                     default=sample.t_s - BELIEVED_AFTER_S)
        owner, seen = min(drops.values(), key=lambda each: self.turns.untimely(each[0], drop_s))
        likelier = self.turns.likelier_run(drop_s, self.turns.untimely(owner, drop_s))
        if likelier is not None:
            for work, _ in drops.values():
                self._elsewhere(work, sample.t_s)
            self._of_an_untold_run(likelier, drop_s)
            return
        for work, _ in drops.values():
            if work is not owner:
                self._elsewhere(work, sample.t_s)
        self._could_be_anothers(owner, begun, drop_s)
        self._pours_from = owner.key, drop_s
        for sighting in seen:
            self._tell(owner, sighting, sample.t_s)

    def _told_late(self, work: Work, watch: PourWatch, began_s: float, readings: list[Sample]) -> None:
        """What fell since its pump went on is this pull's, unless another pump ran whose first drop was likelier due."""
        seen = [(sighting, sample.t_s) for sample in readings if sample.t_s > began_s for sighting in watch.observe(sample)]
        drop_s = next((sighting.t_s for sighting, _ in seen if isinstance(sighting, live.FirstDrop)), None)
        if drop_s is not None:
            likelier = self.turns.likelier_run(drop_s, self.turns.untimely(work, drop_s))
            if likelier is not None:
                self._elsewhere(work, readings[-1].t_s)
                self._of_an_untold_run(likelier, drop_s)
                return
            self._could_be_anothers(work, self.turns.begun(), drop_s)
        for sighting, at_s in seen:
            if not work.guide.ended:
                self._tell(work, sighting, at_s)

    def _of_an_untold_run(self, group: int, drop_s: float) -> None:
        """A pump that runs and was not yet known to make a pull: this drop says so."""
        self._signals.makes_a_pull(group)
        work = self._lanes[group].work
        if work is not None and work.pour_watch is not None and work.pour_watch.pouring:
            self._could_be_anothers(work, self.turns.begun(), drop_s)

    def _elsewhere(self, work: Work, t_s: float) -> None:
        """Its cup does not stand here, or not yet: what has fallen so far was another's."""
        work.pour_watch = PourWatch(work.guide.recipe, self.learned.habits(work.group), t_s)
        if work.guide.pump_on_at_s is not None:
            for sighting in work.pour_watch.pump_on(work.guide.pump_on_at_s):
                self._tell(work, sighting, t_s)

    def _free_again(self, others: list[Work], t_s: float) -> None:
        """Another's pour has ended: of a pull whose first drop was due meanwhile the coffee fell beside the scale, and one
        that is still to come begins with the scale as it is."""
        for work in others:
            watch, on_s = work.pour_watch, work.guide.pump_on_at_s
            if watch is None or watch.over or on_s is None:
                continue
            if self.learned.habits(work.group).overdue(work.guide.recipe, t_s - on_s) or work.guide.pump_off_at_s is not None:
                for sighting in watch.falls_beside(t_s):
                    self._tell(work, sighting, t_s)
            else:
                work.pour_watch = PourWatch(work.guide.recipe, self.learned.habits(work.group), on_s)
                work.pour_watch.pump_on(on_s)

    def _could_be_anothers(self, owner: Work, begun: list[Work], drop_s: float) -> None:
        """Another pull's drop was due then, too: that is said."""
        near = [work for work in begun if work is not owner and self.turns.untimely(work, drop_s) <= TIMELY]
        if near or self.turns.likelier_run(drop_s, TIMELY) not in (None, owner.group):
            self._happened(owner.group, guides.Missed(self._clock(), guides.PROBABLY_ITS))

    # ---- a pour from before it was told of ------------------------------------------------------------------------

    def _given(self, work: Work, seen: PourSeen, readings: list[Sample], why: str | None) -> None:
        """The pour is that pull's: its pump went on as long before the first drop as it does in this group."""
        usual_s, within_s = self.learned.habits(work.group).first_drop(work.guide.recipe)
        began_s = max(seen.drop_at_s - usual_s, work.guide.locked_at_s or seen.drop_at_s - usual_s)
        now_s = self._clock()
        self._looked_back(work, began_s, readings)
        self._happened(work.group, PumpOnSeen(now_s, began_s, SCALE, hypot(within_s, seen.earlier_s)))
        if why is not None:
            self._happened(work.group, guides.Missed(now_s, why))
        self._caught_up(work, began_s, readings)

    def _looked_back(self, work: Work, began_s: float, readings: list[Sample]) -> PourWatch:
        """A watch for a pump that went on at `began_s`, shown what stood on the scale before."""
        work.pour_watch, _ = begun_before(work.guide.recipe, self.learned.habits(work.group), began_s, readings)
        return work.pour_watch

    def _caught_up(self, work: Work, began_s: float, readings: list[Sample]) -> None:
        for sample in readings:
            if sample.t_s > began_s and work.pour_watch is not None and not work.guide.ended:
                self._feed(work, sample)

    # ---- between readings -----------------------------------------------------------------------------------------

    def tick(self) -> None:
        """Between two readings: the cue falls on its moment, not on the next reading."""
        t_s = self._clock()
        for work in self.turns.works:
            if work.pour_watch is not None:
                for sighting in work.pour_watch.at(t_s):
                    self._tell(work, sighting, t_s)

    def tare(self, group: int) -> None:
        """A hand tare: what stands on the scale now counts as empty."""
        work = self._lanes[group].work
        if work is not None and work.dose_watch is not None:
            work.dose_watch.tared(self._clock())

    def busy_with(self, group: int) -> int | None:
        """The group that the scale serves while `group` would like to be weighed; None where it is free for it."""
        served = self.turns.served() if self.there else None
        return served.group if served is not None and served.group != group else None

    # ---- the guide's side -----------------------------------------------------------------------------------------

    def follow(self, work: Work) -> None:
        """The guide of `work` has moved: give it the watch that its step needs, tell the watch what it should know."""
        guide, t_s = work.guide, self._clock()
        empties = self._setup().scale.portafilters or self.learned.portafilters()
        dosing = guide.step in DOSING or (guide.step is Step.WARM and bool(empties)) \
            or guide.step in DOSED and work.portafilter_g is not None
        pouring = EVERY_STEP.index(guide.step) >= POURING_FROM
        if not dosing:
            work.dose_watch = None
        elif work.dose_watch is None:
            work.dose_watch = DoseWatch(guide.recipe, empties, t_s)
        watch = work.pour_watch
        if not pouring or (watch is not None and guide.pump_on_at_s is None and watch.on_s is not None):
            watch = None                # back before the pump was on: whatever was seen was not this pull
        if pouring and watch is None:
            began_s, readings = guide.pump_on_at_s, list(self._untold.readings)
            others = any(each is not work and each.pour_watch is not None and each.pour_watch.pouring for each in self.turns.works)
            late = began_s is not None and guide.pulling and began_s < t_s - LATE_S
            if began_s is not None and late and readings and not others:    # told late: what fell was seen
                watch = self._looked_back(work, began_s, readings)
                watch.pump_on(began_s)
                self._told_late(work, watch, began_s, readings)
                return
            watch = PourWatch(guide.recipe, self.learned.habits(work.group), t_s)
        work.pour_watch = watch
        if watch is None:
            work.cue_at_s = None
            return
        if guide.pump_on_at_s is not None and watch.on_s is None:
            watch.pump_on(guide.pump_on_at_s)
        elif guide.pump_on_at_s is not None:
            watch.pump_was_on(guide.pump_on_at_s)
        told = guide.off_from in (guides.TAPPED, CONTACT, KEY)
        if told and guide.pump_off_at_s is not None and watch.off_s != guide.pump_off_at_s:
            watch.pump_off(guide.pump_off_at_s)
        if guide.pump_off_at_s is not None and guide.yield_g is None and watch.settled_g is not None:
            self._happened(work.group, YieldSeen(t_s, watch.settled_g))     # the stop was taken back and is given again

    def trace(self, work: Work) -> tuple[tuple[float, float], ...]:
        """The pull's curve, (seconds since pump on, grams in the cup)."""
        return tuple(work.pour_watch.curve) if work.pour_watch is not None else ()

    def learn(self, work: Work) -> None:
        """What this pull had to teach about its group: how much still comes after the cue."""
        poured = work.pour_watch.poured if work.pour_watch is not None else None
        told = work.guide.on_from in (guides.TAPPED, CONTACT, KEY) and work.guide.drop_from == SCALE
        taught = lesson(poured, work.guide.first_drop_s if told else None, work.key)
        if taught is not None:
            self.learned.learn(work.group, taught)

    def take_back(self, work: Work) -> None:
        """That pull goes on after all, and will teach when it ends."""
        self.learned.unlearn(work.group, work.key)

    def _tell(self, work: Work, sighting: Sighting, now_s: float) -> None:
        if isinstance(sighting, live.StopNow) and not work.by_volume:       # a machine that stops by itself needs no cue
            work.cue_at_s = now_s
            self._cue(work)
        if isinstance(sighting, live.DoseRead) and work.dose_watch is not None:
            empty_g = work.dose_watch.empty_g
            if work.guide.step in DOSED and (empty_g is None or abs(empty_g - (work.portafilter_g or 0.0)) > SAME_EMPTY_G):
                return                  # a cup, or another pull's: this one's dose is what was weighed in its own portafilter
            self._load_of, work.portafilter_g = work.key, empty_g
            self.learned.set_down_empty(empty_g)
        event = event_of(sighting, now_s)
        if event is not None:
            self._happened(work.group, event)
