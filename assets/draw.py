"""Draws every picture and makes every sound again: `python -m assets.draw [NAME ...]`.

One function a picture, named as its file. Somebody on her first day, in a language she is still learning, should know
from the picture alone what to do.
"""

import random
import sys

from . import PICTURES
from .brush import Sheet, arc, box, disc
from .things import (BLUE, COFFEE, ESPRESSO, FULL, GREY, LIGHT, LINE, ORANGE, VERMILLION, WATER, arrow, burr, clock, cross,
                     drop, finger, glass, group, hopper, mug, portafilter, portafilter_from_above, small_cup, sparkle,
                     tick, vessel, waves, weighing_plate, wide_cup)


# The steps of a pull

def warm(s: Sheet):
    waves(s, ORANGE, (150, 166), (240, 146), (330, 166), height=112, width=24)
    with s.at(240, 404, 1.7):
        small_cup(s, [(BLUE, -88, 0)])


def knock(s: Sheet):
    with s.at(180, 216, 1.1):
        sparkle(s, -96, -120, 40)
        sparkle(s, 84, -138, 28)
        s.line(GREY, 20, [(84, -28), (132, -34)])
        s.line(LIGHT, 38, [(150, -36), (240, -48)])
        s.line(GREY, 18, "M -36 -134 Q -36 -106 0 -106 Q 36 -106 36 -134", [(0, -90), (0, -106)])
        vessel(s, "M -84 -4 L -78 -60 Q -75 -80 -54 -80 L 54 -80 Q 75 -80 78 -60 L 84 -4", (), GREY, 18)
        s.line(GREY, 18, [(-104, 0), (-84, 0)], [(84, 0), (104, 0)])
        s.fill(COFFEE, box(-58, 42, 58, 80), soft=10)
    s.line(LIGHT, 22, "M 50 330 L 64 450 Q 68 476 94 476 L 266 476 Q 292 476 296 450 L 310 330")
    arrow(s, [(180, 340), (180, 404)])
    s.fill(LIGHT, "M 370 250 L 480 250 L 480 440 Q 450 420 425 440 Q 400 460 370 440 Z", soft=10)
    s.line(None, 12, [(350, 380), (500, 380)], [(350, 408), (500, 400)])


def dose(s: Sheet):
    with s.at(170, 162, 0.95):
        hopper(s)
    chance = random.Random(4)
    s.fill(COFFEE, *(disc(170 + chance.uniform(-16, 16), 176 + 13 * k, 8) for k in range(5)))
    with s.at(170, 274):
        with s.within("M -78 90 L -78 -80 L 78 -80 L 78 90 Z"):
            s.fill(COFFEE, "M -78 30 Q -40 20 0 -32 Q 40 20 78 30 L 78 80 L -78 80 Z")
        portafilter(s, spouts=False)
    with s.at(186, 372):
        weighing_plate(s)
        tick(s, 0, 76, 18, ORANGE, 14)


def level(s: Sheet):
    with s.at(160, 330, 1.25):
        s.fill(COFFEE, "M 20 4 C 24 -40 60 -44 78 4 Z")
        portafilter(s, layers=[(COFFEE, 0, 80)])
    with s.at(150, 318, 0.9, -40):
        finger(s)
    arrow(s, [(330, 240), (440, 240)])


def tamp(s: Sheet):
    with s.at(180, 300, 1.25):
        portafilter(s, layers=[(COFFEE, 42, 80)])
        s.fill(LIGHT, box(-58, 12, 58, 30), soft=6)
        s.fill(LIGHT, box(-12, -80, 12, 20), soft=2)
        s.fill(LIGHT, "M -40 -170 Q 0 -206 40 -170 L 26 -92 L -26 -92 Z", soft=14)
    arrow(s, [(72, 120), (72, 220)])
    arrow(s, [(288, 120), (288, 220)])
    s.line(GREY, 24, [(40, 488), (472, 488)])


def rim(s: Sheet):
    with s.at(230, 230):
        portafilter_from_above(s)
    s.fill(COFFEE, disc(395, 190, 9), disc(420, 230, 12), disc(390, 262, 8))
    arrow(s, arc(230, 230, 156, 250, 390))
    with s.at(310, 160, 0.8, 30):
        finger(s)


def purge(s: Sheet):
    with s.at(200, 158, 1.05):
        group(s)
    s.line(BLUE, 18, *([(x, 184), (x, 392 + 12 * (x % 4 == 0))] for x in (120, 160, 200, 240, 280)))
    s.line(GREY, 24, [(60, 460), (340, 460)])
    clock(s, 424, 290, 62, 0.14, 24)


def lock(s: Sheet):
    with s.at(190, 146, 1.1):
        group(s)
    with s.at(190, 236, 1.15):
        portafilter(s, layers=FULL)
    arrow(s, arc(190, 420, 150, 110, 270, 0.4))


def pull(s: Sheet):
    clock(s, 256, 256, 228, 0.8, 26)
    with s.at(214, 128, 0.78):
        portafilter(s, layers=FULL)
    s.line(ORANGE, 14, [(186, 244), (186, 340)], [(242, 244), (242, 340)])
    with s.at(214, 420, 1.05):
        small_cup(s, ESPRESSO, saucer=False)


def judge(s: Sheet):
    with s.at(120, 330, 1.05):
        small_cup(s, ESPRESSO, saucer=False)
    with s.at(370, 330, 1.05):
        small_cup(s, [(GREY, -78, -70), (COFFEE, -70, 0)], saucer=False)
    s.line(ORANGE, 18, [(120, 40), (120, 220)])
    waves(s, LIGHT, (370, 220), height=180, width=14, sway=60)
    tick(s, 120, 420, 50)
    cross(s, 370, 420, 40)


