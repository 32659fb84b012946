"""Orders: drinks are tapped in with their counts."""

from collections import Counter
from pathlib import Path

from kivy.lang import Builder
from kivy.properties import BooleanProperty, ListProperty, NumericProperty, StringProperty
from kivy.uix.boxlayout import BoxLayout
from kivy.uix.widget import Widget

from kiosk.bar.model import APART, plan
from kiosk.screens.ui.keyboard import Typed
from kiosk.screens.ui.look import ROOMY, look
from kiosk.screens.ui.room import Room
from kiosk.screens.ui.touch import Key
from kiosk.screens.ui.words import _, drink_words

PLACES, ROOMY_PLACES = 12, 20       # of keys for drinks: on any panel, and on a larger one
FEW_PAGES = 2
LEAST_ROWS, ROOMY_ROWS = 3, 4       # of keys, so that they stand where they stand however short the menu
BESIDE = 352                        # u of the column's height that its keys and its heading take
LINE, SMALL_LINE = 30, 20           # u


class DrinkKey(Key):
    """A drink or a change of it; how many of it are wanted stands large beside its name."""

    says_under = False
    count = NumericProperty(0)


class ChosenLine(BoxLayout):
    """How many, in a column of their own, of which drink."""

    count = StringProperty()
    what = StringProperty()
    small = BooleanProperty(False)


