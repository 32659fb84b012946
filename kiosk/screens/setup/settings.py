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
    Person,
    Recipe,
    SettingPath,
    Setup,
    as_settings,
    grams_per_ml,
)
from kiosk.bar.model.lessons import CAUSES, SCALES, Cause, Lesson
from kiosk.bar.model.setup import FIVE, SIGNAL_LINES, TILL_PAGES, USUAL_TIMER_S
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
    """`less` and `more` are the changes that the row's two keys make; a row to write in has a `write` path instead."""

    name: str
    value: str
    less: Change | None = None
    more: Change | None = None
    less_word: str = "–"
    more_word: str = "+"
    write: SettingPath | None = None
    written: str | None = None          # what there is to write on, where `value` says it in other words
    blank: bool = False                 # nothing at all may be written
    opens: str = ""                     # the item whose own rows come instead, when it is touched


@dataclass(frozen=True, slots=True)
class Section:
    """`items` are what it lists: a drink, a person. Each is a row, and a section of its own once that is touched."""

    name: str
    affects: str
    rows: tuple[SettingRow, ...]
    items: tuple["SettingItem", ...] = ()

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
    return (_grinders(setup), *(_recipe(setup.recipe(coffee, basket)) for coffee in setup.coffees for basket in BASKETS),
            _menu(setup), _staff(setup), _lessons(setup), _station(setup), _tasks(setup, OPENING), _tasks(setup, CLOSING), _evening(setup), _scale(setup))


def _stepped(name: str, path: SettingPath, value: float, by: float, shown: str) -> SettingRow:
    return SettingRow(name, shown, (path, round(value - by, 3)), (path, round(value + by, 3)))


def _measured(name: str, path: SettingPath, value: float, by: float, unit: str, sign: str = "") -> SettingRow:
    return _stepped(name, path, value, by, sign + amount(value, "g", unit))


def _chosen(name: str, path: SettingPath, value: Any, options: tuple, words: tuple[str, ...]) -> SettingRow:
    place = options.index(value) if value in options else 0
    before, after = options[place - 1], options[(place + 1) % len(options)]
    return SettingRow(name, words[place], (path, before), (path, after), "‹", "›")


def _grinders(setup: Setup) -> Section:
    rows = []
    for g in setup.grinders:
        at = ("grinders", g.name)
        rows += [
            _stepped(_("{name}: grind setting").format(name=g.name), (*at, "setting"), g.setting, 1 if g.collar_rises == COARSER else -1,
                     str(g.shown)),
            _chosen(_("{name}: higher number is").format(name=g.name), (*at, "collar_rises"), g.collar_rises, (FINER, COARSER),
                    (_("going finer"), _("going coarser"))),
            _measured(_("{name}: purge").format(name=g.name), (*at, "purge_g"), g.purge_g, 1, "g"),
            _chosen(_("{name}: doses by").format(name=g.name), (*at, "timer_s"), g.timer_s, (0.0, g.timer_s or USUAL_TIMER_S),
                    (_("weight"), _("time"))),
            *([_measured(_("{name}: timer, larger basket").format(name=g.name), (*at, "timer_s"), g.timer_s, 0.1, "s")]
              if g.timer_s else []),
            SettingRow(_("{name}: coffee").format(name=g.name), g.coffee, write=(*at, "coffee")),
            SettingRow(_("{name}: finer is").format(name=g.name), _(g.finer_words), write=(*at, "finer_words"),
                       written=g.finer_words),
            SettingRow(_("{name}: coarser is").format(name=g.name), _(g.coarser_words), write=(*at, "coarser_words"),
                       written=g.coarser_words),
        ]
    rows.append(SettingRow(_("Add grinder"), "", write=("grinders", "?")))
    return Section(_("Grinders"), _("Moves made with Notch are kept and start a new run; here you only correct."),
                   tuple(rows))


