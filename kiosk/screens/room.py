"""A room: one whole screen. Only one is open at a time, and it is open at once, with no animation in between."""

from kivy.lang import Builder
from kivy.properties import ObjectProperty, StringProperty
from kivy.uix.boxlayout import BoxLayout

from kiosk.screens import touch  # noqa: F401  the rules below use its widgets


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


Builder.load_string("""
#:import shipped kiosk.places.shipped

<Page@BoxLayout>:
    orientation: "vertical"
    padding: look.gap
    spacing: look.gap

<Picture@Image>:
    name: ""
    source: str(shipped("assets", "pictures", self.name + ".png")) if self.name else ""
    fit_mode: "contain"
    mipmap: True

<Caution@BoxLayout>:
    sign: ""
    text: ""
    spacing: look.gap
    opacity: 1 if self.text else 0
    Picture:
        name: root.sign
        size_hint_x: None
        width: look.lines if root.sign else 0
        opacity: 1 if root.sign else 0
    Words:
        text: root.text
        size_u: Type.body
        bold: True
        color: Colour.warn
        halign: "left"
""")
