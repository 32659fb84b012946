"""Teaching: who sees every step, by a rule that a trainer can overrule, and what a trainer has signed."""

from collections.abc import Callable, Iterable
from dataclasses import asdict

from kiosk.bar.model import EVERY, Corrected, Noted, Person, Pull, Record
from kiosk.bar.model.lessons import Lesson
from kiosk.bar.model.setup import FIVE
from kiosk.bar.training import (
    LESSON_DONE,
    LOOKED_AT,
    PRACTICE,
    SHOWN,
    SIGNED_OFF,
    Brief,
    Cause,
    Score,
    SeenPull,
    Steadiness,
    Training,
    answers,
    brief,
    made,
    steadiness,
    training,
)
from kiosk.book import Book
from kiosk.station.recall import marks, since

REMEMBERED = "teaching"
LESSON_DAYS = 30                    # of practice that count for the score
READ_AGAIN_DAYS = 60                # of records, where no memory is left
TAKEN_BACK = 4                      # an undo a group


class Teaching:
    """The new hires' part of a service. Its memory is kept after each pull: an order never waits for a count."""

    def __init__(self, book: Book, at: Callable[[], str], publish: Callable[[], None]):
        self._book, self._at, self._publish = book, at, publish
        self._pulls: dict[str, int] = {}
        self._latest: dict[str, list[Brief]] = {}
        self._signed: dict[str, str] = {}           # hire → trainer
        self._last_signed: Noted | None = None

    def every_step(self, person: Person | None) -> bool:
        """Whether this person is shown every step now."""
        if person is None or person.help in (EVERY, FIVE):
            return person is not None and person.help == EVERY
        return person.new and person.name not in self._signed and not self.steadiness(person.name).holds

    def steadiness(self, name: str) -> Steadiness:
        return steadiness(self._pulls.get(name, 0), self._latest.get(name, []))

    def signed_by(self, name: str) -> str | None:
        return self._signed.get(name)

    def pulled(self, pull: Pull) -> None:
        if _counts(pull):
            self._count(pull)
            self._remember()

    def take_back(self, pull: Pull) -> None:
        """A pull that was counted did not happen after all."""
        if _counts(pull):
            name = pull.barista or ""
            self._latest[name] = [each for each in self._latest.get(name, []) if each.pull_id != pull.id]
            self._pulls[name] = max(0, self._pulls.get(name, 0) - 1)
            self._remember()

    def sign_off(self, name: str, trainer: str) -> None:
        """`trainer` puts their name to it that `name` can work by the five steps."""
        book = self._book
        signed = Noted(id=book.new_id(), at=self._at(), what=SIGNED_OFF, by=trainer,
                       facts={"who": name, **asdict(self.steadiness(name))})
        book.keep(signed)
        self._signed[name], self._last_signed = trainer, signed
        self._remember()
        self._publish()

    def step_shown(self, name: str, step: str, trainer: str) -> None:
        """`trainer` watched `name` do `step` right."""
        self._book.keep(Noted(id=self._book.new_id(), at=self._at(), what=SHOWN, by=trainer, facts={"who": name, "step": step}))
        self._publish()

    def lesson_done(self, lesson: Lesson, result: Score, by_eye: int, name: str | None) -> None:
        """How it went; of so many pulls (`by_eye`) nothing but a scale could have told the cause from its like."""
        self._book.keep(Noted(id=self._book.new_id(), at=self._at(), what=LESSON_DONE, by=name, facts={
            "lesson": lesson.name, "right": result.told, "of": result.lessons, "by_eye": by_eye, "blind": lesson.blind,
            "scale": lesson.scale, "colour": lesson.colour, "faults": list(lesson.faults)}))
        self._publish()

    def practised(self, name: str | None, cause: Cause, named: Cause, seen: SeenPull, lesson: Lesson | None) -> None:
        """`name` looked at the practice bar's pull, whose hidden cause was `cause`, and called it `named`, in a `lesson` or not."""
        self._book.keep(Noted(
            id=self._book.new_id(), at=self._at(), what=PRACTICE, by=name,
            facts={"cause": str(cause), "named": str(named), "dose_g": seen.dose_g, "time_s": seen.time_s,
                   "first_drop_s": seen.first_drop_s, "yield_g": seen.yield_g, "weighed": seen.weighed,
                   "blind": lesson is not None and lesson.blind, **({"lesson": lesson.name} if lesson else {})}))

    def undo_sign_off(self) -> None:
        """The last sign-off was a slip of the finger."""
        signed, self._last_signed = self._last_signed, None
        if signed is not None:
            book = self._book
            book.keep(Corrected(id=book.new_id(), at=self._at(), of=signed.id, changes={}, void=True,
                                by=signed.by))
            self._signed.pop(signed.facts["who"], None)
            self._remember()
            self._publish()

    # ---- memory ---------------------------------------------------------------------------------------------------

    def _count(self, pull: Pull) -> None:
        name = pull.barista or ""
        self._pulls[name] = self._pulls.get(name, 0) + 1
        self._latest.setdefault(name, []).append(brief(pull))
        del self._latest[name][:-LOOKED_AT - TAKEN_BACK]

    def _remember(self) -> None:
        book = self._book
        book.remember(REMEMBERED, {
            "pulls": self._pulls, "signed": self._signed, "through": marks(book),
            "latest": {name: [asdict(each) for each in latest] for name, latest in self._latest.items()}})

    def restore(self) -> None:
        """The counts as they were left, and what was kept after that."""
        book = self._book
        try:
            memory = book.memory(REMEMBERED) or {}
            self._pulls, self._signed = dict(memory["pulls"]), dict(memory["signed"])
            self._latest = {name: [Brief(**each) for each in latest] for name, latest in memory["latest"].items()}
            later = since(book, memory["through"], _matters)
        except (KeyError, TypeError, ValueError, AttributeError):
            later = None
        if later is None:
            self._pulls, self._latest, self._signed = {}, {}, {}
            for records in map(book.day, book.days()[-READ_AGAIN_DAYS:]):
                kept: list[Record] = [*records.of(Pull, traces=False), *records.of(Noted)]
                self._play(each for each in kept if _matters(each) and records.is_ours(each.id))
        else:
            self._play(later)
        if later != []:
            self._remember()

    def _play(self, records: Iterable[Record]) -> None:
        for each in records:
            if isinstance(each, Pull):
                self._count(each)
            elif isinstance(each, Noted):
                self._signed[each.facts["who"]] = each.by or ""


def _counts(pull: Pull) -> bool:
    return pull.barista is not None and made(pull)


def _matters(record: Record) -> bool:
    return isinstance(record, Pull) and _counts(record) or isinstance(record, Noted) and record.what == SIGNED_OFF


def lessons_of(book: Book, name: str | None) -> tuple[tuple[str, str], ...]:
    """What `name` called each cause at the practice bar over the last month: (cause, named)."""
    return tuple(pair for day in book.days()[-LESSON_DAYS:] for pair in answers(book.day(day).of(Noted), name))


def training_of(book: Book, name: str, days: int | None = None) -> Training:
    """The record of `name` over the latest `days` of the book; all of them where none are given."""
    kept = [book.day(day) for day in (book.days() if days is None else book.days()[-days:])]
    return training(name, (pull for day in kept for pull in day.of(Pull, traces=False)), (noted for day in kept for noted in day.of(Noted)))
