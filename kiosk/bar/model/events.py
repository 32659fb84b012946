"""What happens to a guide: taps of a finger, sightings of the scale. Each carries `t_s`, seconds on the guide's clock."""

from dataclasses import MISSING, asdict, dataclass, fields

# ---- what a finger says -------------------------------------------------------------------------------------------

@dataclass(frozen=True, slots=True)
class Forward:
    """The step is done. At the pull: first tap pump on, second tap pump off."""
    t_s: float


@dataclass(frozen=True, slots=True)
class Back:
    """One step back; what the steps from there on had found is forgotten."""
    t_s: float


@dataclass(frozen=True, slots=True)
class SkipTo:
    """On to a later step; those between were not done."""
    t_s: float
    step: str


@dataclass(frozen=True, slots=True)
class GoTo:
    """A step's label was touched: to that step. Of those between nobody told anything; back, what they found is forgotten."""
    t_s: float
    step: str


@dataclass(frozen=True, slots=True)
class Bin:
    """Into the sink, at any moment."""
    t_s: float
    why: str


@dataclass(frozen=True, slots=True)
class Undo:
    """The last tap, or the last step the scale took, did not happen."""
    t_s: float


@dataclass(frozen=True, slots=True)
class DropTapped:
    t_s: float


@dataclass(frozen=True, slots=True)
class DoseTapped:
    """A dose read off another scale."""
    t_s: float
    dose_g: float


@dataclass(frozen=True, slots=True)
class YieldTapped:
    """A yield read off another scale or glass, in grams."""
    t_s: float
    yield_g: float


# ---- what the scale sees, and what happens to the kiosk -----------------------------------------------------------

@dataclass(frozen=True, slots=True)
class DoseSeen:
    """The dose came to rest. Within tolerance it ends the dosing; otherwise it says how far off."""
    t_s: float
    dose_g: float


@dataclass(frozen=True, slots=True)
class PumpOnSeen:
    """The pump went on at `at_s`, seen at `t_s`. `source` is "contact" (the group's own signal), "key" or "scale"
    (worked back from the first drop); the truth lies within ± `within_s` 19 times in 20."""
    t_s: float
    at_s: float
    source: str
    within_s: float


@dataclass(frozen=True, slots=True)
class PumpOffSeen:
    """The pump went off at `at_s`; otherwise as `PumpOnSeen`."""
    t_s: float
    at_s: float
    source: str
    within_s: float


@dataclass(frozen=True, slots=True)
class GroupPurged:
    """The group's pump ran shortly and nothing fell on the scale: that was a purge, no pull."""
    t_s: float


@dataclass(frozen=True, slots=True)
class PourOver:
    """The cup was taken from under the stream at `at_s` and did not come back: the pull is over, its stop unseen."""
    t_s: float
    at_s: float


@dataclass(frozen=True, slots=True)
class NotTimed:
    """A finger says: it was made, and nobody timed it."""
    t_s: float


@dataclass(frozen=True, slots=True)
class DropSeen:
    """The first drop fell at `at_s`, seen at `t_s`."""
    t_s: float
    at_s: float


@dataclass(frozen=True, slots=True)
class WhosePour:
    """Two pumps ran: what the scale shows is surely this pull's (`its_own`), or it is another group's coffee."""
    t_s: float
    its_own: bool


@dataclass(frozen=True, slots=True)
class StopSeen:
    """The pump stopped at `at_s`, told from the curve alone, seen at `t_s`."""
    t_s: float
    at_s: float
    within_s: float | None = None


@dataclass(frozen=True, slots=True)
class YieldSeen:
    t_s: float
    yield_g: float


@dataclass(frozen=True, slots=True)
class CupTaken:
    """The cup left the scale. After the pump stopped that serves it."""
    t_s: float


@dataclass(frozen=True, slots=True)
class Missed:
    """Something will not be known of this pull; `why` is the note that says so."""
    t_s: float
    why: str


@dataclass(frozen=True, slots=True)
class ScaleSeen:
    """The scale came (`there`) or went."""
    t_s: float
    there: bool


Tap = Forward | Back | SkipTo | GoTo | Bin | Undo | DropTapped | DoseTapped | YieldTapped | NotTimed
Event = Tap | PumpOnSeen | PumpOffSeen | GroupPurged | PourOver | DoseSeen | DropSeen | WhosePour | StopSeen | YieldSeen | CupTaken | Missed | ScaleSeen
EVENTS = {kind.__name__: kind for kind in Event.__args__}


def event_to_json(event: Event) -> dict:
    return {"event": type(event).__name__, **asdict(event)}


def event_from_json(kept: dict) -> Event:
    """The event that `event_to_json` was given; ValueError where it is none."""
    kind = EVENTS.get(kept.get("event"))
    if kind is None:
        raise ValueError(f"not an event of the guide: {kept.get('event')!r}")
    given = {field.name: kept[field.name] for field in fields(kind) if field.name in kept}
    for field in fields(kind):
        if field.name not in given and field.default is MISSING:
            raise ValueError(f"{kept['event']} lacks {field.name!r}")
    return kind(**given)
