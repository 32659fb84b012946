"""Opening and closing: what is to be done, ticked off with its time, left out with a reason; and a group after cleaner.

Windows are published where a source is named; the rest is common practice. Food rules are local.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from kiosk.bar.messages import Message
from kiosk.bar.model.recipe import Unfit
from kiosk.bar.model.record import Noted

OPENING, CLOSING = "opening", "closing"
TASK_DONE, TASK_SKIPPED, TASK_TAKEN_BACK = "task done", "task skipped", "task taken back"
REASONS = (Message("No time"), Message("Broken"), Message("Not here"))
CLEANER, RINSED, POURED_AWAY = "cleaner", "rinsed", "poured away"
GOES_ON = timedelta(hours=1)    # after the step before, hands are still at the same list (chosen)
RINSES = 10                 # after cleaner, before coffee (common practice; the cleaner's own sheet goes first)


PICTURES = ("", "purge", "scale", "water_filter", "machine_heat", "pump_pressure", "milk_fridge", "backflush", "shower_screen",
            "clean_hopper", "milk_wipe", "knock", "warm", "glass_water", "finer")      # of a task, "" for none


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One thing on a list. With a `unit` a number is read, which should lie between `low` and `high`, where they are set;
    `caution` is said before the hand goes there, `who` does it ("": anyone), a name or whatever the bar calls a shift."""

    name: str
    caution: str = ""
    unit: str = ""
    low: float | None = None
    high: float | None = None
    usual: float | None = None
    step: float = 1.0
    who: str = ""
    picture: str = ""

    def __post_init__(self) -> None:
        if not self.name.strip():
            raise Unfit(Message("A thing to do needs a name. Type one."))
        if self.low is not None and self.high is not None and self.low > self.high:
            raise Unfit(Message("{name}: the least is above the most. Set one of the two again.", name=self.name))
        if not 0 < self.step <= 100:
            raise Unfit(Message("{name}: a reading goes up by more than 0 and at most 100. Set the step again.", name=self.name))
        if self.picture not in PICTURES:
            raise Unfit(Message("{name}: there is no such picture. Choose another.", name=self.name))

    @property
    def begins_at(self) -> float:
        """Where the number stands before anyone has read it."""
        ends = [end for end in (self.low, self.high) if end is not None]
        return self.usual if self.usual is not None else sum(ends) / len(ends) if ends else 0.0

    def fits(self, value: float) -> bool:
        return (self.low is None or value >= self.low) and (self.high is None or value <= self.high)


HOT = Message("Hot water and steam: hands and face away.")
MILK_FRIDGE = Task(name=Message("Milk fridge"), caution=Message("Local food rules count."), unit="°C", high=5.0, usual=4.0, step=0.5,
                   picture="milk_fridge")
# Water 90.5–96.1 °C and 9–10 atm: Specialty Coffee Association, definition of espresso (2018 wording).
USUAL_OPENING = (
    Task(name=Message("Flush each group"), caution=HOT, picture="purge"),
    Task(name=Message("Check the scale"), caution=Message("Nothing wet under it: cables are away from water."), picture="scale"),
    Task(name=Message("Water and filter"), caution=Message("Mains water: valves only, repairs are a plumber's."),
         picture="water_filter"),
    Task(name=Message("Machine temperature"), caution=HOT, unit="°C", low=90.5, high=96.1, usual=93.0, step=0.5,
         picture="machine_heat"),
    Task(name=Message("Pump pressure"), caution=Message("Read it only: pressure is set by a licensed person."), unit="bar", low=8.0,
         high=10.2, usual=9.0, step=0.5, picture="pump_pressure"),
    MILK_FRIDGE,
    Task(name=Message("Dial in each grinder"), caution=Message("Under Notch, Dial in. Keep hands out of the burrs."), picture="finer"),
)
USUAL_CLOSING = (
    Task(name=Message("Backflush with water"), caution=Message(
        "Hot: hands away from the group. Only with a three-way valve, and where the machine's maker says so."), picture="backflush"),
    Task(name=Message("Shower screens"), caution=Message("Let the group cool: it burns long after."), picture="shower_screen"),
    Task(name=Message("Empty and wipe the hopper"), caution=Message("Unplug the grinder before a hand goes near the burrs."),
         picture="clean_hopper"),
    Task(name=Message("Steam wand"), caution=Message("Steam burns: purge into a cloth, then wipe with the wand's own cloth."),
         picture="milk_wipe"),
    MILK_FRIDGE,
)
USUAL = {OPENING: USUAL_OPENING, CLOSING: USUAL_CLOSING}


def of_list(of: str, notes: Iterable[Noted]) -> tuple[Noted, ...]:
    """What was told of that list."""
    return tuple(note for note in notes if note.what in (TASK_DONE, TASK_SKIPPED, TASK_TAKEN_BACK) and note.facts.get("list") == of)


def going_on(before: Sequence[Noted], today: Sequence[Noted], now: str) -> Sequence[Noted]:
    """What was told of a list by now (ISO 8601), of what was told on the service day before and today: hands that go on with it
    over the end of a day are at one list, which is the day's before."""
    last, told = before[-1].at if before else "", len(before)
    for note in today:
        if not _soon(last, note.at):
            break
        last, told = note.at, told + 1
    every = (*before, *today)
    return every[:told] if told == len(every) and _soon(last, now) else every[told:]


def _soon(earlier: str, later: str) -> bool:
    try:
        return timedelta(0) <= datetime.fromisoformat(later) - datetime.fromisoformat(earlier) <= GOES_ON
    except (TypeError, ValueError):         # there is none before, or a book edited by hand
        return False


def ticked(of: str, notes: Iterable[Noted]) -> dict[str, Noted]:
    """The notes that tick off or leave out each task of that list, by its name."""
    latest = {str(note.facts.get("task")): note for note in of_list(of, notes)}
    return {name: note for name, note in latest.items() if note.what != TASK_TAKEN_BACK}


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
