"""Opening and closing: what is to be done, ticked off with its time, left out with a reason; and a group after cleaner.

Windows are published where a source is named; the rest is common practice. Food rules are local.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from kiosk.bar.messages import Message
from kiosk.bar.model.recipe import Unfit
from kiosk.bar.model.record import Noted

OPENING, CLOSING = "opening", "closing"
TASK_DONE, TASK_SKIPPED = "task done", "task skipped"
REASONS = (Message("No time"), Message("Broken"), Message("Not here"))
CLEANER, RINSED, POURED_AWAY = "cleaner", "rinsed", "poured away"
RINSES = 10                 # after cleaner, before coffee (common practice; the cleaner's own sheet goes first)


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One thing on a list. With a `unit` a number is read, which should lie between `low` and `high`, where they are set;
    `caution` is said before the hand goes there, `why` where the window comes from."""

    name: str
    caution: str = ""
    unit: str = ""
    low: float | None = None
    high: float | None = None
    usual: float = 0.0
    step: float = 1.0

    def __post_init__(self):
        if not self.name.strip():
            raise Unfit("A thing to do needs a name. Type one.")

    def fits(self, value: float) -> bool:
        return (self.low is None or value >= self.low) and (self.high is None or value <= self.high)


HOT = "Hot water and steam: hands and face away."
# Water 90.5–96.1 °C and 9–10 atm: Specialty Coffee Association, definition of espresso (2018 wording).
USUAL_OPENING = (
    Task(name="Flush each group", caution=HOT),
    Task(name="Water and filter", caution="Mains water: valves only, repairs are a plumber's."),
    Task(name="Machine temperature", unit="°C", low=90.5, high=96.1, usual=93.0, step=0.5),
    Task(name="Pump pressure", unit="bar", low=8.0, high=10.2, usual=9.0, step=0.5),
    Task(name="Milk fridge", caution="Local food rules count.", unit="°C", high=5.0, usual=4.0, step=0.5),
)
USUAL_CLOSING = (
    Task(name="Backflush with water", caution="Hot: hands away from the group. Only with a three-way valve, and where the "
                                               "machine's maker says so."),
    Task(name="Shower screens", caution="Let the group cool: it burns long after."),
    Task(name="Empty and wipe the hopper", caution="Unplug the grinder before a hand goes near the burrs."),
    Task(name="Steam wand", caution="Steam burns: purge into a cloth, then wipe with the wand's own cloth."),
    Task(name="Milk fridge", caution="Local food rules count.", unit="°C", high=5.0, usual=4.0, step=0.5),
)
USUAL = {OPENING: USUAL_OPENING, CLOSING: USUAL_CLOSING}


def ticked(of: str, notes: Iterable[Noted]) -> dict[str, Noted]:
    """The notes that tick off or leave out each task of that list, by its name."""
    return {str(note.facts.get("task")): note for note in notes
            if note.what in (TASK_DONE, TASK_SKIPPED) and note.facts.get("list") == of}


def left_over(of: str, tasks: Iterable[Task], notes: Iterable[Noted]) -> tuple[str, ...]:
    """What of a list was begun and not ended; nothing of one that nobody began."""
    done = ticked(of, notes)
    return tuple(task.name for task in tasks if task.name not in done) if done else ()


@dataclass(frozen=True, slots=True)
class Rinsing:
    """A group after cleaner: how many rinses were told, and whether a shot was poured away since the last of them."""

    rinses: int = 0
    poured_away: bool = False

    @property
    def done(self) -> bool:
        return self.rinses >= RINSES and self.poured_away

    @property
    def words(self) -> Message:
        if self.rinses < RINSES:
            return Message("Cleaner went through: rinse {n:d} of {all:d}", n=self.rinses + 1, all=RINSES)
        return Message("Pull one shot and pour it away")


def rinsing(notes: Iterable[Noted]) -> dict[int, Rinsing]:
    """The groups that cleaner went through and that are not rinsed yet, from the notes in their order."""
    found: dict[int, Rinsing] = {}
    for note in notes:
        group = note.facts.get("group")
        if not isinstance(group, int):
            continue
        if note.what == CLEANER:
            found[group] = Rinsing()
        elif note.what == RINSED and group in found:
            found[group] = Rinsing(found[group].rinses + 1)
        elif note.what == POURED_AWAY and group in found and found[group].rinses >= RINSES:
            del found[group]
    return found
