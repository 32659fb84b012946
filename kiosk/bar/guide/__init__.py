"""One pull walked through its steps, (state, event) → state, and which lane needs a hand next."""

from kiosk.bar.guide.attention import next_lane
from kiosk.bar.guide.guide import Bin, Event, Forward, Guide, ScaleSeen, SkipTo, Undo, begin, step
from kiosk.bar.guide.trouble import AFTER, Trouble, seen_in_the_cup, trouble

__all__ = ["AFTER", "Bin", "Event", "Forward", "Guide", "ScaleSeen", "SkipTo", "Trouble", "Undo", "begin", "next_lane",
           "seen_in_the_cup", "step", "trouble"]
