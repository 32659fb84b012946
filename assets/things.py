"""What the pictures are made of: the things of an espresso station, seen from the side and cut open.

Each is painted around its own origin, so a picture only says where (`sheet.at`). Two greys for things; orange for
what the hand does next, for heat and for crema; blue for water and steam; vermillion for harm (Okabe and Ito, Color
Universal Design, 2008). Coffee is the orange in shade.
"""

import math

from .brush import Sheet, arc, box, disc, outlines

LIGHT, GREY = "#E8EAED", "#9AA3AD"
ORANGE, COFFEE = "#E69F00", "#945A00"
BLUE, VERMILLION = "#56B4E9", "#D55E00"
PALETTE = (LIGHT, GREY, ORANGE, COFFEE, BLUE, VERMILLION)

LINE = 20   # the width of a line at scale 1; never under 14 on the sheet, or it is lost at 96 pixels
GAP = 7     # what parts two things that touch


# Signs

def arrow(sheet: Sheet, path, colour: str = ORANGE, width: float = 22, head: float = 32):
    """An arrow along the path, its head at the end."""
    points = outlines(path)[0]
    end = points[-1]
    back = next(p for p in reversed(points) if math.dist(p, end) > head * 0.8)
    sheet.line(colour, width, points)
    with sheet.at(*end, turn=math.degrees(math.atan2(end[1] - back[1], end[0] - back[0]))):
        sheet.fill(colour, [(head * 0.8, 0), (-head * 0.55, -head), (-head * 0.55, head)], soft=8)


def waves(sheet: Sheet, colour: str | None, *feet, height: float = 90, width: float = 18, sway: float = 34):
    """Heat or steam, rising from each foot (x, y)."""
    for x, y in feet:
        third = height / 3
        sheet.line(colour, width, f"M {x} {y} C {x - sway} {y - third} {x + sway} {y - 2 * third} {x} {y - height}")


def drop(sheet: Sheet, colour: str, x: float, y: float, r: float):
    """A drop whose round part is centred on (x, y)."""
    sheet.fill(colour, f"M {x} {y - 2.1 * r} C {x + 0.3 * r} {y - 1.3 * r} {x + r} {y - 0.7 * r} {x + r} {y} "
               f"C {x + r} {y + 1.33 * r} {x - r} {y + 1.33 * r} {x - r} {y} "
               f"C {x - r} {y - 0.7 * r} {x - 0.3 * r} {y - 1.3 * r} {x} {y - 2.1 * r} Z")


def sparkle(sheet: Sheet, x: float, y: float, r: float):
    """Clean and dry."""
    n = 0.16 * r
    sheet.fill(LIGHT, f"M {x} {y - r} Q {x + n} {y - n} {x + r} {y} Q {x + n} {y + n} {x} {y + r} "
               f"Q {x - n} {y + n} {x - r} {y} Q {x - n} {y - n} {x} {y - r} Z", soft=3)


def tick(sheet: Sheet, x: float, y: float, r: float, colour: str = LIGHT, width: float = 26):
    sheet.line(colour, width, [(x - r, y), (x - r * 0.25, y + r * 0.72), (x + r, y - r * 0.72)])


def cross(sheet: Sheet, x: float, y: float, r: float, width: float = 26):
    sheet.line(VERMILLION, width, [(x - r, y - r), (x + r, y + r)], [(x - r, y + r), (x + r, y - r)])


def clock(sheet: Sheet, x: float, y: float, r: float, share: float, width: float = LINE):
    """A ring that has run `share` of its way round."""
    sheet.line(GREY, width, disc(x, y, r))
    sheet.line(ORANGE, width, arc(x, y, r, 0, 360 * share))


