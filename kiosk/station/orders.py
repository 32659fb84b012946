"""Orders: what is asked of the station, by hands, by the till or by coffee that pours, until nothing of it is left to make."""

from collections import Counter
from collections.abc import Callable, Iterable
from contextlib import AbstractContextManager
from typing import Any

from kiosk.bar.model import (
    DOUBLE,
    TASTING,
    Drink,
    Grinder,
    Noted,
    OrderEnded,
    OrderTaken,
    PlannedPull,
    Pull,
    Record,
    Setup,
    plan,
)
from kiosk.book import Book
from kiosk.station.lane import Waiting, Work
from kiosk.station.lanes import Lanes
from kiosk.station.order_queue import CHANGED, OrderQueue, as_changed, together
from kiosk.station.recall import recent_days

SENT_BACK = "sent back"
SERVED, CANCELLED = "served", "cancelled"


class Orders:
    """`line` and `lanes` are the station's, `note(what, facts)` keeps what hands did to an order, `drawn_once()` has what is done
    within it drawn when all of it is done."""

    def __init__(self, book: Book, at: Callable[[], str], setup: Callable[[], Setup], line: OrderQueue, lanes: Lanes,
                 note: Callable[[str, dict[str, Any]], None], publish: Callable[[], None],
                 drawn_once: Callable[[], AbstractContextManager[None]]):
        self._book, self._at, self._setup, self._line, self._lanes = book, at, setup, line, lanes
        self._note, self._publish, self._drawn_once = note, publish, drawn_once

    # ---- taken ----------------------------------------------------------------------------------------------------

    def take(self, wanted: tuple[tuple[Drink, int], ...], label: str = "", beside: Iterable[Record] = ()) -> str:
        """Drinks asked for together, each with its count; `label` is what the till calls them, `beside` is kept with them in
        one go. Returns the order's id."""
        house = self._setup().grinders[0].coffee
        order_id, pulls = self._book.new_id(), plan(wanted, house)
        order = OrderTaken(
            id=order_id, at=self._at(), coffee=house,
            drinks=tuple((drink.name, count) for drink, count in wanted if count > 0),
            pulls=tuple((each.coffee, each.basket, tuple(drink.name for drink in each.drinks)) for each in pulls), label=label)
        self._book.keep_all((*beside, order))
        self._line.take(order, (Waiting(order_id, n, planned) for n, planned in enumerate(pulls)))
        self._lanes.fill()
        self._publish()
        return order_id

    def again(self, order_id: str) -> None:
        """The same drinks once more, as an order of its own; of one taken back by mistake, what was not made."""
        with self._drawn_once():
            left, taken = self.left_of(order_id), self._order(order_id)
            if taken is not None:
                new_id = self.take(tuple((self._setup().drink(name), count) for name, count in left or taken.drinks))
                if left:
                    self._line.as_before(new_id, order_id)

    def left_of(self, order_id: str) -> tuple[tuple[str, int], ...]:
        """The drinks of an order that was taken back, but for those that were on their way and served all the same."""
        if order_id not in self._line.taken_back or (taken := self._order(order_id)) is None:
            return ()
        left = Counter(dict(taken.drinks))
        left.subtract(name for day in recent_days(self._book) for pull in self._book.day(day).of(Pull, traces=False)
                      if pull.order_id == order_id and not pull.sink for name in pull.drinks)
        return tuple((name, count) for name, count in left.items() if count > 0)

    def sent_back(self, order_id: str, why: str) -> None:
        """What was served comes back: it is made again before anything else, and counted with its reason."""
        with self._drawn_once():
            self._note(SENT_BACK, {"order_id": order_id, "why": why})
            waited = {each.order_id for each in self._line.waiting}
            self.again(order_id)
            new = next((each.order_id for each in self._line.waiting if each.order_id not in waited), None)
            if new is not None:
                self._line.first(new)

    def tasting_shot(self, grinder: Grinder) -> None:
        """A double of that grinder for nobody, to be tasted: it takes its turn like any other pull."""
        shot = PlannedPull(coffee=grinder.coffee, basket=DOUBLE, drinks=(), tasting=True, grinder=grinder.name)
        order = self._for_nobody(shot, label=str(TASTING))
        self._line.take(order, (Waiting(order.id, 0, shot),))
        self._lanes.fill()
        self._publish()

    def tasting_shots_due(self, grinder: Grinder) -> int:
        """How many tasting shots of it are on a lane or wait for one."""
        begun = [lane.work.planned for lane in self._lanes.values() if lane.work is not None]
        return sum(each.tasting and self._setup().grinder_for(each).name == grinder.name
                   for each in (*begun, *(waiting.planned for waiting in self._line.waiting)))

    def unordered(self, groups: Iterable[int]) -> Work | None:
        """Coffee pours and nobody ordered it: a pull of its own in the first free lane of `groups`; None without one.
        Its basket and coffee are taken from what that lane made last, else they are the house's double."""
        lane = next((self._lanes[group] for group in groups if group in self._lanes and self._lanes[group].work is None), None)
        if lane is None:
            return None
        coffee = lane.last.coffee if lane.last is not None else self._setup().grinders[0].coffee
        basket = lane.last.basket if lane.last is not None else DOUBLE
        shot = PlannedPull(coffee=coffee, basket=basket, drinks=())
        order = self._for_nobody(shot)
        self._line.take(order, ())
        self._lanes.begin(lane, Waiting(order.id, 0, shot))
        return lane.work

    def _for_nobody(self, shot: PlannedPull, label: str = "") -> OrderTaken:
        order = OrderTaken(id=self._book.new_id(), at=self._at(), coffee=shot.coffee, drinks=(), pulls=((shot.coffee, shot.basket, ()),),
                           label=label, grinder=shot.grinder)
        self._book.keep(order)
        return order

    # ---- taken back, or changed -----------------------------------------------------------------------------------

    def cancel(self, order_id: str) -> None:
        """What nobody has touched yet is dropped; a pull on its way is finished, or binned by hand and not made again."""
        with self._drawn_once():
            for lane in self._lanes.values():
                work = lane.work
                if work is not None and work.untouched and work.waiting.serves(order_id):
                    self._lanes.drop(lane)
                    left = work.waiting.less_orders({order_id})
                    if left is not None:
                        self._line.put_back(left)
            self._line.take_back(order_id)
            self.end_when_done(order_id, CANCELLED)
            self._lanes.fill()
            self._publish()

    def void(self, label: str, drinks: tuple[tuple[str, int], ...]) -> bool:
        """The till takes an order back: the one of that label, else the last one of just these drinks. What nobody has
        touched yet is not made. Whether there was one to take back."""
        found = next((order for order in reversed(self._line.taken_orders) if (label and order.label == label)
                      or (not label and drinks and sorted(order.drinks) == sorted(drinks))), None)
        if found is None:
            return False
        self.cancel(found.id)
        return True

    def open_drinks(self, order_id: str) -> dict[str, int]:
        """The drinks of an order that can still be changed: those whose coffee is not ground yet."""
        found: dict[str, int] = {}
        for waiting in self._changeable(order_id):
            for (each, _), drink in zip(_by_drink(waiting), waiting.planned.drinks):
                if each == order_id and not waiting.planned.more:
                    found[drink.name] = found.get(drink.name, 0) + 1
        return found

    def change(self, order_id: str, wanted: tuple[tuple[Drink, int], ...]) -> None:
        """What of the order is not ground yet is planned anew, as these drinks; none of them, and that part is dropped. Of one
        that has ended meanwhile nothing can be changed: they are an order of their own."""
        if all(each.id != order_id for each in self._line.taken_orders):
            if wanted:
                self.take(wanted)
            return
        before, changeable = self.open_drinks(order_id), self._changeable(order_id)
        for lane in self._lanes.values():
            work = lane.work
            if work is not None and work.waiting in changeable:
                self._lanes.drop(lane)
                self._line.put_back(work.waiting)
        dropped = [index for waiting in changeable for each, index in waiting.places if each == order_id]
        taken, pulls = self._order(order_id), plan(wanted, self._setup().grinders[0].coffee)
        if taken is None or not (dropped or pulls):
            return
        drinks = Counter(dict(taken.drinks))
        drinks.subtract(before)
        drinks.update({drink.name: count for drink, count in wanted})
        facts = {"order_id": order_id, "dropped": dropped, "drinks": [list(each) for each in drinks.items() if each[1] > 0],
                 "pulls": [[each.coffee, each.basket, [drink.name for drink in each.drinks]] for each in pulls]}
        first = len(taken.pulls) + sum(len(each["pulls"]) for each in self._changes(order_id))
        self._note(CHANGED, facts)
        self._line.change(as_changed(taken, facts), dropped, [Waiting(order_id, first + n, each) for n, each in enumerate(pulls)])
        self.end_when_done(order_id, CANCELLED if not wanted else SERVED)
        self._lanes.fill()
        self._publish()

    def _changeable(self, order_id: str) -> list[Waiting]:
        begun = [lane.work.waiting for lane in self._lanes.values() if lane.work is not None and not lane.work.ground]
        return together([each for each in (*begun, *self._line.waiting) if each.serves(order_id)])

    def _order(self, order_id: str) -> OrderTaken | None:
        """The order as it is by now."""
        taken = self._book.find(order_id)
        if not isinstance(taken, OrderTaken):
            return None
        for facts in self._changes(order_id):
            taken = as_changed(taken, facts)
        return taken

    def _changes(self, order_id: str) -> list[dict[str, Any]]:
        return [note.facts for day in recent_days(self._book) for note in self._book.day(day).of(Noted)
                if note.what == CHANGED and note.facts.get("order_id") == order_id]

    # ---- done -----------------------------------------------------------------------------------------------------

    def end_when_done(self, order_id: str, how: str) -> None:
        """Where nothing of it waits or is being made, the order has ended."""
        on_its_way = any(each.serves(order_id) for each in self._line.waiting) or any(
            lane.work is not None and lane.work.waiting.serves(order_id) for lane in self._lanes.values())
        if not on_its_way:
            self._book.keep(OrderEnded(id=self._book.new_id(), at=self._at(), order_id=order_id, how=how))
            self._line.end(order_id)

    def go_on(self, order_id: str) -> tuple[str, ...]:
        """An order that had ended has something to be made again; the ids of the records that say that it ended."""
        ended = tuple(each.id for day in recent_days(self._book) for each in self._book.day(day).of(OrderEnded)
                      if each.order_id == order_id)
        order = self._order(order_id) if ended else None
        if order is not None:
            self._line.goes_on(order)
        return ended


def _by_drink(waiting: Waiting) -> tuple[tuple[str, int], ...]:
    """(order, index) for each of its drinks: two of one order's double are both that order's."""
    return waiting.places if waiting.also is not None else waiting.places * len(waiting.planned.drinks)
