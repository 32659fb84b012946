"""A room: one whole screen. Only one is open at a time, and it is open at once, with no animation in between."""

from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from kivy.clock import mainthread
from kivy.lang import Builder
from kivy.properties import BooleanProperty, ObjectProperty, StringProperty
from kivy.uix.boxlayout import BoxLayout

from kiosk.screens.ui import ground, handed, touch  # noqa: F401  the rules below use their widgets

Found = TypeVar("Found")


class Room(BoxLayout):
    """`rooms` is the way to the others, `service` what is drawn."""

    name = StringProperty()
    rooms = ObjectProperty()
    service = ObjectProperty()
    left = BooleanProperty(False)       # whoever is at work is left-handed
    _asked: object = None               # what is waited for: the answer to anything asked before it is not shown

    def enter(self):
        """Called as the room is opened, before `show`."""

    def closed(self):
        """Called as another room is opened instead, or the kiosk stops."""

    def show(self):
        """Called whenever something changed while it is open."""

    def tells_stop_of(self, group: int) -> bool:
        """Whether it says by itself that this group's pump should be stopped."""
        return False

    def tick(self):
        """Called many times a second while it is open."""

    def ask(self, work: Callable[[], Found], show: Callable[[Found], None], failed: Callable[[], None], about: object = None):
        """Do `work` beside the drawing thread and show what it found, unless something else was asked for meanwhile. Asked once
        more `about` the same, it waits for what is under way."""
        if about is not None and about is self._asked:
            return
        self._asked = asked = object() if about is None else about

        @mainthread
        def answered(told: Callable[[], None]):
            if asked is self._asked:
                self._asked = None
                told()

        def find():
            found = work()
            answered(lambda: show(found))

        self.service.aside.begin("sums", find, lambda: answered(failed))

    def ask_no_more(self):
        """Whatever was asked for is not wanted now."""
        self._asked = None


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
