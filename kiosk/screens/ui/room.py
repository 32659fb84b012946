"""A room: one whole screen. Only one is open at a time, and it is open at once, with no animation in between."""

from pathlib import Path

from kivy.lang import Builder
from kivy.properties import BooleanProperty, ObjectProperty, StringProperty
from kivy.uix.boxlayout import BoxLayout

from kiosk.screens.ui import ground, handed, touch  # noqa: F401  the rules below use their widgets


class Room(BoxLayout):
    """`rooms` is the way to the others, `service` what is drawn."""

    name = StringProperty()
    rooms = ObjectProperty()
    service = ObjectProperty()
    left = BooleanProperty(False)       # whoever is at work is left-handed

    def enter(self):
        """Called as the room is opened, before `show`."""

    def closed(self):
        """Called as another room is opened instead, or the kiosk stops."""

    def show(self):
        """Called whenever something changed while it is open."""

    def tick(self):
        """Called many times a second while it is open."""


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
