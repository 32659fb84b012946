"""Claims: whose a pour is that nobody announced, by what has been done for each pull; where it could be two's, it is asked."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

from kiosk.bar.guide import guide as guides
from kiosk.bar.model import EVERY_STEP, Step
from kiosk.bar.weighing import PourSeen, Sample
from kiosk.station.lane import Work
from kiosk.station.signals import Signals
from kiosk.station.turns import ScaleTurns

LIFTED_G, ASKED_FOR_S = 12.0, 90.0
FAR_OFF = 8.0                   # of its own ±: a signal that runs for so long or so shortly is of no pull that begins to fall


@dataclass(frozen=True, slots=True)
class _Question:
    """A pour that is under way and could be that of any of `groups`: how it was `seen`, and its `readings` so far."""

    groups: tuple[int, ...]
    seen: PourSeen
    readings: list[Sample] = field(default_factory=list)


class Claims:
    """To one scale's pulls. `unordered(groups)` begins a pull that nobody ordered, `of_a_run(group, drop_s)` takes the drop for that
    of a pump that runs, `given(work, seen, readings, why)` gives a pull the pour, with what its record says of it."""

    def __init__(self, turns: ScaleTurns, signals: Signals, unordered: Callable[[Iterable[int]], Work | None],
                 of_a_run: Callable[[int, float], None], given: Callable[[Work, PourSeen, list[Sample], str | None], None],
                 publish: Callable[[], None]):
        self._turns, self._signals, self._unordered = turns, signals, unordered
        self._of_a_run, self._given, self._publish = of_a_run, given, publish
        self._question: _Question | None = None

    @property
    def asking(self) -> tuple[int, ...]:
        """The groups between which a pour that is under way is to be told; none where nothing is asked."""
        return self._question.groups if self._question is not None else ()

    def found(self, seen: PourSeen, readings: list[Sample]) -> None:
        """Coffee falls and no pull is known to pour: it is given to one, or asked about."""
        order = EVERY_STEP.index
        ready = [work for work in self._turns.works if work.guide.pump_on_at_s is None and not work.guide.ended
                 and order(work.guide.step) <= order(Step.PULL)]
        if not ready:
            groups = self._turns.groups
            work = self._unordered((*[group for group in groups if self._signals.running(group)], *groups))
            if work is None:
                return
            ready = [work]
        likeliest = self._turns.likelier_run(seen.drop_at_s, FAR_OFF)
        if likeliest is not None:
            return self._of_a_run(likeliest, seen.drop_at_s)
        locked = [work for work in ready if work.guide.step is Step.PULL]
        touched = [work for work in ready if not work.untouched]
        running = [work for work in ready if self._signals.running(work.group)]
        could_be = running if len(running) == 1 else locked or touched or ready
        if len(could_be) > 1 and (locked or touched):
            self._question = _Question(tuple(work.group for work in could_be), seen, readings)
            self._publish()
            return
        first = min(could_be, key=lambda work: work.guide.began_at_s)
        self._given(first, seen, readings, guides.PROBABLY if len(could_be) > 1 else None)

    def observe(self, sample: Sample) -> bool:
        """While it is asked whose the pour is: its readings are kept, and at its end it is taken for the likeliest's. Whether
        that is so."""
        question = self._question
        if question is None:
            return False
        question.readings.append(sample)
        after = [each for each in question.readings if each.t_s > question.seen.t_s]
        lifted = sample.grams < max((each.grams for each in after), default=sample.grams) - LIFTED_G
        if lifted or sample.t_s - question.seen.t_s > ASKED_FOR_S:
            self._settle(question, None)
        return True

    def lost(self) -> None:
        """The scale has stopped answering: nobody can be asked any more."""
        if self._question is not None:
            self._settle(self._question, None)

    def answer(self, group: int) -> bool:
        """A finger says that the pour is this group's. Whether that was asked."""
        if self._question is None or group not in self._question.groups:
            return False
        self._settle(self._question, group)
        return True

    def _settle(self, question: _Question, group: int | None) -> None:
        self._question = None
        works = [work for work in self._turns.works if work.group in question.groups and work.guide.pump_on_at_s is None]
        told = [work for work in works if work.group == group]
        work = told[0] if told else min(works, default=None, key=lambda work: work.guide.locked_at_s or work.guide.began_at_s)
        if work is not None:
            self._given(work, question.seen, question.readings, None if told else guides.PROBABLY)
