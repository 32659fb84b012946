"""The queue: what waits, to be put first, held or cancelled; what was served or cancelled last, to be made again. On a panel
that has room it stands beside the lanes as well, to be seen."""

from pathlib import Path
from typing import NamedTuple

from kivy.lang import Builder
from kivy.properties import (
    BooleanProperty,
    ListProperty,
    ObjectProperty,
    OptionProperty,
    StringProperty,
)
from kivy.uix.boxlayout import BoxLayout

from kiosk.screens.ui.ground import Ground
from kiosk.screens.ui.look import look
from kiosk.screens.ui.paging import Paging
from kiosk.screens.ui.room import Room
from kiosk.screens.ui.touch import Key
from kiosk.screens.ui.words import _, drink_words

BESIDE = 136                # u of the room's height that its heading and its last row of keys take
COLUMN_ROW = 52             # u, of an order in the column beside the lanes


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


class OrderRow(Ground):
    """One order, or what a lane has of it: one that has `begun` can only be cancelled, one served or `cancelled`, by mistake
    perhaps, only made again or put back where it was."""

    age = StringProperty()
    label = StringProperty()
    told = StringProperty()
    order_id = StringProperty()
    state = OptionProperty("waiting", options=("waiting", "late", "held", "begun", "served", "cancelled"))
    screen = ObjectProperty()
    served = BooleanProperty(False)         # it may come back, and why
    ended = BooleanProperty(False)


class LineScreen(Room):
    told = StringProperty()

    def enter(self):
        self._shown, self._orders = Paging(), None

    _aged = 0

    def show(self):
        self._aged = self.service.line.aged
        rows, waiting = self._rows(), len(self.service.line.orders())
        if rows == self._orders:
            return
        self._orders = rows
        self._shown = self._shown.over(len(rows), look.rows(BESIDE))
        self.ids.line.clear_widgets()
        for each in self._shown.of(rows):
            self.ids.line.add_widget(OrderRow(age=each.age, label=each.label, told=each.drinks, order_id=each.order_id,
                                              state=each.state, screen=self))
        for _n in range(self._shown.blank):
            self.ids.line.add_widget(BoxLayout())
        self.told = orders_told(waiting)

    def tick(self):
        if self.service.line.aged != self._aged:
            self.show()

    def _rows(self) -> list[Order]:
        """What waits, what was ended last, what lanes have untouched."""
        rows = waiting_orders(self.service)
        for order in reversed(self.service.line.ended):
            left = self.service.orders.left_of(order.id)
            drinks = ", ".join(f"{count} × {drink_words(name)}" for name, count in left or order.drinks)
            rows.append(Order(order.id, _("cancelled") if left else _("served"), "", drinks, "cancelled" if left else "served"))
        for lane in self.service.lanes.values():
            if lane.work is not None and lane.work.untouched:
                rows.append(Order(lane.work.waiting.order_id, _("Group {n}").format(n=lane.group), "",
                                  drink_words(lane.work.planned.title), "begun"))
        return rows

    def more(self):
        self._shown, self._orders = self._shown.turned(), None
        self.show()

    def put_first(self, order_id: str):
        self.service.line.first(order_id)

    def hold(self, order_id: str, held: bool):
        (self.service.line.release if held else self.service.line.hold)(order_id)

    def change(self, order_id: str):
        self.rooms.room("orders").change(order_id)

    def cancel(self, order_id: str):
        self.service.orders.cancel(order_id)

    def sent_back(self, order_id: str, why: str):
        self.service.orders.sent_back(order_id, why)
        self.rooms.home()

    def again(self, order_id: str):
        self.service.orders.again(order_id)
        self.rooms.home()


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
