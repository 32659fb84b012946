"""Grinding: the watch on each grinder's drift, its flags, and the notches that a hand moves."""


from kiosk.bar.advice import HOLD
from kiosk.bar.drift import Flag, Verdict, Watch
from kiosk.bar.record import Corrected, FlagRaised, GroundsPurged, NotchMoved, Noted, Pull
from kiosk.bar.said import again, kept
from kiosk.bar.setup import COARSER, FINER, Grinder

REMEMBERED = "watches"
REPLAYED_DAYS = 14                  # of records, where no memory of the watches is left


class Grinding:
    """The grinders' part of a service. What it knows is `memory`: kept after each pull and move, and taken up again."""

    def __init__(self, service):
        self._service = service
        self._watches: dict[tuple[str, str], Watch] = {}
        self._raised: dict[str, str] = {}           # grinder → id of the flag that stands
        self._aside: set[str] = set()               # grinders whose flag was seen and put aside
        self._to_do: dict[str, tuple[str, str, int]] = {}   # grinder → the latest advice: act, sentence, notches
        self._before: dict | None = None            # the memory before the latest pull or move, for an undo
        self._last_move: tuple[NotchMoved, GroundsPurged | None] | None = None
        self._recall()

    def watch(self, grinder_name: str, coffee: str) -> Watch:
        key = grinder_name, coffee
        if key not in self._watches:
            self._watches[key] = self._new_watch(*key)
        return self._watches[key]

    def flag(self, grinder: Grinder) -> Flag | None:
        """The flag to show for a grinder now: None where none stands, or where it was put aside."""
        return None if grinder.name in self._aside else self.watch(grinder.name, grinder.coffee).standing

    def to_do(self, grinder: Grinder) -> tuple[str, str, int]:
        """The latest advice for a grinder: its act ("notch", "hold" …; see bar.advice), its sentence, and notches."""
        return self._to_do.get(grinder.name, (HOLD, "", 0))

    def set_up(self) -> None:
        """The settings have changed: the watches speak this collar's words from now on."""
        for (name, _coffee), watch in self._watches.items():
            for part, value in self._told(name).items():
                setattr(watch, part, value)

    # ---- pulls ----------------------------------------------------------------------------------------------------

    def judge(self, pull: Pull) -> Verdict:
        """The pull beside its stretch. A flag is kept; as long as it stands, so does its advice."""
        self._before, self._last_move = self._memory(), None
        verdict = self._update(pull)
        if verdict.flag is not None:
            flag, book = verdict.flag, self._service.book
            kept = FlagRaised(id=book.new_id(), at=self._service.clock.at(), grinder=pull.grinder, coffee=pull.coffee,
                              setting=pull.setting, what=flag.kind, direction=flag.direction, sentence=flag.sentence,
                              evidence=flag.evidence, pull_id=pull.id)
            book.keep(kept)
            self._raised[pull.grinder] = kept.id
            self._aside.discard(pull.grinder)
            self._service.said("flag")
        self._remember(pull.id)
        return verdict

    def take_back(self, pull: Pull) -> None:
        """The latest pull did not happen after all: nor did the flag that it raised."""
        if self._before is None:
            return
        standing = self._raised.get(pull.grinder)
        self._resume(self._before)
        if standing is not None and self._raised.get(pull.grinder) != standing:
            self._void(standing)
        self._before = None
        self._remember(pull.id)

    # ---- notches --------------------------------------------------------------------------------------------------

    def move(self, grinder: Grinder, direction: str, purge_g: float, notches: int = 1) -> None:
        """A hand has turned the collar and ground `purge_g` of the old setting away: a new stretch begins."""
        book, clock = self._service.book, self._service.clock
        after = grinder.setting + (notches if direction == COARSER else -notches)
        move = NotchMoved(id=book.new_id(), at=clock.at(), grinder=grinder.name, coffee=grinder.coffee,
                          before=grinder.setting, after=after, by=self._service.barista,
                          flag_id=self._raised.get(grinder.name))
        purge = None
        book.keep(move)
        if purge_g > 0:
            purge = GroundsPurged(id=book.new_id(), at=clock.at(), grinder=grinder.name, coffee=grinder.coffee,
                                  grams=purge_g)
            book.keep(purge)
        self._before, self._last_move = self._memory(), (move, purge)
        self._moved(move)
        self._remember(move.id)
        self._service.set_collar(grinder.name, after)

    def undo_move(self) -> bool:
        """The last notch was a slip of the finger. True if there was one to take back."""
        if self._last_move is None or self._before is None:
            return False
        move, purge = self._last_move
        self._void(move.id)
        if purge is not None:
            self._void(purge.id)
        self._resume(self._before)
        self._before = self._last_move = None
        self._remember(move.id)
        self._service.set_collar(move.grinder, move.before)
        return True

    def put_aside(self, grinder: Grinder) -> None:
        """The flag was seen and is not followed now; the record says so."""
        book = self._service.book
        self._aside.add(grinder.name)
        book.keep(Noted(id=book.new_id(), at=self._service.clock.at(), what="flag put aside", by=self._service.barista,
                        facts={"flag_id": self._raised.get(grinder.name), "grinder": grinder.name}))
        self._service.tell()

    # ---- memory ---------------------------------------------------------------------------------------------------

    def _new_watch(self, grinder_name: str, coffee: str) -> Watch:
        return Watch(grinder_name, coffee, **self._told(grinder_name))

    def _told(self, grinder_name: str) -> dict:
        """What the settings tell a grinder's watch."""
        setup = self._service.setup
        grinder = setup.grinder(grinder_name)
        return {} if grinder is None else {
            "purge_g": grinder.purge_g, "notches_at_opening": setup.manager.notches_at_opening,
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

    def _void(self, record_id: str) -> None:
        book = self._service.book
        book.keep(Corrected(id=book.new_id(), at=self._service.clock.at(), of=record_id, changes={}, void=True,
                            by=self._service.barista))

    def _memory(self) -> dict:
        return {"watches": [[*key, watch.memory()] for key, watch in self._watches.items()], "raised": dict(self._raised),
                "aside": sorted(self._aside), 
                "to_do": {name: (act, kept(said), notches) for name, (act, said, notches) in self._to_do.items()}}

    def _resume(self, memory: dict) -> None:
        watches = {}
        for name, coffee, kept in memory["watches"]:
            watches[name, coffee] = watch = self._new_watch(name, coffee)
            watch.resume(kept)
        self._watches = watches
        self._raised, self._aside = dict(memory["raised"]), set(memory["aside"])
        self._to_do = {name: (act, again(said), notches) for name, (act, said, notches) in memory["to_do"].items()}

    def _remember(self, through: str) -> None:
        book = self._service.book
        book.remember(REMEMBERED, self._memory() | {"through": through, "day": book.today().day})

    def _recall(self) -> None:
        """The watches as they were left; what was kept after that is played to them again."""
        book = self._service.book
        memory, through, since = book.memory(REMEMBERED), None, ""
        if memory:
            try:
                self._resume(memory)
                through, since = memory["through"], memory["day"]
            except (KeyError, TypeError, ValueError):
                self._watches = {}          # of an older program, or damaged: the last days are played again
        days = [day for day in book.days()[-REPLAYED_DAYS:] if day >= since]
        records = list(book.records(days[0], days[-1])) if days else []
        places = [n for n, kept in enumerate(records) if kept.id == through]
        for kept in records[places[-1] + 1 if places else 0:]:
            match kept:
                case Pull():
                    self._update(kept)
                case NotchMoved():
                    self._moved(kept)
                case FlagRaised():
                    self._raised[kept.grinder] = kept.id
