"""The line: what waits, to be put first, held or taken back; what was served or taken back last, to be made again."""

from kivy.lang import Builder
from kivy.properties import NumericProperty, ObjectProperty, OptionProperty, StringProperty
from kivy.uix.boxlayout import BoxLayout

from kiosk.screens.look import look
from kiosk.screens.room import Room
from kiosk.screens.words import _

ROWS = 4


class OrderRow(BoxLayout):
    """One order, or what a lane has of it: one that has `begun` can only be taken back, one `ended` only made again."""

    told = StringProperty()
    order_id = StringProperty()
    state = OptionProperty("waiting", options=("waiting", "held", "begun", "ended"))
    screen = ObjectProperty()


class LineScreen(Room):
    first = NumericProperty(0)
    told = StringProperty()

    def enter(self):
        self.first = 0
        self._orders = None

    def show(self):
        rows, waiting = self._rows(), len(self.service.line.orders())
        if rows == self._orders:
            return
        self._orders = rows
        shown = ROWS + 3 if look.upright else ROWS
        if self.first >= len(rows):
            self.first = 0
        self.ids.line.clear_widgets()
        for order_id, told, state in rows[self.first:self.first + shown]:
            self.ids.line.add_widget(OrderRow(told=told, order_id=order_id, state=state, screen=self))
        for _n in range(shown - len(self.ids.line.children)):
            self.ids.line.add_widget(BoxLayout())
        self._shown, self._all = shown, len(rows)
        self.told = _("Nothing waits.") if not waiting else _("One order waits.") if waiting == 1 else \
            _("{n} orders wait.").format(n=waiting)

    def _rows(self) -> list[tuple[str, str, str]]:
        """(order id, what to say, state): what waits, what was ended last, what lanes have untouched."""
        line, rows = self.service.line, []
        for order_id, pulls in line.orders():
            drinks = ", ".join(_(each.planned.title) for each in pulls)
            state = "held" if order_id in line.held else "waiting"
            rows.append((order_id, f"{line.taken_at(order_id)}  {drinks}", state))
        for order in reversed(line.ended):
            rows.append((order.id, ", ".join(f"{count} × {_(name)}" for name, count in order.drinks), "ended"))
        for lane in self.service.lanes.values():
            if lane.work is not None and lane.work.untouched:
                what = _("Group {n}: {what}").format(n=lane.group, what=_(lane.work.planned.title))
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

    def cancel(self, order_id: str):
        self.service.cancel(order_id)

    def again(self, order_id: str):
        self.service.again(order_id)
        self.rooms.home()


Builder.load_string("""
<OrderRow>:
    spacing: look.gap
    Words:
        text: root.told
        size_u: Type.key
        halign: "left"
        color: Colour.text if root.state == "waiting" else Colour.quiet
    Key:
        text: _("First")
        size_u: Type.body
        disabled: root.state in ("begun", "ended")
        opacity: 0 if self.disabled else 1
        size_hint_x: None
        width: look.row_key
        on_tap: root.screen.put_first(root.order_id)
    Key:
        text: _("Go on") if root.state == "held" else _("Hold")
        on: root.state == "held"
        size_u: Type.body
        disabled: root.state in ("begun", "ended")
        opacity: 0 if self.disabled else 1
        size_hint_x: None
        width: look.row_key
        on_tap: root.screen.hold(root.order_id, root.state == "held")
    Key:
        text: _("Make again") if root.state == "ended" else _("Take back")
        kind: "plain" if root.state == "ended" else "warn"
        size_u: Type.body
        size_hint_x: None
        width: look.row_key
        on_tap: root.screen.again(root.order_id) if root.state == "ended" else root.screen.cancel(root.order_id)

<LineScreen>:
    Page:
        Words:
            text: root.told
            size_u: Type.body
            color: Colour.quiet
            halign: "left"
            size_hint_y: None
            height: look.line
        BoxLayout:
            id: line
            orientation: "vertical"
            spacing: look.gap
        BoxLayout:
            spacing: look.gap
            size_hint_y: None
            height: look.key
            Key:
                text: _("More")
                on_tap: root.more()
            Key:
                text: _("Back")
                kind: "next"
                size_hint_x: 2
                on_tap: root.rooms.home()
""")
