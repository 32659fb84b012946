"""Whether a record that came from elsewhere is one: each field of the kind, and in the range, that its place allows. So
nothing that is taken in stops a kiosk from starting, or spoils a day's sums."""

import json
import re
from dataclasses import MISSING, dataclass, fields, is_dataclass
from datetime import date, datetime
from functools import cache
from typing import Any, get_type_hints

from kiosk.bar.model.events import EVENTS
from kiosk.bar.model.hints import LARGEST, checker
from kiosk.bar.model.recipe import BASKETS, Recipe, Unfit
from kiosk.bar.model.record import KINDS, GuideEvent, Noted, OrderTaken, Record, from_json
from kiosk.bar.model.steps import Step

YEARS = range(1900, 3000)           # a board without a battery for its clock begins in 1970
# As wide as whatever a hand or a scale may make a kiosk keep: what is odd is kept, what cannot be is not.
RANGES = {
    "setting": (-1e6, 1e6), "before": (-1e6, 1e6), "after": (-1e6, 1e6), "group": (1, 4), "cups": (0, 99),
    "dose_g": (0, 1000), "yield_g": (-1000, 10_000), "time_s": (0, 86_400), "first_drop_s": (-86_400, 86_400),
    "grind_to_pull_s": (0, 86_400), "lock_to_pump_s": (0, 86_400), "grams": (0, 10_000), "index": (0, 1000),
    "temperature_c": (-60, 100), "humidity_percent": (0, 100)}
DRINKS_MOST = 99                    # of one name in an order
# What notes say that is reckoned with; whatever else they say is only shown.
FACTS = {"order_id": str | None, "coffee": str | None, "grinder": str | None, "roasted": str | None, "who": str,
         "temperature_c": float | None, "humidity_percent": float | None}
NEEDED = {"signed off": ("who",)}
WRITTEN = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?[+-]\d\d:\d\d")
AS_AT, AS_DAY = "It is written like 2026-01-31T08:15:00+01:00", "It is written like 2026-01-31"


class BadRecord(ValueError):
    """No record of this program; its text says what is amiss, without a full stop."""


@dataclass(frozen=True, slots=True)
class Began:
    """The event that a pull was begun."""

    t_s: float
    group: int
    order_id: str
    index: int
    recipe: Recipe
    full: bool
    has_scale: bool
    grinder: str
    setting: int
    barista: str | None
    began_at_s: float
    before: tuple[dict[str, Any], ...]


@dataclass(frozen=True, slots=True)
class PutBack:
    t_s: float


@dataclass(frozen=True, slots=True)
class Reground:
    t_s: float
    setting: int


SHAPES = EVENTS | {kind.__name__: kind for kind in (Began, PutBack, Reground)}


def validate(kept: Any) -> Record:
    """The record that `kept`, which JSON gave, describes, with nothing taken on trust. Raises BadRecord."""
    kind = KINDS.get(kept["kind"]) if isinstance(kept, dict) and isinstance(kept.get("kind"), str) else None
    if kind is None:
        raise BadRecord("it is no record: its kind is missing or unknown")
    amiss = problem(kind, kept) or _more_amiss(kind, kept)
    if amiss:
        raise BadRecord(amiss)
    at = moment(kept["at"])
    if not WRITTEN.fullmatch(kept["at"]):       # ISO 8601 has other ways, and whoever shows the hour looks for it in its place
        kept = kept | {"at": at.isoformat(timespec="milliseconds")}
    try:
        return from_json(kept)
    except ValueError as unfit:
        raise BadRecord(str(unfit).rstrip(".")) from None


def moment(at: str) -> datetime:
    """A record's `at`. Raises BadRecord."""
    try:
        found = datetime.fromisoformat(at)
    except ValueError:
        raise BadRecord(f"at cannot be {_shown(at)}. {AS_AT}") from None
    if found.tzinfo is None:
        raise BadRecord(f"at is {_shown(at)}, and lacks its offset from UTC. {AS_AT}")
    if found.year not in YEARS:
        raise BadRecord(f"at is in the year {found.year}. {AS_AT}")
    return found


