"""Weighing: which lane the scale serves, and what its readings mean for that lane's guide."""

from dataclasses import asdict, replace

from kiosk.bar.guide import guide as guides
from kiosk.bar.model import EVERY_STEP, Step
from kiosk.bar.weighing import DoseWatch, Habits, PourWatch, Sample, Sighting, habits_from, learn, unlearn
from kiosk.bar.weighing import sightings as live
from kiosk.station.lane import Work

DOSING = (Step.DOSE, Step.LEVEL)
POURING_FROM = EVERY_STEP.index(Step.PURGE)     # a cup may stand ready before the pump is on


class Weighing:
    """One scale's part of a service: the `number`th, 1 or 2. `there` is whether it answers now."""

    def __init__(self, service, number: int = 1):
        self._service, self.number = service, number
        self.there = False
        self.latest: Sample | None = None

    @property
    def groups(self) -> range:
        """The groups that this scale serves: all of them, or one half where there are two scales."""
        setup = self._service.setup
        last_of_first = -(-setup.groups // 2) if setup.scale.second else setup.groups
        return range(1, last_of_first + 1) if self.number == 1 else range(last_of_first + 1, setup.groups + 1)

    def _works(self) -> list[Work]:
        return [lane.work for lane in self._service.lanes.values() if lane.work is not None and lane.group in self.groups]

    # ---- the scale's side -----------------------------------------------------------------------------------------

    def answering(self, there: bool) -> None:
        """The scale answers, or has stopped answering."""
        if there == self.there:
            return
        self.there = there
        self.latest = None
        t_s = self._service.clock.s()
        for work in self._works():
            for watch in (work.dose_watch, work.pour_watch):
                if watch is not None and not there:
                    watch.lost(t_s)
            if not there and work.guide.pulling:
                self._service.sound("flag")
            self._service.happened(work.group, guides.ScaleSeen(t_s, there))

    def observe(self, sample: Sample) -> None:
        self.answering(True)
        self.latest = sample
        work = self.served()
        if work is None:
            return
        watch = work.pour_watch or work.dose_watch
        for sighting in watch.observe(sample):
            self._tell(work, sighting, sample.t_s)

    def tick(self) -> None:
        """Between two readings: the cue falls on its moment, not on the next reading."""
        t_s = self._service.clock.s()
        for work in self._works():
            if work.pour_watch is not None:
                for sighting in work.pour_watch.at(t_s):
                    self._tell(work, sighting, t_s)

    def tare(self, group: int) -> None:
        """A hand tare: what stands on the scale now counts as empty."""
        work = self._service.lanes[group].work
        if work is not None and work.dose_watch is not None:
            work.dose_watch.tared(self._service.clock.s())

    def served(self) -> Work | None:
        """The pull whose portafilter or cup the scale carries: one that pours comes before one that doses."""
        works = self._works()
        pouring = [work for work in works if work.pour_watch is not None]
        dosing = [work for work in works if work.dose_watch is not None]
        return (max(pouring, key=lambda work: work.guide.pump_on_at_s or work.guide.entered_at_s, default=None)
                or min(dosing, key=lambda work: work.guide.entered_at_s, default=None))

    def busy_with(self, group: int) -> int | None:
        """The group that the scale serves while `group` would like to be weighed; None where it is free for it."""
        served = self.served() if self.there else None
        return served.group if served is not None and served.group != group else None

    # ---- the guide's side -----------------------------------------------------------------------------------------

    def follow(self, work: Work) -> None:
        """The guide of `work` has moved: give it the watch that its step needs, tell the watch what it should know."""
        guide, t_s = work.guide, self._service.clock.s()
        empties = self._service.setup.scale.portafilters
        dosing = guide.step in DOSING or (guide.step is Step.WARM and bool(empties))
        pouring = EVERY_STEP.index(guide.step) >= POURING_FROM
        if not dosing:
            work.dose_watch = None
        elif work.dose_watch is None:
            work.dose_watch = DoseWatch(guide.recipe, empties, t_s)
        watch = work.pour_watch
        if not pouring or (watch is not None and guide.pump_on_at_s is None and watch.on_s is not None):
            watch = None                # back before the pump was on: whatever was seen was not this pull
        if pouring and watch is None:
            watch = PourWatch(guide.recipe, self.habits(work.group), t_s)
        work.pour_watch = watch
        if watch is None:
            work.cue_at_s = None
            return
        if guide.pump_on_at_s is not None and watch.on_s is None:
            watch.pump_on(guide.pump_on_at_s)
        if guide.off_from == guides.TAPPED and watch.off_s != guide.pump_off_at_s:
            watch.pump_off(guide.pump_off_at_s)

    def trace(self, work: Work) -> tuple[tuple[float, float], ...]:
        """The pull's curve, (seconds since pump on, grams in the cup)."""
        return tuple(work.pour_watch.curve) if work.pour_watch is not None else ()

    def habits(self, group: int) -> Habits:
        try:
            return habits_from(self._service.book.memory(f"habits-{group}") or {"pulls": []})
        except ValueError:
            return Habits()             # learned anew from the next pulls

    def learn(self, work: Work) -> None:
        """What this pull had to teach about its group: how much still comes after the cue."""
        poured = work.pour_watch.poured if work.pour_watch is not None else None
        if poured is not None:
            self._remember(work.group, learn(self.habits(work.group), replace(poured, pull_id=work.key)))

    def take_back(self, work: Work) -> None:
        """That pull goes on after all, and will teach when it ends."""
        self._remember(work.group, unlearn(self.habits(work.group), work.key))

    def _remember(self, group: int, habits: Habits) -> None:
        self._service.book.remember(f"habits-{group}", asdict(habits))

    def _tell(self, work: Work, sighting: Sighting, now_s: float) -> None:
        match sighting:
            case live.DoseRead(dose_g=dose_g):
                event = guides.DoseSeen(now_s, dose_g)
            case live.FirstDrop(t_s=at_s):
                event = guides.DropSeen(now_s, at_s)
            case live.FlowEnded(t_s=at_s):
                event = guides.StopSeen(now_s, at_s)
            case live.Settled(yield_g=yield_g):
                event = guides.YieldSeen(now_s, yield_g)
            case live.CupLifted():
                event = guides.CupTaken(now_s)
            case live.YieldLost(why=why):
                event = guides.Missed(now_s, why)
            case live.StopNow():
                work.cue_at_s = now_s
                return self._service.sound("stop")
            case _:
                return None
        self._service.happened(work.group, event)
