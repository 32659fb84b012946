"""Every room on the real widget tree: large enough to touch, whole, readable, and told apart without colour.

A slice of `python -m tests.bench.screens`, which draws every size and language.
"""

from itertools import combinations

import pytest
from kivy.core.window import Window

from kiosk.screens.ui import rooms
from kiosk.screens.ui.look import MM, TOUCH, Colour
from kiosk.screens.ui.touch import StepRow, Words
from tests.bench.glass import LINE, contrast
from tests.support import tour
from tests.support.at_work import AtWork
from tests.support.longer import Longer


def test_the_contrast_formula_gives_the_published_ratios():
    white = (1, 1, 1)
    assert contrast((0, 0, 0), white) == pytest.approx(21)              # WCAG 2.2
    assert contrast((0x76 / 255,) * 3, white) == pytest.approx(4.54, abs=0.005)


def unreadable(root) -> list[str]:
    """Texts below 4.5:1 on what they stand on, large live figures below 7:1 (WCAG 2.2, 1.4.3 and 1.4.6), and lines that mean
    something below 3:1 (1.4.11)."""
    found = []
    for words in root.walk(restrict=True):
        if not isinstance(words, Words) or not words.placed or not tour.shown(words):
            continue
        live, ground = words.size_u >= 50, tour.behind(words)
        if contrast(words.color, ground) < (7 if live and words.color != Colour.quiet else 4.5):
            found.append(f"{words.text[:40]!r} has {contrast(words.color, ground):.2f}:1")
    return found + [f"a line of {what} has {contrast(colour, ground):.2f}:1"
                    for what, colour, ground in tour.lines(root) if contrast(colour, ground) < LINE]


@pytest.mark.parametrize("size, groups, language", [
    ((800, 480), 2, "en"), ((800, 480), 4, "longer"), ((800, 1280), 4, "de"), ((1280, 800), 2, "de")])
def test_every_room_can_be_read_and_touched(tmp_path, monkeypatch, size, groups, language):
    if language == "longer":
        monkeypatch.setattr(rooms, "catalogue", lambda _language: Longer())
    spoken = "en" if language == "longer" else language
    before, visited = Window.size, []
    try:
        with AtWork(tmp_path, scale=False, settings=tour.SETTINGS | {"groups": groups, "language": spoken}, size=size) as work:
            for name in tour.visit(work):
                visited.append(name)
                root = work.kiosk.root
                assert (name, tour.faults(root), unreadable(root), tour.askew(root)) == (name, [], [], [])
    finally:
        Window.size = before
    assert len(visited) > 40


def test_a_key_is_fifteen_millimetres_on_a_seven_inch_panel():
    panel_mm = 7 * 25.4 * 800 / (800 ** 2 + 480 ** 2) ** 0.5            # its width
    assert TOUCH / (800 / panel_mm) >= 15
    assert MM == pytest.approx(800 / panel_mm, abs=0.01)


# Okabe and Ito, Color Universal Design (2008): all of these are told apart by colour-blind eyes.
OKABE_ITO = {"#E69F00", "#56B4E9", "#009E73", "#F0E442", "#0072B2", "#D55E00", "#CC79A7"}
# Viénot, Brettel and Mollon, Color Research and Application 24 (1999) 243–252: what a dichromat sees, linear RGB (from memory).
DEUTERAN = ((0.29275, 0.70725, 0.0), (0.29275, 0.70725, 0.0), (-0.02234, 0.02234, 1.0))
PROTAN = ((0.11238, 0.88762, 0.0), (0.11238, 0.88762, 0.0), (0.00401, -0.00401, 1.0))


def seen_by(matrix, colour):
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in colour[:3]]
    return [min(1.0, max(0.0, sum(m * c for m, c in zip(row, linear)))) for row in matrix]


@pytest.mark.parametrize("eyes", [DEUTERAN, PROTAN])
def test_the_colours_of_the_states_stay_apart_for_colour_blind_eyes(eyes):
    states = {"next": Colour.next, "good": Colour.good, "water": Colour.water, "warn": Colour.warn, "text": Colour.text}
    for (one, a), (other, b) in combinations(states.items(), 2):
        apart = sum((x - y) ** 2 for x, y in zip(seen_by(eyes, a), seen_by(eyes, b))) ** 0.5
        assert apart > 0.08, (one, other)


def test_a_steps_state_is_told_by_its_shape_whatever_its_colour():
    row = StepRow()
    row.marks, row.names, row.size = ["done", "now", "ahead", "skipped"], ["a", "b", "c", "d"], (500, 30)
    shapes = {}
    for _colour, corners in row.flats():
        left, low = (min(each[side] for each in corners) for side in (0, 1))
        shapes.setdefault(int(left * 4 / row.width), []).append(
            tuple(sorted((round(x - left, 1), round(y - low, 1)) for x, y in corners)))
    told = [tuple(shape) for shape in shapes.values()]
    assert len(told) == len(set(told)) == 4


def test_a_key_stands_out_from_the_ground_by_its_rim():
    for rim in (Colour.rim, Colour.next, Colour.warn):
        assert contrast(rim, Colour.ground) >= 3            # W3C WCAG 2.2, 1.4.11
