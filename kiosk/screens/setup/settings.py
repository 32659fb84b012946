"""The settings as rows to tap: what each is now, what a step down or up would make it, and what that affects. Pure."""

from dataclasses import dataclass
from typing import Any

from kiosk.bar.model import (
    BASKETS,
    BY_RULE,
    COARSER,
    DOUBLE,
    EVERY,
    FINER,
    SINGLE,
    Grinder,
    Person,
    Recipe,
    SettingPath,
    Setup,
    as_settings,
    grams_per_ml,
)
from kiosk.bar.model.lessons import CAUSES, SCALES, Cause, Lesson
from kiosk.bar.model.setup import FIVE, SIGNAL_LINES, TILL_PAGES, USUAL_TIMER_S, SignalSetup
from kiosk.bar.model.tasks import CLOSING, OPENING, PICTURES, Task
from kiosk.languages import LANGUAGES
from kiosk.screens.hire.causes import CAUSE_WORDS
from kiosk.screens.ui.words import N_, _, amount

PANELS = (0.0, 5.0, 7.0, 8.0, 10.1, 11.6, 13.3, 15.6, 21.5)     # inches that panels are sold in; 0 as its pixels suggest
UNITS = ("", "°C", "bar", "g", "kg", "ml", "l", "s", "min", "%", "ppm")     # that a task's number may be read in
STEPS = (0.1, 0.5, 1.0, 5.0, 10.0)      # of that number, a touch
PICTURE_WORDS = {"": N_("none"), "purge": N_("a group's water"), "scale": N_("a scale"), "water_filter": N_("a water filter"),
                 "machine_heat": N_("a thermometer"), "pump_pressure": N_("a gauge"), "milk_fridge": N_("a fridge"),
                 "backflush": N_("a backflush"), "shower_screen": N_("a shower screen"), "clean_hopper": N_("a hopper"),
                 "milk_wipe": N_("a steam wand"), "knock": N_("a knock box"), "warm": N_("a warm cup"),
                 "glass_water": N_("a glass of water"), "finer": N_("burrs")}
NAME = "name"           # the last of a path that is written in: what it is called
PIN = ("pin",)          # not a setting: it is kept apart, and chosen in a room of its own
Change = tuple[SettingPath, Any]    # the path of a setting, and its new value (None takes it away)


@dataclass(frozen=True, slots=True)
class SettingRow:
    """`less` and `more` are the changes that the row's two keys make; a row to write in has a `write` path instead. `more_word` ""
    is Edit, or Show for what opens."""

    name: str
    value: str
    less: Change | None = None
    more: Change | None = None
    less_word: str = ""
    more_word: str = ""
    write: SettingPath | None = None
    written: str | None = None          # what there is to write on, where `value` says it in other words
    blank: bool = False                 # nothing at all may be written
    opens: str = ""                     # the item whose own rows come instead, when it is touched


@dataclass(frozen=True, slots=True)
class Section:
    """`items` are what it lists: a drink, a person. Each is a row, and a section of its own once that is touched. `room` is another
    room that belongs to it."""

    name: str
    affects: str
    rows: tuple[SettingRow, ...]
    items: tuple["SettingItem", ...] = ()
    room: str = ""

    def item(self, name: str) -> "SettingItem | None":
        return next((item for item in self.items if item.name == name), None)

    def shown(self, inside: str) -> tuple[SettingRow, ...]:
        """The rows of the item of that name; without one, the section's own, and one for each item."""
        item = self.item(inside)
        return item.rows if item else (*self.rows, *(SettingRow(item.title, item.value, opens=item.name) for item in self.items))


@dataclass(frozen=True, slots=True)
class SettingItem:
    """`title` is its name as it is shown: the kiosk's own words are translated, what the bar calls somebody is not. `value` is
    what its row says of it."""

    name: str
    title: str
    value: str
    rows: tuple[SettingRow, ...]


