"""Noting by hand: bags, burrs, cleaning, the room, the scale. One tap keeps it; what is put right after is a
correction."""

from dataclasses import dataclass
from threading import Thread
from typing import Any

from kiosk.bar.evening import Due
from kiosk.bar.evening.due import due
from kiosk.bar.messages import Message
from kiosk.bar.model import COARSER, FINER, Corrected, NotchMoved, Noted, Pull, Record, ScaleChecked
from kiosk.book import OneStation
from kiosk.station.evenings import evening_of

WEIGHTS_G = (10.0, 20.0, 50.0, 100.0, 200.0, 500.0)     # test weights that a bar may have
NEAR = 0.1                                              # a reading this near to one of them is of it
USUAL_ROOM = {"temperature_c": 20.0, "humidity_percent": 50}
LOOK_EVERY_S = 60.0
PUT_ASIDE = "advice put aside"
LOOKED_BACK = 60                                        # days, for the latest bag


@dataclass(frozen=True, slots=True)
class MorningAdvice:
    """Yesterday's advice for a grinder: which way its collar should start, in words, and why."""

    grinder: str
    direction: str
    words: Message
    why: Message


class Notes:
    """The notes' part of a service. `latest` is what can still be changed or undone."""

    def __init__(self, service):
        self._service = service
        self.latest: Noted | ScaleChecked | None = None
        self._facts: dict[str, Any] = {}

    def note(self, what: str, **facts) -> Noted:
        book = self._service.book
        return self._keep(Noted(id=book.new_id(), at=self._service.clock.at(), what=what, facts=facts,
                                by=self._service.barista))

    def check_scale(self) -> ScaleChecked | None:
        """The weight that stands on the scale, taken for the nearest test weight; None where nothing like one does."""
        latest = self._service.weighing.latest
        nominal_g = None if latest is None else nearest_weight_g(latest.grams)
        if nominal_g is None:
            return None
        book = self._service.book
        return self._keep(ScaleChecked(id=book.new_id(), at=self._service.clock.at(), nominal_g=nominal_g,
                                       read_g=latest.grams))

    def change(self, **facts) -> None:
        """Other figures for the latest note; kept once something else is done, so that ten taps are one correction."""
        self._facts |= facts

    @property
    def facts(self) -> dict[str, Any]:
        return dict(self._facts)

    def settle(self) -> None:
        """What was changed of the latest note goes into the record."""
        if isinstance(self.latest, Noted) and self._facts != self.latest.facts:
            self._correct({"facts": self._facts})
        self.latest, self._facts = None, {}

    def undo(self) -> None:
        if self.latest is not None:
            self._correct({}, void=True)
            self.latest, self._facts = None, {}
            self._service.publish()

    def room_now(self) -> dict[str, Any]:
        """The latest reading of the room, to start from."""
        return next((note.facts for note in reversed(self._notes(2)) if note.what == "room"), USUAL_ROOM) | {}

    def roasted(self) -> dict[str, str]:
        """The roast date of each coffee's latest bag, where it was noted."""
        bags = {note.facts.get("coffee"): note.facts.get("roasted") for note in self._notes(LOOKED_BACK)
                if note.what == "beans"}
        return {coffee: day for coffee, day in bags.items() if coffee in self._service.setup.coffees and day}

    def advice(self) -> tuple[MorningAdvice, ...]:
        """What yesterday's evening says of each grinder, until its collar is turned or it is put aside: not today's first
        pulls, but the hands, say what becomes of it."""
        book, today = self._service.book, self._service.book.today()
        before = [day for day in OneStation(book).days() if day < today.day]
        settled = {move.grinder for move in today.of(NotchMoved)} | {
            note.facts.get("grinder") for note in today.of(Noted) if note.what == PUT_ASIDE}
        if not before:
            return ()
        found = []
        for each in evening_of(book, self._service.setup, before[-1]).grinders:
            grinder = self._service.setup.grinder(each.figures.grinder)
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
        self.settle()
        self._service.morning = tuple(each for each in self._service.morning if each.grinder != grinder)

    def due(self) -> tuple[Due, ...]:
        today = self._service.book.today()
        records: list[Record] = [*today.of(Noted), *today.of(ScaleChecked), *today.of(Pull, traces=False)]
        return due(records, self._service.clock.now(), has_scale=self._service.weighing.there, roasted=self.roasted(),
                   left=self._service.tasks.left_yesterday())

    def _notes(self, days: int) -> list[Noted]:
        book = self._service.book
        return [note for day in book.days()[-days:] for note in book.day(day).of(Noted)]

    def _keep(self, record):
        self.settle()
        self._service.book.keep(record)
        self.latest = record
        self._facts = dict(record.facts) if isinstance(record, Noted) else {}
        self._service.publish()
        return record

    def _correct(self, changes: dict[str, Any], void: bool = False) -> None:
        book = self._service.book
        book.keep(Corrected(id=book.new_id(), at=self._service.clock.at(), of=self.latest.id, changes=changes,
                            void=void, by=self._service.barista))


class DueWatch:
    """What is due, looked up beside the screens, since it takes weeks of notes: once a minute, and at once when asked to.
    `due` is None until it is known."""

    def __init__(self, service):
        self._service, self._noting = service, Notes(service)
        self._looked_s = float("-inf")
        self._at_work: Thread | None = None
        self.due: tuple[Due, ...] | None = None

    def tick(self, while_pulling: bool = False) -> None:
        now_s = self._service.clock.s()
        if now_s - self._looked_s < LOOK_EVERY_S or (self._at_work and self._at_work.is_alive()):
            return
        if not while_pulling and any(lane.work is not None for lane in self._service.lanes.values()):
            return
        self._looked_s = now_s
        self._at_work = Thread(target=self._look, name="sums", daemon=True)
        self._at_work.start()

    def again(self) -> None:
        self._looked_s = float("-inf")

    def _look(self) -> None:
        self._service.morning = self._noting.advice()
        self.due = (*(Due("advice", each.words) for each in self._service.morning), *self._noting.due())


def nearest_weight_g(grams: float) -> float | None:
    nearest = min(WEIGHTS_G, key=lambda weight: abs(weight - grams))
    return nearest if abs(nearest - grams) <= NEAR * nearest else None