def _recipe(r: Recipe) -> Section:
    at = ("recipes", r.coffee, r.basket)
    other = "g" if r.unit == "ml" else "ml"
    factor = r.g_per_ml if r.unit == "ml" else 1 / r.g_per_ml
    unit = SettingRow(_("Yield counts in"), r.unit, less=None, less_word="", more_word=other,
                      more=(at, {**_recipe_fields(r), "unit": other, "amount": round(r.amount * factor),
                                 "amount_within": round(r.amount_within * factor, 1)}))
    rows = (
        _measured(_("Dose"), (*at, "dose_g"), r.dose_g, 0.5, "g"),
        _measured(_("Dose tolerance"), (*at, "dose_within_g"), r.dose_within_g, 0.1, "g", "± "),
        _stepped(_("Yield"), (*at, "amount"), r.amount, 1, amount(r.amount, "g", r.unit)
                 + (" = " + amount(r.yield_g, ".1f", "g") if r.unit == "ml" else "")),
        _measured(_("Yield tolerance"), (*at, "amount_within"), r.amount_within, 0.5, r.unit, "± "),
        unit,
        _measured(_("Time"), (*at, "time_s"), r.time_s, 1, "s"),
        _measured(_("Time tolerance"), (*at, "time_within_s"), r.time_within_s, 0.5, "s", "± "),
        _measured(_("First drop from"), (*at, "first_drop_from_s"), r.first_drop_from_s, 0.5, "s"),
        _measured(_("First drop to"), (*at, "first_drop_to_s"), r.first_drop_to_s, 0.5, "s"),
        _measured(_("Purge the group"), (*at, "purge_s"), r.purge_s, 0.5, "s"),
        _stepped(_("A millilitre weighs"), (*at, "g_per_ml"), r.g_per_ml, 0.02, amount(r.g_per_ml, ".2f", "g")),
    )
    return Section(f"{r.coffee} {_(r.basket)}", _("A changed recipe starts a new run. A millilitre with a fifth of "
                   "crema weighs {g:.2f} g: pour one, weigh it, divide.").format(g=grams_per_ml()), rows)


def _recipe_fields(r: Recipe) -> dict:
    return {name: getattr(r, name) for name in r.__dataclass_fields__ if name not in ("coffee", "basket")}


def _by_volume(setup: Setup) -> list[SettingRow]:
    """A row a group: whether it stops by its own volume, and so needs no stop cue."""
    return [_chosen(_("Group {n} stops").format(n=group), ("by_volume", str(group)), group in setup.by_volume, (False, True),
                    (_("by hand"), _("by itself"))) for group in range(1, setup.groups + 1)]


def _menu(setup: Setup) -> Section:
    written = as_settings(setup.menu)
    items = []
    for place, d in enumerate(setup.menu):
        at, rows = ("menu", d.name), []
        if len(setup.menu) > 1:
            rows.append(_placed(_("{name}: place on the screen").format(name=d.name), "menu", written, place))
        rows.append(_chosen(_("{name}: basket").format(name=d.name), (*at, "shot"), d.shot, (SINGLE, DOUBLE),
                            (_("single"), _("double"))))
        if d.shot == SINGLE:
            rows.append(_chosen(_("{name}: split a double").format(name=d.name), (*at, "may_share"), d.may_share,
                                (False, True), (_("no"), _("yes"))))
        if len(setup.coffees) > 1:
            rows.append(_chosen(_("{name}: coffee").format(name=d.name), (*at, "coffee"), d.coffee, ("", *setup.coffees),
                                (_("the first grinder's"), *setup.coffees)))
        rows.append(SettingRow(_("{name}: cup").format(name=d.name), _(d.cup), write=(*at, "cup"), written=d.cup))
        rows.append(SettingRow(_("{name}: off the menu").format(name=d.name), "", more=(at, None), more_word=_("Take off")))
        items.append(SettingItem(d.name, _(d.name), _(d.shot), tuple(rows)))
    for change in setup.changes:
        at = ("changes", change.name)
        name = _(change.name)
        items.append(SettingItem(change.name, name, _("a change"), (
            SettingRow(_("{name}: cup").format(name=name), _(change.cup) or _("the drink's own"), write=(*at, "cup"), written=change.cup,
                       blank=True),
            SettingRow(_("{name}: contains").format(name=name), _(change.allergen) or "–", write=(*at, "allergen"), written=change.allergen,
                       blank=True),
            SettingRow(_("{name}: off the menu").format(name=name), "", more=(at, None), more_word=_("Take off")))))
    return Section(_("Menu"), _("Changes the orders from now on."), (
        SettingRow(_("Add drink"), "", write=("menu", "?")), SettingRow(_("Add a change"), "", write=("changes", "?"))), tuple(items))


