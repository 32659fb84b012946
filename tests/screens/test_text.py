"""Text on the sheet: whole, in its place, and as the font library draws it; and gone when its room is."""

import gc
import re
import time
from pathlib import Path
from weakref import ref

import pytest
from kivy.base import EventLoop
from kivy.core.text import Label as CoreLabel
from kivy.core.window import Window
from kivy.graphics.opengl import GL_RGB, GL_UNSIGNED_BYTE, glReadPixels
from kivy.uix.floatlayout import FloatLayout

from kiosk import screens
from kiosk.screens.ui import sheet
from kiosk.screens.ui.look import LEAST, Colour, Type, look
from kiosk.screens.ui.rooms import FURNISH_FROM_S, FURNISH_S, TIDIES_S
from kiosk.screens.ui.text import FACES, Running, Words, sizes
from kiosk.screens.ui.touch import Curve, Key
from tests.support.at_work import AtWork


@pytest.fixture
def panel():
    EventLoop.ensure_window()
    if EventLoop.status != "started":
        EventLoop.start()
    look.fit(800, 480)                      # whatever panel the test before had
    root = FloatLayout(size=Window.size)
    Window.clearcolor = Colour.ground
    sheet.show(sheet.Sheet(root))
    Window.add_widget(root)
    yield root
    Window.remove_widget(root)


def drawn(root, widget, x: int, y: int, width: int, height: int) -> bytes:
    """The red of each pixel of that part of the window, lowest row first."""
    if widget.parent is None:
        root.add_widget(widget)
    for _ in range(3):
        Window.canvas.ask_update()
        EventLoop.idle()
    return bytes(glReadPixels(x, y, width, height, GL_RGB, GL_UNSIGNED_BYTE))[::3]


@pytest.mark.parametrize("kind", [Words, Running])
@pytest.mark.parametrize("halign", ["left", "center", "right"])
@pytest.mark.parametrize("size_u, bold, text", [
    (20, False, "23.4"), (60, True, "23.4"), (20, False, "Tamp, Wipe & Vary"), (60, True, "Tamp, Wipe & Vary"),
    (20, True, "Täglich: 18,2 g"), (20, False, "34.2 g of 36"), (84, True, "34.2 g"),
    (20, False, "Locked in 8 s. Start at once: the hot group scorches the coffee, and nobody wants that in a cup."),
    (18, True, "Left at 20 has moved:\nthe last 6 pulls ran 3.1 s faster than those before. One notch finer.")])
