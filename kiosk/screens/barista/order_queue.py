"""The queue: what waits, to be put first, held or cancelled; what was served or cancelled last, to be made again."""

from pathlib import Path

from kivy.lang import Builder
from kivy.properties import (
    BooleanProperty,
    ObjectProperty,
    OptionProperty,
    StringProperty,
)
from kivy.uix.boxlayout import BoxLayout

from kiosk.screens.barista.queue_column import Order, orders_told, waiting_orders
from kiosk.screens.ui.ground import Ground
from kiosk.screens.ui.look import look
from kiosk.screens.ui.paging import Paging
from kiosk.screens.ui.room import Room
from kiosk.screens.ui.words import _, drink_words

BESIDE = 136                # u of the room's height that its heading and its last row of keys take


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
