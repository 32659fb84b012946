"""What a sighting tells the guide.

The two are kept apart: a sighting says when a thing happened, on the clock that stamps the readings, and is made anew from a recorded
feed; an event says when the station heard of it, is kept in the book, and is read by later versions.
"""

from kiosk.bar.model import CupTaken, DoseSeen, DropSeen, Event, Missed, PourOver, StopSeen, YieldSeen
from kiosk.bar.weighing.sightings import CupGone, CupLifted, DoseRead, FirstDrop, FlowEnded, Settled, Sighting, YieldLost


def event_of(sighting: Sighting, heard_s: float) -> Event | None:
    """The event that it is for a guide that hears of it at `heard_s`; None where a guide has nothing to do with it.

    >>> event_of(FirstDrop(t_s=14.2, plus_minus_s=0.4), heard_s=15.6)
    DropSeen(t_s=15.6, at_s=14.2)
    """
    match sighting:
        case DoseRead(dose_g=dose_g):
            return DoseSeen(heard_s, dose_g)
        case FirstDrop(t_s=at_s):
            return DropSeen(heard_s, at_s)
        case FlowEnded(t_s=at_s, plus_minus_s=within_s):
            return StopSeen(heard_s, at_s, within_s)
        case CupGone(t_s=at_s):
            return PourOver(heard_s, at_s)
        case Settled(yield_g=yield_g):
            return YieldSeen(heard_s, yield_g)
        case CupLifted():
            return CupTaken(heard_s)
        case YieldLost(why=why):
            return Missed(heard_s, why)
    return None
