"""A slice of `python -m tests.bench.glass`: what a barista reads from two metres is large enough, and stands out."""

import re
from pathlib import Path

import pytest
from kivy.core.window import Window

from kiosk.screens.barista import station
from kiosk.screens.ui.text import Running
from tests.bench import glass
from tests.support import tour
from tests.support.at_work import AtWork

SLOW = "The memory card has become slow. Service goes on and nothing is lost: have the card replaced soon."


@pytest.mark.parametrize("size", [(800, 480), (800, 1280)])
def test_what_is_amiss_is_told_without_moving_a_lane(tmp_path, monkeypatch, size):
    before = Window.size
    try:
        with AtWork(tmp_path, size=size, settings={"groups": 2}) as work:
            def places() -> list:
                work.frames(10)
                room = work.kiosk.root.room("station")
                return [(*room.card(group).pos, *room.card(group).size) for group in (1, 2)]

            was = places()
            monkeypatch.setattr(station, "trouble_told", lambda _service: SLOW)
            assert places() == was and work.kiosk.root.room("station").trouble == SLOW
    finally:
        Window.size = before


def test_live_figures_warnings_and_the_stop_are_read_from_two_metres():
    before = Window.size
    try:
        assert glass.read(800, 480).end() == 0
    finally:
        Window.size = before


def test_they_are_with_something_amiss_too(monkeypatch):
    monkeypatch.setattr(station, "trouble_told", lambda _service: SLOW)
    before = Window.size
    try:
        assert glass.read(800, 480).end() == 0
    finally:
        Window.size = before


def test_a_size_in_the_place_of_a_share_is_set_whenever_the_share_goes():
    """Else the widget keeps the size that the share gave it last: the layout sets it, and nothing sets it back."""
    screens, seen = Path(station.__file__).parents[1], 0
    for file in screens.rglob("*.kv"):
        lines = file.read_text("utf-8").splitlines()
        for n, line in enumerate(lines):
            share = re.fullmatch(r"( +)size_hint_([xy]): (.*\bNone\b.*)", line)
            if share is None or " if " not in share[3]:
                continue
            name = f"{share[1]}{'width' if share[2] == 'x' else 'height'}: "
            size = next(each for each in lines[n + 1:] if each.startswith(name))
            assert " if " in size, f"{file.name}:{n + 1}"
            seen += 1
    assert seen > 8


def test_on_four_narrow_lanes_two_live_figures_take_the_place_of_what_they_say_themselves(tmp_path):
    before = Window.size
    try:
        with AtWork(tmp_path, settings={"groups": 4}) as work:
            for name in glass.moments(work):
                card = work.kiosk.root.room("station").card(1)
                figures = [words for words in card.walk(restrict=True)
                           if isinstance(words, Running) and words.placed and words.text in (card.big_shown, card.second_shown)]
                assert not list(tour.faults(work.kiosk.root)), name
                if name in ("dose under", "dose over", "pulling", "stop", "judged"):
                    least = min(glass.CAPITALS * words.fitted.font_size * glass.panel(800, 480)[1] for words in figures)
                    assert len(figures) == 2 and least >= 9.0, (name, least)       # mm: were 3.1, beside three keys of 15 mm
    finally:
        Window.size = before
