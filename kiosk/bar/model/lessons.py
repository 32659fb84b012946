"""What may be wrong with a pull at the practice bar, and a lesson that a trainer puts together of it."""

from dataclasses import dataclass
from enum import StrEnum

from kiosk.bar.messages import Message
from kiosk.bar.model.recipe import Unfit


class Cause(StrEnum):
    NONE = "none"
    FINE = "fine"
    COARSE = "coarse"
    OVER = "over"
    UNDER = "under"
    SOFT = "soft"
    CROOKED = "crooked"
    UNPURGED = "unpurged"
    CHANNEL = "channel"
    STALE = "stale"
    OLD = "old"
    COLD = "cold"
    BLOCKED = "blocked"


CAUSES = tuple(Cause)
BEGINNERS = Cause.NONE, Cause.FINE, Cause.COARSE         # what a lesson begins with
AS_THE_BAR, WITH, WITHOUT = "", "with", "without"      # a scale
SCALES = (AS_THE_BAR, WITH, WITHOUT)
MOST_PULLS = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Lesson:
    """So many `pulls` at the practice bar, each with one of `faults` (names of `Cause`). `colour` is whether the stream pales,
    `blind` whether nothing is told until the score."""

    name: str
    faults: tuple[str, ...] = CAUSES
    pulls: int = 10
    scale: str = AS_THE_BAR
    colour: bool = True
    blind: bool = False

    def __post_init__(self) -> None:
        if not self.faults or not set(self.faults) <= set(CAUSES):
            raise Unfit(Message("{name}: a lesson needs a fault at least, of those that the practice bar knows. Choose one.",
                                name=self.name))
        if not 1 <= self.pulls <= MOST_PULLS:
            raise Unfit(Message("{name}: a lesson has 1 to {MOST_PULLS} pulls. Set it again.", name=self.name, MOST_PULLS=MOST_PULLS))
        if self.scale not in SCALES:
            raise Unfit(Message("{name}: a lesson is with a scale, without, or as the bar is. Choose one.", name=self.name))


BLIND_TEST = Lesson(name=Message("Blind test"), blind=True)      # everybody's
