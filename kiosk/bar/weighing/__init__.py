"""What the scale shows: loads, doses, cups, first drop, pours and the stop cue."""

from kiosk.bar.weighing import sightings, whose
from kiosk.bar.weighing.cue import Habits, Poured, cue_on_time, habits_from, learn, lesson, unlearn
from kiosk.bar.weighing.for_the_guide import event_of
from kiosk.bar.weighing.portafilter import DoseWatch, to_mend_g
from kiosk.bar.weighing.pour import FLOW_LAG_S, PourWatch, begun_before
from kiosk.bar.weighing.sightings import (
    CupLifted,
    CupSet,
    DoseRead,
    DoseUnclear,
    FirstDrop,
    FlowEnded,
    PortafilterSet,
    Sample,
    Settled,
    Sighting,
    StopNow,
    YieldLost,
)
from kiosk.bar.weighing.signal import WITHIN_S, GroupSignal, PumpRan
from kiosk.bar.weighing.story import Story, ToldPull
from kiosk.bar.weighing.untold import BELIEVED_AFTER_S, PourSeen, UntoldPour

__all__ = [
    "BELIEVED_AFTER_S",
    "FLOW_LAG_S",
    "WITHIN_S",
    "CupLifted",
    "CupSet",
    "DoseRead",
    "DoseUnclear",
    "DoseWatch",
    "FirstDrop",
    "FlowEnded",
    "GroupSignal",
    "Habits",
    "PortafilterSet",
    "PourSeen",
    "PourWatch",
    "Poured",
    "PumpRan",
    "Sample",
    "Settled",
    "Sighting",
    "StopNow",
    "Story",
    "ToldPull",
    "UntoldPour",
    "YieldLost",
    "begun_before",
    "cue_on_time",
    "event_of",
    "habits_from",
    "learn",
    "lesson",
    "sightings",
    "to_mend_g",
    "unlearn",
    "whose",
]
