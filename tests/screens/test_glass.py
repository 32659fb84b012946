"""A slice of `python -m tests.bench.glass`: what a barista reads from two metres is large enough, and stands out."""

from kivy.core.window import Window

from tests.bench import glass


def test_live_figures_warnings_and_the_stop_are_read_from_two_metres():
    before = Window.size
    try:
        assert glass.read(800, 480).end() == 0
    finally:
        Window.size = before