def test_a_text_looks_as_the_font_library_draws_it_whole(panel, kind, halign, size_u, bold, text):
    words = kind(text=text, size_u=size_u, bold=bold, size_hint=(None, None), size=(400, 120), pos=(10, 200),
                 halign=halign, color=(1, 1, 1, 1))
    whole = CoreLabel(text=text, font_size=words.fitted.font_size, bold=bold, text_size=(400, None), halign=halign)
    whole.refresh()
    width, height = whole.texture.size
    assert words.whole and width == 400
    low = int(260 + height / 2) - height
    seen = drawn(panel, words, 10, low, width, height)
    ground = round(255 * Colour.ground[0])
    rows = [whole.texture.pixels[4 * width * row:4 * width * (row + 1)] for row in range(height - 1, -1, -1)]
    # SDL's own picture, white on clear, laid over the ground; the two may round a shade differently
    wanted = b"".join(bytes(round(ground + (255 - ground) * alpha / 255) for alpha in row[3::4]) for row in rows)
    apart = [(n % width, n // width, a, b) for n, (a, b) in enumerate(zip(seen, wanted)) if abs(a - b) > 3]
    assert len(apart) <= 6, apart[:9]      # where two signs overlap, the library lets one cover the other
    assert max(seen) > 200


def test_a_key_that_cannot_be_touched_has_no_foot_and_lies_flat(panel):
    key = Key(text="Bin", size_hint=(None, None), size=(120, 86), pos=(100, 100))
    foot, face = 60, 120 * 6 + 60               # in the middle of its lowest row, and a little above
    seen = drawn(panel, key, 100, 100, 120, 86)
    assert (seen[foot], seen[face]) == (round(255 * Colour.rim[0]), round(255 * Colour.key[0]))
    key.disabled = True
    for _ in range(3):
        EventLoop.idle()
    panel.remove_widget(key)
    seen = drawn(panel, key, 100, 100, 120, 86)
    assert seen[foot] == seen[face] == round(255 * Colour.surface[0])


def test_what_is_hidden_or_taken_away_leaves_nothing_behind(panel):
    key = Key(text="Bin", kind="next", size_hint=(None, None), size=(120, 86), pos=(100, 100))
    nothing = bytes([round(255 * Colour.ground[0])]) * (120 * 86)
    assert drawn(panel, key, 100, 100, 120, 86) != nothing
    panel.remove_widget(key)
    assert drawn(panel, Words(text=""), 100, 100, 120, 86) == nothing
    key.opacity = 0
    assert drawn(panel, key, 100, 100, 120, 86) == nothing


def test_rooms_opened_all_day_long_keep_no_more_in_memory_than_on_the_first_visit(tmp_path):
    def visited() -> int:
        for name in ("setup", "today", "line", "orders", "notes", "setup", "station"):
            rooms.go(name)
            work.frames(1)
            work.settle_threads()
        gc.collect()
        return sum(type(each) in (Words, Key) for each in gc.get_objects())

    with AtWork(tmp_path, scale=False) as work:
        rooms = work.kiosk.root
        while rooms._furnish(0) is not False:
            pass
        visited()
        after_one = visited()
        assert [visited() for _ in range(3)] == [after_one] * 3
        assert gc.get_freeze_count() > 5 * len(gc.get_objects())       # what stays is not looked through again
        gc.disable()
        try:                                                            # what is left is gone in a moment, by itself
            for name in ("orders", "station"):
                rooms.go(name)
                work.frames(1)
            for _ in range(2):
                time.sleep(TIDIES_S)
                work.settle_threads()
            assert gc.collect() < 500
        finally:
            gc.enable()
    assert gc.get_freeze_count() == 0


def test_a_kiosk_that_has_ended_builds_no_more_rooms(tmp_path):
    """It did, and set aside for good whatever there was at that moment."""
    with AtWork(tmp_path, scale=False) as work:
        work.frames(3)
        work.kiosk.root.go("orders")
    built = len(work.kiosk.root._rooms)
    until = time.monotonic() + FURNISH_FROM_S + 3 * FURNISH_S + TIDIES_S
    while time.monotonic() < until:
        EventLoop.idle()
    assert len(work.kiosk.root._rooms) == built


class Ring:
    """Waste that only Python's search for it finds."""

    def __init__(self):
        self.itself = self


@pytest.mark.parametrize("ordered", [False, True])
def test_what_is_waste_as_the_rooms_are_set_aside_is_not_set_aside_with_them_but_no_order_waits_for_that(tmp_path, ordered):
    with AtWork(tmp_path, scale=False, settings={"groups": 1}) as work:
        rooms = work.kiosk.root
        rooms._rooms.update({name: None for name in rooms.names if name not in rooms._rooms})       # as if all were built
        if ordered:
            work.service.orders.take(((work.service.setup.menu[0], 1),))
        gc.disable()
        try:
            waste = ref(Ring())
            assert rooms._furnish(0) is False and gc.get_freeze_count() > 0
            assert (waste() is not None) is ordered
        finally:
            gc.enable()


def test_the_numbers_of_a_curves_window_are_set_once_for_each_change(panel):
    class Counted(Curve):
        named = 0

        def _name_window(self, *_):
            self.named += 1
            super()._name_window()

    curve = Counted(size_hint=(None, None), size=(400, 300), pos=(10, 10))
    for change, value, times in (("window", [20, 30, 30, 40], 1), ("over", True, 1), ("opacity", 0.5, 1), ("points", [(5.0, 2.0)], 0),
                                 ("points", [(5.0, 2.0), (60.0, 20.0)], 1)):                        # past the axis' end
        before = curve.named
        setattr(curve, change, value)
        assert curve.named - before == times, change
    assert curve._seconds.text == "20–30 s" and curve._grams.text == "30–40 g"


def test_a_text_that_comes_to_need_two_lines_leaves_its_old_line_nowhere(panel):
    words = Words(text="Nothing waits.", size_hint=(None, None), size=(150, 60), pos=(100, 100))
    drawn(panel, words, 0, 0, 1, 1)
    words.text = "Due: read the room's temperature"
    seen = drawn(panel, words, 100, 100, 150, 60)
    panel.remove_widget(words)
    fresh = Words(text=words.text, size_hint=(None, None), size=(150, 60), pos=(100, 100))
    assert seen == drawn(panel, fresh, 100, 100, 150, 60) and max(seen) > 200


def test_a_room_opened_by_no_finger_shows_nothing_of_the_one_before(tmp_path):
    def window() -> bytes:
        work._drawn_until = work._frames + 4
        work.frames(4)
        return bytes(glReadPixels(0, 0, *Window.size, GL_RGB, GL_UNSIGNED_BYTE))

    with AtWork(tmp_path, scale=False) as work:
        rooms = work.kiosk.root
        rooms.go("line")
        line = window()
        rooms.go("who")
        assert window() != line
        rooms.go("line")
        assert window() == line


def test_no_word_is_broken_while_a_smaller_size_would_hold_it(panel):
    for width in range(30, 90):
        words = Words(text="Schreiben", size_u=18, size_hint=(None, None), size=(width, 60))
        assert len(words.fitted.lines) == 1 or not words.whole, width


def test_texts_are_in_no_face_but_those_that_open_fonts_are_counted_by():
    in_rooms = {name for path in Path(screens.__file__).parent.rglob("*.kv")
                for name in re.findall(r'font_name: *"([^"]+)"', path.read_text())}
    assert in_rooms | {Words.font_name.defaultvalue} == {font for font, _bold in FACES}


@pytest.mark.parametrize("u", [1.0, 1.31, 0.7])
def test_a_text_shrinks_by_a_pixel_or_more_at_a_time_down_to_the_least_size(u):
    for size_u in (Type.small, Type.live):
        pixels = list(sizes(size_u, u))
        assert pixels[0] == size_u * u and pixels[-1] == LEAST * u and len(pixels) <= size_u - LEAST + 1
        assert all(larger > smaller for larger, smaller in zip(pixels, pixels[1:]))
