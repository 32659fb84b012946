"""A room: one whole screen. Only one is open at a time, and it is open at once, with no animation in between."""

from kivy.properties import ObjectProperty, StringProperty
from kivy.uix.boxlayout import BoxLayout


class Room(BoxLayout):
    """`rooms` is the way to the others, `service` what is drawn."""

    name = StringProperty()
    rooms = ObjectProperty()
    service = ObjectProperty()

    def enter(self):
        """Called as the room is opened."""

    def show(self):
        """Called whenever something changed while it is open."""

    def tick(self):
        """Called many times a second while it is open."""
