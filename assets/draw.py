"""Draws the pictures named, or all of them and the sounds too: `python -m assets.draw [NAME ...]`.

One function a picture, named as its file. Somebody on her first day, in a language she is still learning, should know
from the picture alone what to do.
"""

import sys

from . import PICTURES, tones
from .brush import Sheet, arc, box, disc
from .things import (
    BLUE,
    COFFEE,
    ESPRESSO,
    FULL,
    GREY,
    LIGHT,
    ORANGE,
    VERMILLION,
    WATER,
    arrow,
    burr,
    clock,
    cloth,
    cross,
    drop,
    finger,
    glass,
    group,
    hopper,
    jug,
    mug,
    portafilter,
    portafilter_from_above,
    small_cup,
    sparkle,
    thermometer,
    tick,
    vessel,
    wand,
    waves,
    weighing_plate,
    wide_cup,
)

# The steps of a pull

def warm(s: Sheet):
    waves(s, ORANGE, (150, 166), (240, 146), (330, 166), height=112, width=24)
    with s.at(240, 404, 1.7):
        small_cup(s, [(BLUE, -88)])


def knock(s: Sheet):
    sparkle(s, 222, 76, 42)
    sparkle(s, 424, 70, 32)
    with s.at(326, 208, 1.1, 180):
        portafilter(s)
        s.fill(COFFEE, box(-58, -76, 58, -36), soft=10)
    s.line(LIGHT, 22, "M 196 330 L 208 450 Q 212 476 238 476 L 414 476 Q 440 476 444 450 L 456 330")
    arrow(s, [(326, 326), (326, 400)])
    s.line(GREY, 18, [(22, 270), (156, 270)])
    s.fill(LIGHT, box(48, 270, 130, 470), soft=12)
    s.fill(GREY, box(36, 396, 142, 410), box(36, 424, 142, 438))


def dose(s: Sheet):
    with s.at(196, 162, 0.95):
        hopper(s)
    s.fill(COFFEE, *(disc(x, 174 + 15 * k, 8) for k, x in enumerate((199, 189, 203, 191, 197))))
    with s.at(196, 274):
        s.fill(COFFEE, "M -62 12 Q -30 8 0 -32 Q 30 8 62 12 Z")
        portafilter(s, False, FULL)
    with s.at(212, 372):
        weighing_plate(s)
        tick(s, 0, 76, 18, ORANGE, 14)


def level(s: Sheet):
    with s.at(180, 326, 1.2):
        s.fill(COFFEE, "M 4 10 C 16 -58 50 -62 64 6 L 60 20 Z")
        portafilter(s, layers=[(COFFEE, 0)])
    with s.at(172, 312, 0.82, -36):
        finger(s)
    arrow(s, [(330, 236), (440, 236)])


def tamp(s: Sheet):
    with s.at(180, 292, 1.25):
        portafilter(s, layers=[(COFFEE, 42)])
        s.fill(LIGHT, box(-58, 12, 58, 28), soft=7)
        s.fill(LIGHT, box(-2, -94, 2, 20), "M -38 -156 C -38 -200 38 -200 38 -156 L 24 -94 L -24 -94 Z", soft=12)
    arrow(s, [(66, 130), (66, 230)])
    arrow(s, [(294, 130), (294, 230)])
    arrow(s, arc(180, 74, 84, 296, 64, 0.36), width=16, head=22)      # the turn at the end
    s.line(GREY, 24, [(36, 486), (476, 486)])


def rim(s: Sheet):
    with s.at(206, 236):
        portafilter_from_above(s)
    s.fill(COFFEE, disc(352, 216, 9), disc(376, 252, 12), disc(344, 280, 8))
    arrow(s, arc(206, 236, 152, 250, 384))
    with s.at(292, 172, 0.66, 34):
        finger(s)


def purge(s: Sheet):
    with s.at(200, 158, 1.05):
        group(s)
    s.line(BLUE, 18, *([(x, 184), (x, 392 + 12 * (x % 4 == 0))] for x in (120, 160, 200, 240, 280)))
    s.line(GREY, 24, [(60, 460), (340, 460)])
    clock(s, 424, 290, 62, 0.14, 24)


def lock(s: Sheet):
    with s.at(230, 142, 1.05):
        group(s)
    with s.at(230, 230, 1.05):
        portafilter(s, layers=FULL)
    arrow(s, [(56, 316), (56, 224)])
    arrow(s, arc(230, 408, 160, 262, 92, 0.4))


