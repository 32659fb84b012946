"""What is due at opening and at closing, from what was noted and when."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from kiosk.bar.messages import Message, joined
from kiosk.bar.model.record import Noted, Pull, Record, ScaleChecked

QUIET = timedelta(minutes=30)       # no pull for so long, and the bar may be closing
WORTH_CLEANING_AFTER = 10           # pulls
BEANS_KEEP = timedelta(days=35)     # since roasting (common practice: four to six weeks)


@dataclass(frozen=True, slots=True)
class Due:
    """`what` is the kind of note that settles it; `words` say it."""

    what: str
    words: Message


def due(today: Iterable[Record], now: datetime, *, has_scale: bool,
        roasted: dict[str, str] | None = None, left: tuple[str, ...] = ()) -> tuple[Due, ...]:
    """What the records of service day `today` leave to do at `now`; `roasted` gives each coffee's roast date, `left` is what
    of the last closing was left half done."""
    records = list(today)
    found = [Due("closing", Message("Left at closing: {what}", what=joined(", ", [Message(each) for each in left])))] if left else []
    noted = {kept.what for kept in records if isinstance(kept, Noted)}
    if has_scale and not any(isinstance(kept, ScaleChecked) for kept in records):
        found.append(Due("scale", Message("Check the scale with a known weight")))
    if "room" not in noted:
        found.append(Due("room", Message("Read the room's temperature and humidity")))
    for coffee, day in (roasted or {}).items():
        if now.date() - datetime.fromisoformat(day).date() > BEANS_KEEP:
            found.append(Due("beans", Message("{coffee} was roasted more than five weeks ago", coffee=coffee)))
    pulls = [datetime.fromisoformat(kept.at) for kept in records if isinstance(kept, Pull) and not kept.practice]
    cleaned = max((datetime.fromisoformat(kept.at) for kept in records if isinstance(kept, Noted) and kept.what == "cleaned"),
                  default=None)
    since = [at for at in pulls if cleaned is None or at > cleaned]
    if len(since) >= WORTH_CLEANING_AFTER and now - max(since) >= QUIET:
        found.append(Due("cleaned", Message("Clean groups and shower screens")))
    return tuple(found)
