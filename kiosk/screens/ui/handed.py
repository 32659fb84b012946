"""A row whose last, the key to touch next, comes first for a left hand; the others keep their order."""

from kivy.properties import BooleanProperty
from kivy.uix.boxlayout import BoxLayout


class Handed(BoxLayout):
    """`left`: what stands last in the layout is drawn first. Nothing changes where the parts stand below each other."""

    left = BooleanProperty(False)
    _turned = False

    def on_left(self, *_):
        self._turn()

    def on_orientation(self, *_):
        self._turn()

    def on_kv_post(self, base):
        self._turn()

    def _turn(self):
        wanted = self.left and self.orientation == "horizontal"
        if wanted is not self._turned:
            self._turned = wanted
            drawn = self.children           # the last one first: so Kivy has them
            self.children = drawn[1:] + drawn[:1] if wanted else drawn[-1:] + drawn[:-1]