def pull(s: Sheet):
    clock(s, 256, 256, 228, 0.8, 26)
    with s.at(214, 128, 0.78):
        portafilter(s, layers=FULL)
    s.line(ORANGE, 14, [(186, 244), (186, 336)], [(242, 244), (242, 336)])
    with s.at(214, 420, 1.05):
        small_cup(s, ESPRESSO, saucer=False)


def pull_two(s: Sheet):
    clock(s, 256, 256, 228, 0.8, 26)
    with s.at(236, 116, 0.82):
        portafilter(s, layers=FULL)
    for spout, cup in ((206, 144), (266, 304)):
        s.line(ORANGE, 14, [(spout, 238), (cup + (8 if cup < spout else -8), 340)])
        with s.at(cup, 404, 0.66):
            small_cup(s, ESPRESSO, saucer=False)


def chokes(s: Sheet):
    with s.at(200, 108, 1.05):
        portafilter(s, layers=FULL)
    with s.at(214, 440, 1.2):
        small_cup(s, saucer=False)
    cross(s, 420, 300, 52)


def no_cup(s: Sheet):
    with s.at(170, 110, 1.05):
        portafilter(s, layers=FULL)
    with s.at(366, 440):
        small_cup(s, saucer=False)
    arrow(s, [(250, 388), (130, 388)])


def gushes(s: Sheet):
    with s.at(214, 100, 0.9):
        portafilter(s, layers=FULL)
    s.line(ORANGE, 34, [(180, 236), (180, 330)], [(248, 236), (248, 330)])
    with s.at(214, 440, 1.2):
        small_cup(s, [(ORANGE, -112), (COFFEE, -96)], saucer=False)
    s.fill(COFFEE, disc(88, 330, 12), disc(66, 372, 9), disc(346, 322, 10))
    cross(s, 430, 250, 48)


def vents(s: Sheet):
    with s.at(190, 140):
        group(s)
    with s.at(190, 150):
        portafilter(s, layers=FULL)
    waves(s, BLUE, (130, 430), (190, 446), (250, 430), height=112, width=22)
    clock(s, 420, 330, 66, 0.6, 24)


def serve_wide(s: Sheet):
    with s.at(162, 342, 0.82):
        wide_cup(s, [(ORANGE, -84), (COFFEE, -70)])
    with s.at(426, 376, 0.94):
        glass(s, WATER)
    s.line(LIGHT, 22, [(26, 410), (486, 410)])


def judge(s: Sheet):
    with s.at(112, 322):
        small_cup(s, ESPRESSO, saucer=False)
    with s.at(364, 322):
        small_cup(s, [(GREY, -78), (COFFEE, -70)], saucer=False)
    s.line(ORANGE, 20, [(112, 40), (112, 214)])
    waves(s, LIGHT, (364, 214), height=174, width=14, sway=60)
    tick(s, 112, 418, 50)
    cross(s, 364, 418, 40)


def serve(s: Sheet):
    with s.at(158, 336, 1.08):
        small_cup(s, ESPRESSO)
    with s.at(410, 374, 1.08):
        glass(s, WATER)
    s.line(LIGHT, 22, [(26, 410), (486, 410)])


# Cups, and what goes in them

def cup_espresso(s: Sheet):
    with s.at(236, 336, 1.6):
        small_cup(s, ESPRESSO)


def cup_cappuccino(s: Sheet):
    with s.at(244, 366, 1.3):
        s.fill(LIGHT, "M -120 -150 C -84 -202 84 -202 120 -150 Z")
        wide_cup(s, [(LIGHT, -151), (ORANGE, -112), (COFFEE, -96)])


def cup_latte_glass(s: Sheet):
    with s.at(256, 484):
        glass(s, [(LIGHT, -380), (COFFEE, -310), (LIGHT, -210)], 440, 120, 88, 18)


def cup_americano(s: Sheet):
    with s.at(222, 440, 1.55):
        mug(s, [(ORANGE, -186), (COFFEE, -176)])


def cup_takeaway(s: Sheet):
    with s.at(250, 470):
        vessel(s, "M -110 -330 L -82 -20 Q -80 -8 -66 -8 L 66 -8 Q 80 -8 82 -20 L 110 -330", [(ORANGE, -262), (COFFEE, -248)])
        s.fill(GREY, box(-124, -366, 124, -338), box(-98, -404, 98, -366), soft=8)


def glass_water(s: Sheet):
    with s.at(256, 456):
        glass(s, [(BLUE, -300)], 380, 130, 100, 18)


def milk_jug(s: Sheet):
    with s.at(240, 462):
        jug(s, [(LIGHT, -250)])


