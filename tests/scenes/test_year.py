"""A year alone on the bar: the glass is wiped, the night is dark, a start is refused, on the real screens."""

import pytest

from kiosk.bar.model import GuideEvent
from kiosk.book import BookNewer
from kiosk.languages import catalogue
from kiosk.screens.barista.glass import WIPE_S
from kiosk.screens.refused import RefusalApp
from kiosk.screens.ui.rooms import RESTS_S
from kiosk.screens.ui.words import ENGLISH, speak
from tests.support.at_work import AtWork


@pytest.fixture(scope="module")
def work(tmp_path_factory):
    with AtWork(tmp_path_factory.mktemp("year"), scale=False) as work:
        yield work


def test_the_glass_is_wiped_for_twenty_seconds_with_no_touch_counted(work):
    rooms = work.kiosk.root
    rooms.go("drawer")
    work.frames(8)
    work.finger.tap("Wipe the glass")
    assert rooms.current == "wipe"
    kept = [*work.book.today().of(GuideEvent)]
    began_s = work.t_s
    while rooms.current == "wipe" and work.t_s - began_s < 60:
        tap_everywhere(work)
        work.frames(20)
    assert WIPE_S <= work.t_s - began_s < WIPE_S + 2
    assert rooms.current == "station" and [*work.book.today().of(GuideEvent)] == kept


def test_after_hours_the_glass_is_dark_and_the_touch_that_wakes_it_is_no_tap(work):
    rooms = work.kiosk.root
    rooms.home()
    work.t_s += RESTS_S + 1
    work.frames(12)
    assert rooms.current == "rest"
    places = set()
    for _ in range(25):
        work.t_s += 60
        work.frames(4)
        places.add((rooms.open.across, rooms.open.up))
    assert len(places) == 25                            # nothing shines in one place
    tap_everywhere(work, times=1)
    assert rooms.current == "station" and not work.service.at_work
    work.t_s += RESTS_S - 60                            # a touch counts as somebody being there
    work.frames(12)
    assert rooms.current == "station"


def test_a_bar_at_work_is_never_dark_and_an_order_wakes_it(work):
    rooms = work.kiosk.root
    rooms.go("rest")
    work.service.orders.take(((work.service.setup.menu[0], 1),))
    assert rooms.current == "station"
    work.t_s += 2 * RESTS_S
    work.frames(12)
    assert rooms.current == "station"


def tap_everywhere(work, times: int = 3):
    from kivy.core.window import Window
    width, height = Window.size
    for n in range(times):
        work.finger.touch(width * (n + 1) / (times + 1), height / 2)


def test_a_refused_start_says_why_in_the_bars_language_and_goes_on_once_the_cause_is_gone(tmp_path, monkeypatch):
    from kivy.base import EventLoop
    EventLoop.ensure_window()
    why, stands, ended = BookNewer(tmp_path, 99).args[0], [True], []
    speak(catalogue("de"))
    try:
        told = []
        panel = RefusalApp(why, lambda: why if stands[0] else None,
                        watched=type("Told", (), {"starting": lambda self, *said: told.append(said)})())
        panel.load_kv(panel.kv_file)                    # as an app is run
        panel.build()
        assert len(panel.root.children) == 1            # it says it once
        monkeypatch.setattr(panel, "stop", lambda: ended.append(True))
        assert "neueren Evenpull" in panel.root.why and "5 s" in panel.root.waits
        tries, passed_s = [], [0]
        panel._look_again = lambda: tries.append(passed_s[0]) or (why if stands[0] else None)
        for passed_s[0] in range(1, 200):               # the test ticks
            panel.tick(1.0)
        assert tries == [5, 15, 35, 75, 155]            # 5, 10, 20, 40, 80 s apart
        assert {longer_s for _, longer_s in told} == {30.0} and len(told) >= 199 / 30
        stands[0] = False
        panel.root.look_again()
        assert ended
    finally:
        panel._ticking.cancel()
        speak(ENGLISH)
