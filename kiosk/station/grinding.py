"""Grinding: the watch on each grinder's drift, its flags, and the notches that a hand moves."""

import json
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from kiosk.bar.drift import HOLD, Flag, Timed, Verdict, Watch
from kiosk.bar.messages import from_json, to_json
from kiosk.bar.model import (
    COARSER,
    FINER,
    Corrected,
    FlagRaised,
    Grinder,
    GroundsPurged,
    NotchMoved,
    Noted,
    Pull,
    Record,
    SettingPath,
    Setup,
)
from kiosk.book import Book, message_of
from kiosk.station.recall import marks, recent_days, since

Sentences = tuple[str, ...]
REMEMBERED = "watches"
REPLAYED_DAYS = 14                  # of records, where no memory of the watches is left
REACHED = 16                        # pulls and moves that an undo goes back over; beyond, the days are played again


@dataclass(frozen=True, slots=True)
class _Taken:
    """A pull or a move that the watches took in, and their memory from before it, as JSON: a tenth of what it takes as it is."""

    before: str
    what: Pull | NotchMoved
    purge: GroundsPurged | None = None


class Grinding:
    """`setup()` is the bar's as it is now, `by()` whoever is at work; `problems` says what would not fit a setting, `set_setting`
    sets it. What it knows is `memory`: kept after each pull and move, and taken up again."""

    def __init__(self, book: Book, at: Callable[[], str], setup: Callable[[], Setup], by: Callable[[], str | None],
                 problems: Callable[[SettingPath, int], Sentences], set_setting: Callable[[SettingPath, int], Sentences],
                 sound: Callable[[str], None], publish: Callable[[], None]):
        self._book, self._at, self._setup, self._by = book, at, setup, by
        self._problems, self._set_setting, self._sound, self._publish = problems, set_setting, sound, publish
        self._watches: dict[tuple[str, str], Watch] = {}
        self._raised: dict[str, str] = {}           # grinder → id of the flag that stands
        self._aside: set[str] = set()               # grinders whose flag was seen and put aside
        self._to_do: dict[str, tuple[str, str, int]] = {}   # grinder → the latest advice: act, sentence, notches
        self._latest: list[_Taken] = []             # what an undo can take back

    def watch(self, grinder_name: str, coffee: str) -> Watch:
        key = grinder_name, coffee
        if key not in self._watches:
            self._watches[key] = self._new_watch(*key)
        return self._watches[key]

    def flag(self, grinder: Grinder) -> Flag | None:
        """The flag to show for a grinder now: None where none stands, or where it was put aside."""
        return None if grinder.name in self._aside else self.watch(grinder.name, grinder.coffee).standing

    def flag_over(self, pull: Pull) -> Flag | None:
        """The flag to show for the grinder that made the pull, as long as it holds that coffee."""
        grinder = self._setup().grinder(pull.grinder)
        return self.flag(grinder) if grinder is not None and grinder.coffee == pull.coffee else None

    def to_do(self, grinder: Grinder) -> tuple[str, str, int]:
        """The latest advice for a grinder: its act ("notch", "hold" …; see bar.advice), its sentence, and notches."""
        return self._to_do.get(grinder.name, (HOLD, "", 0))

    def timer(self, grinder: Grinder) -> Timed | None:
        """What the timer of a grinder that doses by time wants; None where its doses are right."""
        return self.watch(grinder.name, grinder.coffee).dosing.wanted

    def set_up(self) -> None:
        """The settings have changed: the watches speak this collar's words from now on."""
        for (name, _coffee), watch in self._watches.items():
            for part, value in self._told(name).items():
                setattr(watch, part, value)

    # ---- pulls ----------------------------------------------------------------------------------------------------

    def judge(self, pull: Pull) -> Verdict:
        """The pull beside its setting run. A flag is kept; as long as it stands, so does its advice."""
        verdict = self._take(pull, None)
        if verdict.flag is not None:
            self._sound("flag")
        self._remember()
        return verdict

    def take_back(self, pull: Pull) -> None:
        """A pull that the record has as void did not happen, nor did the flag that it raised. What came after did."""
        raised, aside = dict(self._raised), self._aside
        flag_id = self._flag_of(pull)
        if flag_id is not None:
            self._book.keep(self._void(flag_id))
        place = next((n for n, each in enumerate(self._latest) if each.what.id == pull.id), None)
        if place is None:
            self._play_the_days()
        else:
            undone, *later = self._latest[place:]
            del self._latest[place:]
            self._resume(json.loads(undone.before))
            for each in later:
                if isinstance(each.what, Pull):
                    self._take(each.what, self._flag_of(each.what))
                else:
                    self._turn(each.what, each.purge)
        self._aside |= {name for name in aside if self._raised.get(name) == raised.get(name)}
        self._remember()

    # ---- notches --------------------------------------------------------------------------------------------------

    def move(self, grinder: Grinder, direction: str, purge_g: float, notches: int = 1) -> tuple[str, ...]:
        """A hand has turned the collar and ground `purge_g` of the old setting away: a new setting run begins.

        Says what does not fit where the collar cannot stand there: then nothing is kept.
        """
        book = self._book
        after = grinder.setting + (notches if direction == COARSER else -notches)
        if complaints := self._problems(_collar(grinder), after):
            return complaints
        move = NotchMoved(id=book.new_id(), at=self._at(), grinder=grinder.name, coffee=grinder.coffee,
                          before=grinder.setting, after=after, by=self._by(),
                          flag_id=self._raised.get(grinder.name))
        purge = None
        if purge_g > 0:
            purge = GroundsPurged(id=book.new_id(), at=self._at(), grinder=grinder.name, coffee=grinder.coffee,
                                  grams=purge_g)
        book.keep_all((move, purge) if purge else (move,))
        self._turn(move, purge)
        self._remember()
        self._set_setting(_collar(grinder), after)       # where this is cut short, the next start sees to it
        return ()

    def undo_move(self) -> bool:
        """The last notch was a slip of the finger. True if there was one to take back: nothing was pulled since, and
        the collar stands where it was turned to."""
        last = self._latest[-1] if self._latest else None
        if last is None or not isinstance(last.what, NotchMoved):
            return False
        grinder = self._setup().grinder(last.what.grinder)
        if grinder is None or grinder.setting != last.what.after:
            return False
        self._book.keep_all(self._void(each.id) for each in (last.what, last.purge) if each is not None)
        self._latest.pop()
        self._resume(json.loads(last.before))
        self._remember()
        self._set_setting(_collar(grinder), last.what.before)
        return True

    def put_aside(self, grinder: Grinder) -> None:
        """The flag was seen and is not followed now; the record says so."""
        book = self._book
        self._aside.add(grinder.name)
        book.keep(Noted(id=book.new_id(), at=self._at(), what="flag put aside", by=self._by(),
                        facts={"flag_id": self._raised.get(grinder.name), "grinder": grinder.name}))
        self._remember()
        self._publish()

    # ---- memory ---------------------------------------------------------------------------------------------------

    def _new_watch(self, grinder_name: str, coffee: str) -> Watch:
        return Watch(grinder_name, coffee, **self._told(grinder_name))

    def _told(self, grinder_name: str) -> dict:
        """What the settings tell a grinder's watch."""
        setup = self._setup()
        grinder = setup.grinder(grinder_name)
        return {} if grinder is None else {
            "purge_g": grinder.purge_g, "notches_at_opening": setup.manager.notches_at_opening, "timer_s": grinder.timer_s,
            "words": {FINER: grinder.finer_words, COARSER: grinder.coarser_words}}

    def _update(self, pull: Pull) -> Verdict:
        verdict = self.watch(pull.grinder, pull.coffee).update(pull)
        if verdict.standing is None:
            self._raised.pop(pull.grinder, None)
            self._aside.discard(pull.grinder)
        self._to_do[pull.grinder] = verdict.advice.act, verdict.advice.sentence, verdict.advice.notches
        return verdict

    def _moved(self, move: NotchMoved) -> None:
        self.watch(move.grinder, move.coffee).moved(move)
        self._raised.pop(move.grinder, None)
        self._aside.discard(move.grinder)

    def _take(self, pull: Pull, flag_id: str | None) -> Verdict:
        """`flag_id` is the flag that this pull raised, where it is taken in again."""
        before, book = json.dumps(self._memory()), self._book
        verdict = self._update(pull)
        flag = verdict.flag
        if flag is None and flag_id is not None:
            book.keep(self._void(flag_id))
        if flag is not None:
            if flag_id is None:
                flag_id = book.new_id()
                book.keep(FlagRaised(
                    id=flag_id, at=self._at(), grinder=pull.grinder, coffee=pull.coffee,
                    setting=pull.setting, what=flag.kind, direction=flag.direction, sentence=flag.sentence,
                    evidence=flag.evidence, pull_id=pull.id))
            self._raised[pull.grinder] = flag_id
            self._aside.discard(pull.grinder)
        self._latest = [*self._latest, _Taken(before, pull)][-REACHED:]
        return verdict

    def _turn(self, move: NotchMoved, purge: GroundsPurged | None) -> None:
        self._latest = [*self._latest, _Taken(json.dumps(self._memory()), move, purge)][-REACHED:]
        self._moved(move)

    def _flag_of(self, pull: Pull) -> str | None:
        book = self._book
        return next((flag.id for day in recent_days(book) for flag in book.day(day).of(FlagRaised)
                     if flag.pull_id == pull.id), None)

    def _void(self, record_id: str) -> Corrected:
        return Corrected(id=self._book.new_id(), at=self._at(), of=record_id, changes={},
                         void=True, by=self._by())

    def _memory(self) -> dict:
        return {"watches": [[*key, watch.memory()] for key, watch in self._watches.items()], "raised": dict(self._raised),
                "aside": sorted(self._aside),
                "to_do": {name: (act, to_json(said), notches) for name, (act, said, notches) in self._to_do.items()}}

    def _resume(self, memory: dict) -> None:
        watches = {}
        for name, coffee, remembered in memory["watches"]:
            watches[name, coffee] = watch = self._new_watch(name, coffee)
            watch.restore(remembered | {
                "standing": _worded(remembered["standing"]), "raised": [_worded(flag) for flag in remembered["raised"]]})
        self._watches = watches
        self._raised, self._aside = dict(memory["raised"]), set(memory["aside"])
        self._to_do = {name: (act, message_of(from_json(said)), notches) for name, (act, said, notches) in memory["to_do"].items()}

    def _remember(self) -> None:
        book = self._book
        book.remember(REMEMBERED, self._memory() | {"through": marks(book)})

    def restore(self) -> None:
        """The watches as they were left; what was kept after that is played to them again."""
        book = self._book
        try:
            memory = book.memory(REMEMBERED) or {}
            self._resume(memory)
            later = since(book, memory["through"], _matters)
        except (KeyError, TypeError, ValueError, AttributeError):       # none, of an older program, or damaged
            later = None
        if later is None:
            self._play_the_days()
        else:
            self._play(later)
        if later != []:
            self._remember()

    def _play_the_days(self) -> None:
        """From nothing: the last days as they are known now."""
        self._watches, self._raised, self._aside, self._to_do, self._latest = {}, {}, set(), {}, []
        book = self._book
        for records in map(book.day, book.days()[-REPLAYED_DAYS:]):
            self._play(each for each in records.all if _matters(each) and records.is_ours(each.id))

    def _play(self, records: Iterable[Record]) -> None:
        for each in records:
            match each:
                case Pull():
                    self._update(each)
                case NotchMoved():
                    self._moved(each)
                case FlagRaised() if self.watch(each.grinder, each.coffee).standing is not None:
                    self._raised[each.grinder] = each.id


def _collar(grinder: Grinder) -> SettingPath:
    return "grinders", grinder.name, "setting"


def _worded(flag: dict[str, Any] | None) -> dict[str, Any] | None:
    """A remembered flag, whose sentence an older program kept as English alone."""
    return flag and flag | {"sentence": to_json(message_of(from_json(flag["sentence"])))}


def _matters(record: Record) -> bool:
    return isinstance(record, Pull | NotchMoved | FlagRaised)
