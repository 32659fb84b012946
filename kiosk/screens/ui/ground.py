"""What belongs together stands on one ground: a row of words and the keys that go with them."""

from kivy.uix.boxlayout import BoxLayout

from kiosk.screens.ui.look import Colour, look
from kiosk.screens.ui.sheet import Flat, changed, rounded


class Ground(BoxLayout):

    def __init__(self, **given):
        super().__init__(**given)
        for cause in ("pos", "size", "opacity", "parent"):
            self.fbind(cause, changed)

    def flats(self) -> list[Flat]:
        return [rounded(Colour.surface, *self.pos, *self.size, look.round)]
