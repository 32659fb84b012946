"""What the scale shows: loads, doses, cups, first drop, pours and the stop cue."""

from kiosk.bar.weighing.cue import Habits, Poured, cue_on_time, habits_from, learn, unlearn
from kiosk.bar.weighing.portafilter import DoseWatch, to_mend_g
from kiosk.bar.weighing.pour import FLOW_LAG_S, GONE, PourWatch
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
from kiosk.bar.weighing.story import Story, ToldPull

__all__ = [
    "FLOW_LAG_S",
    "GONE",
    "CupLifted",
    "CupSet",
    "DoseRead",
    "DoseUnclear",
    "DoseWatch",
    "FirstDrop",
    "FlowEnded",
    "Habits",
    "PortafilterSet",
    "PourWatch",
    "Poured",
    "Sample",
    "Settled",
    "Sighting",
    "StopNow",
    "Story",
    "ToldPull",
    "YieldLost",
    "cue_on_time",
    "habits_from",
    "learn",
    "to_mend_g",
    "unlearn",
]
