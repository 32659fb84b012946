"""Setup page by page: all of it in few touches, in rows whose keys stand under one another, in words that stay large enough."""

import pytest
from kivy.core.window import Keyboard, Window

from kiosk.languages import catalogue
from kiosk.screens.setup.settings import sections
from kiosk.screens.setup.setup import SettingWidget
from kiosk.screens.ui import words
from kiosk.screens.ui.look import look
from kiosk.screens.ui.touch import Key, Words
from tests.support import tour
from tests.support.at_work import AtWork

READ_U = 13.7           # u: 1.86 mm of cap height on a 7-inch panel: 16 minutes of arc at 40 cm (ISO 9241-303, from memory)
SETTINGS = tour.SETTINGS | {
    "grinders": {"Left": {"coffee": "House", "timer_s": 7.0}, "Right": {"coffee": "Decaf"}}, "lessons": {"First week": {}},
    "scale": {"second": "/dev/ttyUSB1", "portafilters": {"A": 540.0}}, "signals": {"1": {"url": "/dev/ttyUSB0"}},
    "till": {"url": "/dev/ttyUSB2", "words": {"FLAT WHT": "drink:Latte"}}}


@pytest.fixture(autouse=True)
def size_after():
    before = Window.size
    yield
    Window.size = before
    words.speak(catalogue("en"))


def pages(work):
    """Every page of Setup, drawn."""
    work.kiosk.root.go("setup")
    setup = work.kiosk.root.open
    for n, section in enumerate(sections(work.service.setup)):
        names = [item.name for item in section.items]
        for inside in dict.fromkeys(("", *names[:1], *names[-1:])):
            setup.look_inside(inside) if inside else setup.choose(n)
            for page in range(setup._rows.pages):
                if page:
                    setup.turn()
                work._drawn_until = work._frames + 2
                work.frames(2)
                yield f"{section.name} {inside} {page}"


@pytest.mark.parametrize("size, language", [((800, 480), "en"), ((1280, 800), "de")])
def test_every_page_keeps_its_grid_and_its_words_are_large_enough(tmp_path, size, language):
    with AtWork(tmp_path, scale=False, size=size, settings=SETTINGS | {"language": language}) as work:
        seen = 0
        for page in pages(work):
            setup = work.kiosk.root.open
            assert not [*tour.faults(setup), *tour.askew(setup)], page
            small = [each.text for each in setup.walk(restrict=True)
                     if isinstance(each, Words) and each.placed and each.fitted.font_size < READ_U * look.u]
            assert not small, page
            rows = [each for each in setup.ids.rows.children if isinstance(each, SettingWidget) and not each.long]
            firsts = {(round(row.x), round(min(key.x for key in row.children if isinstance(key, Key) and key.width > 1))) for row in rows}
            assert len(firsts) == len({x for x, _key in firsts}), page      # in each column the keys begin under one another
            seen += 1
        assert seen > 25


@pytest.mark.parametrize("size, pages_of_sections", [((800, 480), 2), ((1280, 800), 1), ((800, 1280), 1)])
def test_every_section_is_at_most_one_touch_of_more_away(tmp_path, size, pages_of_sections):
    coffees = {f"Grinder {n}": {"coffee": f"Coffee {n}"} for n in range(1, 5)}
    with AtWork(tmp_path, scale=False, size=size, settings={"grinders": coffees}) as work:
        work.kiosk.root.go("setup")
        work.frames(3)
        assert work.kiosk.root.open._tabs.pages == pages_of_sections


def test_what_did_not_fit_is_told_where_it_is_seen(tmp_path):
    with AtWork(tmp_path, scale=False, size=(800, 480)) as work:
        work.kiosk.root.go("setup")
        setup = work.kiosk.root.open
        setup.change((("groups",), 9))
        assert setup.complains and setup.affects.startswith("A station has 1 to 4 groups.")
        setup.change((("groups",), 1))
        assert not setup.complains


def test_a_pin_is_typed_on_a_keyboard_that_is_plugged_in_as_names_are(tmp_path):
    def press(name: str):
        Window.dispatch("on_key_down", Keyboard.keycodes[name], 0, None, [])

    with AtWork(tmp_path, scale=False) as work:
        work.kiosk.root.set_pin()
        pin = work.kiosk.root.open
        for _twice in range(2):
            Window.dispatch("on_textinput", "2x5")              # no letter is in a PIN
            Window.dispatch("on_textinput", "81")
            press("backspace")
            Window.dispatch("on_textinput", "0")
            assert pin.shown == "••••"
            press("enter")
        assert work.service.pin.opens("2580") and work.kiosk.root.current == "setup"
        work.kiosk.root.set_pin()
        press("escape")
        assert work.kiosk.root.current == "setup"


def test_a_value_changes_where_it_stands_and_other_rows_are_other_keys(tmp_path):
    with AtWork(tmp_path, scale=False, size=(800, 480), settings=SETTINGS) as work:
        work.kiosk.root.go("setup")
        setup = work.kiosk.root.open
        setup.look_inside("Left")
        rows = list(setup.ids.rows.children)
        setup.change(rows[-1].row.more)
        assert setup.ids.rows.children == rows and rows[-1].row.value == "21"
        setup.look_inside("")
        assert not set(setup.ids.rows.children) & set(rows)         # a second touch of the same place meets a key that is new
