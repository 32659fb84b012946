"""Noting by hand: bags, burrs, cleaning, the room, the scale. One tap keeps it; what is put right after is a
correction."""

from collections.abc import Callable
from dataclasses import dataclass
from threading import Thread
from typing import Any, TypeVar

from kiosk.bar.messages import Message
from kiosk.bar.model import COARSER, FINER, Corrected, Due, NotchMoved, Noted, Pull, Record, ScaleChecked, Setup, due
from kiosk.book import Book, OneStation
from kiosk.station.aside import Aside
from kiosk.station.clock import Clock
from kiosk.station.weighing import Weighing

WEIGHTS_G = (10.0, 20.0, 50.0, 100.0, 200.0, 500.0)     # test weights that a bar may have
NEAR = 0.1                                              # a reading this near to one of them is of it
USUAL_ROOM = {"temperature_c": 20.0, "humidity_percent": 50}
LOOK_EVERY_S = 60.0
PUT_ASIDE = "advice put aside"
Kept = TypeVar("Kept", Noted, ScaleChecked)
LOOKED_BACK = 60                                        # days, for the latest bag


@dataclass(frozen=True, slots=True)
class MorningAdvice:
    """Yesterday's advice for a grinder: which way its collar should start, in words, and why."""

    grinder: str
    direction: str
    words: Message
    why: Message