def thermometer(sheet: Sheet, top: float, filled: float):
    """Its tube's top and how far up it is warm, both above the bulb; origin in the bulb's middle."""
    sheet.line(LIGHT, 60, [(0, top), (0, -20)])
    sheet.fill(LIGHT, disc(0, 0, 54))
    sheet.line(None, 32, [(0, top), (0, -20)])
    sheet.line(ORANGE, 24, [(0, filled), (0, -20)])
    sheet.fill(ORANGE, disc(0, 0, 36))


def cloth(sheet: Sheet):
    """A folded cloth; origin in its middle."""
    sheet.fill(None, box(-92, -84, 92, 84), soft=34)
    sheet.fill(LIGHT, box(-92, -84, 92, 84), soft=26)
    sheet.line(None, 12, [(-40, -60), (-40, 70)], [(40, -70), (40, 60)])


def finger(sheet: Sheet, colour: str | None = LIGHT):
    """A hand that points downwards; origin at the fingertip."""
    sheet.line(colour, 50, [(0, -25), (0, -190)])
    sheet.line(colour, 46, [(52, -132), (52, -190)], [(102, -138), (102, -190)], [(152, -150), (152, -190)])
    sheet.fill(colour, box(0, -260, 152, -190), soft=22)
    sheet.fill(colour, "M -12 -150 C -56 -150 -62 -196 -46 -232 Q -36 -252 0 -256 L 0 -160 Z", soft=10)


# Vessels: an open outline, cut through

def vessel(sheet: Sheet, wall: str, layers=(), colour: str = LIGHT, width: float = LINE, lean: float = 0):
    """Layers (colour, top), the topmost first, within the wall, a gap between. They lie level however it leans."""
    with sheet.within(wall), sheet.at(0, 0, turn=-lean):
        for layer, top in layers:
            sheet.fill(layer, box(-400, top, 400, 400))
    sheet.line(None, width + 2 * GAP, wall)
    sheet.line(colour, width, wall)


def small_cup(sheet: Sheet, layers=(), saucer: bool = True, lean: float = 0):
    """The espresso cup; origin under its foot."""
    vessel(sheet, "M -84 -112 L -80 -64 Q -72 -8 -34 -8 L 34 -8 Q 72 -8 80 -64 L 84 -112", layers, lean=lean)
    sheet.line(LIGHT, 17, "M 84 -90 C 146 -98 140 -26 72 -38")
    if saucer:
        sheet.fill(GREY, "M -128 12 L 128 12 Q 108 36 70 36 L -70 36 Q -108 36 -128 12 Z", soft=6)


def wide_cup(sheet: Sheet, layers=()):
    """The cappuccino cup; origin under its foot."""
    vessel(sheet, "M -136 -150 C -134 -66 -100 -8 -48 -8 L 48 -8 C 100 -8 134 -66 136 -150", layers)
    sheet.line(LIGHT, 18, "M 134 -122 C 206 -136 200 -40 123 -66")
    sheet.fill(GREY, "M -176 12 L 176 12 Q 150 38 100 38 L -100 38 Q -150 38 -176 12 Z", soft=6)


def mug(sheet: Sheet, layers=()):
    """A tall cup for a long drink; origin under its foot."""
    vessel(sheet, "M -96 -220 L -92 -40 Q -90 -10 -62 -10 L 62 -10 Q 90 -10 92 -40 L 96 -220", layers)
    sheet.line(LIGHT, LINE, "M 96 -176 C 182 -186 178 -50 94 -62")


def glass(sheet: Sheet, layers=(), height: float = 200, top: float = 78, foot: float = 60, width: float = 14):
    """A straight glass, its wall thinner and greyer than a cup's; origin under its foot."""
    vessel(sheet, f"M {-top} {-height} L {-foot} -20 Q {-foot + 2} -8 {-foot + 14} -8 "
           f"L {foot - 14} -8 Q {foot - 2} -8 {foot} -20 L {top} {-height}", layers, GREY, width)


