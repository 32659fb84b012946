"""The lanes: which pull each of them makes, from the line until it ends or is put back, and what is to be told of it now."""

from collections.abc import Callable, Container, Iterable, Iterator, Mapping
from dataclasses import asdict, replace
from operator import itemgetter
from typing import Any

from kiosk.bar.guide import Event, Trouble, trouble
from kiosk.bar.guide import guide as guides
from kiosk.bar.messages import Message
from kiosk.bar.model import GuideEvent, Person, Pull, Setup, Step, event_to_json, judge
from kiosk.book import Book
from kiosk.station.clock import Clock
from kiosk.station.lane import Lane, Waiting, Work
from kiosk.station.order_queue import OrderQueue
from kiosk.station.restore import began, put_back, reground, work_of
from kiosk.station.weighing import Weighing

DOSES = ("over", "under")            # what the dose's own step says already; one that is weighed later is said then
WHOSE_POUR = Message("Coffee pours. Whose is it? Touch Pump on at the group that pours.")


class Lanes(Mapping[int, Lane]):
    """Each group's lane by its number. `by()` is whoever is at work, `every_step(person)` whether they are shown every step,
    `rinsing()` are the groups that cleaner went through, `scale_of(group)` is the scale that serves it."""

    def __init__(self, book: Book, clock: Clock, setup: Callable[[], Setup], by: Callable[[], str | None], line: OrderQueue,
                 every_step: Callable[[Person | None], bool], rinsing: Callable[[], Container[int]],
                 scale_of: Callable[[int], Weighing]):
        self._book, self._clock, self._setup, self._by, self._line = book, clock, setup, by, line
        self._every_step, self._rinsing, self._scale_of = every_step, rinsing, scale_of
        self._lanes = {group: Lane(group) for group in range(1, setup().groups + 1)}
        self._attempts: dict[tuple[str, int], int] = {}     # (order, index) → how often it was begun

    def __getitem__(self, group: int) -> Lane:
        return self._lanes[group]

    def __iter__(self) -> Iterator[int]:
        return iter(self._lanes)

    def __len__(self) -> int:
        return len(self._lanes)

    # ---- the course of a pull -------------------------------------------------------------------------------------

    def fill(self) -> None:
        """Each free lane takes the next pull of the line; one of a group that Setup took away goes."""
        setup = self._setup()
        for group in [group for group, lane in self._lanes.items() if group > setup.groups and lane.work is None]:
            del self._lanes[group]
        for lane in self._lanes.values():
            if lane.work is None and lane.group <= setup.groups and lane.group not in setup.closed \
                    and lane.group not in self._rinsing():
                waiting = self._line.next()
                if waiting is None:
                    return
                self.begin(lane, waiting)

    def begin_again(self, lane: Lane, waiting: Waiting) -> None:
        """What was poured away is made again, in the same lane unless Setup took it away."""
        if lane.group <= self._setup().groups:
            self.begin(lane, waiting)
        else:
            self._line.put_back(waiting)

    def begin(self, lane: Lane, waiting: Waiting) -> None:
        setup, by = self._setup(), self._by()
        grinder = setup.grinder_for(waiting.planned)
        guide = guides.begin(setup.recipe(grinder.coffee, waiting.planned.basket), self._clock.s(),
                             full=self._every_step(setup.person(by)), has_scale=self._scale_of(lane.group).there,
                             warm=waiting.planned.to_warm,
                             moved_at_s=lane.last_work.guide.moved_at_s if lane.last_work is not None else None)
        self._open(lane, Work(key=self._new_key(waiting), group=lane.group, waiting=waiting, guide=guide,
                              grinder=grinder.name, setting=grinder.setting, barista=by))

    def drop(self, lane: Lane) -> None:
        """Nothing comes of what the lane has begun: it is begun anew, goes back to the line, or is not wanted."""
        if lane.work is not None:
            self._keep_event(lane.work, put_back(self._clock.s()))
            lane.work = None

    def begin_anew(self) -> None:
        """Somebody else is at work: a pull that is still untouched becomes theirs, with their steps."""
        for lane in self._lanes.values():
            work = lane.work
            if work is not None and work.untouched:
                self.drop(lane)
                self.begin(lane, work.waiting)

    def follow_grinders(self) -> None:
        """What is still to be ground is of a coffee that a grinder holds, at the setting where its collar stands."""
        setup = self._setup()
        for lane in self._lanes.values():
            work = lane.work
            if work is None or work.ground:
                continue
            grinder = setup.grinder_for(work.planned)
            if (grinder.name, grinder.coffee) != (work.grinder, work.guide.recipe.coffee):
                recipe = setup.recipe(grinder.coffee, work.planned.basket)
                event = began(work, self._clock.s()) | {"recipe": asdict(recipe), "grinder": grinder.name,
                                                        "setting": grinder.setting}
                self.drop(lane)
                self._open(lane, work_of(self._new_key(work.waiting), work.waiting, event, list(work.events)))
            elif grinder.setting != work.setting:
                work.setting = grinder.setting
                self._keep_event(work, reground(grinder.setting, self._clock.s()))

    def ended(self, lane: Lane, pull: Pull) -> None:
        """Its pull is over, and in the record as `pull`."""
        lane.last, lane.last_said = pull, judge(pull)
        lane.last_work, lane.work = lane.work, None

    def go_back(self, lane: Lane, old: Work, undone: Event) -> None:
        """The lane makes again what it made last: `old`, with one more event."""
        lane.last = lane.last_said = lane.last_work = None
        self._open(lane, replace(old, key=self._new_key(old.waiting), guide=guides.step(old.guide, undone),
                                 events=[*old.events, event_to_json(undone)]))

    def _open(self, lane: Lane, work: Work) -> None:
        lane.work = work
        for each in self._lanes.values():           # what is made again here, no undo brings back there
            if each is not lane and each.last_work is not None and set(each.last_work.waiting.places) & set(work.waiting.places):
                each.last_work = None
        work.by_volume = lane.group in self._setup().by_volume
        self._keep_event(work, began(work, self._clock.s()))
        self._scale_of(work.group).follow(work)

    def _new_key(self, waiting: Waiting) -> str:
        place = waiting.order_id, waiting.index
        self._attempts[place] = self._attempts.get(place, 0) + 1
        return f"{waiting.order_id}.{waiting.index}.{self._attempts[place]}"

    def _keep_event(self, work: Work, event: dict[str, Any]) -> None:
        self._book.jot(GuideEvent(id=self._book.new_id(), at=self._clock.at(), pull_id=work.key, event=event))

    # ---- the lanes there are --------------------------------------------------------------------------------------

    def set_up(self) -> None:
        """The settings have changed. A group that is not in use any more finishes its pull first."""
        groups = self._setup().groups
        self.follow_grinders()
        for group in range(1, groups + 1):
            self._lanes.setdefault(group, Lane(group))
        for lane in self._lanes.values():
            if lane.work is not None and lane.work.untouched and lane.group > groups:
                waiting = lane.work.waiting
                self.drop(lane)
                self._line.put_back(waiting)
        self.fill()

    def restore(self, works: Iterable[Work], attempts: dict[tuple[str, int], int]) -> None:
        """After a restart: what was being made, and how often each pull had been begun."""
        self._attempts = attempts
        for work in works:
            self._lanes.setdefault(work.group, Lane(work.group)).work = work
            work.by_volume = work.group in self._setup().by_volume

    # ---- what they make now ---------------------------------------------------------------------------------------

    @property
    def busy(self) -> bool:
        """Whether a pull is in one of them."""
        return any(lane.work is not None for lane in self._lanes.values())

    def makes(self, group: int, key: str) -> bool:
        """Whether the pull with that key is what the lane makes now."""
        lane = self._lanes.get(group)
        return lane is not None and lane.work is not None and lane.work.key == key

    def coached(self) -> Lane | None:
        """The lane whose pull shows every step to whoever is on the station, the one begun first; None without one."""
        begun = [(lane.work.guide.began_at_s, lane) for lane in self._lanes.values()
                 if lane.work is not None and lane.work.guide.full and lane.work.barista == self._by()]
        return min(begun, key=itemgetter(0), default=(0.0, None))[1]

    @property
    def last_pull(self) -> Pull | None:
        """The one that ended last, in whatever lane."""
        made = [lane.last for lane in self._lanes.values() if lane.last is not None]
        return max(made, key=lambda pull: pull.at, default=None)

    def warnings(self, group: int) -> tuple[str, ...]:
        work = self._lanes[group].work
        if group in self._scale_of(group).claims.asking:
            return (WHOSE_POUR,)
        limits = self._setup().limits
        if work is None:
            return ()
        wrong = self.trouble(group)
        said = wrong is not None and wrong.what in DOSES and work.guide.step is not Step.TAMP
        return ((wrong.now,) if wrong is not None and not said else ()) + guides.warnings(
            work.guide, self._clock.s(), lock_to_pump_s=limits.lock_to_pump_s, grind_to_pull_s=limits.grind_to_pull_s)

    def trouble(self, group: int) -> Trouble | None:
        """What goes wrong with that group's pull now, as far as it can be seen."""
        work = self._lanes[group].work
        if work is None:
            return None
        watch = work.pour_watch if work.guide.has_scale and self._scale_of(group).busy_with(group) is None else None
        return trouble(work.guide, self._clock.s(), watch.grams if watch is not None else None,
                       watch is None or watch.cup_seen)