class Notes:
    """`setup()` is the bar's as it is now, `by()` whoever is at work, `scale` the one that a test weight is set on, `left()` what
    of the last closing was left. `latest` is what can still be changed or undone; `morning` is yesterday's advice for the
    grinders, as long as it stands."""

    def __init__(self, book: Book, clock: Clock, setup: Callable[[], Setup], by: Callable[[], str | None], scale: Weighing,
                 left: Callable[[], tuple[str, ...]], publish: Callable[[], None]):
        self._book, self._clock, self._setup, self._by = book, clock, setup, by
        self._scale, self._left, self._publish = scale, left, publish
        self.morning: tuple[MorningAdvice, ...] = ()
        self.latest: Noted | ScaleChecked | None = None
        self._facts: dict[str, Any] = {}

    def note(self, what: str, **facts: Any) -> Noted:
        book = self._book
        return self._keep(Noted(id=book.new_id(), at=self._clock.at(), what=what, facts=facts,
                                by=self._by()))

    def check_scale(self) -> ScaleChecked | None:
        """The weight that stands on the scale, taken for the nearest test weight; None where nothing like one does."""
        latest = self._scale.latest
        nominal_g = None if latest is None else nearest_weight_g(latest.grams)
        if latest is None or nominal_g is None:
            return None
        book = self._book
        return self._keep(ScaleChecked(id=book.new_id(), at=self._clock.at(), nominal_g=nominal_g,
                                       read_g=latest.grams, resolution_g=latest.resolution_g))

    def change(self, **facts: Any) -> None:
        """Other figures for the latest note; kept once something else is done, so that ten taps are one correction."""
        self._facts |= facts

    @property
    def facts(self) -> dict[str, Any]:
        return dict(self._facts)

    def finish(self) -> None:
        """What was changed of the latest note goes into the record."""
        if isinstance(self.latest, Noted) and self._facts != self.latest.facts:
            self._correct({"facts": self._facts})
        self.latest, self._facts = None, {}

    def undo(self) -> None:
        if self.latest is not None:
            self._correct({}, void=True)
            self.latest, self._facts = None, {}
            self._publish()

    def room_now(self) -> dict[str, Any]:
        """The latest reading of the room, to start from."""
        return next((note.facts for note in reversed(self._notes(2)) if note.what == "room"), USUAL_ROOM) | {}

    def roasted(self) -> dict[str, str]:
        """The roast date of each coffee's latest bag, where it was noted."""
        bags = {note.facts.get("coffee"): note.facts.get("roasted") for note in self._notes(LOOKED_BACK)
                if note.what == "beans"}
        return {coffee: day for coffee, day in bags.items() if coffee in self._setup().coffees and day}

    def advice(self) -> tuple[MorningAdvice, ...]:
        """What yesterday's evening says of each grinder, until its collar is turned or it is put aside: not today's first
        pulls, but the hands, say what becomes of it."""
        book, today = self._book, self._book.today()
        before = [day for day in OneStation(book).days() if day < today.day]
        settled = {move.grinder for move in today.of(NotchMoved)} | {
            note.facts.get("grinder") for note in today.of(Noted) if note.what == PUT_ASIDE}
        if not before:
            return ()
        found = []
        from kiosk.station.evenings import evening_of  # the first screen waits for no evening's sums

        for each in evening_of(book, self._setup(), before[-1]).grinders:
            grinder = self._setup().grinder(each.figures.grinder)
            if each.start is None or not each.start.turned or grinder is None or grinder.name in settled \
                    or grinder.coffee != each.figures.coffee or grinder.setting != each.figures.setting:
                continue
            way = COARSER if each.start.turned > 0 else FINER
            found.append(MorningAdvice(grinder.name, way, Message(
                "{grinder}: start one notch {way}, at {setting}", grinder=grinder.name, way=Message(way),
                setting=each.start.setting), each.start.why))
        return tuple(found)

    def put_aside(self, grinder: str) -> None:
        """The morning's advice for that grinder was seen and is not followed."""
        self.note(PUT_ASIDE, grinder=grinder)
        self.finish()
        self.turned(grinder)

    def turned(self, grinder: str) -> None:
        """Its collar stands elsewhere, or stays where it is: the morning's advice has had its say."""
        self.morning = tuple(each for each in self.morning if each.grinder != grinder)

    def due(self) -> tuple[Due, ...]:
        today = self._book.today()
        records: list[Record] = [*today.of(Noted), *today.of(ScaleChecked), *today.of(Pull, traces=False)]
        return due(records, self._clock.now(), has_scale=self._scale.there, roasted=self.roasted(),
                   left=self._left())

    def _notes(self, days: int) -> list[Noted]:
        book = self._book
        return [note for day in book.days()[-days:] for note in book.day(day).of(Noted)]

    def _keep(self, record: Kept) -> Kept:
        self.finish()
        self._book.keep(record)
        self.latest = record
        self._facts = dict(record.facts) if isinstance(record, Noted) else {}
        self._publish()
        return record

    def _correct(self, changes: dict[str, Any], void: bool = False) -> None:
        if self.latest is not None:
            self._book.keep(Corrected(id=self._book.new_id(), at=self._clock.at(), of=self.latest.id, changes=changes, void=void,
                                      by=self._by()))


class DueWatch:
    """What is due, looked up beside the screens, since it takes weeks of notes: once a minute while nobody `pulls()`, and at
    once when asked to. `found` is None until it is known."""

    def __init__(self, clock: Clock, notes: Notes, pulls: Callable[[], bool], aside: Aside):
        self._clock, self._notes, self._pulls, self._aside = clock, notes, pulls, aside
        self._looked_s = float("-inf")
        self._at_work: Thread | None = None
        self.found: tuple[Due, ...] | None = None

    def tick(self, while_pulling: bool = False) -> None:
        now_s = self._clock.s()
        if now_s - self._looked_s < LOOK_EVERY_S or (self._at_work and self._at_work.is_alive()):
            return
        if not while_pulling and self._pulls():
            return
        self._looked_s = now_s
        self._at_work = self._aside.begin("sums", self._look)

    def again(self) -> None:
        self._looked_s = float("-inf")

    def _look(self) -> None:
        self._notes.morning = self._notes.advice()
        self.found = (*(Due("advice", each.words) for each in self._notes.morning), *self._notes.due())


def nearest_weight_g(grams: float) -> float | None:
    nearest = min(WEIGHTS_G, key=lambda weight: abs(weight - grams))
    return nearest if abs(nearest - grams) <= NEAR * nearest else None
