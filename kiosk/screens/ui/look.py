"""The look, once: sizes, type, colours. Everything on every screen is made of these.

`u` is one pixel of a 7-inch 800 × 480 panel. On other panels 5.25 u are a millimetre too, so a larger one shows more, not
everything larger; only what would leave less than 800 × 474 u, or more than hands and eyes can use, is scaled. Colours are
Okabe and Ito's, safe for colour-blind eyes, on a dark ground; state is told by word and shape first.
"""

from math import hypot

from kivy.event import EventDispatcher
from kivy.properties import AliasProperty, BooleanProperty, NumericProperty
from kivy.utils import get_color_from_hex

MM = 5.25               # u in a millimetre of a 7-inch 800 × 480 panel
TOUCH = 80              # u: at least 15 mm; nothing that is touched is smaller, and a row of keys is so high
LEAST = 11              # u: no text shrinks below this to fit
SHORT, LONG, MOST = 474, 800, 720       # u: what every panel has (1024 × 600 the least), and what the short side has at most
ROOMY, SLIM = 1000, 600     # u: as broad a panel has a place for what waits; below the other a word has a line of its own
INCH_MM = 25.4
GAP = 6                 # u: between keys
USUAL_INCHES = {(480, 800): 7.0, (600, 1024): 7.0, (720, 1280): 7.0, (800, 1280): 10.1, (1080, 1920): 15.6}   # as panels are sold


class Type:
    """The five sizes of text, in u; each is for what its name says. Cap heights on a 7-inch panel, of Roboto's 0.711:
    `small` (what can wait) 2 mm, `body` (keys, sentences) 2.6, `head` (the key to touch next, warnings, the stop) 4.2,
    `figure` 6.8, `live` (seconds, grams, what to mend) 9.2. Normal sight reads 2.9 mm at two metres, and 9 mm with ease
    (ISO 9241-303, from memory)."""

    small, body, head, figure, live = 15, 19, 31, 50, 68


class Colour:
    """What each colour is for."""

    ground = get_color_from_hex("#12171B")
    edge = get_color_from_hex("#07090B")        # round what belongs together
    surface = get_color_from_hex("#1B2329")     # the face of a quiet key, and of one that cannot be touched now
    key = get_color_from_hex("#2C363E")         # the face of what may be touched
    rim = get_color_from_hex("#7C8994")         # its foot, and an axis
    line = get_color_from_hex("#64707C")        # what means something by where it runs: a track, a step ahead, a quiet key's foot
    grid = get_color_from_hex("#46515C")        # what only leads the eye over a chart
    faint = get_color_from_hex("#8C98A2")       # the word of a key that cannot be touched now
    text = get_color_from_hex("#F4F6F7")
    quiet = get_color_from_hex("#B7C0C8")
    next = get_color_from_hex("#E69F00")        # the one thing to touch next
    on_next = get_color_from_hex("#0D1114")
    over = get_color_from_hex("#0D1114")        # the face of a key on the strong colour
    good = get_color_from_hex("#2CC295")        # bluish green, lightened for text on the dark ground
    aim = get_color_from_hex("#1A4D40")         # the ground of the window that a pull should end in
    coffee = get_color_from_hex("#A0622D")      # where it is drawn as itself, and the crema on it
    crema = get_color_from_hex("#DDB27A")
    water = get_color_from_hex("#56B4E9")
    warn = get_color_from_hex("#F0E442")        # yellow: vermillion is too dark here, and lightened it turns to orange


def so_many(u: float) -> AliasProperty:
    return AliasProperty(lambda self: u * self.u, bind=["u"], cache=True)


class Look(EventDispatcher):
    """Everything below is in pixels: what lies between things and around them, how high keys and lines are."""

    u = NumericProperty(1.0)
    across, down = NumericProperty(LONG), NumericProperty(SHORT)    # u: how broad and high the panel is
    roomy = BooleanProperty(False)
    upright = BooleanProperty(False)
    slim = BooleanProperty(False)
    gap, wide = so_many(GAP), so_many(12)                       # between keys; between columns, and round every room
    round = so_many(8)                                          # of the corners of keys and surfaces
    key, keys, tall = so_many(TOUCH), so_many(2 * TOUCH + GAP), so_many(110)     # a row of keys, two rows with their gap, a stately one
    foot, line, lines = so_many(20), so_many(30), so_many(40)   # a small line, a line, two
    icon = so_many(26)                                          # the square that an icon is drawn in
    number, numbers = so_many(53), so_many(140)                 # the least place of a live figure: how high, how broad
    track = so_many(16)                                         # the groove under a live figure
    row_key, tabs = so_many(120), so_many(150)                  # how broad a key in a row is, and a column of tabs
    queue = so_many(260)                                        # how broad the queue beside the lanes is

    def fit(self, width: float, height: float, inches: float = 0.0) -> None:
        """Scale to a panel of `width` × `height` pixels, so many inches from corner to corner; 0 for what is usual."""
        short, long = sorted((width, height))
        least, most = short / MOST, min(short / SHORT, long / LONG)
        inches = inches or USUAL_INCHES.get((short, long), 0.0)
        a_mm = hypot(short, long) / (inches * INCH_MM) if inches else most * MM
        self.upright = height > width
        self.u = min(most, max(least, a_mm / MM))
        self.across, self.down = width / self.u, height / self.u
        self.roomy, self.slim = self.across >= ROOMY, self.across < SLIM

    def rows(self, u_taken: float) -> int:
        """How many rows of keys the panel has room for, beside what takes so many u of its height."""
        return max(1, int((self.down - u_taken + GAP) // (TOUCH + GAP)))


look = Look()
