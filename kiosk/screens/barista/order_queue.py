"""The line: what waits, to be put first, held or taken back; what was served or taken back last, to be made again."""

from pathlib import Path

from kivy.lang import Builder
from kivy.properties import (
    BooleanProperty,
    NumericProperty,
    ObjectProperty,
    OptionProperty,
    StringProperty,
)
from kivy.uix.boxlayout import BoxLayout

from kiosk.screens.ui.look import look
from kiosk.screens.ui.room import Room
from kiosk.screens.ui.words import _, drink_words

ROWS = 4


class OrderRow(BoxLayout):
    """One order, or what a lane has of it: one that has `begun` can only be taken back, one `ended` only made again."""

    told = StringProperty()
    order_id = StringProperty()
    state = OptionProperty("waiting", options=("waiting", "late", "held", "begun", "ended"))
    screen = ObjectProperty()
    served = BooleanProperty(False)
    taken_back = BooleanProperty(False)     # by mistake, perhaps: it can be put back where it was


class LineScreen(Room):
    first = NumericProperty(0)
    told = StringProperty()

    def enter(self):
        self.first = 0
        self._orders = None

    _aged = 0

    def show(self):
        self._aged = self.service.line.aged
        rows, waiting = self._rows(), len(self.service.line.orders())
        if rows == self._orders:
            return
        self._orders = rows
        shown = ROWS + 3 if look.upright else ROWS
        if self.first >= len(rows):
            self.first = 0
        self.ids.line.clear_widgets()
        for order_id, told, state in rows[self.first:self.first + shown]:
            self.ids.line.add_widget(OrderRow(told=told, order_id=order_id, state=state, screen=self,
                                              taken_back=order_id in self.service.line.taken_back))
        for _n in range(shown - len(self.ids.line.children)):
            self.ids.line.add_widget(BoxLayout())
        self._shown, self._all = shown, len(rows)
        self.told = _("Nothing waits.") if not waiting else _("One order waits.") if waiting == 1 else \
            _("{n} orders wait.").format(n=waiting)

    def tick(self):
        if self.service.line.aged != self._aged:
            self.show()

    def _rows(self) -> list[tuple[str, str, str]]:
        """(order id, what to say, state): what waits, what was ended last, what lanes have untouched."""
        line, rows = self.service.line, []
        for order_id, pulls in line.orders():
            drinks = ", ".join(drink_words(each.planned.title) for each in pulls)
            state = "held" if order_id in line.held else "late" if line.late(order_id) else "waiting"
            age = _("{min:.0f} min").format(min=line.age_s(order_id) // 60)
            if state == "late":
                age = _("late, {age}").format(age=age)
            rows.append((order_id, "  ".join(part for part in (line.label(order_id), drinks, age) if part), state))
        for order in reversed(line.ended):
            rows.append((order.id, ", ".join(f"{count} × {drink_words(name)}" for name, count in order.drinks), "ended"))
        for lane in self.service.lanes.values():
            if lane.work is not None and lane.work.untouched:
                what = _("Group {n}: {what}").format(n=lane.group, what=drink_words(lane.work.planned.title))
                rows.append((lane.work.waiting.order_id, what, "begun"))
        return rows

    def more(self):
        self.first = self.first + self._shown if self.first + self._shown < self._all else 0
        self._orders = None
        self.show()

    def put_first(self, order_id: str):
        self.service.line.first(order_id)

    def hold(self, order_id: str, held: bool):
        (self.service.line.release if held else self.service.line.hold)(order_id)

    def change(self, order_id: str):
        self.rooms.room("orders").change(order_id)

    def cancel(self, order_id: str):
        self.service.cancel(order_id)

    def sent_back(self, order_id: str, why: str):
        self.service.sent_back(order_id, why)
        self.rooms.home()

    def again(self, order_id: str):
        self.service.again(order_id)
        self.rooms.home()


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