def sections(setup: Setup) -> tuple[Section, ...]:
    return (_grinders(setup), _recipes(setup), _menu(setup), _staff(setup), _lessons(setup), _station(setup), _tasks(setup, OPENING),
            _tasks(setup, CLOSING), _evening(setup), _scale(setup))


def _stepped(name: str, path: SettingPath, value: float, by: float, shown: str) -> SettingRow:
    return SettingRow(name, shown, (path, round(value - by, 3)), (path, round(value + by, 3)), "–", "+")


def _measured(name: str, path: SettingPath, value: float, by: float, unit: str, sign: str = "") -> SettingRow:
    return _stepped(name, path, value, by, sign + amount(value, "g", unit))


def _chosen(name: str, path: SettingPath, value: Any, options: tuple, words: tuple[str, ...]) -> SettingRow:
    place = options.index(value) if value in options else 0
    before, after = options[place - 1], options[(place + 1) % len(options)]
    return SettingRow(name, words[place], (path, before), (path, after), "‹", "›")


def _added(name: str, kind: str) -> SettingRow:
    """The row that adds one more to a list."""
    return SettingRow(name, "", more_word=_("Add"), write=(kind, "?"))


def _taken_off(name: str, path: SettingPath) -> SettingRow:
    return SettingRow(name, "", more=(path, None), more_word=_("Take off"))


def _grinders(setup: Setup) -> Section:
    return Section(_("Grinders"), _("Turned a grinder? Say so with Notch, on the station: here only a wrong number is put right."),
                   (_added(_("Add a grinder"), "grinders"),),
                   tuple(SettingItem(g.name, g.name, f"{g.coffee}, {g.shown}", _grinder(g)) for g in setup.grinders))


def _grinder(g: Grinder) -> tuple[SettingRow, ...]:
    at = ("grinders", g.name)
    timer = _measured(_("Timer, larger basket"), (*at, "timer_s"), g.timer_s, 0.1, "s")
    return (
        _stepped(_("Grind setting"), (*at, "setting"), g.setting, 1 if g.collar_rises == COARSER else -1, str(g.shown)),
        _chosen(_("A higher number means"), (*at, "collar_rises"), g.collar_rises, (FINER, COARSER), (_("going finer"), _("going coarser"))),
        SettingRow(_("Coffee"), g.coffee, write=(*at, "coffee")),
        _measured(_("Purge after a notch"), (*at, "purge_g"), g.purge_g, 1, "g"),
        _chosen(_("Doses by"), (*at, "timer_s"), g.timer_s, (0.0, g.timer_s or USUAL_TIMER_S), (_("weight"), _("time"))),
        *([timer] if g.timer_s else []),
        SettingRow(_("Word for finer"), _(g.finer_words), write=(*at, "finer_words"), written=g.finer_words),
        SettingRow(_("Word for coarser"), _(g.coarser_words), write=(*at, "coarser_words"), written=g.coarser_words))


def _recipes(setup: Setup) -> Section:
    recipes = [setup.recipe(coffee, basket) for coffee in setup.coffees for basket in BASKETS]
    return Section(_("Recipes"), _("Pulls before a change and after it are judged apart. A millilitre with a fifth of crema weighs {g:.2f} g: "
                                   "pour one, weigh it, divide.").format(g=grams_per_ml()), (),
                   tuple(SettingItem(f"{r.coffee} {r.basket}", f"{r.coffee} {_(r.basket)}", _in_short(r), _recipe(r)) for r in recipes))


def _in_short(r: Recipe) -> str:
    return ", ".join((amount(r.dose_g, "g", "g"), amount(r.amount, "g", r.unit), amount(r.time_s, "g", "s")))


