"""Tickets from the till at work: read, ordered, and what is not understood kept until somebody deals with it.

A ticket and the order that comes of it are kept in one go, so that whatever happens in between each ticket is there once.
Of a ticket only what the order needs is kept: a mark to know it by, its number, and the lines nobody understood.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from hashlib import sha256
from queue import Empty, SimpleQueue
from typing import TYPE_CHECKING

from kiosk.bar.messages import Message
from kiosk.bar.model import Noted, Record, Setup
from kiosk.bar.model.setup import TillSetup
from kiosk.bar.model.ticket import Understood, meaning_of, read_ticket, vocabulary, words_of
from kiosk.book import Book

if TYPE_CHECKING:               # a station opens without what reads ports
    from hardware.ticket import TillPort

TICKET, DEALT_WITH = "ticket", "ticket dealt with"
REMEMBERED = 500            # marks of the tickets that came last
TWICE = Message("The same ticket again, with nothing on it to tell the two apart.")
NOTHING_TO_VOID = Message("Nothing was found that this could cancel.")


@dataclass(frozen=True, slots=True)
class OpenTicket:
    """A ticket, or what is left of one: `lines` as they came, and `why` it waits where that is not plain from them."""

    id: str
    lines: tuple[str, ...]
    label: str = ""
    why: str = ""


class Till:
    """`take(wanted, label, beside)` takes an order and keeps `beside` with it; `void(label, drinks)` takes one back and
    says whether there was one; `setup()` is the bar's as it is now."""

    def __init__(self, book: Book, at: Callable[[], str], setup: Callable[[], Setup], take: Callable[..., str],
                 void: Callable[[str, tuple], bool], publish: Callable[[], None]):
        self._book, self._at, self._setup = book, at, setup
        self._take, self._void, self._publish = take, void, publish
        self.open: list[OpenTicket] = []
        self._marks: list[str] = []
        self._heard: SimpleQueue[tuple[str, ...]] = SimpleQueue()
        self._port: TillPort | None = None
        self._wanted = TillSetup()

    def set_up(self, wanted: TillSetup) -> None:
        """Listens where `wanted` says."""
        if (wanted.url, wanted.code_page) == (self._wanted.url, self._wanted.code_page):
            return
        self.close()
        self._wanted = wanted
        if wanted.url:
            from hardware.ticket import TillPort

            self._port = TillPort(wanted.url, wanted.code_page, self._heard.put)
            self._port.start()

    def close(self) -> None:
        if self._port is not None:
            self._port.close()
        self._port = None

    @property
    def listening(self) -> bool:
        return self._port is not None and self._port.listening

    @property
    def trouble(self) -> str:
        return self._port.trouble if self._port is not None else ""

    def tick(self) -> None:
        """On the drawing thread: what has come meanwhile is dealt with."""
        while True:
            try:
                lines = self._heard.get_nowait()
            except Empty:
                return
            self.take_ticket(lines)

    def restore(self, records: Iterable[Record]) -> None:
        """After a restart: the tickets that came, and those that nobody has dealt with yet."""
        for each in records:
            match each:
                case Noted(what="ticket", facts={"mark": str(mark), "lines": list(lines)}):
                    self._remember(mark)
                    if lines:
                        self.open.append(OpenTicket(each.id, tuple(map(str, lines)), str(each.facts.get("label", "")),
                                                    str(each.facts.get("why", ""))))
                case Noted(what="ticket dealt with", facts={"of": of}):
                    self.open = [one for one in self.open if one.id != of]

    # ---- a ticket -------------------------------------------------------------------------------------------------

    def take_ticket(self, lines: tuple[str, ...]) -> None:
        """A ticket as it was printed. The same one again, with its number or its time on it, is the same order."""
        mark = sha256("\n".join(lines).encode()).hexdigest()[:16]
        read = self._read(lines)
        if mark in self._marks:
            if not read.told:
                self._wait(mark, lines, read.number, TWICE)
            return
        self._remember(mark)
        if read.void:
            if not self._void(read.number, tuple((item.name, item.count) for item in read.items)):
                self._wait(mark, lines, read.number, NOTHING_TO_VOID)
            else:
                self._keep(self._noted(TICKET, mark=mark, lines=[], label=read.number))
            return
        left = tuple(line for place, line in enumerate(lines) if place in read.unclear)
        note = self._noted(TICKET, mark=mark, lines=list(left), label=read.number)
        if left:
            self.open.append(OpenTicket(note.id, left, read.number))
        self._order(read, note)

    def asks(self, line: str) -> str:
        """The words of that line whose meaning is to be said."""
        return words_of(line, self._known())

    def meaning(self, line: str) -> str:
        """What that line is known to mean, as it is taught; "" where nobody has said it yet."""
        return meaning_of(line, self._known())

    def teach(self, words: str, meaning: str, set_setting: Callable[[tuple[str, ...], object], tuple[str, ...]]) -> tuple[str, ...]:
        """What those words mean from now on; the tickets that wait are read again. Answers with what is wrong with it."""
        wrong = set_setting(("till", "words"), dict(self._setup().till.words) | {words: meaning})
        if not wrong:
            for one in list(self.open):
                self._again(one)
        return wrong

    def leave(self, id: str) -> None:
        """Nothing is to be made of what waits there: it was keyed, or is not for this bar."""
        if any(one.id == id for one in self.open):
            self.open = [one for one in self.open if one.id != id]
            self._keep(self._noted(DEALT_WITH, of=id, how="left"))

    def make(self, id: str) -> None:
        """What waits there is another order although it looks like one that came before."""
        one = next((one for one in self.open if one.id == id), None)
        if one is None:
            return
        read = self._read(one.lines)
        if read.void:
            self.leave(id)
        else:
            self._settle(one, read)

    def _again(self, one: OpenTicket) -> None:
        read = self._read(one.lines)
        if not one.why and not read.unclear:
            self._settle(one, read)

    def _settle(self, one: OpenTicket, read: Understood) -> None:
        self.open = [each for each in self.open if each.id != one.id]
        note = self._noted(DEALT_WITH, of=one.id, how="ordered")
        self._order(read, note, one.label)

    def _order(self, read: Understood, note: Noted, label: str = "") -> None:
        wanted = tuple((self._setup().drink(item.name), item.count) for item in read.items)
        if wanted:
            self._take(wanted, read.number or label, (note,))
        else:
            self._keep(note)

    def _wait(self, mark: str, lines: tuple[str, ...], label: str, why: str) -> None:
        note = self._noted(TICKET, mark=mark, lines=list(lines), label=label, why=why)
        self.open.append(OpenTicket(note.id, lines, label, why))
        self._keep(note)

    def _read(self, lines: tuple[str, ...]) -> Understood:
        return read_ticket(lines, self._known())

    def _known(self) -> dict[str, str]:
        setup = self._setup()
        return vocabulary(dict(setup.till.words), (drink.name for drink in setup.menu),
                          (change.name for change in setup.all_changes))

    def _remember(self, mark: str) -> None:
        self._marks = [*self._marks, mark][-REMEMBERED:]

    def _noted(self, what: str, **facts: object) -> Noted:
        return Noted(id=self._book.new_id(), at=self._at(), what=what, facts=facts)

    def _keep(self, note: Noted) -> None:
        self._book.keep(note)
        self._publish()
