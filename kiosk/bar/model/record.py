"""What is kept: each a frozen value, a thing that happened, never edited. A correction is a record of its own.

Every record has an `id` (unique, made by whoever keeps it) and `at`, a wall time in ISO 8601 with its UTC offset.
`to_json` and `from_json` carry them to and from dictionaries that JSON can hold. `None` always means "not measured".

A message in a record is English to whoever reads the JSON. What it was made of, its template and values, stands beside it under
"messages", so that any language can say it again; without that, or where that is odd, the English stands alone.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, fields, is_dataclass
from datetime import datetime
from functools import cache
from sys import intern
from typing import Any, get_type_hints

from kiosk.bar import messages
from kiosk.bar.messages import Message
from kiosk.bar.model.hints import checker
from kiosk.bar.model.recipe import Recipe

TAPPED, SCALE = "tap", "scale"   # who said so: a finger, or the scale
TASTED_AT_OPENING = Message("tasted at opening")    # why a tasting shot went to nobody
# Why else a pull went to nobody, as records have it; the last two by older programs. Named for the catalogues alone, which gather
# the marked words: whoever shows a record's own word makes a Message of it.
SINKS = (Message("gushed"), Message("choked"), Message("spilt"), Message("wrong drink"), Message("tastes off"),
         Message("one spout"), Message("binned"), Message("tastes wrong"))
CONTACT, KEY = "contact", "key"  # the group's own signal, or a foot switch that is a keyboard key


@dataclass(frozen=True, slots=True, kw_only=True)
class Pull:
    """One extraction, finished (or binned) and judged.

    `time_s` is pump on to pump off; `first_drop_s` and `trace` count from pump on; `trace` holds (seconds, grams in
    the cup). `grind_to_pull_s` is from the dose being right to pump on, `lock_to_pump_s` from lock-in to pump on.
    `setting` is the grinder's collar in notches; a larger number is always coarser. `sink` says why it was thrown
    away; None means it was served. `notes` say what is not known and why.
    """

    id: str
    at: str
    grinder: str
    coffee: str
    setting: int
    recipe: Recipe
    group: int = 1
    order_id: str | None = None
    drinks: tuple[str, ...] = ()
    cups: int = 1
    barista: str | None = None
    dose_g: float | None = None
    dose_from: str | None = None
    dose_kept: bool = False            # knowingly pulled with a dose outside its tolerance
    yield_g: float | None = None
    yield_from: str | None = None
    time_s: float | None = None
    time_from: str | None = None
    time_within_s: float | None = None  # ± of time_s, 19 times in 20, where it was not told by a hand
    on_from: str | None = None          # who told that the pump went on
    stop_tapped_s: float | None = None  # a tapped stop that was not believed: seconds from pump on
    first_drop_s: float | None = None
    first_drop_from: str | None = None
    grind_to_pull_s: float | None = None
    lock_to_pump_s: float | None = None
    warmed: bool | None = None
    purged: bool | None = None
    skipped: tuple[str, ...] = ()
    not_told: tuple[str, ...] = ()     # steps that nobody told and nothing showed: neither done nor skipped
    step_s: tuple[tuple[str, float], ...] = ()
    sink: str | None = None
    notes: tuple[str, ...] = ()
    trace: tuple[tuple[float, float], ...] = ()
    practice: bool = False

    @property
    def ground_g(self) -> float:
        """What went through the burrs for it, where nobody weighed it by its recipe."""
        return self.recipe.dose_g if self.dose_g is None else self.dose_g

    @property
    def basket(self) -> str:
        return self.recipe.basket


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderTaken:
    """Drinks asked for together: (drink name, how many). `pulls` are what they were planned into, (coffee, basket,
    drink names): a menu that is changed later does not change an order."""

    id: str
    at: str
    drinks: tuple[tuple[str, int], ...]
    coffee: str
    pulls: tuple[tuple[str, str, tuple[str, ...]], ...] = ()
    label: str = ""                     # the table, the number: what the till calls it
    grinder: str = ""                   # a tasting shot's, whose collar is dialled in


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderEnded:
    """An order all of whose cups were served, or one that was cancelled."""

    id: str
    at: str
    order_id: str
    how: str                            # "served" or "cancelled"


@dataclass(frozen=True, slots=True, kw_only=True)
class GuideEvent:
    """One event of the guide that walks pull `pull_id`: replaying them in turn gives the guide's state back."""

    id: str
    at: str
    pull_id: str
    event: dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class NotchMoved:
    """The collar was turned. `after` − `before` is positive where it went coarser."""

    id: str
    at: str
    grinder: str
    coffee: str
    before: int
    after: int
    by: str | None = None
    flag_id: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class GroundsPurged:
    """Grounds ground and thrown away, so that the next dose is of the new setting."""

    id: str
    at: str
    grinder: str
    coffee: str
    grams: float
    why: str = "notch"


