"""How one bar is set up: grinders, coffees and their recipes, groups, staff, menu, scale, limits.

`Setup` is a frozen value read from a plain dictionary (what the book keeps as settings). Everything left out takes a
safe default, so there is nothing to fill in before the first order. `change` says what one setting changed comes to.
"""

from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, field, replace
from typing import Any, get_type_hints

from kiosk.bar.messages import Message
from kiosk.bar.model.hints import checker
from kiosk.bar.model.lessons import BEGINNERS, Lesson
from kiosk.bar.model.order import USUAL_CHANGES, USUAL_MENU, Change, Drink, PlannedPull, named
from kiosk.bar.model.recipe import BASKETS, SINGLE, Recipe, Unfit, usual
from kiosk.bar.model.tasks import CLOSING, OPENING, USUAL, Task
from kiosk.bar.model.ticket import MEANINGS

FINER, COARSER = "finer", "coarser"
BY_RULE, EVERY, FIVE = "rule", "every", "five"     # the steps a person is shown
USUAL_TIMER_S = 7.0         # of a grinder that begins to dose by time: 16 g or so (common practice)


@dataclass(frozen=True, slots=True, kw_only=True)
class Grinder:
    """`setting` counts notches, a larger number always coarser; `collar_rises` says which way the printed numbers go.

    `timer_s` is what the timer of a grinder that doses by time stands at for the larger basket, 0 where it does not.
    """

    name: str
    coffee: str = "House"
    setting: int = 20
    collar_rises: str = COARSER
    finer_words: str = Message("finer")
    coarser_words: str = Message("coarser")
    purge_g: float = 6.0
    timer_s: float = 0.0

    def __post_init__(self) -> None:
        if self.collar_rises not in (FINER, COARSER):
            raise Unfit(Message("{name}: a higher number is finer or coarser. Choose one.", name=self.name))
        if not -999 <= self.setting <= 999:
            raise Unfit(Message("{name}: a grind setting is between -999 and 999. Read it off the grinder again.", name=self.name))
        if not 0 <= self.purge_g <= 50:
            raise Unfit(Message("{name}: a purge after a notch is 0 to 50 g. Set it again.", name=self.name))
        if not 0 <= self.timer_s <= 60:
            raise Unfit(Message("{name}: a timer grinds for 0 to 60 s, 0 where it does not dose by time. Set it again.",
                                name=self.name))

    @property
    def shown(self) -> int:
        """What is printed on the collar at the current setting."""
        return self.setting if self.collar_rises == COARSER else -self.setting

    def words(self, direction: str) -> str:
        return self.finer_words if direction == FINER else self.coarser_words


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """A first name to tap, no password. `language` "" is the station's.

    `help` is which steps are shown: "every" with its reason, "five", or by "rule", which shows a `new` hire every step
    until they are steady. Whoever is `left_handed` has the key to touch next on the left. `lesson` is the one of the practice
    bar that a trainer has given them, "" for none.
    """

    name: str
    new: bool = False
    language: str = ""
    help: str = BY_RULE
    left_handed: bool = False
    lesson: str = ""

    def __post_init__(self) -> None:
        if self.help not in (BY_RULE, EVERY, FIVE):
            raise Unfit(Message("{name}: the steps shown are every one, five, or automatic. Choose one.", name=self.name))


