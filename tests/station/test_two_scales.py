"""Two scales at one station: each serves its half of the groups, and two pulls are weighed at once."""

import time

import pytest

from hardware.practice import PracticeBar
from kiosk.bar.guide import guide as guides
from kiosk.bar.model import Pull
from kiosk.practice.barista import ScriptedBarista
from tests.support.at_work import AtWork, CountedScale


def both(*courses):
    """Two hands at work at the same time."""
    courses = list(courses)
    while courses:
        courses = [course for course in courses if next(course, courses) is not courses]
        yield


def test_two_pulls_at_once_are_each_weighed_on_their_own_scale(tmp_path):
    with AtWork(tmp_path, settings={"groups": 2}) as work:
        second = CountedScale(seed=9, clock=work.clock.s, shake_g=0.05)
        work.scales.append(second)
        try:
            assert work.service.set_setting(("scale", "second"), second.url) == ()
            one, two = work.service.scales.weighings
            patience = time.monotonic() + 10
            while not (one.there and two.there) and time.monotonic() < patience:
                work.frame()
                time.sleep(0.002)
            assert (list(one.turns.groups), list(two.turns.groups)) == ([1], [2])
            other = ScriptedBarista(work.service, work.finger, PracticeBar(scale=second, seed=9), second)
            work.play(work.hand.order("Double espresso", "Double espresso"))
            work.play(both(work.hand.pull(1), other.pull(2)))
            pulls = {pull.group: pull for pull in work.book.today().of(Pull)}
            assert pulls[1].yield_g == pytest.approx(work.hand.in_cup_g, abs=0.3)
            assert pulls[2].yield_g == pytest.approx(other.in_cup_g, abs=0.3)
            assert {pull.yield_from for pull in pulls.values()} == {"scale"}
            work.service.orders.take(((work.service.setup.menu[1], 2),))
            assert all(lane.work.guide.has_scale for lane in work.service.lanes.values())
            second.unplug()
            work.until(lambda: not two.there)
            assert [lane.work.guide.has_scale for lane in work.service.lanes.values()] == [True, False]
            for _ in range(7):
                work.service.tap(2, guides.Forward)
            assert work.service.lanes[2].last.sink is None
        finally:
            second.close()
