"""Service: orders come in, lanes work them off, the book keeps what happened. Knows nothing of screens.

Everything here runs on one thread. A tap or a sighting goes through the guide; what it changed is kept; the listeners
are told to draw again.
"""

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import asdict, replace
from operator import itemgetter
from pathlib import Path
from typing import Any

from kiosk.bar.drift import Flag
from kiosk.bar.guide import Event, Trouble, trouble
from kiosk.bar.guide import guide as guides
from kiosk.bar.messages import Message
from kiosk.bar.model import (
    DOUBLE,
    KEY,
    TASTING,
    Corrected,
    Drink,
    Grinder,
    GuideEvent,
    Noted,
    OrderEnded,
    OrderTaken,
    PlannedPull,
    Pull,
    PumpOffSeen,
    PumpOnSeen,
    Record,
    SettingPath,
    Setup,
    change,
    event_to_json,
    judge,
    name_taken,
    new_entry,
    plan,
    renamed,
)
from kiosk.bar.model import read as read_setup
from kiosk.bar.model.setup import CLEANING, IN_USE, STATES
from kiosk.book import Book
from kiosk.station.aside import Aside
from kiosk.station.backups import Backups
from kiosk.station.clock import Clock, WallWatch
from kiosk.station.closing import Closing
from kiosk.station.dialling import Dialling, as_tasted
from kiosk.station.grinding import Grinding
from kiosk.station.lane import Lane, Waiting, Work
from kiosk.station.notes import DueWatch, Notes
from kiosk.station.order_queue import CHANGED, OrderQueue
from kiosk.station.pin import Pin
from kiosk.station.recall import recent_days
from kiosk.station.recording import Recording
from kiosk.station.restore import (
    CLOCK_KNOWN,
    CLOCK_SET,
    LATEST_DAYS,
    began,
    put_back,
    records_to_replay,
    reground,
    restored,
    work_of,
)
from kiosk.station.signals import Signals
from kiosk.station.tasks import Tasks
from kiosk.station.tasting import Tasting
from kiosk.station.teaching import Teaching
from kiosk.station.till import Till
from kiosk.station.weighing import LIFTED_BELOW_G, Weighing

REDONE = "redone"
SENT_BACK = "sent back"
NOT_TAKEN_UP = Message("A pull that was under way could not be read after the restart. Its drinks wait in the queue again.")
AT_WORK = "at-work"                 # who it was, for a restart on the same service day
HEARD, HEARD_EVERY_S = 3, 1.5        # the stop is heard so often, so far apart, unless the pump is seen to stop
LOOKS_EVERY_S = 1.0
OPENS_FIRST_S = 10.0                # the first screen comes before yesterday's evening
KEY_WITHIN_S = 0.3                  # ± of a foot switch (common practice)
DOSES = ("over", "under")            # what the dose's own step says already
WHOSE_POUR = Message("Coffee pours. Whose is it? Touch Pump on at the group that pours.")


def _by_drink(waiting: Waiting) -> tuple[tuple[str, int], ...]:
    """(order, index) for each of its drinks: two of one order's double are both that order's."""
    return waiting.places if waiting.also is not None else waiting.places * len(waiting.planned.drinks)