def filed_as(person: str) -> str:
    """What a file about `person` is called, without its ending: no sign in it that a disk refuses."""
    return "".join(sign if sign.isalnum() or sign in " -_" else "-" for sign in person).strip()


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What is said aloud when it is passed: seconds a loaded portafilter may wait, and grounds may lie; minutes after which
    an order is late."""

    lock_to_pump_s: float = 5.0
    grind_to_pull_s: float = 60.0
    order_late_min: float = 8.0

    def __post_init__(self) -> None:
        if not (0 < self.lock_to_pump_s <= 60 and 0 < self.grind_to_pull_s <= 600):
            raise Unfit(Message("Waiting limits are above 0 s, up to 60 s locked in and 600 s ground. Set them again."))
        if not 1 <= self.order_late_min <= 120:
            raise Unfit(Message("An order is late after 1 to 120 minutes. Set it again."))


@dataclass(frozen=True, slots=True, kw_only=True)
class Manager:
    """What the evening shows: `price_per_kg` in `currency` (0: grams alone), whether people are shown, the folder that
    each evening is written to ("": beside the book), kilograms that a pair of burrs is good for, and how many notches
    at once a grinder may be turned at opening (later in the day it is always one)."""

    price_per_kg: float = 0.0
    currency: str = ""
    people: bool = True
    evenings: str = ""
    burrs_kg: float = 400.0
    notches_at_opening: int = 1
    language: str = ""                  # of the evening's page and text; "" for the station's

    def __post_init__(self) -> None:
        if not 0 <= self.price_per_kg <= 10_000:
            raise Unfit(Message("A kilogram costs between 0 and 10000. Set its price again."))
        if not 20 <= self.burrs_kg <= 5000:
            raise Unfit(Message("Burrs are good for 20 to 5000 kg. Set it as their maker says."))
        if not 1 <= self.notches_at_opening <= 6:
            raise Unfit(Message("At opening a grinder may be turned 1 to 6 notches at once. Set it again."))


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleSetup:
    """`url` is anything pyserial opens, "auto" to look for one, or "" for a station without a scale.

    With a `second` (a url that is not "auto"), the first scale serves the first half of the groups, this one the rest.
    """

    url: str = "auto"
    second: str = ""
    baud: int | None = None
    request: str = ""
    tare: str = ""
    pattern: str = ""
    portafilters: tuple[tuple[str, float], ...] = ()

    def __post_init__(self) -> None:
        _port(self.url)
        _port(self.second)


PORT_SCHEMES = ("socket", "rfc2217", "loop")        # others of pyserial's write files, or open what nobody named


def _port(url: str) -> None:
    scheme, there, _ = url.partition("://")
    if there and scheme.lower() not in PORT_SCHEMES:
        raise Unfit(Message("A port is a device such as /dev/ttyUSB0, or begins with socket://, rfc2217:// or loop://. "
                            "Choose one of these."))


IN_USE, HEATING, CLEANING, OUT = "in use", "heating", "cleaning", "out of order"
STATES = (IN_USE, HEATING, CLEANING, OUT)
SIGNAL_LINES = ("cts", "dsr", "cd", "ri")


@dataclass(frozen=True, slots=True, kw_only=True)
class SignalSetup:
    """A group's own signal: the modem `line` of the serial adapter at `url` that tells whether its pump runs; or the `key`
    of a foot switch that is a keyboard, touched at pump on and at pump off."""

    group: int
    url: str = ""
    line: str = "cts"
    closed_is_on: bool = True
    key: str = ""

    def __post_init__(self) -> None:
        _port(self.url)
        if self.line not in SIGNAL_LINES:
            raise Unfit(Message("A signal comes in on cts, dsr, cd or ri. Choose one."))


TILL_PAGES = ("cp437", "cp850", "cp858", "cp1252", "cp852", "utf-8")


@dataclass(frozen=True, slots=True, kw_only=True)
class TillSetup:
    """Where the till prints its tickets ("" for nowhere), the code page it prints in, and what the bar has said its words
    mean (see `ticket.read_ticket`)."""

    url: str = ""
    code_page: str = "cp858"
    words: tuple[tuple[str, str], ...] = ()

    def __post_init__(self) -> None:
        _port(self.url)
        if self.code_page not in TILL_PAGES:
            raise Unfit(Message("The till's code page is none that is known here. Choose one in Setup."))


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    bar: str = "Espresso station"
    groups: int = 2
    grinders: tuple[Grinder, ...] = (Grinder(name="Grinder 1"),)
    recipes: tuple[Recipe, ...] = ()
    staff: tuple[Person, ...] = ()
    menu: tuple[Drink, ...] = USUAL_MENU
    changes: tuple[Change, ...] = USUAL_CHANGES     # what is sold otherwise than the menu has it
    opening: tuple[Task, ...] = USUAL[OPENING]
    closing: tuple[Task, ...] = USUAL[CLOSING]
    lessons: tuple[Lesson, ...] = ()    # of the practice bar, as trainers put them together
    scale: ScaleSetup = ScaleSetup()
    signals: tuple[SignalSetup, ...] = ()
    till: TillSetup = TillSetup()
    closed: Mapping[int, str] = field(default_factory=dict)     # group → why nothing is planned on it: one of STATES
    by_volume: tuple[int, ...] = ()     # groups that stop by themselves: no stop cue there
    limits: Limits = Limits()
    manager: Manager = Manager()
    sounds: bool = True
    feeds: bool = False                 # record what the scale sends during each pull
    backups: str = ""                   # the folder, on a stick say, that gets a backup a day; "" for none
    language: str = "en"
    panel_inches: float = 0.0           # from corner to corner; 0 is what is usual for its pixels

    def __post_init__(self) -> None:
        if self.panel_inches and not 5 <= self.panel_inches <= 32:
            raise Unfit(Message("A panel has 5 to 32 inches from corner to corner. Set it again."))
        if not 1 <= self.groups <= 4:
            raise Unfit(Message("A station has 1 to 4 groups. Set the number again."))
        for what, names in ((Message("grinder"), [g.name for g in self.grinders]), (Message("drink"), [d.name for d in self.menu]),
                            (Message("change"), [c.name for c in self.changes]), (Message("person"), [p.name for p in self.staff])):
            if len(set(names)) < len(names):
                raise Unfit(Message("Each {what} needs a name of its own. Rename one of the two that are alike.", what=what))
        if not self.grinders or not self.menu:
            raise Unfit(Message("A station needs a grinder and a drink on the menu. Add one back."))

    @property
    def coffees(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(grinder.coffee for grinder in self.grinders))

    def tasks(self, of: str) -> tuple[Task, ...]:
        """What is to be done at opening, or at closing."""
        return self.opening if of == OPENING else self.closing

    @property
    def all_changes(self) -> tuple[Change, ...]:
        """The bar's own, and each coffee that is not the house's."""
        own = {change.name for change in self.changes}
        return (*self.changes, *(Change(name=coffee, coffee=coffee) for coffee in self.coffees[1:] if coffee not in own))

    def drink(self, name: str) -> Drink:
        """The drink of that name, as it is sold."""
        return named(name, self.menu, self.all_changes)

    def grinder_for(self, planned: PlannedPull) -> Grinder:
        """The one that grinds it: its own; where there is none of that name, whichever holds its coffee; else the first."""
        return self.grinder(planned.grinder) or next((g for g in self.grinders if g.coffee == planned.coffee), self.grinders[0])

    def grinder(self, name: str) -> Grinder | None:
        return next((g for g in self.grinders if g.name == name), None)

    def person(self, name: str | None) -> Person | None:
        return next((p for p in self.staff if p.name == name), None)

    def lesson_of(self, name: str | None) -> Lesson | None:
        """The lesson that a trainer has given to `name`."""
        person = self.person(name)
        return next((each for each in self.lessons if person is not None and each.name == person.lesson), None)

    def left_handed(self, name: str | None) -> bool:
        person = self.person(name)
        return person is not None and person.left_handed

    def language_of(self, name: str | None) -> str:
        """What the screens speak while `name` works."""
        person = self.person(name)
        return person.language if person and person.language else self.language

    @property
    def evening_language(self) -> str:
        return self.manager.language or self.language

    def recipe(self, coffee: str, basket: str) -> Recipe:
        return next((r for r in self.recipes if (r.coffee, r.basket) == (coffee, basket)), None) or usual(coffee, basket)


NEVER_BLANK = {(Grinder, "coffee")}             # every pull is of one


def read(settings: dict[str, Any]) -> tuple[Setup, tuple[str, ...]]:
    """The setup that `settings` describe, and a sentence for each part that did not fit and was left at its default."""
    complaints: list[str] = []

    def unread(word: str) -> None:
        complaints.append(Message("A setting for {word} could not be read and was left out. Set it again under Setup.",
                                  word=word))

    def build(kind: type, given: Any, word: str, base: Any = None, **fixed: Any) -> Any:
        if not isinstance(given, dict):
            unread(word)
            return base
        chosen = {}
        for name, hint in get_type_hints(kind).items():
            if name not in given or name in fixed:
                continue
            if checker(hint)(given[name]) and (given[name] != "" or (kind, name) not in NEVER_BLANK):
                chosen[name] = given[name]
            else:
                unread(word)
        try:
            return replace(base, **chosen) if base else kind(**chosen, **fixed)
        except Unfit as unfit:
            complaints.append(unfit.message)
        return None

    def many(kind: type, given: Any) -> tuple:
        return tuple(made for name, each in _dict(given).items()
                     if (made := build(kind, each, name, name=name)) is not None)

    def portafilters(given: Any) -> tuple[tuple[str, float], ...]:
        weighed = {name: grams for name, grams in _dict(given).items() if checker(float)(grams)}
        for name in _dict(given):
            if name not in weighed:
                unread(name)
        return tuple(weighed.items())

    def till_words(given: Any) -> tuple[tuple[str, str], ...]:
        meant = {word: meaning for word, meaning in _dict(given).items()
                 if isinstance(meaning, str) and meaning.partition(":")[0] in MEANINGS}
        for word in _dict(given):
            if word not in meant:
                unread(word)
        return tuple(meant.items())

    till = _dict(settings.get("till"))
    recipes = tuple(
        made
        for coffee, baskets in _dict(settings.get("recipes")).items()
        for basket, given in _dict(baskets).items() if basket in BASKETS
        if (made := build(Recipe, given, Message("recipe"), usual(coffee, basket), coffee=coffee, basket=basket)) is not None)
    scale = _dict(settings.get("scale"))
    parts = {
        "grinders": many(Grinder, settings.get("grinders")),
        "recipes": recipes,
        "staff": many(Person, settings.get("staff")),
        "menu": many(Drink, settings.get("menu")),
        "changes": many(Change, settings.get("changes")),
        OPENING: many(Task, settings.get(OPENING)),
        CLOSING: many(Task, settings.get(CLOSING)),
        "lessons": many(Lesson, settings.get("lessons")),
        "scale": build(ScaleSetup, scale, Message("scale"), portafilters=portafilters(scale.get("portafilters"))),
        "signals": tuple(made for group, given in _dict(settings.get("signals")).items() if group in ("1", "2", "3", "4")
                         if (made := build(SignalSetup, given, Message("signal"), group=int(group))) is not None and (made.url or made.key)),
        "till": build(TillSetup, {name: each for name, each in till.items() if name != "words"}, Message("till"),
                      words=till_words(till.get("words"))),
        "limits": build(Limits, _dict(settings.get("limits")), Message("limits")),
        "manager": build(Manager, _dict(settings.get("manager")), Message("manager")),
    }
    setup, hints = Setup(), get_type_hints(Setup)

    def put(name: str, part: Any) -> None:
        nonlocal setup
        try:
            setup = replace(setup, **{name: part})
        except Unfit as unfit:
            complaints.append(unfit.message)

    for name, part in parts.items():
        if part or settings.get(name) == {}:        # the last grinder or drink taken away is said, not made up for
            put(name, part)
    closed = {int(group): state for group, state in _dict(settings.get("closed")).items()
              if group in ("1", "2", "3", "4") and state in STATES[1:]}
    setup = replace(setup, closed=closed, by_volume=tuple(
        int(group) for group, on in _dict(settings.get("by_volume")).items() if group in ("1", "2", "3", "4") and on is True))
    for name in ("bar", "groups", "sounds", "feeds", "backups", "language", "panel_inches"):
        value = settings.get(name)
        if value is not None and checker(hints[name])(value):
            put(name, value)
        elif value is not None:
            complaints.append(
                Message("The setting “{name}” could not be read and was left at its default. Set it again under Setup.",
                        name=name))
    return setup, tuple(complaints)


# ---- one setting changed ------------------------------------------------------------------------------------------

SettingPath = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SettingChange:
    """What changing one setting comes to: the dotted `path` to write `value` at, the `setup` then with all its `complaints`,
    and a sentence for each of these that is this value's fault, `problems`: then nothing is to be written."""

    path: str
    value: Any
    setup: Setup
    complaints: tuple[str, ...] = ()
    problems: tuple[str, ...] = ()


