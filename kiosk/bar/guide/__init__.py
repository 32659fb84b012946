"""One pull walked through its steps, (state, event) → state, and which lane needs a hand next."""

from kiosk.bar.guide import guide
from kiosk.bar.guide.attention import next_lane
from kiosk.bar.guide.guide import Bin, Event, Forward, Guide, ScaleSeen, SkipTo, Undo, begin, step
from kiosk.bar.guide.trouble import (
    AFTER,
    CHOKES,
    GUSHES,
    NO_CUP,
    SCORCHED,
    TOO_LITTLE,
    TOO_MUCH,
    Trouble,
    seen_in_the_cup,
    trouble,
)

__all__ = [
    "AFTER",
    "CHOKES",
    "GUSHES",
    "NO_CUP",
    "SCORCHED",
    "TOO_LITTLE",
    "TOO_MUCH",
    "Bin",
    "Event",
    "Forward",
    "Guide",
    "ScaleSeen",
    "SkipTo",
    "Trouble",
    "Undo",
    "begin",
    "guide",
    "next_lane",
    "seen_in_the_cup",
    "step",
    "trouble",
]
