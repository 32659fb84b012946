"""Orders: drinks are tapped in with their counts."""

from pathlib import Path

from kivy.lang import Builder
from kivy.properties import BooleanProperty, NumericProperty, StringProperty

from kiosk.bar.model import plan
from kiosk.screens.ui.room import Room
from kiosk.screens.ui.touch import Key
from kiosk.screens.ui.words import _

MENU_PLACES = 12


class OrdersScreen(Room):
    """`counts` are the taps so far, drink name → how many; `page` turns a menu of more than twelve; `changing` is the order
    that is changed, "" for a new one."""

    told = StringProperty()
    page = NumericProperty(0)
    changing = StringProperty()
    chosen = BooleanProperty(False)
    minus = BooleanProperty(False)      # the next drink that is touched is one too many

    def change(self, order_id: str):
        """The room opens on an order that waits, its drinks in place."""
        self._next = order_id
        self.rooms.go("orders")

    _next = ""

    def enter(self):
        self.changing, self._next = self._next, ""
        self.counts: dict[str, int] = self.service.open_drinks(self.changing) if self.changing else {}
        self.page, self.minus = 0, False
        self._lay_out()

    def _lay_out(self):
        """A key for each drink of this page."""
        menu = self.service.setup.menu
        self.pages = -(-len(menu) // MENU_PLACES)
        self._keys = {}
        self.ids.menu.clear_widgets()
        for drink in menu[self.page * MENU_PLACES:(self.page + 1) * MENU_PLACES]:
            key = Key(text=_(drink.name), again_s=0.12)
            key.bind(on_tap=lambda key, drink=drink: self.add(drink.name))
            self._keys[drink.name] = key, _(drink.cup)
            self.ids.menu.add_widget(key)
        self.show()

    def show(self):
        for name, (key, cup) in self._keys.items():
            count = self.counts.get(name, 0)
            key.text = f"{_(name)} × {count}" if count else _(name)
            key.under, key.on = cup, count > 0
        wanted = self._wanted()
        pulls = plan(wanted, self.service.setup.grinders[0].coffee)
        self.chosen = bool(wanted) or bool(self.changing)
        lines = [f"{count} × {_(drink.name)}" for drink, count in wanted]
        if pulls:
            lines.append(_("{n} pulls").format(n=len(pulls)) if len(pulls) > 1 else _("1 pull"))
        self.told = "\n".join(lines) or (_("Tap the drinks.") if not self.changing else
                                        _("Nothing left: the order is cancelled."))

    def add(self, name: str):
        """One more of that drink; after "One less", one less."""
        self.counts[name] = max(0, self.counts.get(name, 0) + (-1 if self.minus else 1))
        self.minus = False
        self.show()

    def clear(self):
        self.counts, self.minus = {}, False
        self.show()

    def turn_page(self):
        self.page = (self.page + 1) % self.pages
        self._lay_out()

    def start(self):
        wanted = self._wanted()
        if self.changing:
            self.service.change_order(self.changing, wanted)
        elif wanted:
            self.service.take_order(wanted)
        self.rooms.home()

    def _wanted(self):
        menu = self.service.setup.menu
        return tuple((drink, self.counts[drink.name]) for drink in menu if self.counts.get(drink.name))


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
