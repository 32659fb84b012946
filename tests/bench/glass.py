"""What can be read on the glass, in millimetres: `python -m tests.bench.glass [WxH …]` (800x480 and 1280x800 unless told).

A dose and a pull on the real screens with a scale, and what stands on the panel at each moment: the height of the capitals of
the live figures, of warnings and of the stop, on a 7-inch panel of that many pixels; the contrast of every text on what is
really behind it; and how near the panel's edge text comes. Bars: ISO 9241-303 (character heights, from memory: 16 to 22
minutes of arc are comfortable, 9.3 to 12.8 mm at two metres; 5 are the limit, 2.9 mm) and W3C WCAG 2.2, 1.4.3 and 1.4.6.
"""

import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from tests.bench.bars import Bars

CAPITALS = 0.711            # of Roboto's size
SIZES = ((800, 480), (1280, 800))
INCH_MM, PANEL_INCHES = 25.4, 7
EDGE_U = 5                  # nothing is written nearer to the panel's edge


def luminance(colour) -> float:
    """Relative luminance, W3C WCAG 2.2 (definition)."""
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in colour[:3])
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one, other) -> float:
    """Contrast ratio, W3C WCAG 2.2, 1.4.3."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def moments(work) -> Iterator[str]:
    """A dose too small, too large and right; a pull, its stop, its judgement; a wait that is too long."""
    from kiosk.bar.guide import guide as guides
    from kiosk.bar.model import Step

    service, lane = work.service, work.service.lanes[1]
    service.take_order(((service.setup.menu[1], 2),))

    def at(name: str, frames: int = 0) -> str:
        work.frames(frames)
        work._drawn_until = work._frames + 6
        work.frames(6)
        return name

    service.tap(1, guides.Forward)
    work.scale.put_on(512.0)
    work.frames(60)
    work.scale.put_on(14.2)
    yield at("dose under", 60)
    work.scale.put_on(3.6)
    yield at("dose over", 60)
    work.scale.put_on(-1.8)
    work.frames(60)
    work.scale.lift_all()
    work.frames(40)
    while lane.work.guide.step is not Step.PULL:
        service.tap(1, guides.Forward)
    yield at("waiting", 180)
    work.scale.put_on(94.0)
    work.frames(30)
    work.bar.dose(16.0)
    work.bar.begin_pull()
    service.tap(1, guides.Forward)
    yield at("pulling", 240)
    work.until(lambda: lane.work.cue_at_s is not None, 60)
    yield at("stop")
    work.bar.stop_pump(25.0)
    yield at("judged", 120)


def read(width: int, height: int) -> Bars:
    """One size, in a process of its own."""
    from kiosk.screens.ui.look import look
    from kiosk.screens.ui.text import Words
    from tests.support import tour
    from tests.support.at_work import AtWork

    bars = Bars(f"{width} × {height}, 7 inches")
    to_mm = PANEL_INCHES * INCH_MM / (width ** 2 + height ** 2) ** 0.5
    seen: dict[str, list[float]] = {"live": [], "warning": [], "stop": []}
    least = {"live": 99.0, "else": 99.0}
    edge = 99.0
    with AtWork(Path(tempfile.mkdtemp()), size=(width, height), settings={"groups": 2}) as work:
        for name in moments(work):
            root, card = work.kiosk.root, work.kiosk.root.room("station").card(1)
            wanted = {card.big: "live", card.second: "live", card.warning: "warning", card.stop_word: "stop"}
            for words in root.walk(restrict=True):
                if not isinstance(words, Words) or not words.placed or not tour.shown(words):
                    continue
                kind = wanted.get(words.text, "") if words.parent is not None and card in tuple(_above(words)) else ""
                if kind and (kind != "live" or name != "waiting"):
                    seen[kind].append(CAPITALS * words.fitted.font_size * to_mm)
                least_of = "live" if kind == "live" else "else"
                ratio = contrast(words.color, tour.behind(words))
                if ratio < (7 if kind == "live" else 4.5):
                    print(f"  {name}: {words.text[:40]!r} has {ratio:.2f}:1")
                least[least_of] = min(least[least_of], ratio)
                left, low, right, high = words.bounds
                edge = min(edge, left / look.u, (width - right) / look.u)
    bars.above("seconds, grams, what to add or take out: capitals, mm", min(seen["live"]), 9.0)
    bars.above("warnings: capitals, mm", min(seen["warning"]), 4.0)
    bars.above("the stop: capitals, mm", min(seen["stop"]), 4.0)
    bars.above("least contrast of a live figure", least["live"], 7.0)
    bars.above("least contrast of any other text", least["else"], 4.5)
    bars.above("text to the panel's side, u", edge, EDGE_U)
    return bars


def _above(widget) -> Iterator:
    while widget is not None and widget.parent is not widget:
        yield widget
        widget = widget.parent


if __name__ == "__main__":
    if sys.argv[1:2] == ["--one"]:
        from kiosk import display

        across, down = map(int, sys.argv[2].split("x"))
        display.prepare(Path(tempfile.mkdtemp()), size=(across, down), offscreen=True)
        sys.exit(read(across, down).end())
    sizes = sys.argv[1:] or [f"{across}x{down}" for across, down in SIZES]
    sys.exit(max(subprocess.run([sys.executable, "-m", "tests.bench.glass", "--one", size]).returncode for size in sizes))
