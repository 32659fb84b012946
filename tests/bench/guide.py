"""The pictures of the look that DEVELOPERS.md shows, drawn out of the real widgets: `python -m tests.bench.guide [FOLDER]`.

Into `assets/guide` unless told: the grid on a dose, a pull, the five sizes of type, what a key's state looks like, the
steps, the tracks, the icons. To be drawn again whenever one of them changes.
"""

import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from tests.bench.bars import Bars

HERE = Path(__file__).resolve().parents[2] / "assets" / "guide"
SIZE = (800, 480)
MOST_KB = 40
JOBS = {"small": "what can wait", "body": "keys, sentences", "head": "the key to touch next, warnings, the stop",
        "figure": "a step's figure", "live": "seconds, grams"}
STATES = (("Next", {"kind": "next"}), ("May be touched", {}), ("Chosen, or next elsewhere", {"on": True}),
          ("Seldom", {"kind": "quiet"}), ("Not now", {"disabled": True}), ("Beware", {"kind": "warn"}))
TRACKS = (("runs", [0, 14, 20, 30], False), ("in its window", [0, 25, 20, 30], True), ("short", [0, 13, 20, 30], True),
          ("ran through", [0, 35, 20, 30], True))


def pages(work) -> Iterator[tuple[str, int]]:
    """The name of each picture, with its page on the window, and how many pixels of its height it takes."""
    from kivy.graphics import Color, Line, Rectangle
    from kivy.uix.boxlayout import BoxLayout
    from kivy.uix.gridlayout import GridLayout
    from kivy.uix.widget import Widget

    from kiosk.screens.ui import sheet
    from kiosk.screens.ui.icons import ICONS, drawn
    from kiosk.screens.ui.look import Colour, Type, look
    from kiosk.screens.ui.text import Words
    from kiosk.screens.ui.touch import Key, StepRow
    from kiosk.screens.ui.track import Track
    from tests.bench import glass
    from tests.support import tour

    rooms = work.kiosk.root

    def draw() -> None:
        work._drawn_until = work._frames + 6
        work.frames(6)

    def page(cols: int, high: int, *parts) -> int:
        """These, laid out from the top, `high` each."""
        grid = GridLayout(cols=cols, spacing=look.wide, padding=look.wide, size_hint=(1, None),
                          height=-(-len(parts) // cols) * (high + look.wide) + look.wide)
        for part in parts:
            part.size_hint_y, part.height = None, high
            grid.add_widget(part)
        whole = BoxLayout(orientation="vertical")
        whole.add_widget(grid)
        whole.add_widget(Widget())
        rooms.clear_widgets()
        rooms.add_widget(whole)
        sheet.changed()
        draw()
        return int(grid.height)

    def named(words: str, part: Widget, share: float = 0.4) -> BoxLayout:
        row = BoxLayout(spacing=look.wide)
        row.add_widget(Words(text=words, size_u=Type.body, halign="left", color=Colour.quiet, size_hint_x=share))
        row.add_widget(part)
        return row

    def grid_over(room) -> None:
        """The margins, and the sides of all that may be touched."""
        keys = [part for part in room.walk(restrict=True) if isinstance(part, Key) and tour.shown(part) and part.text]
        Color(*Colour.water[:3], 0.28)
        for x in (0, SIZE[0] - look.wide):
            Rectangle(pos=(x, 0), size=(look.wide, SIZE[1]))
        Color(*Colour.water[:3], 0.8)
        for x in sorted({round(side) for key in keys for side in (key.to_window(*key.pos)[0], key.to_window(*key.pos)[0] + key.width)}):
            Line(points=[x, 0, x, SIZE[1]], width=1, dash_length=3, dash_offset=5)

    class Icon(Widget):
        def flats(self):
            return drawn(self.name, Colour.text, self.center_x - look.icon / 2, self.center_y - look.icon / 2, look.icon)

    for moment in glass.moments(work):
        if moment == "dose under":
            with rooms.open.canvas.after:
                grid_over(rooms.open)
            draw()
            yield "grid", SIZE[1]
            rooms.open.canvas.after.clear()
        if moment == "pulling":
            yield "pull", SIZE[1]
            break
    yield "type", page(1, 84, *(named(f"{name}, {size} u: {JOBS[name]}", Words(
        text="24.9 s  36.2 g", size_u=size, bold=size > Type.body, halign="left"), 0.75)
        for name, size in vars(Type).items() if name in JOBS))
    yield "states", page(3, look.key, *(Key(text=words, **given) for words, given in STATES))
    yield "steps", page(1, look.lines, StepRow(names=["Warm", "Dose", "Tamp", "Purge", "Pull"],
                                               marks=["done", "skipped", "untold", "now", "ahead"]))
    yield "tracks", page(1, look.track, *(named(words, Track(shown=shown, judged=judged)) for words, shown, judged in TRACKS))
    icons = []
    for name in ICONS:
        icon = Icon()
        icon.name = name
        icons.append(icon)
    yield "icons", page(11, look.lines, *icons)


def main(argv: list[str]) -> int:
    from kiosk import display

    folder = Path(argv[0]) if argv else HERE
    folder.mkdir(parents=True, exist_ok=True)
    display.prepare(Path(tempfile.mkdtemp()), size=SIZE, offscreen=True)
    from kivy.core.window import Window
    from PIL import Image

    from tests.support.at_work import AtWork

    bars, largest = Bars(f"The look's pictures, drawn into {folder}"), 0.0
    with AtWork(Path(tempfile.mkdtemp()), settings={"groups": 2}) as work:
        for name, high in pages(work):
            shot, to = Path(Window.screenshot(str(folder / "shot.png"))), folder / f"{name}.png"
            with Image.open(shot) as picture:
                picture.convert("RGB").crop((0, 0, SIZE[0], min(high, SIZE[1]))).quantize(64).save(to, optimize=True)
            shot.unlink()
            largest = max(largest, to.stat().st_size / 1024)
    bars.below("the largest of them, kB", largest, MOST_KB)
    return bars.end()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
