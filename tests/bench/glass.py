"""What can be read on the glass, in millimetres: `python -m tests.bench.glass [WxH …]` (the sizes below unless told).

A dose and a pull on the real screens with a scale, at machines of two, three and four groups and on the page of a new hire, and
what stands on the panel at each moment: the height of the capitals of the live figures, of warnings and of the stop; then a walk through every room: the capitals of each size of type as they come
out, the contrast of every text, and of every line that means something, on what is really behind it, how near the panel's edge
text comes, what stands off the grid, and how large each key is.
Millimetres are those of a panel with so many pixels as they are sold: 7 inches of 800 × 480, 10.1 of 1280 × 800. Bars: ISO
9241-303 (character heights, from memory: 16 to 22 minutes of arc are comfortable, 9.3 to 12.8 mm at two metres; 5 are the
limit, 2.9 mm) and W3C WCAG 2.2, 1.4.3, 1.4.6 and 1.4.11.
"""

import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from tests.bench.bars import Bars

CAPITALS = 0.711            # of Roboto's size
SIZES = ((800, 480), (1024, 600), (1280, 800), (1920, 1080), (800, 1280))
GROUPS = (2, 3, 4)
INCH_MM = 25.4
EDGE_U = 5                  # nothing is written nearer to the panel's edge
TOUCH_MM, LETTER_MM = 15, 12
LEAST_MM = {"live": 9.0, "warning": 4.0, "stop": 4.0, "at the group": 2.0}      # of capitals; the last from arm's length (0.7 m)
LINE = 3.0                  # W3C WCAG 2.2, 1.4.11