def _recipe(r: Recipe) -> tuple[SettingRow, ...]:
    at = ("recipes", r.coffee, r.basket)
    other = "g" if r.unit == "ml" else "ml"
    factor = r.g_per_ml if r.unit == "ml" else 1 / r.g_per_ml
    turned = {**_recipe_fields(r), "unit": other, "amount": round(r.amount * factor), "amount_within": round(r.amount_within * factor, 1)}
    return (
        _measured(_("Dose"), (*at, "dose_g"), r.dose_g, 0.5, "g"),
        _measured(_("Dose tolerance"), (*at, "dose_within_g"), r.dose_within_g, 0.1, "g", "± "),
        _stepped(_("Yield"), (*at, "amount"), r.amount, 1, amount(r.amount, "g", r.unit)
                 + (" = " + amount(r.yield_g, ".1f", "g") if r.unit == "ml" else "")),
        _measured(_("Yield tolerance"), (*at, "amount_within"), r.amount_within, 0.5, r.unit, "± "),
        SettingRow(_("Yield counts in"), r.unit, more=(at, turned), more_word=_("In {unit}").format(unit=other)),
        _measured(_("Time"), (*at, "time_s"), r.time_s, 1, "s"),
        _measured(_("Time tolerance"), (*at, "time_within_s"), r.time_within_s, 0.5, "s", "± "),
        _measured(_("First drop, at the earliest"), (*at, "first_drop_from_s"), r.first_drop_from_s, 0.5, "s"),
        _measured(_("First drop, at the latest"), (*at, "first_drop_to_s"), r.first_drop_to_s, 0.5, "s"),
        _measured(_("Purge the group"), (*at, "purge_s"), r.purge_s, 0.5, "s"),
        _stepped(_("A millilitre weighs"), (*at, "g_per_ml"), r.g_per_ml, 0.02, amount(r.g_per_ml, ".2f", "g")))


def _recipe_fields(r: Recipe) -> dict:
    return {name: getattr(r, name) for name in r.__dataclass_fields__ if name not in ("coffee", "basket")}


def _by_volume(setup: Setup) -> list[SettingRow]:
    """A row a group: whether it stops by its own volume, and so needs no stop cue."""
    return [_chosen(_("Group {n} stops").format(n=group), ("by_volume", str(group)), group in setup.by_volume, (False, True),
                    (_("by hand"), _("by itself"))) for group in range(1, setup.groups + 1)]


def _menu(setup: Setup) -> Section:
    written, rest = as_settings(setup.menu), ("", *setup.coffees)
    items = []
    for place, d in enumerate(setup.menu):
        at, rows = ("menu", d.name), []
        if len(setup.menu) > 1:
            rows.append(_placed(_("Place on the screen"), "menu", written, place))
        rows.append(_chosen(_("Basket"), (*at, "shot"), d.shot, (SINGLE, DOUBLE), (_("single"), _("double"))))
        if d.shot == SINGLE:
            rows.append(_chosen(_("Split a double for two"), (*at, "may_share"), d.may_share, (False, True), (_("no"), _("yes"))))
        if len(setup.coffees) > 1:
            rows.append(_chosen(_("Coffee"), (*at, "coffee"), d.coffee, rest, (_("the first grinder's"), *setup.coffees)))
        rows += [SettingRow(_("Cup"), _(d.cup), write=(*at, "cup"), written=d.cup), _taken_off(_("Off the menu"), at)]
        items.append(SettingItem(d.name, _(d.name), _(d.shot), tuple(rows)))
    for change in setup.changes:
        at = ("changes", change.name)
        items.append(SettingItem(change.name, _(change.name), _("a change"), (
            SettingRow(_("Cup"), _(change.cup) or _("the drink's own"), write=(*at, "cup"), written=change.cup, blank=True),
            SettingRow(_("Contains"), _(change.allergen) or "–", write=(*at, "allergen"), written=change.allergen, blank=True),
            _taken_off(_("Off the menu"), at))))
    return Section(_("Menu"), _("What is sold, from the next order on. A change is oat milk, say, or takeaway."), (
        _added(_("Add a drink"), "menu"), _added(_("Add a change"), "changes")), tuple(items))


