"""Tickets from the till, on the real screens: they come in over a pseudo-terminal as they would to a printer."""

import os
import time

import pytest

from kiosk.bar.guide import guide as guides
from kiosk.bar.model import OrderEnded, OrderTaken
from tests.support.at_work import AtWork

CUT = b"\x1dV\x00"
HEAD = b"\x1b@\x1b!\x30CAFE TEST\x1b!\x00\n24.11.2026 14:02\nTable 12\n"
TICKET = HEAD + b"1 Latte      3.90\n  + oat milk\n2 Espresso   4.40\n1 Cappuccino 3.20\n  + takeaway\n" + CUT


class WithTill(AtWork):
    """A bar that has told what the two words of its till's head mean."""

    def __init__(self, folder, **more):
        self._till, slave = os.openpty()
        self.url = os.ttyname(slave)
        super().__init__(folder, scale=False, **more)

    def __enter__(self):
        super().__enter__()
        words = {"cafe test": "nothing", "table": "number"}
        assert self.service.set_setting(("till",), {"url": self.url, "words": words}) == ()
        self.frame()
        self._await(lambda: self.service.till.listening)
        return self

    def prints(self, data: bytes):
        came, till = [], self.service.till
        whole, till.take_ticket = till.take_ticket, lambda lines: came.append(whole(lines))
        os.write(self._till, data)
        self._await(lambda: came)
        till.take_ticket = whole
        self.frames(4)

    def _await(self, holds):
        limit = time.monotonic() + 5
        while not holds() and time.monotonic() < limit:
            time.sleep(0.01)
            self.frame()


def orders(work) -> list[OrderTaken]:
    return list(work.book.today().of(OrderTaken))


@pytest.fixture
def work(tmp_path):
    with WithTill(tmp_path / "book", settings={"groups": 1}) as at_work:
        yield at_work


def test_scene_61_a_ticket_of_four_drinks_with_oat_and_one_to_take_away_is_an_order_by_itself(work):
    work.prints(TICKET)
    order, = orders(work)
    assert dict(order.drinks) == {"Latte, oat milk": 1, "Espresso": 2, "Cappuccino, takeaway": 1}
    assert order.label == "Table 12" and work.service.till.open == []
    card = work.kiosk.root.room("station").card(1)
    assert card.title == "1 · Latte, oat milk" and card.contains == "Contains oats"
    assert all("CAFE" not in str(each) and "3.90" not in str(each) for each in work.book.today().all if not hasattr(each, "path"))


def test_scene_62_the_same_ticket_printed_twice_is_one_order_and_over_a_restart_too(work, tmp_path):
    work.prints(TICKET)
    work.prints(TICKET)
    assert len(orders(work)) == 1 and work.service.till.open == []
    work.close()
    with WithTill(tmp_path / "book") as again:
        again.prints(TICKET)
        assert len(orders(again)) == 1
        again.prints(TICKET.replace(b"14:02", b"14:09"))
        assert len(orders(again)) == 2
        again.prints(b"1 Mocha\n" + CUT)
        again.prints(b"1 Mocha\n" + CUT)                    # nothing tells the two apart: it is asked about
        assert len(orders(again)) == 3 and len(again.service.till.open) == 1
        again.kiosk.root.go("till")
        again.frames(12)
        assert "same ticket again" in again.kiosk.root.open.told
        again.kiosk.root.home()
        assert len(again.service.till.open) == 1            # going away is no answer
        again.kiosk.root.go("till")
        again.frames(12)
        again.finger.tap("Remake")
        again.frames(4)
        assert len(orders(again)) == 4 and again.kiosk.root.current == "station"


def test_scene_63_a_void_in_mid_pull_takes_back_what_nobody_has_begun(work):
    assert work.service.set_setting(("till", "words"), dict(work.service.setup.till.words) | {"cancelled": "void"}) == ()
    work.prints(HEAD + b"2 Latte\n1 Mocha\n" + CUT)
    for _ in range(4):
        work.service.tap(1, guides.Forward)
    work.service.tap(1, guides.Forward)
    assert work.service.lanes[1].work.guide.pulling
    work.prints(HEAD + b"** CANCELLED **\n2 Latte\n1 Mocha\n" + CUT)
    assert work.service.line.waiting == [] and work.service.lanes[1].work.guide.pulling     # what pours is finished
    for _ in range(3):
        work.service.tap(1, guides.Forward)
    assert work.service.lanes[1].work is None and len(work.book.today().of(OrderEnded)) == 1
    work.prints(HEAD.replace(b"12", b"31") + b"** CANCELLED **\n1 Mocha\n" + CUT)
    assert "cancel" in work.service.till.open[0].why


def test_what_is_not_understood_is_shown_as_it_came_taught_by_touch_and_then_ordered_once(work, tmp_path):
    work.prints(HEAD + b"1 FLAT WHT 3.10\n  xhot\n1 Latte\n" + CUT)
    assert [dict(each.drinks) for each in orders(work)] == [{"Latte": 1}]
    station = work.kiosk.root.room("station")
    assert station.waiting.startswith("From the till: one to read")
    work.close()
    with WithTill(tmp_path / "book") as again:              # the plug was pulled meanwhile: it still waits
        again.tap("From the till", "1 FLAT WHT", "Cappuccino", "xhot", "Nothing")
        assert [dict(each.drinks) for each in orders(again)] == [{"Latte": 1}, {"Cappuccino": 1}]
        assert orders(again)[1].label == "Table 12" and again.kiosk.root.current == "station"
        again.prints(HEAD.replace(b"12", b"15") + b"2 FLAT WHT 6.20\n" + CUT)
        assert dict(orders(again)[-1].drinks) == {"Cappuccino": 2}      # from then on by itself


def test_a_line_that_was_told_says_what_it_means_while_the_others_are_still_asked_about(work):
    work.service.till.take_ticket(("Terrace", "2 FLAT WHT"))
    work.kiosk.root.go("till")
    work.frames(12)
    work.tap("2 FLAT WHT", "Cappuccino")
    shown = {key.text: key.under for key in work.finger.keys(work.kiosk.root.open.ids.grid)}
    assert shown == {"Terrace": "", "2 FLAT WHT": "Cappuccino"}
    work.service.till.take_ticket(("Roof", "1 FLAT WHT, oat milk"))
    work.frames(12)
    work.tap("Terrace", "Nothing")
    assert [dict(each.drinks) for each in orders(work)] == [{"Cappuccino, oat milk": 1}, {"Cappuccino": 2}]


def test_a_ticket_stays_to_be_read_when_another_room_is_opened(work):
    work.service.till.take_ticket(("Table 7", "2 FLAT WHT"))
    for room in ("till", "notes", "till"):
        work.kiosk.root.go(room)
        work.frames(3)
    work.kiosk.root.home()
    assert [ticket.lines for ticket in work.service.till.open] and work.kiosk.root.current == "station"
