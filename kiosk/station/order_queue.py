"""The line: orders that wait for a lane. Each can be held back, put first or taken back, and all of it is kept."""

from collections.abc import Iterable

from kiosk.bar.model import Noted, OrderTaken
from kiosk.station.lane import Waiting

HELD, RELEASED, FIRST, TAKEN_BACK = "order held", "order released", "order first", "order taken back"
DEEDS = (HELD, RELEASED, FIRST, TAKEN_BACK)
ENDED_LAST = 3          # that can be made again from the line


class OrderQueue:
    """The line's part of a service. `waiting` are the pulls in the order in which lanes will take them, `ended` the
    orders that were served or taken back last, the latest last."""

    def __init__(self, service):
        self._service = service
        self.waiting: list[Waiting] = []
        self.held: set[str] = set()
        self.taken_back: set[str] = set()
        self.ended: list[OrderTaken] = []
        self._taken: dict[str, OrderTaken] = {}

    def take(self, order: OrderTaken, waiting: Iterable[Waiting]) -> None:
        self._taken[order.id] = order
        self.waiting += waiting

    def taken_at(self, order_id: str) -> str:
        """Hours and minutes, as the clock on the wall had them."""
        return self._taken[order_id].at[11:16] if order_id in self._taken else ""

    def end(self, order_id: str) -> None:
        """Nothing of the order is to be made any more."""
        order = self._taken.pop(order_id, None)
        if order is not None:
            self.ended = [*self.ended, order][-ENDED_LAST:]

    def goes_on(self, order: OrderTaken) -> None:
        """An order that had ended has something to be made again."""
        self.ended = [each for each in self.ended if each.id != order.id]
        self._taken[order.id] = order

    def restore(self, waiting: list[Waiting], deeds: list[tuple[str, str]], taken: Iterable[OrderTaken] = (),
                ended: Iterable[str] = ()) -> None:
        """After a restart: what was waiting, the (what, order id) that hands did to it, in turn, the orders that were
        taken and the ids of those ended."""
        self.waiting = list(waiting)
        self._taken = {order.id: order for order in taken}
        for order_id in ended:
            self.end(order_id)
        for what, order_id in deeds:
            self._do(what, order_id)

    def next(self) -> Waiting | None:
        """The pull that a free lane should take, out of the line; None where there is none but held ones."""
        for place, each in enumerate(self.waiting):
            if each.order_id not in self.held:
                return self.waiting.pop(place)
        return None

    def put_back(self, waiting: Waiting) -> None:
        self.waiting.insert(0, waiting)

    def orders(self) -> list[tuple[str, list[Waiting]]]:
        """The waiting pulls by order, in the line's order."""
        orders: dict[str, list[Waiting]] = {}
        for each in self.waiting:
            orders.setdefault(each.order_id, []).append(each)
        return list(orders.items())

    def hold(self, order_id: str) -> None:
        self._noted(HELD, order_id)

    def release(self, order_id: str) -> None:
        self._noted(RELEASED, order_id)

    def first(self, order_id: str) -> None:
        """To the front of the line, and not held any more."""
        self._noted(FIRST, order_id)

    def take_back(self, order_id: str) -> None:
        """What no lane has begun is not made."""
        self._noted(TAKEN_BACK, order_id)

    def _noted(self, what: str, order_id: str) -> None:
        book = self._service.book
        book.keep(Noted(id=book.new_id(), at=self._service.clock.at(), what=what, facts={"order_id": order_id},
                        by=self._service.barista))
        self._do(what, order_id)
        self._service.fill_lanes()
        self._service.publish()

    def _do(self, what: str, order_id: str) -> None:
        if what == HELD:
            self.held.add(order_id)
        else:
            self.held.discard(order_id)
        if what == TAKEN_BACK:
            self.taken_back.add(order_id)
            self.waiting = [each for each in self.waiting if each.order_id != order_id]
        if what == FIRST:
            self.waiting.sort(key=lambda each: each.order_id != order_id)