def _placed(name: str, of: str, written: dict[str, dict], place: int) -> SettingRow:
    return SettingRow(name, str(place + 1), ((of,), _moved(written, place, -1)), ((of,), _moved(written, place, 1)), "‹", "›")


def _moved(menu: dict[str, dict], place: int, by: int) -> dict[str, dict]:
    """A list as it is written, with what stands at `place` one place on or back, round the ends."""
    names = list(menu)
    names.insert((place + by) % len(menu), names.pop(place))
    return {name: menu[name] for name in names}


def _staff(setup: Setup) -> Section:
    return Section(_("Staff"), _("A first name to tap, no password."), (_added(_("Add a person"), "staff"),),
                   tuple(SettingItem(p.name, p.name, _("new") if p.new else "", _person(setup, p)) for p in setup.staff))


def _person(setup: Setup, p: Person) -> tuple[SettingRow, ...]:
    at, lessons = ("staff", p.name), ("", *(lesson.name for lesson in setup.lessons))
    return (
        _chosen(_("New to the job"), (*at, "new"), p.new, (False, True), (_("no"), _("yes"))),
        _chosen(_("Steps shown"), (*at, "help"), p.help, (BY_RULE, EVERY, FIVE), (_("automatic"), _("every step"), _("five steps"))),
        _chosen(_("Language"), (*at, "language"), p.language, ("", *LANGUAGES), (_("the station's language"), *LANGUAGES.values())),
        _chosen(_("Works with"), (*at, "left_handed"), p.left_handed, (False, True), (_("the right hand"), _("the left hand"))),
        *([_chosen(_("Lesson at the practice bar"), (*at, "lesson"), p.lesson, lessons, (_("No lesson"), *lessons[1:]))]
          if len(lessons) > 1 else []),
        _taken_off(_("Has left the bar"), at))


def _lessons(setup: Setup) -> Section:
    return Section(_("Lessons"), _("For the practice bar: which faults, how many pulls. Give one to a person under Trainer."), (
        _added(_("Add a lesson"), "lessons"),),
        tuple(SettingItem(each.name, each.name, _("{n} pulls").format(n=each.pulls), _lesson(each)) for each in setup.lessons))


def _lesson(lesson: Lesson) -> tuple[SettingRow, ...]:
    at, yes_no = ("lessons", lesson.name), (_("no"), _("yes"))

    def fault(cause: Cause) -> SettingRow:
        there = cause in lesson.faults
        turned = [str(each) for each in CAUSES if (each in lesson.faults) is not (each is cause)]
        change = (*at, "faults"), turned
        return SettingRow(_("With: {fault}").format(fault=_(CAUSE_WORDS[cause])), yes_no[there], change, change, "‹", "›")

    return (
        _stepped(_("Pulls"), (*at, "pulls"), lesson.pulls, 1, str(lesson.pulls)),
        _chosen(_("The answer is told"), (*at, "blind"), lesson.blind, (False, True), (_("after each pull"), _("never: a score at the end"))),
        _chosen(_("Scale"), (*at, "scale"), lesson.scale, SCALES, (_("as the bar has it"), _("with one"), _("without one"))),
        _chosen(_("The stream turns pale"), (*at, "colour"), lesson.colour, (False, True), yes_no),
        *(fault(cause) for cause in CAUSES),
        _taken_off(_("This lesson"), at))


