"""One pull walked through its steps, (state, event) → state, and which lane needs a hand next."""

from kiosk.bar.guide.attention import next_lane
from kiosk.bar.guide.guide import Bin, Event, Forward, Guide, ScaleSeen, SkipTo, Undo, begin, step

__all__ = ["Bin", "Event", "Forward", "Guide", "ScaleSeen", "SkipTo", "Undo", "begin", "next_lane", "step"]