def serve(s: Sheet):
    with s.at(162, 382, 1.15):
        small_cup(s, ESPRESSO)
    with s.at(410, 428, 1.15):
        glass(s, WATER)
    s.line(LIGHT, 20, [(30, 458), (482, 458)])


# Cups, and what goes in them

def cup_espresso(s: Sheet):
    with s.at(240, 360, 1.6):
        small_cup(s, ESPRESSO)


def cup_cappuccino(s: Sheet):
    with s.at(244, 390, 1.3):
        s.fill(LIGHT, "M -110 -150 C -80 -196 80 -196 110 -150 Z")
        wide_cup(s, [(LIGHT, -150, -112), (ORANGE, -112, -96), (COFFEE, -96, 0)])


def cup_latte_glass(s: Sheet):
    with s.at(256, 484):
        glass(s, [(LIGHT, -380, -310), (COFFEE, -310, -210), (LIGHT, -210, 0)], 440, 120, 88, 18)


def cup_americano(s: Sheet):
    with s.at(220, 456, 1.65):
        mug(s, [(ORANGE, -186, -178), (COFFEE, -178, 0)])


def glass_water(s: Sheet):
    with s.at(256, 456):
        glass(s, [(BLUE, -300, 0)], 380, 130, 100, 18)


def milk_jug(s: Sheet):
    with s.at(240, 470):
        vessel(s, "M -150 -390 C -96 -350 -94 -300 -112 -240 C -136 -160 -146 -80 -138 -12 "
               "L 138 -12 C 146 -80 136 -160 112 -240 C 98 -290 98 -340 104 -384", [(LIGHT, -220, 0)], GREY, 24)
        s.line(GREY, 24, "M 112 -340 C 230 -350 230 -120 146 -110")


def hot_water(s: Sheet):
    s.line(GREY, 26, "M 60 40 L 160 40 Q 216 40 216 96 L 216 110")
    s.line(BLUE, 22, [(216, 146), (216, 330)])
    with s.at(216, 486, 1.2):
        mug(s, [(BLUE, -130, 0)])
    waves(s, ORANGE, (316, 190), (386, 190), height=112, width=22)


# Cautions

def _triangle(s: Sheet):
    s.fill(VERMILLION, [(256, 66), (462, 426), (50, 426)], soft=36)


def caution_hot(s: Sheet):
    _triangle(s)
    waves(s, None, (186, 350), (256, 336), (326, 350), height=136, width=24)
    s.line(None, 26, [(130, 400), (382, 400)])


def caution_steam(s: Sheet):
    _triangle(s)
    s.line(None, 30, [(256, 150), (256, 220)])
    for turn in (-28, 0, 28):
        with s.at(256, 240, 1, turn):
            waves(s, None, (0, 180), height=150, width=22)


def caution_burrs(s: Sheet):
    _triangle(s)
    with s.at(256, 380, 0.8, 180):
        s.fill(None, [(-160, -96), (160, -96)] + [(160 - 40 * k, -44 if k % 2 == 0 else -6) for k in range(9)])
    with s.at(230, 350, 0.8):
        finger(s, None)


def caution_mains(s: Sheet):
    _triangle(s)
    s.fill(None, [(284, 150), (186, 316), (246, 316), (226, 430), (332, 264), (268, 264), (310, 150)], soft=6)


# The grinder's notches, and tools

def _burrs(s: Sheet, apart: float):
    with s.at(196, 256 - apart / 2):
        burr(s)
    with s.at(196, 256 + apart / 2, turn=180):
        burr(s)


def finer(s: Sheet):
    _burrs(s, 44)
    s.fill(COFFEE, *(disc(50 + 42 * k, 256, 9) for k in range(8)))
    arrow(s, [(436, 90), (436, 196)])
    arrow(s, [(436, 422), (436, 316)])


def coarser(s: Sheet):
    _burrs(s, 160)
    s.fill(COFFEE, *(disc(76 + 80 * k, 256 + (-1) ** k * 16, 32) for k in range(4)))
    arrow(s, [(436, 222), (436, 96)])
    arrow(s, [(436, 290), (436, 416)])


def scale(s: Sheet):
    with s.at(256, 170, 1.55):
        weighing_plate(s)
        s.line(ORANGE, 9, box(-40, 66, -24, 90), box(16, 66, 32, 90), closed=True)
        s.fill(ORANGE, disc(-4, 90, 6))


def sink(s: Sheet):
    with s.at(330, 120, 1.1, -115):
        small_cup(s, saucer=False)
    s.fill(COFFEE, "M 170 190 Q 190 180 200 200 L 206 400 L 176 400 Z")
    s.line(GREY, 24, "M 40 330 L 60 330 L 76 440 Q 80 460 100 460 L 400 460 Q 420 460 424 440 L 440 330 L 470 330")


# The mark

def evenpull(s: Sheet):
    s.line(LIGHT, 40, [(126, 60), (126, 452)], [(386, 60), (386, 452)])
    s.line(ORANGE, 56, [(256, 68), (256, 250)])
    drop(s, ORANGE, 256, 420, 52)


NAMES = ("warm", "knock", "dose", "level", "tamp", "rim", "purge", "lock", "pull", "judge", "serve",
         "cup_espresso", "cup_cappuccino", "cup_latte_glass", "cup_americano", "glass_water", "milk_jug", "hot_water",
         "caution_hot", "caution_steam", "caution_burrs", "caution_mains",
         "finer", "coarser", "scale", "sink", "evenpull")


def picture(name: str) -> Sheet:
    sheet = Sheet()
    globals()[name](sheet)
    return sheet


def main(names: list[str]):
    for name in names or NAMES:
        picture(name).save(PICTURES / f"{name}.png")


if __name__ == "__main__":
    main(sys.argv[1:])
