"""Every room through other eyes: `python -m tests.bench.eyes BEFORE AFTER FOLDER` (`python -m tests.bench.eyes` for the figure alone).

BEFORE and AFTER are folders that `tests.bench.screens` drew. Each room × size × language becomes one picture in FOLDER: before
over after, each as it is, blurred, and as three kinds of colour-blind eyes have it. Blurred is a Gaussian of half a minute of
arc at two metres, about what normal sight leaves of a panel as large as they are sold (a stroke of one minute is its limit;
from memory). The eyes are those of Machado, Oliveira and Fernandes (2009) at their full severity, as the library coloraide has
them.

Bar: the colours that tell a state (next, chosen, good, warn, live) stay at least 10 apart by CIEDE2000 for each kind of eye,
where 1 is just seen side by side and 10 at a glance (common practice). Shapes and words tell them too, and come first.
"""

import sys
import tempfile
from collections import Counter
from itertools import combinations
from pathlib import Path

import numpy
from coloraide import Color
from PIL import Image, ImageFilter

from kiosk import display
from tests.bench.bars import Bars
from tests.bench.glass import panel

EYES = {"protan": "red-blind", "deutan": "green-blind", "tritan": "blue-blind"}
APART = 10.0
DISTANCE_MM, ARC_MINUTE = 2000.0, 0.000290888       # radians
BLUR_MM = DISTANCE_MM * ARC_MINUTE / 2
WIDE = 480                                          # pixels of each picture in a row


def states() -> dict[str, list[float]]:
    """What the eye meets of each state: a chosen key is known by its ring, so what differs from the next one is its face."""
    from kiosk.screens.ui.look import Colour

    return {"next": Colour.next, "chosen": Colour.key, "good": Colour.good, "warn": Colour.warn, "live": Colour.text}


def seen_by(eye: str, colour: list[float]) -> Color:
    """`colour` as that kind of eye has it; "" for the usual one."""
    usual = Color("srgb", colour[:3])
    return usual.filter(eye, 1.0, method="machado", space="srgb-linear").convert("srgb").clip() if eye else usual


def nearest(eye: str) -> tuple[float, str, str]:
    """The two states that look most alike to that eye, and how far they are apart."""
    seen = {name: seen_by(eye, colour) for name, colour in states().items()}
    return min((seen[one].delta_e(seen[other], method="2000"), one, other) for one, other in combinations(seen, 2))


def matrix(eye: str) -> numpy.ndarray:
    """The library's filter, which is linear, as a matrix over linear RGB."""
    return numpy.array([Color("srgb-linear", unit).filter(eye, 1.0, method="machado", space="srgb-linear").coords()
                        for unit in numpy.eye(3).tolist()]).T


def through(picture: Image.Image, eye: numpy.ndarray) -> Image.Image:
    """The picture as that eye has it."""
    coded = numpy.asarray(picture, dtype=float) / 255
    linear = numpy.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4) @ eye.T
    linear = numpy.clip(linear, 0, 1)
    coded = numpy.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    return Image.fromarray((255 * coded + 0.5).astype("uint8"))


def row(picture: Image.Image) -> list[Image.Image]:
    """As it is, blurred, and through each kind of eye."""
    _inches, to_mm = panel(*picture.size)
    blurred = picture.filter(ImageFilter.GaussianBlur(BLUR_MM / to_mm))
    small = picture.resize((WIDE, round(WIDE * picture.height / picture.width)), Image.Resampling.LANCZOS)
    return [small, blurred.resize(small.size), *(through(small, matrix(eye)) for eye in EYES)]


def rooms(folder: Path, begins: str = "") -> dict[str, Path]:
    """The pictures, all or those whose names begin so, by size, groups, language and room; what stands between, their number on
    the walk, may change."""
    found, met = {}, Counter()
    for path in sorted(folder.glob(f"{begins}*.png")):
        size, groups, language, _number, *room = path.stem.split("-")
        name = "-".join((size, groups, language, *room))
        met[name] += 1
        found[f"{name}-{met[name]}" if met[name] > 1 else name] = path
    return found


def side_by_side(before: Path | None, after: Path, to: Path) -> None:
    rows = [row(Image.open(each).convert("RGB")) for each in (before, after) if each is not None]
    sheet = Image.new("RGB", (len(rows[0]) * (WIDE + 4), sum(each[0].height + 4 for each in rows)), "white")
    y = 0
    for pictures in rows:
        for n, picture in enumerate(pictures):
            sheet.paste(picture, (n * (WIDE + 4), y))
        y += pictures[0].height + 4
    sheet.save(to, quality=85)


def main(argv: list[str]) -> int:
    bars = Bars("The states, through other eyes")
    for eye, name in {"": "usual", **EYES}.items():
        apart, one, other = nearest(eye)
        bars.above(f"{name} eyes: CIEDE2000 between the two most alike, {one} and {other}", apart, APART)
    if len(argv) == 3:
        before, after, folder = map(Path, argv)
        folder.mkdir(parents=True, exist_ok=True)
        was, now = rooms(before), rooms(after)
        for name, path in now.items():
            side_by_side(was.get(name), path, folder / f"{name}.jpg")
        print(f"        {len(now)} rooms in {folder}, {len(now.keys() & was.keys())} of them beside what they were")
        bars.above("rooms drawn", len(now), 1)
    return bars.end()


if __name__ == "__main__":
    display.prepare(Path(tempfile.mkdtemp()), offscreen=True)
    sys.exit(main(sys.argv[1:]))