def jug(sheet: Sheet, layers=(), lean: float = 0):
    """The milk jug, its spout to the left; origin under its foot."""
    vessel(sheet, "M -150 -390 C -96 -350 -94 -300 -112 -240 C -136 -160 -146 -80 -138 -12 "
           "L 138 -12 C 146 -80 136 -160 112 -240 C 98 -290 98 -340 104 -384", layers, GREY, 24, lean)
    sheet.line(GREY, 24, "M 104 -340 C 230 -350 230 -120 146 -110")


ESPRESSO = ((ORANGE, -88), (COFFEE, -70))   # in the small cup, a fifth of it crema
WATER = ((BLUE, -160),)                     # in a glass at its own size


# At the machine and the grinder

def portafilter(sheet: Sheet, spouts: bool = True, layers=()):
    """Basket, handle to the right, two spouts; origin in the middle of the rim."""
    vessel(sheet, "M -84 4 L -78 60 Q -75 80 -54 80 L 54 80 Q 75 80 78 60 L 84 4", layers, GREY, 18)
    sheet.line(GREY, 18, [(-104, 0), (-84, 0)], [(84, 0), (104, 0)], [(84, 28), (132, 34)])
    sheet.line(LIGHT, 38, [(150, 36), (240, 48)])
    if spouts:
        sheet.line(GREY, 18, "M -36 134 Q -36 106 0 106 Q 36 106 36 134", [(0, 84), (0, 106)])


FULL = ((COFFEE, 8),)


def portafilter_from_above(sheet: Sheet):
    """The same, the handle towards whoever looks; origin in the middle of the basket."""
    sheet.line(GREY, 24, [(0, 112), (0, 150)])
    sheet.line(LIGHT, 42, [(0, 172), (0, 250)])
    sheet.fill(COFFEE, disc(0, 0, 84))
    sheet.line(GREY, 22, disc(0, 0, 102))


def group(sheet: Sheet):
    """The group that a portafilter locks into; origin in the middle of its lower edge."""
    sheet.fill(GREY, box(-170, -118, 170, -92), soft=12)
    sheet.fill(LIGHT, "M -94 -60 L 94 -60 L 108 -14 L -108 -14 Z", soft=12)


def wand(sheet: Sheet, length: float = 300):
    """The steam wand, coming down from the right; origin at its tip."""
    pipe = [(0.42 * length, -length), (0, -6)]
    sheet.line(None, 30 + 2 * GAP, pipe)
    sheet.line(GREY, 22, pipe)
    sheet.line(GREY, 30, [(11, -32), (0, -6)])


def hopper(sheet: Sheet, beans: bool = True):
    """The grinder's hopper, and its spout; origin where the grounds come out."""
    with sheet.within("M -96 -150 L 96 -150 L 50 -66 L -50 -66 Z"):
        lie = (-62, -110), (-24, -118), (14, -108), (52, -116), (80, -118), (-40, -84), (-4, -84), (34, -82)
        sheet.fill(COFFEE, *(disc(x, y, 15, 0.8) for x, y in lie if beans))
    sheet.line(GREY, 16, "M -104 -150 L -50 -56 L 50 -56 L 104 -150")
    sheet.fill(LIGHT, "M -38 -30 L 38 -30 L 20 -10 L -20 -10 Z", soft=10)


def weighing_plate(sheet: Sheet):
    """A flat scale, its window empty; origin in the middle of its plate."""
    sheet.line(LIGHT, LINE, [(-140, 10), (140, 10)])
    sheet.fill(GREY, "M -134 44 L 134 44 L 146 112 L -146 112 Z", soft=12)
    sheet.fill(None, box(-70, 58, 70, 98), soft=8)


def burr(sheet: Sheet):
    """A burr's edge, teeth down; origin in the middle of the teeth's tips."""
    teeth = [(160 - 40 * k, -44 if k % 2 == 0 else -6) for k in range(9)]
    sheet.fill(GREY, [(-160, -96), (160, -96)] + teeth, soft=6)