class Station:
    """One station at work. `changed` is called after everything that a screen should draw."""

    def __init__(self, book: Book, clock: Clock):
        self.book, self.clock = book, clock
        self.setup, self._misread = read_setup(book.settings)
        self.complaints = self._misread
        self.changed: list[Callable[[], None]] = []
        self.sounded: list[Callable[[str], None]] = []
        self._publishing_later: bool | None = None      # None: at once; else whether there is something to draw
        self.barista: str | None = None
        self.line = OrderQueue(clock.now, lambda: 60 * self.setup.limits.order_late_min, self._note, self._line_changed)
        self.lanes = {group: Lane(group) for group in range(1, self.setup.groups + 1)}
        self.pulls_since_opening = 0
        self._attempts: dict[tuple[str, int], int] = {}
        self.feeds = Recording(book.folder / "feeds")
        self.aside = Aside()
        self.backing = Backups(book, clock, lambda: self.setup, self.aside)
        self.closing = Closing(book, clock, lambda: self.setup, self.aside)
        self.pin = Pin(book, clock, lambda: self.barista)
        self.signals = Signals(self.lanes, clock.s, self.happened, self.unordered, self.complain)
        self.weighings = self._weighing(1), self._weighing(2)
        self.till = Till(book, clock.at, lambda: self.setup, self.take_order, self.till_voids, self.publish)
        self.grinding = Grinding(book, clock.at, lambda: self.setup, lambda: self.barista, self.problems, self.set_setting,
                                 self.sound, self.publish)
        self.dialling = Dialling(book, clock.at, lambda: self.barista, self.publish)
        self.tasks = Tasks(book, clock.at, lambda: self.setup, lambda: self.barista, self.publish)
        self.tasting = Tasting(book, clock.at, self._flag_of, lambda: self.barista)
        self.teaching = Teaching(book, clock.at, self.publish)
        self.notes = Notes(book, clock, lambda: self.setup, lambda: self.barista, self.weighing, self.tasks.left_yesterday,
                           self.publish)
        self.due = DueWatch(clock, self.notes, lambda: any(lane.work is not None for lane in self.lanes.values()), self.aside)
        self._wall, self._looked_s, self._opened_s = WallWatch(clock), clock.s(), clock.s()

    @classmethod
    def open(cls, book: Book, clock: Clock) -> "Station":
        """At work again where `book` says that it was stopped."""
        station = cls(book, clock)
        station.grinding.restore()
        station.teaching.restore()
        station._restore()
        station.fill_lanes()
        return station

    def close(self) -> None:
        """Nothing is listened to any more, and what is being written is waited for."""
        self.signals.close()
        self.till.close()
        self.aside.close()

    def _weighing(self, number: int) -> Weighing:
        return Weighing(number, self.book, self.clock.s, lambda: self.setup, self.lanes, self.signals, happened=self.happened,
                        unordered=self.unordered, cue=self.cue, sound=self.sound, publish=self.publish)

    def _note(self, what: str, facts: dict[str, Any]) -> None:
        self.book.keep(Noted(id=self.book.new_id(), at=self.clock.at(), what=what, facts=facts, by=self.barista))

    def _line_changed(self) -> None:
        self.fill_lanes()
        self.publish()

    # ---- orders ---------------------------------------------------------------------------------------------------

    def take_order(self, wanted: tuple[tuple[Drink, int], ...], label: str = "", beside: Iterable[Record] = ()) -> str:
        """Drinks asked for together, each with its count; `label` is what the till calls them, `beside` is kept with them in
        one go. Returns the order's id."""
        house = self.setup.grinders[0].coffee
        order_id, pulls = self.book.new_id(), plan(wanted, house)
        order = OrderTaken(
            id=order_id, at=self.clock.at(), coffee=house,
            drinks=tuple((drink.name, count) for drink, count in wanted if count > 0),
            pulls=tuple((each.coffee, each.basket, tuple(drink.name for drink in each.drinks)) for each in pulls), label=label)
        self.book.keep_all((*beside, order))
        self.line.take(order, (Waiting(order_id, n, planned) for n, planned in enumerate(pulls)))
        self.fill_lanes()
        self.publish()
        return order_id

    def tasting_shot(self, grinder: Grinder) -> None:
        """A double of that grinder for nobody, to be tasted: it takes its turn like any other pull."""
        shot = PlannedPull(coffee=grinder.coffee, basket=DOUBLE, drinks=(), tasting=True, grinder=grinder.name)
        order = OrderTaken(id=self.book.new_id(), at=self.clock.at(), coffee=shot.coffee, drinks=(), pulls=((shot.coffee, DOUBLE, ()),),
                           label=str(TASTING), grinder=grinder.name)
        self.book.keep(order)
        self.line.take(order, (Waiting(order.id, 0, shot),))
        self.fill_lanes()
        self.publish()

    def tasting_shots_due(self, grinder: Grinder) -> int:
        """How many tasting shots of it are on a lane or wait for one."""
        begun = [lane.work.planned for lane in self.lanes.values() if lane.work is not None]
        return sum(each.tasting and self._grinder_of(each).name == grinder.name
                   for each in (*begun, *(waiting.planned for waiting in self.line.waiting)))

    def _grinder_of(self, planned: PlannedPull) -> Grinder:
        """The one that grinds it; where Setup has lost the one it was planned for, whichever holds its coffee."""
        return self.setup.grinder(planned.grinder) or self.setup.grinder_for(planned.coffee)

    def cancel(self, order_id: str) -> None:
        """What nobody has touched yet is dropped; a pull on its way is finished, or binned by hand and not made again."""
        with self._drawn_once():
            for lane in self.lanes.values():
                if lane.work is not None and lane.work.untouched and order_id in dict(lane.work.waiting.places):
                    self._keep_event(lane.work, put_back(self.clock.s()))
                    left, lane.work = lane.work.waiting.less_orders({order_id}), None
                    if left is not None:
                        self.line.put_back(left)
            self.line.take_back(order_id)
            self._end_order_when_done(order_id, "cancelled")
            self.fill_lanes()
            self.publish()

    def till_voids(self, label: str, drinks: tuple[tuple[str, int], ...]) -> bool:
        """The till takes an order back: the one of that label, else the last one of just these drinks. What nobody has
        touched yet is not made. Whether there was one to take back."""
        found = next((order for order in reversed(self.line.taken_orders) if (label and order.label == label)
                      or (not label and drinks and sorted(order.drinks) == sorted(drinks))), None)
        if found is None:
            return False
        self.cancel(found.id)
        return True

    def again(self, order_id: str) -> None:
        """The same drinks once more, as an order of its own."""
        with self._drawn_once():
            taken = self.book.find(order_id)
            if isinstance(taken, OrderTaken):
                new_id = self.take_order(tuple((self.setup.drink(name), count) for name, count in taken.drinks))
                if order_id in self.line.taken_back:
                    self.line.as_before(new_id, order_id)

    def sent_back(self, order_id: str, why: str) -> None:
        """What was served comes back: it is made again before anything else, and counted with its reason."""
        with self._drawn_once():
            self._note(SENT_BACK, {"order_id": order_id, "why": why})
            waited = {each.order_id for each in self.line.waiting}
            self.again(order_id)
            new = next((each.order_id for each in self.line.waiting if each.order_id not in waited), None)
            if new is not None:
                self.line.first(new)

    def open_drinks(self, order_id: str) -> dict[str, int]:
        """The drinks of an order that can still be changed: those whose coffee is not ground yet."""
        found: dict[str, int] = {}
        for waiting in self._not_ground(order_id):
            for (each, _), drink in zip(_by_drink(waiting), waiting.planned.drinks):
                if each == order_id:
                    found[drink.name] = found.get(drink.name, 0) + 1
        return found

    def change_order(self, order_id: str, wanted: tuple[tuple[Drink, int], ...]) -> None:
        """What of the order is not ground yet is planned anew, as these drinks; none of them, and that part is dropped."""
        house, taken = self.setup.grinders[0].coffee, self.book.find(order_id)
        if not isinstance(taken, OrderTaken):
            return
        for lane in self.lanes.values():
            work = lane.work
            if work is not None and not work.ground and order_id in dict(work.waiting.places):
                self._keep_event(work, put_back(self.clock.s()))
                lane.work = None
                self.line.put_back(work.waiting)
        dropped = [each.index for each in self.line.waiting if each.order_id == order_id]
        first = self._planned_in_all(order_id)
        pulls = plan(wanted, house)
        facts = {"order_id": order_id, "dropped": dropped,
                 "pulls": [[each.coffee, each.basket, [drink.name for drink in each.drinks]] for each in pulls]}
        self._note(CHANGED, facts)
        self.line.change(order_id, dropped, [Waiting(order_id, first + n, each) for n, each in enumerate(pulls)])
        self._end_order_when_done(order_id, "cancelled" if not wanted else "served")
        self.fill_lanes()
        self.publish()

    def _not_ground(self, order_id: str) -> list[Waiting]:
        begun = [lane.work.waiting for lane in self.lanes.values() if lane.work is not None and not lane.work.ground]
        return [each for each in (*begun, *self.line.waiting) if order_id in dict(each.places)]

    def _planned_in_all(self, order_id: str) -> int:
        """How many pulls the order was ever planned as: the next index."""
        taken = self.book.find(order_id)
        changes = [note for day in recent_days(self.book) for note in self.book.day(day).of(Noted)
                   if note.what == CHANGED and note.facts.get("order_id") == order_id]
        return (len(taken.pulls) if isinstance(taken, OrderTaken) else 0) + sum(len(note.facts["pulls"]) for note in changes)

    def makes(self, group: int, key: str) -> bool:
        """Whether the pull with that key is what the lane makes now."""
        work = self.lanes[group].work
        return work is not None and work.key == key

    def bring_back(self, group: int, key: str) -> bool:
        """The pull with that key has just ended in this lane: back to it, where an undo still reaches. True if it did."""
        last = self.lanes[group].last
        return last is not None and last.id == key and self._bring_back(group)

    # ---- taps and sightings ---------------------------------------------------------------------------------------

    def tap(self, group: int, kind: type, *values: Any) -> None:
        """A finger on a lane: `kind` is one of guide.Tap, `values` what it needs beside the time."""
        if kind is guides.Undo and self._bring_back(group):
            return
        if kind is guides.Forward and self.weighing_of(group).answer(group):
            return
        self.happened(group, kind(self.clock.s(), *values))

    def happened(self, group: int, event: Event) -> None:
        lane = self.lanes[group]
        work = lane.work
        if work is None:
            return
        before, after = work.guide, guides.step(work.guide, event)
        if after is before:
            return
        work.guide = after
        work.events.append(event_to_json(event))
        self._keep_event(work, work.events[-1])
        if after.ended:
            self._end(lane, work)
            self.pulls_since_opening += 1
        else:
            self.weighing_of(work.group).follow(work)
        self.publish()

    def choose(self, name: str | None) -> None:
        """Who works the station from now on; a pull that is still untouched becomes theirs, with their steps."""
        self.barista = name
        self.book.remember(AT_WORK, {"who": name, "day": self.book.day_now()})
        for lane in self.lanes.values():
            if lane.work is not None and lane.work.untouched:
                waiting = lane.work.waiting
                self._keep_event(lane.work, put_back(self.clock.s()))
                self._begin(lane, waiting)
        self.publish()

    def redo(self, group: int) -> None:
        """Begin this pull again: what was ground goes in the sink, the drinks are still owed."""
        self.tap(group, guides.Bin, REDONE)

    def coached(self) -> Lane | None:
        """The lane whose pull shows every step to whoever is on the station, the one begun first; None without one."""
        begun = [(lane.work.guide.began_at_s, lane) for lane in self.lanes.values()
                 if lane.work is not None and lane.work.guide.full and lane.work.barista == self.barista]
        return min(begun, key=itemgetter(0), default=(0.0, None))[1]

    @property
    def weighing(self) -> Weighing:
        """The first scale's, at most stations the only one."""
        return self.weighings[0]

    def weighing_of(self, group: int) -> Weighing:
        return next((each for each in self.weighings if group in each.groups), self.weighing)

    def scales_closed(self) -> None:
        """No scale is read until one answers anew; a setting may have given a group another one."""
        for weighing in self.weighings:
            weighing.answering(False)
        for lane in self.lanes.values():
            if lane.work is not None and lane.work.guide.has_scale:
                self.happened(lane.group, guides.ScaleSeen(self.clock.s(), False))

    def record_feed(self, work: Work) -> Path | None:
        """What the scale sent during a pull that has ended, in a file; None where nothing was heard."""
        return self.feeds.save(work, self.setup.scale, self.weighing_of(work.group).number)

    def warnings(self, group: int) -> tuple[str, ...]:
        work = self.lanes[group].work
        if group in self.weighing_of(group).asking:
            return (WHOSE_POUR,)
        limits = self.setup.limits
        if work is None:
            return ()
        wrong = self.trouble(group)
        return ((wrong.now,) if wrong is not None and wrong.what not in DOSES else ()) + guides.warnings(
            work.guide, self.clock.s(), lock_to_pump_s=limits.lock_to_pump_s, grind_to_pull_s=limits.grind_to_pull_s)

    def trouble(self, group: int) -> Trouble | None:
        """What goes wrong with that group's pull now, as far as it can be seen."""
        work = self.lanes[group].work
        if work is None:
            return None
        watch = work.pour_watch if work.guide.has_scale and self.weighing_of(group).busy_with(group) is None else None
        return trouble(work.guide, self.clock.s(), watch.grams if watch is not None else None,
                       watch is None or watch.cup_seen)

    def tick(self) -> None:
        """Many times a second: a stop that nobody heeded is heard again; a wall clock that was set goes into the record,
        so that nothing is reckoned across it."""
        now_s = self.clock.s()
        for lane in self.lanes.values():
            work = lane.work
            if work is not None and work.cue_at_s is not None and work.guide.pulling and work.cued < HEARD \
                    and now_s - work.cue_at_s >= HEARD_EVERY_S * work.cued:
                self.cue(work)
        self.due.tick()
        if now_s - self._looked_s < LOOKS_EVERY_S:
            return
        self._looked_s = now_s
        if now_s - self._opened_s >= OPENS_FIRST_S:
            self.closing.tick()
        by_s = self._wall.jumped_s()
        dated = self.book.look_at_clock()
        if by_s is None:
            return
        self.line.clock_set(by_s)
        what, facts = (CLOCK_SET, {}) if dated is None else (CLOCK_KNOWN, {"records": dated})
        self.book.keep(Noted(id=self.book.new_id(), at=self.clock.at(), what=what, facts={"by_s": round(by_s), **facts}))
        self.publish()

    # ---- setting up -----------------------------------------------------------------------------------------------

    def set_setting(self, path: SettingPath, value: Any) -> tuple[str, ...]:
        """Change one setting, and say what did not fit: then nothing is changed. None takes an entry away."""
        found = change(self.book.settings, path, value)
        if not found.problems:
            self.book.set_setting(found.path, found.value, by=self.barista)
            self._set_up(found.setup, found.complaints)
        return found.problems

    def add(self, kind: str, name: str, **fields: Any) -> tuple[str, ...]:
        """Add a thing called `name`, of a kind of `new_entry`, with `fields` other than it begins with; what did not fit, as
        `set_setting` says it."""
        return name_taken(self.setup, kind, name) or self.set_setting((kind, name), new_entry(kind, name) | fields)

    def rename(self, kind: str, old: str, name: str) -> tuple[str, ...]:
        """Call what is called `old` by another name, in its place; what did not fit, as `set_setting` says it."""
        return name_taken(self.setup, kind, name, but=old) or self.set_setting(*renamed(self.setup, kind, old, name))

    def problems(self, path: SettingPath, value: Any) -> tuple[str, ...]:
        """What `set_setting` would say."""
        return change(self.book.settings, path, value).problems

    def add_portafilter(self, name: str) -> tuple[str, ...]:
        """The empty portafilter on the scale is called `name` from now on; what did not fit, as `set_setting` says it."""
        latest = self.weighing.latest
        if latest is None or latest.grams < LIFTED_BELOW_G:
            return (Message("Set the empty portafilter on the scale, wait until it rests, then write its name."),)
        return self.set_setting(("scale", "portafilters", name), round(latest.grams, 1))

    def _set_up(self, setup: Setup, misread: tuple[str, ...]) -> None:
        others = [each for each in self.complaints if each not in self._misread]     # a port's
        self.setup, self._misread = setup, misread
        self.complaints = (*self._misread, *others)
        self.grinding.set_up()
        self._follow_grinders()
        for group in range(1, self.setup.groups + 1):
            self.lanes.setdefault(group, Lane(group))
        for group in [g for g, lane in self.lanes.items() if g > self.setup.groups and lane.work is None]:
            del self.lanes[group]
        self.fill_lanes()
        self.publish()

    def _follow_grinders(self) -> None:
        """What is still to be ground is of a coffee that a grinder holds, at the setting where its collar stands."""
        for lane in self.lanes.values():
            work = lane.work
            if work is None or work.ground:
                continue
            grinder = self._grinder_of(work.planned)
            if (grinder.name, grinder.coffee) != (work.grinder, work.guide.recipe.coffee):
                recipe, t_s = self.setup.recipe(grinder.coffee, work.planned.basket), self.clock.s()
                event = began(work, t_s) | {"recipe": asdict(recipe), "grinder": grinder.name,
                                            "setting": grinder.setting}
                self._keep_event(work, put_back(t_s))
                self._open(lane, work_of(self._new_key(work.waiting), work.waiting, event, list(work.events)))
            elif grinder.setting != work.setting:
                work.setting = grinder.setting
                self._keep_event(work, reground(grinder.setting, self.clock.s()))

    # ---- the course of a pull -------------------------------------------------------------------------------------

    def fill_lanes(self) -> None:
        """Each free lane takes the next pull of the line."""
        for lane in self.lanes.values():
            if lane.work is None and lane.group <= self.setup.groups and lane.group not in self.setup.closed \
                    and lane.group not in self.tasks.rinsing:
                waiting = self.line.next()
                if waiting is None:
                    return
                self._begin(lane, waiting)

    def rinsed(self, group: int) -> None:
        """One more step towards a group that is free of cleaner; the last one opens it again."""
        with self._drawn_once():
            self.tasks.rinse(group)
            if group not in self.tasks.rinsing and self.setup.closed.get(group) == CLEANING:
                self.set_setting(("closed", str(group)), None)
            self.fill_lanes()
            self.publish()

    def next_state(self, group: int) -> None:
        """A free group is in use, heating, being cleaned, or out of order: the next of these. Nothing is planned on one
        that is not in use."""
        now = self.setup.closed.get(group, IN_USE)
        then = STATES[(STATES.index(now) + 1) % len(STATES)]
        self.set_setting(("closed", str(group)), None if then == IN_USE else then)

    def pump_key(self, name: str) -> bool:
        """A foot switch or a button that is a keyboard key: the pump of its group goes on, or off. Whether it is one."""
        signal = next((each for each in self.setup.signals if each.key and each.key == name), None)
        if signal is None:
            return False
        lane, now_s = self.lanes.get(signal.group), self.clock.s()
        guide = lane.work.guide if lane is not None and lane.work is not None else None
        if guide is not None and guide.pulling:
            self.happened(signal.group, PumpOffSeen(now_s, now_s, KEY, KEY_WITHIN_S))
        elif guide is None and self.unordered((signal.group,)) is None:
            return True
        elif guide is None or guide.pump_on_at_s is None:
            self.happened(signal.group, PumpOnSeen(now_s, now_s, KEY, KEY_WITHIN_S))
        return True

    def unordered(self, groups: Iterable[int]) -> Work | None:
        """Coffee pours and nobody ordered it: a pull of its own in the first free lane of `groups`; None without one.
        Its basket and coffee are taken from what that lane made last, else they are the house's double."""
        lane = next((self.lanes[group] for group in groups if group in self.lanes and self.lanes[group].work is None), None)
        if lane is None:
            return None
        coffee = lane.last.coffee if lane.last is not None else self.setup.grinders[0].coffee
        basket = lane.last.basket if lane.last is not None else DOUBLE
        order = OrderTaken(id=self.book.new_id(), at=self.clock.at(), coffee=coffee, drinks=(), pulls=((coffee, basket, ()),))
        self.book.keep(order)
        self.line.take(order, ())
        self._begin(lane, Waiting(order.id, 0, PlannedPull(coffee=coffee, basket=basket, drinks=())))
        return lane.work

    def complain(self, sentence: str) -> None:
        if sentence not in self.complaints:
            self.complaints = (*self.complaints, sentence)
            self.publish()

    def _begin(self, lane: Lane, waiting: Waiting) -> None:
        grinder = self._grinder_of(waiting.planned)
        person = self.setup.person(self.barista)
        guide = guides.begin(self.setup.recipe(grinder.coffee, waiting.planned.basket), self.clock.s(),
                             full=self.teaching.every_step(person), has_scale=self.weighing_of(lane.group).there,
                             warm=waiting.planned.to_warm)
        self._open(lane, Work(key=self._new_key(waiting), group=lane.group, waiting=waiting, guide=guide,
                              grinder=grinder.name, setting=grinder.setting, barista=self.barista))

    def _open(self, lane: Lane, work: Work) -> None:
        lane.work = work
        for each in self.lanes.values():            # what is made again here, no undo brings back there
            if each is not lane and each.last_work is not None and set(each.last_work.waiting.places) & set(work.waiting.places):
                each.last_work = None
        work.by_volume = lane.group in self.setup.by_volume
        self._keep_event(work, began(work, self.clock.s()))
        self.weighing_of(work.group).follow(work)

    def _end(self, lane: Lane, work: Work) -> None:
        guide = work.guide
        pull = guides.finished(
            guide, id=work.key, at=self.clock.at(guide.pump_on_at_s), grinder=work.grinder, setting=work.setting,
            group=lane.group, order_id=work.waiting.order_id, drinks=tuple(d.name for d in work.planned.drinks),
            cups=work.planned.cups, barista=work.barista, trace=self.weighing_of(work.group).trace(work))
        pull = as_tasted(pull) if work.planned.tasting else pull
        self.book.keep(pull)
        self.weighing_of(work.group).learn(work)
        if self.setup.feeds:
            self.record_feed(work)
        lane.last, lane.last_said = pull, judge(pull)
        lane.last_work, lane.work = work, None
        self.grinding.judge(pull)
        self.teaching.pulled(pull)
        owed = work.waiting.less_orders(self.line.taken_back) if pull.sink and not work.planned.tasting else None
        if owed is not None:
            self._begin(lane, owed)
        for order_id, _ in work.waiting.places:
            dropped = pull.sink and order_id in self.line.taken_back
            self._end_order_when_done(order_id, "cancelled" if dropped else "served")
        self.fill_lanes()

    def _bring_back(self, group: int) -> bool:
        """Undo reaches a pull that has ended, as long as the next one in its lane is untouched."""
        lane = self.lanes[group]
        old, new = lane.last_work, lane.work
        if old is None or lane.last is None or not lane.can_bring_back:
            return False
        t_s = self.clock.s()
        if new is not None:
            self._keep_event(new, put_back(t_s))
            if new.waiting != old.waiting:          # else it is the remake of a shot that was not binned after all
                self.line.put_back(new.waiting)
        self.line.made(old.waiting.places)          # one of two orders may have been made to wait alone
        self._void(old.key, *[ended for order_id, _ in old.waiting.places for ended in self._goes_on(order_id)])
        self.weighing_of(group).take_back(old)
        self.grinding.take_back(lane.last)
        self.teaching.take_back(lane.last)
        undone = guides.Undo(t_s)
        lane.last = lane.last_said = lane.last_work = None
        self._open(lane, replace(old, key=self._new_key(old.waiting), guide=guides.step(old.guide, undone),
                                 events=[*old.events, event_to_json(undone)]))
        self.publish()
        return True

    def _end_order_when_done(self, order_id: str, how: str) -> None:
        on_its_way = any(order_id in dict(each.places) for each in self.line.waiting) or any(
            lane.work and order_id in dict(lane.work.waiting.places) for lane in self.lanes.values())
        if not on_its_way:
            self.book.keep(OrderEnded(id=self.book.new_id(), at=self.clock.at(), order_id=order_id, how=how))
            self.line.end(order_id)

    def _goes_on(self, order_id: str) -> tuple[str, ...]:
        """An order that had ended has something to be made again; the ids of the records that say that it ended."""
        ended = tuple(each.id for day in recent_days(self.book) for each in self.book.day(day).of(OrderEnded)
                      if each.order_id == order_id)
        order = self.book.find(order_id) if ended else None
        if isinstance(order, OrderTaken):
            self.line.goes_on(order)
        return ended

    def _flag_of(self, pull: Pull) -> Flag | None:
        grinder = self.setup.grinder(pull.grinder)
        return self.grinding.flag(grinder) if grinder is not None and grinder.coffee == pull.coffee else None

    @property
    def last_pull(self) -> Pull | None:
        """The one that ended last, in whatever lane."""
        made = [lane.last for lane in self.lanes.values() if lane.last is not None]
        return max(made, key=lambda pull: pull.at, default=None)

    def _void(self, *record_ids: str) -> None:
        self.book.keep_all([Corrected(id=self.book.new_id(), at=self.clock.at(), of=each, changes={}, void=True,
                                      by=self.barista) for each in record_ids])

    def _restore(self) -> None:
        """What was waiting and what was being made when the kiosk stopped, and what it was stopped in the middle of."""
        records = records_to_replay(self.book)
        found = restored(records, self.setup)
        self.till.restore(records)
        self.tasks.restore()
        self._attempts = found.attempts
        unread = found.unread + sum(len(self.book.day(day).unread) for day in self.book.days()[-LATEST_DAYS:])
        if unread:
            self.complaints = (*self.complaints, Message(
                "{n:d} records of the last days cannot be read by this program. They are kept: have the log looked at.", n=unread))
        for _ in found.aside:
            self.complaints = (*self.complaints, NOT_TAKEN_UP)
        self.line.restore(found.waiting, found.deeds, found.taken, found.ended)
        if found.last:
            self.clock.carry_on(*found.last, found.jumped_s)
        known = self.book.memory(AT_WORK) or {}
        if known.get("day") == self.book.day_now() and self.setup.person(known.get("who")) is not None:
            self.barista = known["who"]
        self._wall, self._looked_s = WallWatch(self.clock), self.clock.s()
        for work in found.works:
            self.lanes.setdefault(work.group, Lane(work.group)).work = work
            work.by_volume = work.group in self.setup.by_volume
        for order in found.taken:
            if order.id not in found.ended:
                self._end_order_when_done(order.id, "cancelled" if order.id in self.line.taken_back else "served")
        for work in found.works:
            lane = self.lanes[work.group]
            if work.guide.ended:
                self._end(lane, work)
                continue
            self.weighing_of(work.group).follow(work)
            if work.guide.pump_on_at_s is not None:
                self.happened(lane.group, guides.Missed(self.clock.s(), guides.RESTARTED))
        for name, setting in found.collars.items():
            grinder = self.setup.grinder(name)
            if grinder is not None and grinder.setting != setting:
                self.set_setting(("grinders", name, "setting"), setting)
        self._follow_grinders()

    def _new_key(self, waiting: Waiting) -> str:
        place = waiting.order_id, waiting.index
        self._attempts[place] = self._attempts.get(place, 0) + 1
        return f"{waiting.order_id}.{waiting.index}.{self._attempts[place]}"

    def _keep_event(self, work: Work, event: dict) -> None:
        """On the medium within moments, or with the next record: a tap waits for no slow card."""
        self.book.jot(GuideEvent(id=self.book.new_id(), at=self.clock.at(), pull_id=work.key, event=event))

    def sound(self, sound: str) -> None:
        """A sound for whoever plays them: "stop", "ready", "flag" …"""
        for listener in self.sounded:
            listener(sound)

    def cue(self, work: Work) -> None:
        """Stop the pump now: each group by a sound of its own."""
        work.cued += 1
        self.sound("stop" if work.group == 1 else f"stop-{work.group}")

    @property
    def at_work(self) -> bool:
        """Whether a pull is in a lane or an order waits."""
        return bool(self.line.waiting) or any(lane.work is not None for lane in self.lanes.values())

    @contextmanager
    def _drawn_once(self) -> Iterator[None]:
        """What is done meanwhile is drawn when all of it is done."""
        if self._publishing_later is not None:          # within another such deed, which draws
            yield
            return
        self._publishing_later = False
        try:
            yield
        finally:
            due, self._publishing_later = self._publishing_later, None
            if due:
                self.publish()

    def publish(self) -> None:
        """Have everything drawn anew that shows the station."""
        if self._publishing_later is not None:
            self._publishing_later = True
            return
        for listener in self.changed:
            listener()