class OrdersScreen(Typed, Room):
    """`counts` are the taps so far, drink name → how many; `page` turns a menu of more than has room; `changing` is the order
    that is changed, "" for a new one."""

    told = StringProperty()             # what is asked, or what it comes to
    small = BooleanProperty(False)
    lines = ListProperty()              # (how many, which drink)
    page = NumericProperty(0)
    changing = StringProperty()
    chosen = BooleanProperty(False)
    minus = BooleanProperty(False)      # the next drink that is touched is one too many
    changes = BooleanProperty(False)    # what is shown are the changes of the drink touched last
    changeable = BooleanProperty(False)
    last = StringProperty()
    label = StringProperty()            # a name or a table

    @property
    def places(self) -> int:
        return ROOMY_PLACES if look.roomy or look.upright and look.down > ROOMY else PLACES

    def change(self, order_id: str):
        """The room opens on an order that waits, its drinks in place."""
        self._next = order_id
        self.rooms.go("orders")

    _next = ""

    def enter(self):
        super().enter()
        if self.rooms.came_from in ("letters", "find"):
            return                      # with the order as it was
        self.label = ""
        self.changing, self._next = self._next, ""
        self._open: Counter[str] = Counter()
        self.counts: dict[str, int] = {}
        self._follow()
        self.page, self.minus, self.changes, self.last = 0, False, False, ""
        self._lay_out()

    def _lay_out(self):
        """A key for each drink of this page; or for each change of the drink that was touched last."""
        setup = self.service.setup
        names = [change.name for change in setup.all_changes] if self.changes else [drink.name for drink in setup.menu]
        room = self.places
        many = len(names) > FEW_PAGES * (room - 1)              # so many pages are slower than the first letter
        places = room if len(names) <= room else room - 2 if many else room - 1       # the last ones find it, and turn the page
        self.pages = -(-len(names) // places)
        self._keys = {}
        self.ids.menu.clear_widgets()
        for name in names[self.page * places:(self.page + 1) * places]:
            key = DrinkKey(text=_(name), again_s=0.12)
            key.bind(on_tap=lambda key, name=name: self.otherwise(name) if self.changes else self.add(name))
            self._keys[name] = key
            self.ids.menu.add_widget(key)
        for _place in range(places - len(self.ids.menu.children) if many else 0):
            self.ids.menu.add_widget(Widget())      # the keys below stay where they are
        if many:
            find = Key(text=_("Find"), kind="quiet")
            find.bind(on_tap=lambda _key: self.typed(""))
            self.ids.menu.add_widget(find)
        if self.pages > 1:
            more = Key(text=_("More"), under=_("{n} of {all}").format(n=self.page + 1, all=self.pages), kind="quiet")
            more.bind(on_tap=lambda _key: self.turn_page())
            self.ids.menu.add_widget(more)
        rows = max(ROOMY_ROWS if room == ROOMY_PLACES else LEAST_ROWS, -(-len(self.ids.menu.children) // self.ids.menu.cols))
        for _place in range(rows * self.ids.menu.cols - len(self.ids.menu.children)):
            self.ids.menu.add_widget(Widget())

    def _follow(self):
        """What of the order was ground or cancelled since is not changed any more; what an undo brought back is again."""
        if not self.changing:
            return
        still = Counter(self.service.orders.open_drinks(self.changing))
        for name in still | self._open:
            self.counts[name] = max(0, self.counts.get(name, 0) + still[name] - self._open[name])
        self._open = still

    def show(self):
        self._follow()
        setup = self.service.setup
        cups = {drink.name: drink.cup for drink in setup.menu}
        for name, key in self._keys.items():
            if self.changes:
                key.on = name in self.last.split(APART)[1:]
                key.under = _("contains {what}").format(what=_(allergen)) if (allergen := self._allergen(name)) else ""
                continue
            count = sum(n for each, n in self.counts.items() if each == name or each.startswith(name + APART))
            key.under, key.on, key.count = _(cups[name]), count > 0, count
        wanted = self._wanted()
        pulls = plan(wanted, setup.grinders[0].coffee)
        self.chosen = bool(wanted) or bool(self.changing)
        self.changeable = bool(self.counts.get(self.last))
        self._list([(str(count), drink_words(drink.name)) for drink, count in wanted])
        self.told = drink_words(self.last) if self.changes else (
            _("{n} pulls").format(n=len(pulls)) if len(pulls) > 1 else _("1 pull")) if pulls else (
            _("Tap the drinks.") if not self.changing else _("Nothing left: the order is cancelled.") if self._open else
            _("Nothing of it can be changed any more."))

    def _list(self, lines: list[tuple[str, str]]):
        """The lines of what is chosen: smaller where they are many, and counted where there is no room for all."""
        free = look.down * (0.48 if look.upright else 1) - BESIDE
        small = len(lines) * LINE > free
        room = int(free // (SMALL_LINE if small else LINE))
        if len(lines) > room:
            lines = [*lines[:room - 1], ("+", _("{n} more").format(n=len(lines) - room + 1))]
        if lines != self.lines:
            self.lines, self.small = lines, small
            self.ids.chosen.clear_widgets()
            for count, what in lines:
                self.ids.chosen.add_widget(ChosenLine(count=count, what=what, small=small))

    def _allergen(self, name: str) -> str:
        return next((change.allergen for change in self.service.setup.all_changes if change.name == name), "")

    def add(self, name: str):
        """One more of that drink; after "One less", one less, of what was added to it last."""
        if self.minus:
            own = [each for each, n in self.counts.items() if n and (each == name or each.startswith(name + APART))]
            name = own[-1] if own else name
        self.counts[name] = max(0, self.counts.get(name, 0) + (-1 if self.minus else 1))
        self.minus, self.last = False, name
        self.show()

    def typed(self, letters: str):
        """One drink of many, or one change, by its first letters."""
        setup = self.service.setup
        names, then = ([change.name for change in setup.all_changes], self.otherwise) if self.changes else (
            [drink.name for drink in setup.menu], self.add)
        self.rooms.find({_(name): name for name in names}, then, letters)

    def otherwise(self, change: str):
        """The drink that was touched last is wanted with that change, or without it again."""
        base, *changes = self.last.split(APART)
        changes = [each for each in changes if each != change] if change in changes else [*changes, change]
        self.counts[self.last] -= 1
        self.last = APART.join((base, *changes))
        self.counts[self.last] = self.counts.get(self.last, 0) + 1
        self.turn_changes()

    def turn_changes(self):
        self.changes, self.page = not self.changes, 0
        self._lay_out()
        self.show()

    def clear(self):
        self.counts, self.minus, self.last = {}, False, ""
        if self.changes:
            return self.turn_changes()
        self.show()

    def turn_page(self):
        self.page = (self.page + 1) % self.pages
        self._lay_out()
        self.show()

    def name_it(self):
        """A name or a table for this order, letter by letter."""
        self.rooms.write(_("Name or table"), self.label, self._named)

    def _named(self, text: str):
        self.label = text
        self.show()

    def start(self):
        wanted = self._wanted()
        if self.changing:
            self.service.orders.change(self.changing, wanted)
        elif wanted:
            self.service.orders.take(wanted, self.label)
        self.rooms.home()

    def start_and_next(self):
        """Another order waits to be told: this one goes to the queue, and the room stays."""
        self.service.orders.take(self._wanted(), self.label)
        self.label = ""
        self.clear()

    def _wanted(self):
        setup = self.service.setup
        place = {drink.name: n for n, drink in enumerate(setup.menu)}
        names = sorted((name for name, count in self.counts.items() if count), key=lambda name: place.get(name.split(APART)[0], 0))
        return tuple((setup.drink(name), self.counts[name]) for name in names)


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
