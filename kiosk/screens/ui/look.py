"""The look, once: sizes, type, colours. Everything on every screen is made of these.

`u` is one pixel of an 800 × 480 panel; other panels scale it, so 5.25 u is a millimetre on a 7-inch one. Pixel density
is not asked for: a kiosk's panel is what it is. Colours are Okabe and Ito's, safe for colour-blind eyes, on a dark
ground; state is told by word and shape first.
"""

from kivy.event import EventDispatcher
from kivy.properties import AliasProperty, BooleanProperty, NumericProperty
from kivy.utils import get_color_from_hex

MM = 5.25               # u in a millimetre of a 7-inch 800 × 480 panel
TOUCH = 80              # u: at least 15 mm; nothing that is touched is smaller
LEAST = 11              # u: no text shrinks below this to fit


class Type:
    """The five sizes of text, in u; each is for what its name says. Cap heights on a 7-inch panel, of Roboto's 0.711:
    `small` (what can wait) 2 mm, `body` (keys, sentences) 2.6, `head` (the key to touch next, warnings, the stop) 4.1,
    `figure` 6.8, `live` (seconds, grams, what to mend) 9.2. Normal sight reads 2.9 mm at two metres, and 9 mm with ease
    (ISO 9241-303, from memory)."""

    small, body, head, figure, live = 15, 19, 30, 50, 68


class Colour:
    """What each colour is for."""

    ground = get_color_from_hex("#12171B")
    edge = get_color_from_hex("#07090B")        # round what belongs together
    surface = get_color_from_hex("#1B2329")     # the face of a quiet key, and of one that cannot be touched now
    key = get_color_from_hex("#2C363E")         # the face of what may be touched
    rim = get_color_from_hex("#7C8994")         # its foot, and an axis
    line = get_color_from_hex("#46515C")
    faint = get_color_from_hex("#8C98A2")       # the word of a key that cannot be touched now
    text = get_color_from_hex("#F4F6F7")
    quiet = get_color_from_hex("#B7C0C8")
    next = get_color_from_hex("#E69F00")        # the one thing to touch next
    on_next = get_color_from_hex("#0D1114")
    over = get_color_from_hex("#0D1114")        # the face of a key on the strong colour
    good = get_color_from_hex("#2CC295")        # bluish green, lightened for text on the dark ground
    aim = get_color_from_hex("#1A4D40")         # the ground of the window that a pull should end in
    water = get_color_from_hex("#56B4E9")
    warn = get_color_from_hex("#F0E442")        # yellow: vermillion is too dark here, and lightened it turns to orange


def so_many(u: float) -> AliasProperty:
    return AliasProperty(lambda self: u * self.u, bind=["u"], cache=True)


class Look(EventDispatcher):
    """Everything below is in pixels: what lies between things and around them, how high keys and lines are."""

    u = NumericProperty(1.0)
    upright = BooleanProperty(False)
    gap, wide = so_many(6), so_many(12)                         # between keys; between columns, and round every room
    round = so_many(8)                                          # of the corners of keys and surfaces
    key, keys, tall = so_many(82), so_many(170), so_many(110)   # a row of keys, two rows with their gap, a stately one
    foot, line, lines = so_many(20), so_many(30), so_many(40)   # a small line, a line, two
    icon = so_many(26)                                          # the square that an icon is drawn in
    track = so_many(16)                                         # the groove under a live figure
    row_key, tabs = so_many(120), so_many(150)                  # how broad a key in a row is, and a column of tabs

    def fit(self, width: float, height: float) -> None:
        """Scale to a panel of `width` × `height` pixels."""
        short, long = sorted((width, height))
        self.upright = height > width
        self.u = min(short / 480, long / 800)


look = Look()