def change(settings: dict[str, Any], path: SettingPath, value: Any) -> SettingChange:
    """`value` at `path` in the `settings`, which are left alone; None takes the entry away.

    A change inside a list that is at its default writes the whole list, so that nothing of it is lost. What an older
    program let have a full stop in its name is written with all that it lies in. What is wrong elsewhere is not this
    value's fault.

    >>> change({}, ("groups",), 3).setup.groups
    3
    >>> change({}, ("groups",), 9).problems
    ('A station has 1 to 4 groups. Set the number again.',)
    >>> sorted(change({}, ("menu", "Latte", "may_share"), True).value) == sorted(drink.name for drink in Setup().menu)
    True
    """
    at_default = len(path) > 1 and path[0] in LISTS and path[0] not in settings
    whole = settings | {path[0]: as_settings(getattr(read(settings)[0], path[0]))} if at_default else settings
    after = _changed(whole, path, value)
    setup, complaints = read(after)
    to = path[:1] if at_default else path[:next((n for n, part in enumerate(path) if "." in part), len(path))]
    return SettingChange(".".join(to), _at(after, to), setup, complaints,
                         _problems(settings, whole, path, complaints))


def _problems(settings: dict[str, Any], whole: dict[str, Any], path: SettingPath, complaints: tuple[str, ...]) -> tuple[str, ...]:
    for n, part in enumerate(path):
        if ("." in part or not part.strip()) and _at(whole, path[:n + 1]) is None:
            return (Message("A name has at least one letter and no full stop. Choose another."),)
    if not complaints:
        return ()
    (_, before), (_, without) = read(settings), read(_changed(whole, path, None))
    return tuple(each for each in complaints if each not in before or each not in without)