def luminance(colour) -> float:
    """Relative luminance, W3C WCAG 2.2 (definition)."""
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in colour[:3])
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one, other) -> float:
    """Contrast ratio, W3C WCAG 2.2, 1.4.3."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def moments(work) -> Iterator[str]:
    """A dose too small, too large and right; a pull, its stop, its judgement; a wait that is too long; a pull that chokes."""
    from kiosk.bar.guide import guide as guides
    from kiosk.bar.model import Step

    service, lane = work.service, work.service.lanes[1]
    service.orders.take(((service.setup.menu[1], 2),))

    def at(name: str, frames: int = 0) -> str:
        work.frames(frames)
        work._drawn_until = work._frames + 6
        work.frames(6)
        return name

    while lane.work.guide.step is not Step.DOSE:
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
    service.tap(1, guides.Forward)
    work.scale.lift_all()
    work.frames(40)
    service.orders.take(((service.setup.menu[1], 1),))
    while lane.work is None or lane.work.guide.step is not Step.PULL:
        service.tap(1, guides.Forward)
        work.frames(3)
    work.scale.put_on(94.0)
    work.frames(60)
    service.tap(1, guides.Forward)
    work.until(lambda: service.lanes.trouble(1) is not None, 60)
    yield at("choked")
    service.tap(1, guides.Forward)
    yield at("choked and stopped", 40)


def panel(width: int, height: int) -> tuple[float, float]:
    """Inches from corner to corner of a panel of so many pixels, and millimetres of a pixel."""
    from kiosk.screens.ui.look import USUAL_INCHES

    short, long = sorted((width, height))
    inches = USUAL_INCHES[short, long]
    return inches, inches * INCH_MM / (short ** 2 + long ** 2) ** 0.5


def told(root) -> tuple:
    """Where the pull of the first group is told, and which of the words there are what."""
    from kiosk.screens.hire.coach import CoachScreen

    if isinstance(root.open, CoachScreen):
        page = root.open
        wrong = page.service.lanes.trouble(1) is not None
        return page, {} if page.group != 1 else {
            page.big_shown: "live", page.second: "live", page.told if page.warned else "": "warning",
            page.what: "warning" if wrong else "stop" if page.stop_now else ""}
    card = root.room("station").card(1)
    return card, {card.big_shown: "live", card.second_shown: "live", card.warning: "warning", card.stop_word: "stop"}


def read(width: int, height: int, groups: int = 2, hire: bool = False) -> Bars:
    """One size, in a process of its own."""
    from kiosk.bar.guide.trouble import VENT
    from kiosk.screens.ui.look import look
    from kiosk.screens.ui.text import Words
    from tests.support import tour
    from tests.support.at_work import AtWork

    inches, to_mm = panel(width, height)
    by = ", a new hire's page" if hire else ""
    bars = Bars(f"{width} × {height}, {inches:g} inches, {groups} groups{by}: a dose and a pull")
    seen: dict[str, list[float]] = {"live": [], "warning": [], "stop": [], "at the group": []}
    least = {"live": 99.0, "else": 99.0}
    edge = drawn = 99.0
    with AtWork(Path(tempfile.mkdtemp()), size=(width, height), settings=tour.SETTINGS | {"groups": groups}) as work:
        work.service.choose("Tomo" if hire else "Ines")
        for name in moments(work):
            root = work.kiosk.root
            place, wanted = told(root)
            for what, colour, behind in tour.lines(root):
                if contrast(colour, behind) < LINE:
                    print(f"  {name}: {what} has {contrast(colour, behind):.2f}:1")
                drawn = min(drawn, contrast(colour, behind))
            for words in root.walk(restrict=True):
                if not isinstance(words, Words) or not words.placed or not tour.shown(words):
                    continue
                kind = wanted.get(words.text, "") if words.parent is not None and place in tuple(_above(words)) else ""
                if kind == "warning" and words.text == VENT:
                    kind = "at the group"
                if kind and (kind != "live" or name != "waiting"):
                    seen[kind].append(CAPITALS * words.fitted.font_size * to_mm)
                    if seen[kind][-1] < LEAST_MM[kind]:
                        print(f"  {name}: {words.text[:40]!r} has {seen[kind][-1]:.2f} mm")
                least_of = "live" if kind == "live" else "else"
                ratio = contrast(words.color, tour.behind(words))
                if ratio < (7 if kind == "live" else 4.5):
                    print(f"  {name}: {words.text[:40]!r} has {ratio:.2f}:1")
                least[least_of] = min(least[least_of], ratio)
                left, low, right, high = words.bounds
                edge = min(edge, left / look.u, (width - right) / look.u)
    bars.above("seconds, grams, what to add or take out: capitals, mm", min(seen["live"]), LEAST_MM["live"])
    bars.above("warnings: capitals, mm", min(seen["warning"]), LEAST_MM["warning"])
    if not hire:                # whose page is the other group's by then
        bars.above("what to do with a portafilter under pressure, read at the group: capitals, mm", min(seen["at the group"]),
                   LEAST_MM["at the group"])
    bars.above("the stop: capitals, mm", min(seen["stop"]), LEAST_MM["stop"])
    bars.above("least contrast of a live figure", least["live"], 7.0)
    bars.above("least contrast of any other text", least["else"], 4.5)
    bars.above("least contrast of a line: curve, window, tracks, keys", drawn, LINE)
    bars.above("text to the panel's side, u", edge, EDGE_U)
    return bars


def every_room(width: int, height: int) -> Bars:
    """All rooms at work, without a scale."""
    from kiosk.screens.ui.look import Colour, Type, look
    from kiosk.screens.ui.text import Words
    from kiosk.screens.ui.touch import Key
    from tests.support import tour
    from tests.support.at_work import AtWork

    inches, to_mm = panel(width, height)
    bars = Bars(f"{width} × {height}, {inches:g} inches: every room")
    capitals = dict.fromkeys(("small", "body", "head", "figure", "live", "warning"), (99.0, "", ""))
    named = {getattr(Type, name): name for name in capitals if name != "warning"}
    off_grid: set[str] = set()
    contrasts, drawn, edge, keys, letters, rooms = *((99.0, "", ""),) * 5, 0
    with AtWork(Path(tempfile.mkdtemp()), scale=False, size=(width, height), settings=tour.SETTINGS | {"groups": 2}) as work:
        for room in tour.visit(work):
            rooms += 1
            drawn = min([drawn, *((contrast(colour, behind), room, what) for what, colour, behind in tour.lines(work.kiosk.root))])
            off_grid.update(f"{room}: {each}" for each in tour.askew(work.kiosk.root))
            for part in work.kiosk.root.walk(restrict=True):
                if isinstance(part, Words) and part.placed and tour.shown(part):
                    warns = room.startswith("station") and part.size_u == Type.head and part.color == Colour.warn
                    name, what = "warning" if warns else named[part.size_u], (room, part.text[:30])
                    capitals[name] = min(capitals[name], (CAPITALS * part.fitted.font_size * to_mm, *what))
                    contrasts = min(contrasts, (contrast(part.color, tour.behind(part)), *what))
                    left, _low, right, _high = part.bounds
                    if room != "rest":          # there one line wanders, to spare the panel
                        edge = min(edge, (min(left, width - right) / look.u, *what))
                elif isinstance(part, Key) and tour.shown(part) and part.text:
                    size = (min(part.size) * to_mm, room, part.text[:30])
                    if len(part.text) == 1:
                        letters = min(letters, size)
                    else:
                        keys = min(keys, size)
    for name, least_mm in (("live", 9.0), ("figure", 6.0), ("warning", 4.0), ("head", 2.9), ("body", 1.4), ("small", 1.4)):
        bars.above(f"capitals of {name} text where they come out least, mm ({': '.join(capitals[name][1:])})", capitals[name][0], least_mm)
    bars.above(f"least contrast of any text ({': '.join(contrasts[1:])})", contrasts[0], 4.5)
    bars.above(f"least contrast of any line that means something ({': '.join(drawn[1:])})", drawn[0], LINE)
    bars.above(f"text to the panel's side, u ({': '.join(edge[1:])})", edge[0], EDGE_U)
    print(*(f"  {each}" for each in sorted(off_grid)), sep="\n", end="\n" if off_grid else "")
    bars.below("keys, lanes and grounds off the grid or in the margin", len(off_grid), 0)
    bars.above(f"least side of a key, mm ({': '.join(keys[1:])})", keys[0], TOUCH_MM)
    bars.above(f"least side of a letter's key, mm ({': '.join(letters[1:])})", letters[0], LETTER_MM)
    bars.above("rooms looked at", rooms, 60)
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
        sys.exit(max(*(read(across, down, groups).end() for groups in GROUPS), read(across, down, hire=True).end(), every_room(across, down).end()))
    sizes = sys.argv[1:] or [f"{across}x{down}" for across, down in SIZES]
    ended = [subprocess.run([sys.executable, "-m", "tests.bench.glass", "--one", size]).returncode for size in sizes]
    sys.exit(int(any(ended)))       # of a child that a signal ended, too: that is below 0
