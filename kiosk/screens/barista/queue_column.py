"""What waits, told: in a column beside the lanes, on a panel that has room for it."""

from pathlib import Path
from typing import NamedTuple

from kivy.lang import Builder
from kivy.properties import BooleanProperty, ListProperty, StringProperty
from kivy.uix.boxlayout import BoxLayout

from kiosk.screens.ui.look import look
from kiosk.screens.ui.touch import Key
from kiosk.screens.ui.words import _, drink_words

COLUMN_ROW = 52             # u, of an order in the column


class Order(NamedTuple):
    """One order as it is shown: how old it is, whose it is, and what is in it."""

    order_id: str
    age: str
    label: str
    drinks: str
    state: str


def waiting_orders(service) -> list[Order]:
    """What waits, by order, as it will be made."""
    line, found = service.line, []
    for order_id, pulls in line.orders():
        state = "held" if order_id in line.held else "late" if line.late(order_id) else "waiting"
        age = _("{min:.0f} min").format(min=line.age_s(order_id) // 60)
        found.append(Order(order_id, _("late, {age}").format(age=age) if state == "late" else age, line.label(order_id),
                           ", ".join(drink_words(each.planned.title) for each in pulls), state))
    return found


def orders_told(waiting: int) -> str:
    return _("Nothing waits.") if not waiting else _("One order waits.") if waiting == 1 else \
        _("{n} orders wait.").format(n=waiting)


class QueuePart(BoxLayout):
    """An order in the column beside the lanes."""

    age = StringProperty()
    what = StringProperty()
    late = BooleanProperty(False)


class QueueColumn(Key):
    """What waits, beside the lanes; one place to touch, which opens the queue."""

    said = StringProperty()         # over the orders: how many, and what waits to be read
    orders = ListProperty()

    def show(self, said: str, orders: list[Order]):
        room = max(1, int((self.height - look.lines) // (COLUMN_ROW * look.u)))
        self.said = said
        if len(orders) > room:
            more = len(orders) - room + 1
            orders = [*orders[:room - 1], Order("", "", "", _("{n} more").format(n=more), "waiting")]
        if orders != self.orders:
            self.orders = orders
            self.ids.parts.clear_widgets()
            for each in orders:
                self.ids.parts.add_widget(QueuePart(
                    age=_("held") if each.state == "held" else each.age, late=each.state == "late",
                    what="  ".join(part for part in (each.label, each.drinks) if part)))


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