def _placed(name: str, of: str, written: dict[str, dict], place: int) -> SettingRow:
    return SettingRow(name, str(place + 1), ((of,), _moved(written, place, -1)), ((of,), _moved(written, place, 1)), "‹", "›")


def _moved(menu: dict[str, dict], place: int, by: int) -> dict[str, dict]:
    """A list as it is written, with what stands at `place` one place on or back, round the ends."""
    names = list(menu)
    names.insert((place + by) % len(menu), names.pop(place))
    return {name: menu[name] for name in names}


def _staff(setup: Setup) -> Section:
    return Section(_("Staff"), _("A first name to tap, no password."), (SettingRow(_("Add a person"), "", write=("staff", "?")),),
                   tuple(SettingItem(p.name, p.name, _("new") if p.new else "", _person(setup, p)) for p in setup.staff))


def _person(setup: Setup, p: Person) -> tuple[SettingRow, ...]:
    at, lessons = ("staff", p.name), ("", *(lesson.name for lesson in setup.lessons))
    return (
        _chosen(_("{name} is new").format(name=p.name), (*at, "new"), p.new, (False, True), (_("no"), _("yes"))),
        _chosen(_("{name} sees").format(name=p.name), (*at, "help"), p.help, (BY_RULE, EVERY, FIVE),
                (_("automatic"), _("every step"), _("five steps"))),
        _chosen(_("{name} reads").format(name=p.name), (*at, "language"), p.language, ("", *LANGUAGES),
                (_("the station's language"), *LANGUAGES.values())),
        _chosen(_("{name} works with").format(name=p.name), (*at, "left_handed"), p.left_handed, (False, True),
                (_("the right hand"), _("the left hand"))),
        *([_chosen(_("{name} practises").format(name=p.name), (*at, "lesson"), p.lesson, lessons,
                   (_("what comes"), *lessons[1:]))] if len(lessons) > 1 else []),
        SettingRow(_("{name} has left").format(name=p.name), "", more=(at, None), more_word=_("Take off")))


def _lessons(setup: Setup) -> Section:
    return Section(_("Lessons"), _("For the practice bar: which faults, how many pulls. Give one to a person under Trainer."), (
        SettingRow(_("Add a lesson"), "", write=("lessons", "?")),),
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
        _chosen(_("Told after each pull"), (*at, "blind"), lesson.blind, (False, True), (_("yes"), _("no, a score at the end"))),
        _chosen(_("Scale"), (*at, "scale"), lesson.scale, SCALES, (_("as the bar has it"), _("with one"), _("without one"))),
        _chosen(_("The stream pales"), (*at, "colour"), lesson.colour, (False, True), yes_no),
        *(fault(cause) for cause in CAUSES),
        SettingRow(_("No lesson any more"), "", more=(at, None), more_word=_("Take off")))


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
                 SettingRow(_("Off the list"), "", more=(at, None), more_word=_("Take off"))]
        items.append(SettingItem(task.name, _(task.name), task.unit, tuple(rows)))
    opening = of == OPENING
    return Section(_("Opening") if opening else _("Closing"), _("What is to be done, in its order. Local rules count."), (
        SettingRow(_("Add a task"), "", write=(of, "?")),), tuple(items))