def hot_water(s: Sheet):
    s.line(GREY, 26, "M 60 40 L 160 40 Q 216 40 216 96 L 216 110")
    s.line(BLUE, 22, [(216, 146), (216, 330)])
    with s.at(216, 486, 1.2):
        mug(s, [(BLUE, -130)])
    waves(s, ORANGE, (316, 190), (386, 190), height=112, width=22)


# The milk

def milk_purge(s: Sheet):
    with s.at(180, 232):
        wand(s, 200)
    s.line(BLUE, 18, [(180, 262), (180, 400)], [(162, 260), (106, 400)], [(198, 260), (254, 400)])
    s.line(GREY, 24, [(40, 460), (330, 460)])
    clock(s, 420, 300, 62, 0.14, 24)


def _steamed(s: Sheet, milk: float, tip: float):
    """The jug with milk up to there, the wand's tip `tip` under its rim."""
    with s.at(250, 490):
        jug(s, [(LIGHT, milk)])
        with s.at(-20, tip):
            wand(s, tip + 470)


def milk_stretch(s: Sheet):
    _steamed(s, -200, -182)
    s.fill(None, *(disc(x, y, r) for x, y, r in ((186, 316, 13), (290, 314, 12), (318, 334, 9), (160, 342, 9), (256, 348, 10),
                                                 (206, 352, 8))))
    arrow(s, [(56, 350), (56, 236)])


def milk_spin(s: Sheet):
    _steamed(s, -270, -110)
    arrow(s, arc(246, 400, 84, 300, 70, 0.4), width=18, head=26)


def milk_stop(s: Sheet):
    waves(s, ORANGE, (110, 150), (190, 132), height=108, width=22)
    with s.at(160, 490, 0.78):
        jug(s, [(LIGHT, -270)])
    s.line(GREY, 18, [(350, 150), (384, 150)], [(350, 220), (384, 220)])
    with s.at(436, 420):
        thermometer(s, -350, -234)


def milk_wipe(s: Sheet):
    with s.at(190, 474):
        wand(s, 440)
    with s.at(266, 270, turn=22):
        cloth(s)
    arrow(s, [(130, 210), (68, 360)])
    sparkle(s, 300, 440, 44)


def milk_pour(s: Sheet):
    with s.at(434, 248, 0.62, -50):
        jug(s, [(LIGHT, -128)], -50)
    s.line(LIGHT, 24, [(186, 196), (186, 350)])
    with s.at(194, 456):
        wide_cup(s, [(LIGHT, -120), (ORANGE, -98), (COFFEE, -84)])


# Opening and closing

def water_filter(s: Sheet):
    s.line(GREY, 24, "M 30 96 L 96 96 Q 150 96 150 140", "M 330 140 Q 330 96 384 96 L 482 96")
    s.line(GREY, 20, [(434, 96), (434, 52)])
    s.line(ORANGE, 26, [(388, 44), (480, 44)])
    s.fill(GREY, box(118, 152, 362, 190), soft=14)
    s.fill(LIGHT, box(140, 214, 340, 440), soft=30)
    drop(s, BLUE, 240, 346, 46)


def machine_heat(s: Sheet):
    with s.at(194, 190):
        group(s)
    waves(s, ORANGE, (110, 350), (184, 330), (258, 350), height=112, width=24)
    with s.at(428, 400):
        thermometer(s, -320, -216)


def pump_pressure(s: Sheet):
    s.line(GREY, 26, disc(256, 256, 200))
    s.line(ORANGE, 34, arc(256, 256, 146, 18, 66))
    s.line(LIGHT, 12, *([(256 + 166 * x, 256 - 166 * y), (256 + 132 * x, 256 - 132 * y)]
                        for x, y in ((-0.87, -0.5), (-1, 0), (-0.87, 0.5), (-0.5, 0.87), (0, 1), (1, 0), (0.87, -0.5))))
    s.line(LIGHT, 22, [(256, 256), (336, 144)])
    s.fill(LIGHT, disc(256, 256, 26))


def milk_fridge(s: Sheet):
    s.line(LIGHT, 26, box(50, 40, 326, 472), closed=True)
    s.line(LIGHT, 18, [(50, 180), (326, 180)])
    s.line(GREY, 22, [(284, 92), (284, 136)], [(284, 228), (284, 300)])
    s.line(BLUE, 14, *([(150 - 46 * x, 334 - 46 * y), (150 + 46 * x, 334 + 46 * y)] for x, y in ((1, 0), (0.5, 0.87), (0.5, -0.87))))
    with s.at(428, 410):
        thermometer(s, -330, -90)