@dataclass(frozen=True, slots=True, kw_only=True)
class FlagRaised:
    """The kiosk said that a grinder drifted, or that a setting run began off (`what`), with what it rested on."""

    id: str
    at: str
    grinder: str
    coffee: str
    setting: int
    what: str                           # "began_off", "drifting" or "spread"
    direction: str | None               # "finer" or "coarser": where to turn; None where turning is not the cure
    sentence: str
    evidence: dict[str, Any]
    pull_id: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleChecked:
    """A known weight was set on the scale: `nominal_g` against `read_g`, `resolution_g` being its smallest step."""

    id: str
    at: str
    nominal_g: float
    read_g: float
    resolution_g: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Noted:
    """Something noted by hand: `what` is "beans", "burrs", "cleaned", "room" …; `facts` are its figures and words."""

    id: str
    at: str
    what: str
    facts: dict[str, Any]
    by: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SettingChanged:
    """One setting, named by its path ("grinders.left.name"), before and after."""

    id: str
    at: str
    path: str
    before: Any
    after: Any
    by: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Corrected:
    """Record `of` was wrong: `changes` are the fields to read instead; `void` means that it did not happen."""

    id: str
    at: str
    of: str
    changes: dict[str, Any]
    void: bool = False
    by: str | None = None


Record = (Pull | OrderTaken | OrderEnded | GuideEvent | NotchMoved | GroundsPurged | FlagRaised | ScaleChecked
          | Noted | SettingChanged | Corrected)
KINDS = {kind.__name__: kind for kind in Record.__args__}
OPEN = ("evidence", "facts", "changes", "event")       # fields that hold what their kind of thing needs
UNIQUE = frozenset({"id", "at", "of", "pull_id", "order_id"})      # fields whose words come but once or twice
WORDED = ("notes", "sentence", "facts")     # fields that may hold a message
FIELDS = {kind: frozenset(field.name for field in fields(kind)) for kind in Record.__args__}


def to_json(value: Record) -> dict[str, Any]:
    """The record as a dictionary of what JSON holds, its kind under "kind", what its messages were made of under "messages"."""
    kept = {"kind": type(value).__name__, **_plain(value)}
    made = [each for name in WORDED for each in _messages(getattr(value, name, None))]
    return kept | {"messages": list(map(messages.to_json, made))} if made else kept


def from_json(kept: dict[str, Any]) -> Record:
    """The record that `to_json` was given. Raises ValueError, naming what is wrong, for anything else."""
    kept = dict(kept)
    kind = KINDS.get(kept.pop("kind", None))
    if kind is None:
        raise ValueError("not a record of this program: its kind is missing or unknown")
    try:
        names = FIELDS[kind]
        given = {name: value if name in UNIQUE else _frozen(value) for name, value in kept.items() if name in names}
        if kind is Pull:
            given["recipe"] = _recipe(kept["recipe"])
        for name in OPEN:
            if name in given:
                given[name] = kept[name]
        for name, fits in _checks(kind):
            if name in given and not fits(given[name]):
                raise TypeError(f"{name} is {given[name]!r:.40}")
        datetime.fromisoformat(given["at"])
        if made := _made_of(kept.get("messages")):
            given |= {name: _worded(given[name], made) for name in WORDED if name in given}
        return kind(**given)
    except (TypeError, KeyError) as wrong:
        raise ValueError(f"not a whole {kind.__name__}: {wrong}") from None


@cache
def _checks(kind: type) -> tuple[tuple[str, Callable[[Any], bool]], ...]:
    """(field, whether a value may stand there) of a kind, but for the recipe, which sees to itself."""
    by_name = {"trace": _is_trace} | dict.fromkeys(OPEN, _is_dict)
    return tuple((name, by_name.get(name) or checker(hint)) for name, hint in get_type_hints(kind).items()
                 if not is_dataclass(hint) and hint is not Any)


def _is_dict(value: Any) -> bool:
    return type(value) is dict          # what stands in it is looked at by whoever reads it: odds have no upper end


def _is_trace(points: Any) -> bool:
    return type(points) is tuple and all(type(each) is tuple and len(each) == 2 and type(each[0]) in _NUMBERS
                                         and type(each[1]) in _NUMBERS for each in points)


_NUMBERS = (int, float)
_recipes: dict[str, Recipe] = {}        # a year's pulls are of a handful of recipes: each is checked once


def _recipe(kept: dict[str, Any]) -> Recipe:
    written = repr(kept)
    if written not in _recipes:
        if len(_recipes) >= 256:
            _recipes.clear()
        _recipes[written] = Recipe(**kept)
    return _recipes[written]


def _plain(value: Any) -> Any:
    if is_dataclass(value):
        return {field.name: _plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, (tuple, list)):
        return [_plain(item) for item in value]
    return value


def _frozen(value: Any) -> Any:
    if type(value) is str:
        return intern(value)        # a day's pulls are of a few drinks, steps and people
    return tuple(_frozen(item) for item in value) if type(value) is list else value


def _messages(value: Any) -> Iterator[Message]:
    """Those in `value` that are more than their English."""
    if isinstance(value, Message) and value.values:
        yield value
    elif isinstance(value, (list, tuple, dict)):
        for each in value.values() if isinstance(value, dict) else value:
            yield from _messages(each)


def _made_of(kept: Any) -> dict[str, Message]:
    """The messages that `kept` describes, by their English; those that are odd left out."""
    found: dict[str, Message] = {}
    for each in kept if isinstance(kept, list) and checker(Any)(kept) else ():
        try:
            message = messages.from_json(each)
        except (ValueError, KeyError, TypeError):
            continue
        if isinstance(message, Message):
            found[str(message)] = message
    return found


def _worded(value: Any, made: dict[str, Message]) -> Any:
    if isinstance(value, str):
        return made.get(value, value)
    if isinstance(value, dict):
        return {name: _worded(each, made) for name, each in value.items()}
    return type(value)(_worded(each, made) for each in value) if isinstance(value, (list, tuple)) else value