LISTS = ("grinders", "menu", "changes", OPENING, CLOSING)       # they have something in them before anybody set them


def as_settings(things: Iterable[Grinder | Drink | Change | Person | Task | Lesson]) -> dict[str, dict[str, Any]]:
    """Each by its name, as the settings have it."""
    return {each.name: {name: value for name, value in asdict(each).items() if name != "name"} for each in things}


def new_entry(kind: str, name: str) -> dict[str, Any]:
    """What a new thing called `name` begins as: one of "grinders" (called by its coffee), "menu", "changes", "staff", "lessons", or
    to be done at "opening" or "closing"."""
    begun: dict[str, dict[str, Any]] = {
        "grinders": {"coffee": name}, "menu": {"shot": SINGLE}, "changes": {"cup": ""}, "staff": {"new": True},
        OPENING: {"caution": ""}, CLOSING: {"caution": ""}, "lessons": {"faults": list(BEGINNERS)}}
    return begun[kind]


NAME_TAKEN = Message("There is one of that name already. Choose another.")


def name_taken(setup: Setup, kind: str, name: str, but: str = "") -> tuple[str, ...]:
    """What to say where a thing of that kind, one of those of `new_entry`, is called `name` already, unless that one is `but`,
    which is to be called so; capitals make no other name."""
    others = {each.name.casefold() for each in getattr(setup, kind) if each.name != but}
    return (NAME_TAKEN,) if name.strip().casefold() in others else ()


def renamed(setup: Setup, kind: str, old: str, name: str) -> tuple[SettingPath, dict[str, dict[str, Any]]]:
    """The path and the value to set, so that what is called `old` is called `name` in its place."""
    return (kind,), {name if each == old else each: fields for each, fields in as_settings(getattr(setup, kind)).items()}


def _changed(settings: dict[str, Any], path: SettingPath, value: Any) -> dict[str, Any]:
    head, *rest = path
    if rest:
        within = settings.get(head)
        return settings | {head: _changed(within if isinstance(within, dict) else {}, tuple(rest), value)}
    return settings | {head: value} if value is not None else {k: v for k, v in settings.items() if k != head}


def _at(settings: Any, path: SettingPath) -> Any:
    """What lies at `path`; None where nothing does."""
    for part in path:
        settings = settings.get(part) if isinstance(settings, dict) else None
    return settings


def _dict(value: Any) -> dict:
    return value if isinstance(value, dict) else {}