def _tasks(setup: Setup, of: str) -> Section:
    """A list of things to do: each with its place, its caution, and what is read of it."""
    written = as_settings(setup.tasks(of))
    items = []
    for place, task in enumerate(setup.tasks(of)):
        at = (of, task.name)
        rows = [SettingRow(_("Name"), _(task.name), write=(*at, NAME), written=_(task.name))]
        if len(written) > 1:
            rows.append(_placed(_("Place on the list"), of, written, place))
        rows += [SettingRow(_("Caution"), _(task.caution) or "–", write=(*at, "caution"), written=_(task.caution), blank=True),
                 SettingRow(_("Who does it"), task.who or _("anyone"), write=(*at, "who"), written=task.who, blank=True),
                 _chosen(_("Picture"), (*at, "picture"), task.picture, PICTURES, tuple(_(PICTURE_WORDS[name]) for name in PICTURES)),
                 *_reading(task, at),
                 _taken_off(_("Off the list"), at)]
        items.append(SettingItem(task.name, _(task.name), task.unit, tuple(rows)))
    opening = of == OPENING
    return Section(_("Opening") if opening else _("Closing"), _("What is to be done, in its order. Local rules count."), (
        _added(_("Add a task"), of),), tuple(items))


def _reading(task: Task, at: tuple[str, ...]) -> list[SettingRow]:
    """What number is read, if any, and between which ends."""
    rows = [_chosen(_("A number to read"), (*at, "unit"), task.unit, UNITS if task.unit in UNITS else (*UNITS, task.unit),
                    (_("no"), *UNITS[1:], task.unit))]
    if task.unit:
        low, high, begins = task.low, task.high, task.begins_at
        as_low, as_high = begins if low is None else low, begins if high is None else high
        fields = as_settings((task,))[task.name]
        limits = [{**fields, "low": least, "high": most}
                  for least, most in ((None, None), (as_low, None), (None, as_high), (as_low, as_high))]
        rows.append(_chosen(_("Limits"), at, fields, tuple(limits), (_("none"), _("at least"), _("at most"), _("between"))))
        rows += [_measured(_("At least"), (*at, "low"), low, task.step, task.unit)] if low is not None else []
        rows += [_measured(_("At most"), (*at, "high"), high, task.step, task.unit)] if high is not None else []
        rows.append(_chosen(_("A touch changes it by"), (*at, "step"), task.step, tuple(sorted({*STEPS, task.step})),
                            tuple(amount(step, "g", task.unit) for step in sorted({*STEPS, task.step}))))
    return rows


def _station(setup: Setup) -> Section:
    limits = setup.limits
    return Section(_("Station"), _("Groups in use finish their pull first."), (
        SettingRow(_("Bar"), setup.bar, write=("bar",)),
        _stepped(_("Groups"), ("groups",), setup.groups, 1, str(setup.groups)),
        _chosen(_("Language"), ("language",), setup.language, tuple(LANGUAGES), tuple(LANGUAGES.values())),
        SettingRow(_("A backup a day to"), setup.backups or _("a stick named EVENPULL"), write=("backups",), written=setup.backups),
        _chosen(_("Panel, corner to corner"), ("panel_inches",), setup.panel_inches, PANELS,
                (_("usual"), *(amount(inches, "g", _("inches")) for inches in PANELS[1:]))),
        _chosen(_("Sounds"), ("sounds",), setup.sounds, (False, True), (_("off"), _("on"))),
        _measured(_("Warn when locked in for"), ("limits", "lock_to_pump_s"), limits.lock_to_pump_s, 1, "s"),
        _measured(_("Warn when ground for"), ("limits", "grind_to_pull_s"), limits.grind_to_pull_s, 5, "s"),
        _measured(_("An order is late after"), ("limits", "order_late_min"), limits.order_late_min, 1, "min"),
        *_by_volume(setup),
    ))


def _evening(setup: Setup) -> Section:
    manager, at = setup.manager, "manager"
    price = amount(manager.price_per_kg, ".2f", manager.currency).rstrip() if manager.price_per_kg else _("not set")
    return Section(_("Evening"), _("What the manager sees under Today, and what each closing writes."), (
        _stepped(_("A kilogram costs"), (at, "price_per_kg"), manager.price_per_kg, 1, price),
        SettingRow(_("In which currency"), manager.currency, write=(at, "currency")),
        _chosen(_("People in the evening"), (at, "people"), manager.people, (False, True), (_("not shown"), _("shown"))),
        SettingRow(_("Folder of the evenings"), manager.evenings or _("default folder"), write=(at, "evenings"),
                   written=manager.evenings),
        _chosen(_("The evening is written in"), (at, "language"), manager.language, ("", *LANGUAGES),
                (_("the station's language"), *LANGUAGES.values())),
        _measured(_("Burrs are good for"), (at, "burrs_kg"), manager.burrs_kg, 20, "kg"),
        _stepped(_("Notches at once, at opening"), (at, "notches_at_opening"), manager.notches_at_opening, 1,
                 str(manager.notches_at_opening)),
        SettingRow(_("PIN of the manager's rooms"), "", write=PIN),
    ))