def _reading(task: Task, at: tuple[str, ...]) -> list[SettingRow]:
    """What number is read, if any, and between which ends."""
    rows = [_chosen(_("A number is read"), (*at, "unit"), task.unit, UNITS if task.unit in UNITS else (*UNITS, task.unit),
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
        rows.append(_chosen(_("A touch is worth"), (*at, "step"), task.step, tuple(sorted({*STEPS, task.step})),
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
        _measured(_("Locked in at most"), ("limits", "lock_to_pump_s"), limits.lock_to_pump_s, 1, "s"),
        _measured(_("Ground at most"), ("limits", "grind_to_pull_s"), limits.grind_to_pull_s, 5, "s"),
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


def _signal(setup: Setup, group: int) -> list[SettingRow]:
    """A group's own signal: the adapter's port, and once it has one, which line and which way round."""
    at, signal = ("signals", str(group)), next((each for each in setup.signals if each.group == group), None)
    rows = [SettingRow(_("Signal of group {n}: port").format(n=group), signal.url if signal else _("none"), write=(*at, "url"),
                       written=signal.url if signal else ""),
            SettingRow(_("Foot switch of group {n}: key").format(n=group), signal.key if signal and signal.key else _("none"),
                       write=(*at, "key"), written=signal.key if signal else "")]
    if signal is not None and signal.url:
        rows += [_chosen(_("Signal of group {n}: line").format(n=group), (*at, "line"), signal.line, SIGNAL_LINES,
                         tuple(line.upper() for line in SIGNAL_LINES)),
                 _chosen(_("Signal of group {n}: pump on is").format(n=group), (*at, "closed_is_on"), signal.closed_is_on,
                         (True, False), (_("closed"), _("open")))]
    return rows


def _scale(setup: Setup) -> Section:
    scale = setup.scale
    port = {"": _("no scale"), "auto": _("look for one")}.get(scale.url, scale.url)
    rows = [SettingRow(_("Port"), port, write=("scale", "url"), written=scale.url),
            SettingRow(_("Port of a second scale"), scale.second or _("none"), write=("scale", "second"),
                       written=scale.second),
            SettingRow(_("Look for a scale"), "", more=(("scale", "url"), "auto"), more_word=_("Look")),
            SettingRow(_("Work without one"), "", more=(("scale", "url"), ""), more_word=_("Without"))]
    if scale.second:
        rows.insert(2, SettingRow(_("Work with one scale"), "", more=(("scale", "second"), ""), more_word=_("Take off")))
    for name, grams in scale.portafilters:
        rows.append(SettingRow(_("Portafilter {name}").format(name=name), amount(grams, ".1f", "g"),
                               more=(("scale", "portafilters", name), None), more_word=_("Take off")))
    for group in range(1, setup.groups + 1):
        rows += _signal(setup, group)
    till = setup.till
    rows.append(SettingRow(_("Port of the till's tickets"), till.url or _("none"), write=("till", "url"), written=till.url))
    if till.url:
        rows.append(_chosen(_("The till's code page"), ("till", "code_page"), till.code_page, TILL_PAGES, TILL_PAGES))
        rows.append(SettingRow(_("Work without the till"), "", more=(("till", "url"), ""), more_word=_("Take off")))
    if till.words:
        rows.append(SettingRow(_("Words of the till"), str(len(till.words)), more=(("till", "words"), {}), more_word=_("Forget")))
    rows.append(_chosen(_("Record each pull"), ("feeds",), setup.feeds, (False, True), (_("no"), _("yes"))))
    rows.append(SettingRow(_("Weigh an empty portafilter"), _("set it on the scale first"),
                           write=("scale", "portafilters", "?")))
    return Section(_("Scale"), _("The scale is optional, and so is a group's own signal: a dry contact, fitted by a "
                                 "licensed electrician with the machine off and cold."), tuple(rows))