def is_day(text: Any) -> bool:
    """Whether it is a day as this program writes one, 2026-01-31."""
    try:
        return bool(re.fullmatch(r"\d{4}-\d\d-\d\d", text)) and date.fromisoformat(text).year in YEARS
    except (TypeError, ValueError):
        return False


def problem(kind: type, given: Any, of: str = "") -> str:
    """What of `given` does not fit the fields of `kind`; "" where all do."""
    if not isinstance(given, dict):
        return f"{of.rstrip('.') or 'it'} cannot be {_shown(given)}"
    hints = _hints(kind)
    if kind is Recipe and (unknown := given.keys() - hints.keys()):
        return f"{of}{min(unknown)} is nothing that this program knows"
    for field in fields(kind):
        name, hint = field.name, hints[field.name]
        value = given.get(name)
        if name not in given and field.default is not MISSING:
            continue
        needed = hint is str and field.default is MISSING
        if name not in given or needed and (value is None or isinstance(value, str) and not value.strip()):
            return f"it has no {of}{name}"
        amiss = problem(hint, value, f"{of}{name}.") if isinstance(hint, type) and is_dataclass(hint) else _off(f"{of}{name}", value, hint)
        if amiss:
            return amiss
    return ""


def _off(name: str, value: Any, hint: Any) -> str:
    """What is wrong with one value; "" where nothing is."""
    if not checker(hint)(value):
        return f"{name} cannot be {_shown(value)}"
    low, high = RANGES.get(name.rpartition(".")[2], (-LARGEST, LARGEST))
    if isinstance(value, (int, float)) and hint is not Any and not low <= value <= high:
        return f"{name} is {_shown(value)}, and lies between {low:.7g} and {high:.7g}"
    return ""


def _more_amiss(kind: type, kept: dict[str, Any]) -> str:
    """What no annotation says."""
    if kind is GuideEvent:
        return event_problem(kept["event"])
    if kind is OrderTaken:
        for name, count in kept["drinks"]:
            if not 0 <= count <= DRINKS_MOST:
                return f"it is an order of {count} × {_shown(name)}"
        return next((f"a basket cannot be {_shown(basket)}" for _, basket, _ in kept.get("pulls", ())
                     if basket not in BASKETS), "")
    if kind is Noted:
        facts = kept["facts"]
        for name in NEEDED.get(kept["what"], ()):
            if name not in facts:
                return f"it has no facts.{name}"
        if facts.get("roasted") and not is_day(facts["roasted"]):
            return f"facts.roasted cannot be {_shown(facts['roasted'])}. {AS_DAY}"
        return next((amiss for name, value in facts.items()
                     if (amiss := _off(f"facts.{name}", value, FACTS.get(name, Any)))), "")
    return ""


def event_problem(event: Any, of: str = "event") -> str:
    """What of a guide's event cannot be one; "" where nothing is."""
    name = event.get("event") if isinstance(event, dict) else None
    kind = SHAPES.get(name) if isinstance(name, str) else None
    if kind is None or of != "event" and name not in EVENTS:
        return f"{of} cannot be {_shown(event)}"
    if amiss := problem(kind, event, f"{of}."):
        return amiss
    if name in ("SkipTo", "GoTo") and event["step"] not in set(Step):
        return f"{of}.step cannot be {_shown(event['step'])}"
    if kind is Began:
        try:
            Recipe(**event["recipe"])
        except Unfit as unfit:
            return str(unfit).rstrip(".")
    return next((amiss for each in event.get("before", ()) if (amiss := event_problem(each, f"{of}.before"))), "")


@cache
def _hints(kind: type) -> dict[str, Any]:
    return get_type_hints(kind)


def _shown(value: Any) -> str:
    try:
        text = json.dumps(value)
    except (TypeError, ValueError, RecursionError):
        text = type(value).__name__
    return text if len(text) <= 40 else f"{text[:39]}…"
