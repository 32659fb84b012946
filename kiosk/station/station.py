"""One station at work: its parts put together, and what goes through all of them. Knows nothing of screens.

Everything here runs on one thread. A tap or a sighting goes through the guide; what it changed is kept; the listeners
are told to draw again.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from kiosk.bar.guide import Event
from kiosk.bar.guide import guide as guides
from kiosk.bar.messages import Message
from kiosk.bar.model import (
    Corrected,
    GuideEvent,
    Noted,
    SettingPath,
    change,
    event_to_json,
    name_taken,
    new_entry,
    renamed,
)
from kiosk.bar.model import read as read_setup
from kiosk.bar.model.setup import CLEANING, IN_USE, STATES
from kiosk.book import Book
from kiosk.station.aside import Aside
from kiosk.station.backups import Backups
from kiosk.station.clock import Clock, WallWatch
from kiosk.station.closing import Closing
from kiosk.station.cues import Cues
from kiosk.station.dialling import Dialling, as_tasted
from kiosk.station.grinding import Grinding
from kiosk.station.lane import Lane, Work
from kiosk.station.lanes import Lanes
from kiosk.station.notes import DueWatch, Notes
from kiosk.station.order_queue import OrderQueue
from kiosk.station.orders import CANCELLED, SERVED, Orders
from kiosk.station.pin import Pin
from kiosk.station.restore import CLOCK_KNOWN, CLOCK_SET, LATEST_DAYS, records_to_replay, restored
from kiosk.station.scales import Scales
from kiosk.station.signals import Signals
from kiosk.station.tasks import Tasks
from kiosk.station.tasting import Tasting
from kiosk.station.teaching import Teaching
from kiosk.station.till import Till
from kiosk.station.weighing import LIFTED_BELOW_G

REDONE = "redone"
NOT_TAKEN_UP = Message("A pull that was under way could not be read after the restart. Its drinks wait in the queue again.")
AT_WORK = "at-work"                 # who it was, for a restart on the same service day
LOOKS_EVERY_S = 1.0
OPENS_FIRST_S = 10.0                # the first screen comes before yesterday's evening


class Station:
    """One station at work. `changed` is called after everything that a screen should draw."""

    def __init__(self, book: Book, clock: Clock):
        self.book, self.clock = book, clock
        self.setup, self._misread = read_setup(book.settings)
        self.complaints = self._misread
        self.changed: list[Callable[[], None]] = []
        self._publishing_later: bool | None = None      # None: at once; else whether there is something to draw
        self.barista: str | None = None
        self.pulls_since_opening = 0
        self.aside = Aside()
        self.backing = Backups(book, clock, lambda: self.setup, self.aside)
        self.closing = Closing(book, clock, lambda: self.setup, self.aside)
        self.pin = Pin(book, clock, lambda: self.barista)
        self.teaching = Teaching(book, clock.at, self.publish)
        self.tasks = Tasks(book, clock.at, lambda: self.setup, lambda: self.barista, self.publish)
        self.line = OrderQueue(clock.now, lambda: 60 * self.setup.limits.order_late_min, self._note, self._line_changed)
        self.lanes = Lanes(book, clock, lambda: self.setup, lambda: self.barista, self.line, self.teaching.every_step,
                           lambda: self.tasks.rinsing, lambda group: self.scales.of(group))
        self.cues = Cues(clock.s, self.lanes)
        self.orders = Orders(book, clock.at, lambda: self.setup, self.line, self.lanes, self._note, self.publish, self._drawn_once)
        self.till = Till(book, clock.at, lambda: self.setup, self.orders.take, self.orders.void, self.publish)
        self.signals = Signals(self.lanes, clock.s, self.happened, self.orders.unordered, self.complain)
        self.scales = Scales(book, clock.s, lambda: self.setup, self.lanes, self.signals, happened=self.happened,
                             unordered=self.orders.unordered, cue=self.cues.stop, sound=self.cues.sound, publish=self.publish)
        self.grinding = Grinding(book, clock.at, lambda: self.setup, lambda: self.barista, self.problems, self.set_setting,
                                 self.cues.sound, self.publish)
        self.dialling = Dialling(book, clock.at, lambda: self.barista, self.publish)
        self.tasting = Tasting(book, clock.at, self.grinding.flag_over, lambda: self.barista)
        self.notes = Notes(book, clock, lambda: self.setup, lambda: self.barista, self.scales.first, self.tasks.left_yesterday,
                           self.publish)
        self.due = DueWatch(clock, self.notes, lambda: self.lanes.busy, self.aside)
        self._wall, self._looked_s, self._opened_s = WallWatch(clock), clock.s(), clock.s()

    @classmethod
    def open(cls, book: Book, clock: Clock) -> "Station":
        """At work again where `book` says that it was stopped."""
        station = cls(book, clock)
        station.grinding.restore()
        station.teaching.restore()
        station._restore()
        station.lanes.fill()
        return station

    def close(self) -> None:
        """Nothing is listened to any more, and what is being written is waited for."""
        self.signals.close()
        self.till.close()
        self.aside.close()

    def _note(self, what: str, facts: dict[str, Any]) -> None:
        self.book.keep(Noted(id=self.book.new_id(), at=self.clock.at(), what=what, facts=facts, by=self.barista))

    def _line_changed(self) -> None:
        self.lanes.fill()
        self.publish()

    # ---- taps and sightings ---------------------------------------------------------------------------------------

    def tap(self, group: int, kind: type, *values: Any) -> None:
        """A finger on a lane: `kind` is one of guide.Tap, `values` what it needs beside the time."""
        if kind is guides.Undo and self._bring_back(group):
            return
        if kind is guides.Forward and self.scales.of(group).claims.answer(group):
            return
        self.happened(group, kind(self.clock.s(), *values))

    def redo(self, group: int) -> None:
        """Begin this pull again: what was ground goes in the sink, the drinks are still owed."""
        self.tap(group, guides.Bin, REDONE)

    def happened(self, group: int, event: Event) -> None:
        """Told by a finger or seen: what it changes of the group's pull is on the medium within moments, or with the next
        record, since a tap waits for no slow card."""
        lane = self.lanes[group]
        work = lane.work
        if work is None:
            return
        before, after = work.guide, guides.step(work.guide, event)
        if after is before:
            return
        work.guide = after
        work.events.append(event_to_json(event))
        self.book.jot(GuideEvent(id=self.book.new_id(), at=self.clock.at(), pull_id=work.key, event=work.events[-1]))
        if after.ended:
            self._end(lane, work)
            self.pulls_since_opening += 1
        else:
            self.scales.of(work.group).follow(work)
        self.publish()

    def _end(self, lane: Lane, work: Work) -> None:
        """The pull goes into the record, and every part takes in of it what is its own."""
        guide = work.guide
        pull = guides.finished(
            guide, id=work.key, at=self.clock.at(guide.pump_on_at_s), grinder=work.grinder, setting=work.setting,
            group=lane.group, order_id=work.waiting.order_id, drinks=tuple(d.name for d in work.planned.drinks),
            cups=work.planned.cups, barista=work.barista, trace=self.scales.of(work.group).trace(work))
        pull = as_tasted(pull) if work.planned.tasting else pull
        self.book.keep(pull)
        self.scales.of(work.group).learn(work)
        if self.setup.feeds:
            self.scales.record(work)
        self.lanes.ended(lane, pull)
        self.grinding.judge(pull)
        self.teaching.pulled(pull)
        owed = work.waiting.less_orders(self.line.taken_back) if pull.sink and not work.planned.tasting else None
        if owed is not None:
            self.lanes.begin_again(lane, owed)
        for order_id, _ in work.waiting.places:
            dropped = pull.sink and order_id in self.line.taken_back
            self.orders.end_when_done(order_id, CANCELLED if dropped else SERVED)
        self.lanes.fill()

    def bring_back(self, group: int, key: str) -> bool:
        """The pull with that key has just ended in this lane: back to it, where an undo still reaches. True if it did."""
        lane = self.lanes.get(group)
        return lane is not None and lane.last is not None and lane.last.id == key and self._bring_back(group)

    def _bring_back(self, group: int) -> bool:
        """Undo reaches a pull that has ended, as long as the next one in its lane is untouched: every part gives back what
        it took in of it."""
        lane = self.lanes[group]
        old, new = lane.last_work, lane.work
        if old is None or lane.last is None or not lane.can_bring_back:
            return False
        undone = guides.Undo(self.clock.s())
        self.lanes.drop(lane)
        if new is not None and new.waiting != old.waiting:      # else it is the remake of a shot that was not binned after all
            self.line.put_back(new.waiting)
        self.line.made(old.waiting.places)          # one of two orders may have been made to wait alone
        void = old.key, *(ended for order_id, _ in old.waiting.places for ended in self.orders.go_on(order_id))
        self.book.keep_all([Corrected(id=self.book.new_id(), at=self.clock.at(), of=each, changes={}, void=True,
                                      by=self.barista) for each in void])
        self.scales.of(group).take_back(old)
        self.grinding.take_back(lane.last)
        self.teaching.take_back(lane.last)
        self.lanes.go_back(lane, old, undone)
        self.publish()
        return True

    def choose(self, name: str | None) -> None:
        """Who works the station from now on; a pull that is still untouched becomes theirs, with their steps."""
        self.barista = name
        self.book.remember(AT_WORK, {"who": name, "day": self.book.day_now()})
        self.lanes.begin_anew()
        self.publish()

    def tick(self) -> None:
        """Many times a second: whatever waits for its moment; a wall clock that was set goes into the record, so that
        nothing is reckoned across it."""
        now_s = self.clock.s()
        self.cues.tick()
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
            others = [each for each in self.complaints if each not in self._misread]     # a port's
            self.setup, self._misread = found.setup, found.complaints
            self.complaints = (*self._misread, *others)
            self.grinding.set_up()
            self.lanes.set_up()
            self.publish()
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
        latest = self.scales.first.latest
        if latest is None or latest.grams < LIFTED_BELOW_G:
            return (Message("Set the empty portafilter on the scale, wait until it rests, then write its name."),)
        return self.set_setting(("scale", "portafilters", name), round(latest.grams, 1))

    def rinsed(self, group: int) -> None:
        """One more step towards a group that is free of cleaner; the last one opens it again."""
        with self._drawn_once():
            self.tasks.rinse(group)
            if group not in self.tasks.rinsing and self.setup.closed.get(group) == CLEANING:
                self.set_setting(("closed", str(group)), None)
            self.lanes.fill()
            self.publish()

    def next_state(self, group: int) -> None:
        """A free group is in use, heating, being cleaned, or out of order: the next of these. Nothing is planned on one
        that is not in use."""
        now = self.setup.closed.get(group, IN_USE)
        then = STATES[(STATES.index(now) + 1) % len(STATES)]
        self.set_setting(("closed", str(group)), None if then == IN_USE else then)

    def complain(self, sentence: str) -> None:
        if sentence not in self.complaints:
            self.complaints = (*self.complaints, sentence)
            self.publish()

    def _restore(self) -> None:
        """What was waiting and what was being made when the kiosk stopped, and what it was stopped in the middle of."""
        records = records_to_replay(self.book)
        found = restored(records, self.setup)
        self.till.restore(records)
        self.tasks.restore()
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
        self.lanes.restore(found.works, found.attempts)
        for order in found.taken:
            if order.id not in found.ended:
                self.orders.end_when_done(order.id, CANCELLED if order.id in self.line.taken_back else SERVED)
        for work in found.works:
            lane = self.lanes[work.group]
            if work.guide.ended:
                self._end(lane, work)
                continue
            self.scales.of(work.group).follow(work)
            if work.guide.pump_on_at_s is not None:
                self.happened(lane.group, guides.Missed(self.clock.s(), guides.RESTARTED))
        for name, setting in found.collars.items():
            grinder = self.setup.grinder(name)
            if grinder is not None and grinder.setting != setting:
                self.set_setting(("grinders", name, "setting"), setting)
        self.lanes.follow_grinders()

    # ---- to whoever listens ---------------------------------------------------------------------------------------

    @property
    def at_work(self) -> bool:
        """Whether a pull is in a lane or an order waits."""
        return bool(self.line.waiting) or self.lanes.busy

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
