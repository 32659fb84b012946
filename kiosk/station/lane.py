"""A lane: a group's place on the screen, with the guide of the pull it is making."""

from collections.abc import Container, Iterable
from dataclasses import dataclass, field

from kiosk.bar.guide import Guide
from kiosk.bar.model import EVERY_STEP, Judgement, PlannedPull, Pull, Step
from kiosk.bar.weighing import DoseWatch, PourWatch


@dataclass(frozen=True, slots=True)
class Waiting:
    """A planned pull that no lane has taken yet: pull `index` of its order; one that serves two orders has the other's
    order and index as `also`."""

    order_id: str
    index: int
    planned: PlannedPull
    also: tuple[str, int] | None = None

    @property
    def places(self) -> tuple[tuple[str, int], ...]:
        """(order, index) of each order that it serves."""
        own = (self.order_id, self.index)
        return (own, self.also) if self.also is not None else (own,)

    def serves(self, order_id: str) -> bool:
        return any(place[0] == order_id for place in self.places)

    def less(self, gone: Iterable[tuple[str, int]]) -> "Waiting | None":
        """What is left of it when these places are made elsewhere, or not wanted; None where nothing is."""
        gone = set(gone)
        if gone.isdisjoint(self.places):
            return self
        left = [(place, drink) for place, drink in zip(self.places, self.planned.drinks) if place not in gone]
        if self.also is None or not left:
            return None
        (order_id, index), drink = left[0]
        return Waiting(order_id, index, PlannedPull(coffee=self.planned.coffee, basket=drink.shot, drinks=(drink,)))

    def less_orders(self, order_ids: Container[str]) -> "Waiting | None":
        """The same, for orders that are not wanted any more."""
        return self.less(place for place in self.places if place[0] in order_ids)


@dataclass(slots=True)
class Work:
    """One pull being made: what was planned, by whom, and how far its guide has come. `key` is its record's id."""

    key: str
    group: int
    waiting: Waiting
    guide: Guide
    grinder: str
    setting: int
    barista: str | None = None
    events: list[dict] = field(default_factory=list)
    dose_watch: DoseWatch | None = None     # the live watches, where a scale is read
    portafilter_g: float | None = None      # what its dose was weighed in, empty
    pour_watch: PourWatch | None = None
    cue_at_s: float | None = None       # when the kiosk said: stop the pump now
    by_volume: bool = False             # its group stops by itself: no stop cue
    cued: int = 0                       # how often it was heard

    @property
    def planned(self) -> PlannedPull:
        return self.waiting.planned

    @property
    def ground(self) -> bool:
        """Whether the grinder has done its part: dosed, or past that step."""
        return self.guide.dosed_at_s is not None or EVERY_STEP.index(self.guide.step) > EVERY_STEP.index(Step.DOSE)

    @property
    def untouched(self) -> bool:
        """Nobody has done anything for it yet."""
        return self.guide.before is None and self.guide.step is self.guide.first


@dataclass(slots=True)
class Lane:
    group: int
    work: Work | None = None
    last: Pull | None = None
    last_said: Judgement | None = None
    last_work: Work | None = None       # what an undo brings back

    @property
    def can_bring_back(self) -> bool:
        """An undo reaches the pull before, as long as the one after it is untouched."""
        return self.last_work is not None and (self.work is None or self.work.guide.before is None)