def backflush(s: Sheet):
    with s.at(222, 150, 1.05):
        group(s)
    with s.at(222, 236, 1.05):
        portafilter(s, False)
    s.fill(GREY, box(146, 284, 298, 304), soft=8)       # the basket without holes
    s.line(BLUE, 20, [(196, 168), (196, 266)])
    arrow(s, [(250, 262), (250, 176)], BLUE, 20, 26)
    s.line(BLUE, 18, [(66, 150), (66, 372)], [(30, 386), (52, 400)], [(102, 386), (80, 400)])
    s.line(GREY, 24, [(40, 460), (420, 460)])


def shower_screen(s: Sheet):
    s.line(LIGHT, 24, disc(222, 220, 176))
    s.fill(GREY, *(disc(222 + 58 * x + 29 * (y % 2), 220 + 50 * y, 13) for y in range(-2, 3) for x in range(-2, 3 - y % 2)
                   if abs(58 * x + 29 * (y % 2)) + abs(50 * y) < 200))
    with s.at(352, 366, turn=-18):
        cloth(s)
    sparkle(s, 438, 92, 50)


def clean_hopper(s: Sheet):
    with s.at(196, 348, 1.5):
        hopper(s, beans=False)
    with s.at(206, 128, 0.84, 16):
        cloth(s)
    sparkle(s, 386, 86, 46)
    s.line(GREY, 20, "M 262 470 Q 330 500 360 440 L 372 416")      # its plug, drawn
    with s.at(386, 388, turn=26):
        s.fill(GREY, box(-40, -20, 40, 26), soft=12)
        s.line(ORANGE, 18, [(-20, -34), (-20, -66)], [(20, -34), (20, -66)])


# Cautions

def _triangle(s: Sheet):
    s.fill(VERMILLION, [(256, 66), (462, 426), (50, 426)], soft=36)


def caution_hot(s: Sheet):
    _triangle(s)
    waves(s, None, (186, 350), (256, 336), (326, 350), height=136, width=24)
    s.line(None, 26, [(130, 400), (382, 400)])


def caution_steam(s: Sheet):
    _triangle(s)
    s.fill(None, "M 240 130 L 272 130 L 272 176 L 264 208 L 248 208 L 240 176 Z", soft=4)
    s.line(None, 16, [(256, 236), (256, 290)], [(232, 236), (206, 290)], [(280, 236), (306, 290)])
    s.fill(None, disc(150, 376, 34), disc(202, 348, 40), disc(262, 344, 46), disc(320, 354, 38), disc(364, 378, 32),
           box(150, 370, 364, 410))


def caution_burrs(s: Sheet):
    _triangle(s)
    with s.at(256, 352, 0.86, 180):
        s.fill(None, [(-160, -70), (160, -70)] + [(160 - 40 * k, -44 if k % 2 == 0 else -6) for k in range(9)])
    with s.at(236, 346, 0.62):
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
    with s.at(324, 208, 1.3, -40):
        small_cup(s, [(ORANGE, -36), (COFFEE, -16)], False, -40)
    s.line(COFFEE, 24, [(114, 176), (114, 396)])
    s.line(GREY, 24, "M 40 330 L 60 330 L 76 420 Q 80 440 100 440 L 400 440 Q 420 440 424 420 L 440 330 L 460 330",
           [(250, 440), (250, 490)])


# The mark

def evenpull(s: Sheet):
    s.line(LIGHT, 38, [(56, 96), (456, 96)], [(56, 416), (456, 416)])
    for x in (108, 256, 404):
        drop(s, ORANGE, x, 285, 52)


NAMES = ("warm", "knock", "dose", "level", "tamp", "rim", "purge", "lock", "pull", "judge", "serve",
         "pull_two", "no_cup", "chokes", "gushes", "vents", "serve_wide", "cup_takeaway",
         "cup_espresso", "cup_cappuccino", "cup_latte_glass", "cup_americano", "glass_water", "milk_jug", "hot_water",
         "milk_purge", "milk_stretch", "milk_spin", "milk_stop", "milk_wipe", "milk_pour",
         "water_filter", "machine_heat", "pump_pressure", "milk_fridge", "backflush", "shower_screen", "clean_hopper",
         "caution_hot", "caution_steam", "caution_burrs", "caution_mains",
         "finer", "coarser", "scale", "sink", "evenpull")


def picture(name: str) -> Sheet:
    """The sheet with that picture on it, one of NAMES."""
    sheet = Sheet()
    globals()[name](sheet)
    return sheet


def main(names: list[str]):
    for name in names or NAMES:
        picture(name).save(PICTURES / f"{name}.png")
    if not names:
        tones.main()


if __name__ == "__main__":
    main(sys.argv[1:])