def _scale(setup: Setup) -> Section:
    scale = setup.scale
    port = {"": _("no scale"), "auto": _("look for one")}.get(scale.url, scale.url)
    second = SettingRow(_("The second scale"), "", more=(("scale", "second"), ""), more_word=_("Take off"))
    rows = (
        SettingRow(_("Port of the scale"), port, write=("scale", "url"), written=scale.url),
        SettingRow(_("Look for a scale"), "", more=(("scale", "url"), "auto"), more_word=_("Look")),
        SettingRow(_("Work without a scale"), "", more=(("scale", "url"), ""), more_word=_("Without")),
        SettingRow(_("Port of a second scale"), scale.second or _("not set"), write=("scale", "second"), written=scale.second),
        *([second] if scale.second else []),
        _chosen(_("Keep what the scale sends"), ("feeds",), setup.feeds, (False, True), (_("no"), _("yes"))),
        SettingRow(_("Weigh an empty portafilter"), _("set it on the scale first"), more_word=_("Weigh"), write=("scale", "portafilters", "?")),
        *(SettingRow(_("Portafilter {name}").format(name=name), amount(grams, ".1f", "g"), more=(("scale", "portafilters", name), None),
                     more_word=_("Take off")) for name, grams in scale.portafilters))
    return Section(_("Scale"), _("The scale is optional, and so is a group's own signal: a dry contact, fitted by a licensed "
                                 "electrician with the machine off and cold."), rows,
                   (*(_signal(setup, group) for group in range(1, setup.groups + 1)), _till(setup)), room="scale")


def _signal(setup: Setup, group: int) -> SettingItem:
    """A group's own signal: the adapter's port, and once it has one, which line and which way round; or a foot switch."""
    at, signal = ("signals", str(group)), next((each for each in setup.signals if each.group == group), SignalSetup(group=group))
    rows = [SettingRow(_("Port of its signal"), signal.url or _("not set"), write=(*at, "url"), written=signal.url),
            SettingRow(_("Key of its foot switch"), signal.key or _("not set"), write=(*at, "key"), written=signal.key)]
    if signal.url:
        rows += [_chosen(_("Line of its signal"), (*at, "line"), signal.line, SIGNAL_LINES, tuple(line.upper() for line in SIGNAL_LINES)),
                 _chosen(_("Contact while the pump runs"), (*at, "closed_is_on"), signal.closed_is_on, (True, False), (_("closed"), _("open")))]
    return SettingItem(f"signal {group}", _("Signal of group {n}").format(n=group), signal.url or signal.key or _("not set"), tuple(rows))


def _till(setup: Setup) -> SettingItem:
    till, rows = setup.till, []
    if till.url:
        rows += [_chosen(_("The till's code page"), ("till", "code_page"), till.code_page, TILL_PAGES, TILL_PAGES),
                 SettingRow(_("The till"), "", more=(("till", "url"), ""), more_word=_("Take off"))]
    if till.words:
        rows.append(SettingRow(_("Words learned of the till"), str(len(till.words)), more=(("till", "words"), {}), more_word=_("Forget")))
    return SettingItem("till", _("Tickets of the till"), till.url or _("not set"), (
        SettingRow(_("Port of the till"), till.url or _("not set"), write=("till", "url"), written=till.url), *rows))
