"""A walk through every room of the kiosk, in the states that a bar sees, for whoever wants to look at each.

`visit(work)` yields the name of each stop, with the room open and drawn; `faults(root)` says what on it is wrong.
"""

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from math import hypot

from kivy.core.window import Window
from kivy.graphics import Color, Line, Mesh, Rectangle
from kivy.uix.boxlayout import BoxLayout
from kivy.uix.gridlayout import GridLayout
from kivy.uix.image import Image

from kiosk.bar.drift import Flag, Standing, advise
from kiosk.bar.model import TASTED_AT_OPENING
from kiosk.bar.training import MILK_STEPS
from kiosk.book import message_of
from kiosk.screens.barista.lane import LaneCard
from kiosk.screens.barista.stop_strip import StopStrip
from kiosk.screens.ui.ground import Ground
from kiosk.screens.ui.look import TOUCH, Colour, Type, look
from kiosk.screens.ui.sheet import seen
from kiosk.screens.ui.touch import Key, Words
from kiosk.screens.ui.track import Track
from tests.support.at_work import AtWork
from tests.support.hires_rooms import hires_rooms

SETTINGS = {
    "staff": {"Ines": {"new": False}, "Tomo": {"new": True}},
    "grinders": {"Left": {"coffee": "House"}, "Right": {"coffee": "Decaf", "collar_rises": "finer", "setting": -12}},
}
LETTER = 63             # u: a letter among letters is at least 12 mm
TYPES = {size for name, size in vars(Type).items() if not name.startswith("_")}
FLAG = Flag("Left", "House", 20, "drifting", "finer",
            message_of("Left at 20 has moved: the last 6 pulls ran 3.1 s faster than those before."), {"pulls": 14, "level_s": -3.1})
COLLAR = {"finer": "turn left"}
ONE_NOTCH_FINER = Standing(pulls=14, flagged=True, direction="finer", flagged_for=1, off=-1.0, level_s=(-2.0, 0.5), worth_s=(2.0, 0.5),
                           purge_g=6.0)


def visit(work: AtWork) -> Iterator[str]:
    rooms, service, hand = work.kiosk.root, work.service, work.hand

    def draw(frames: int = 6) -> None:
        work._drawn_until = work._frames + frames
        work.frames(frames)

    def at(name: str) -> str:
        draw()
        return name

    service.choose("Ines")
    yield at("station-free")
    rooms.go("orders")
    for drink in ("Espresso", "Espresso", "Double espresso", "Cappuccino", "Latte", "Mocha"):
        rooms.room("orders").add(drink)
    yield at("orders")
    rooms.open.left = True
    yield at("orders-left")
    rooms.open.left = False
    rooms.room("orders").start()
    yield at("station-warm")
    for tap in range(4):
        hand.tap(1)
        draw(3)
        if tap == 0:
            yield at("station-dose")
    yield at("station-locked")
    work.frames(140)
    yield at("station-warned")
    hand.tap(1)
    hand_taps = 2
    for _ in range(hand_taps):
        draw(3)
        hand.tap(2)
    work.frames(200)
    yield at("station-pulling")
    rooms.open_bin(1)
    yield at("bin")
    rooms.home()
    work.frames(420)
    yield at("station-stop")
    rooms.go("line")
    draw(3)
    yield at("line-stop")
    rooms.home()
    draw(3)
    hand.tap(1)
    yield at("station-served")
    rooms.open_weight(1)
    yield at("weight")
    rooms.room("weight").done()
    draw(3)
    hand.tap(1)
    yield at("station-last")
    service.grinding.watch("Left", "House").standing = FLAG
    service.grinding._to_do["Left"] = "notch", advise(ONE_NOTCH_FINER, COLLAR).sentence, 1
    service.publish()
    yield at("station-flag")
    late = [service.orders.take(((service.setup.drink(name), 1),), label)
            for name, label in (("Cappuccino", ""), ("Macchiato", "Table 7"), ("Espresso", ""), ("Americano", "Ada"), ("Mocha", ""))]
    work.t_s += 600
    work.frames(20)
    yield at("station-flag-late")
    rooms.go("line")
    yield at("line-late")
    service.grinding.watch("Left", "House").standing = None
    rooms.home()
    yield at("station-late")
    service.grinding.watch("Left", "House").standing = FLAG
    for order_id in late:
        service.orders.cancel(order_id)
    rooms.open_notch("Left")
    yield at("notch")
    for shot in (replace(service.lanes.last_pull, id=service.book.new_id(), grinder="Left", sink=TASTED_AT_OPENING) for _ in range(2)):
        service.book.keep(shot)
        service.tasting.keep(shot, "sour and bitter", None)
    service.orders.tasting_shot(service.setup.grinders[0])
    rooms.room("dial").of("Left")
    yield at("dial")
    service.orders.cancel(service.line.taken_orders[-1].id)
    service.till.take_ticket(("Table 7", "2 FLAT WHT", "  xhot", "1 Latte"))
    rooms.go("till")
    yield at("till")
    rooms.room("till").ask("2 FLAT WHT")
    yield at("till-asks")
    service.till.leave(service.till.open[0].id)
    for of in ("opening", "closing"):
        rooms.room("tasks").open(of)
        yield at(f"tasks-{of}")
    for _done in range(3):
        rooms.room("tasks").done()
    rooms.room("tasks").skip()
    yield at("tasks-skipping")
    rooms.room("tasks").left_out("No time")
    rooms.room("tasks").add(3)
    yield at("tasks-reading")
    service.set_setting(("closing",), {f"Wipe down counter {n}": {"who": "Ines", "unit": "°C", "high": 5.0} for n in range(1, 15)})
    rooms.room("tasks").open("closing")
    yield at("tasks-many")
    rooms.go("burn")
    yield at("burn")
    rooms.room("taste").of(service.lanes.last_pull)
    rooms.room("taste").taste("sour")
    yield at("taste")
    for name in ("drawer", "handover", "line", "who", "today", "notes", "pin", "letters", "first day", "scale", "weeks", "wipe", "rest"):
        if name not in rooms.names:
            continue
        rooms.go(name)
        draw()              # a room begins to look things up as it is drawn
        work.settle_threads()
        yield at(name)
    for n in range(10):
        rooms.go("setup")
        rooms.room("setup").choose(n)
        yield at(f"setup-{n}")
    service.set_setting(("lessons",), {"First week": {"faults": ["fine", "none"]}})
    for n, inside in ((1, "Decaf double"), (4, "First week"), (6, "Milk fridge")):
        rooms.room("setup").choose(n)
        rooms.room("setup").look_inside(inside)
        yield at(f"setup-inside-{n}")
    for name in (f"{first}{n}" for first in "ABCDEFGHIKLMNOPRSTUVWZ" for n in (1, 2)):
        service.set_setting(("staff", name), {"new": False})
    rooms.go("who")
    yield at("who-many")
    rooms.open.typed("")
    yield at("find")
    rooms.open.typed("A")
    yield at("find-some")
    for name in [name for name in service.book.settings["staff"] if name not in SETTINGS["staff"]]:
        service.set_setting(("staff", name), None)
    for group in list(service.lanes):
        while service.lanes[group].work is not None:
            hand_to_end(work, group)
    for name in hires_rooms(work):
        yield at(name)
    service.choose("Tomo")
    rooms.home()
    service.orders.take(((service.setup.drink("Cappuccino, soya milk"), 1),))
    rooms.home()
    for page in range(len(MILK_STEPS)):
        rooms.go("milk")
        yield at(f"milk-{page + 1}")
        rooms.open.tap_next()
    for _ in range(13):
        if rooms.current != "coach":
            break
        lane = service.lanes[rooms.room("coach").group]
        yield at(f"coach-{lane.work.guide.step}")
        if lane.work.guide.pulling:
            work.frames(800)
            yield at("coach-stop")
        hand.tap(rooms.room("coach").group)
        draw(3)


def hand_to_end(work: AtWork, group: int) -> None:
    from kiosk.bar.guide import guide as guides

    key = work.service.lanes[group].work.key
    while work.service.lanes[group].work is not None and work.service.lanes[group].work.key == key:
        work.t_s += guides.CONFIRMS_S           # whoever taps has seen what is there
        work.service.tap(group, guides.Forward)


def inside(corners, x: float, y: float) -> bool:
    """Whether the point lies in the convex shape."""
    sides = [(to_x - from_x) * (y - from_y) - (to_y - from_y) * (x - from_x)
             for (from_x, from_y), (to_x, to_y) in zip(corners, (*corners[1:], corners[0]))]
    return all(side >= 0 for side in sides) or all(side <= 0 for side in sides)


def topmost(shapes, x: float, y: float) -> list[float]:
    """The colour that is seen there, of shapes in the order in which they are drawn."""
    return next((colour for colour, corners in reversed(shapes) if inside(corners, x, y)), Colour.ground)


def behind(words: Words) -> list[float]:
    """The colour that is really behind a text's middle: its own ground, or that of the last flat shape drawn there."""
    if isinstance(words, StopStrip):
        return words.ground
    left, low, right, high = words.bounds
    root = words.get_root_window().children[0]
    shapes = [shape for widget in seen(root) if hasattr(widget, "flats") for shape in widget.flats()]
    return topmost(shapes, (left + right) / 2, (low + high) / 2)


THIN = 6                # u: what is no broader is a line
SET_APART = (Colour.edge, Colour.grid)      # these only set apart or lead the eye: nothing is lost with them


def lines(root) -> Iterator[tuple[str, list[float], list[float]]]:
    """Each line that means something, its colour and what is really behind it: the foot or ring of a key that may be
    touched, whatever thin a widget draws flat, and the lines, dots and bars that it draws anew in each frame."""
    shapes: list = []
    for widget in seen(root):
        name = type(widget).__name__
        touched = isinstance(widget, Key) and not widget.disabled and widget.text
        for n, (colour, corners) in enumerate(widget.flats() if hasattr(widget, "flats") else ()):
            xs, ys = zip(*corners)
            thin = area(corners) <= THIN * look.u * hypot(max(xs) - min(xs), max(ys) - min(ys))
            if touched and n == 0 and (widget.rim or widget.on):
                yield f"{name} {widget.text[:20]!r}", colour, topmost(shapes, sum(xs) / len(xs), min(ys) + look.u)
            elif thin and colour not in SET_APART and not getattr(widget, "disabled", False):
                yield name, colour, topmost(shapes, sum(xs) / len(xs), sum(ys) / len(ys))
            if not thin:                # two lines may cross
                shapes.append((colour, corners))
        yield from moving(name, widget, shapes)


def moving(name: str, widget, shapes: list) -> Iterator[tuple[str, list[float], list[float]]]:
    """The same of what a widget draws on its own canvas."""
    colour, beneath = None, list(shapes)
    for each in [] if isinstance(widget, (Words, Image)) else widget.canvas.children:
        if isinstance(each, Color):
            colour = list(each.rgba)
        elif colour is None or colour in SET_APART:
            continue
        elif isinstance(each, Line) and len(each.points) >= 4:
            for x, y in zip(each.points[0::2], each.points[1::2]):
                yield name, colour, topmost(beneath, x, y)
        elif isinstance(each, Mesh) and each.vertices:
            yield name, colour, topmost(beneath, *each.vertices[:2])
        elif isinstance(each, Rectangle) and each.texture is None and min(each.size) > 0:
            (x, y), (broad, high) = each.pos, each.size
            if min(broad, high) <= look.track:
                yield name, colour, topmost(beneath, x + broad / 2, y + high / 2)
            beneath.append((colour, ((x, y), (x + broad, y), (x + broad, y + high), (x, y + high))))


def area(corners) -> float:
    """Of a shape, by its corners in order (the surveyor's formula)."""
    return abs(sum(x * to_y - to_x * y for (x, y), (to_x, to_y) in zip(corners, (*corners[1:], corners[0])))) / 2


def shown(widget) -> bool:
    """On the screen: neither it nor anything it is in is faint or squeezed away."""
    while widget is not None and widget is not Window:
        if widget.opacity == 0:
            return False
        widget = widget.parent if widget.parent is not widget else None
    return True


def faults(root) -> list[str]:
    """What can be seen to be wrong on the real widget tree: too small to touch, overlapping, off the panel, cut; and what
    is not made of the look's own sizes."""
    found = []
    width, height = root.size
    least = (TOUCH - 1.2) * look.u          # 15 mm on a 7-inch panel is 78.75 u
    keys = [key for key in root.walk(restrict=True) if isinstance(key, Key) and shown(key) and key.text]
    for key in keys:
        x, y = key.to_window(*key.pos)
        small = LETTER * look.u if len(key.text) == 1 else least
        if key.width < small or key.height < small:
            found.append(f"key {key.text!r} is {key.width / look.u:.0f} × {key.height / look.u:.0f} u")
        if x < -1 or y < -1 or x + key.width > width + 1 or y + key.height > height + 1:
            found.append(f"key {key.text!r} lies off the panel")
    boxes = [(key, *key.to_window(*key.pos)) for key in keys]
    for n, (a, ax, ay) in enumerate(boxes):
        for b, bx, by in boxes[n + 1:]:
            if ax + a.width > bx + 1 and bx + b.width > ax + 1 and ay + a.height > by + 1 and by + b.height > ay + 1:
                found.append(f"keys {a.text!r} and {b.text!r} overlap")
    for part in root.walk(restrict=True):
        if isinstance(part, (BoxLayout, GridLayout)):
            between = part.spacing if isinstance(part, GridLayout) else [part.spacing]
            if any(all(abs(each - known) > 0.01 for known in (0, look.gap, look.wide)) for each in between):
                found.append(f"{type(part).__name__} has a spacing of {between} pixels, not the look's")
    for words in root.walk(restrict=True):
        if isinstance(words, Words) and words.text.strip() and words.size_u not in TYPES:
            found.append(f"text {words.text[:60]!r} is of {words.size_u} u, not one of the look's sizes")
        if isinstance(words, Words) and words.text.strip() and shown(words) and not words.whole:
            room = f"{words.width / look.u:.0f} × {words.height / look.u:.0f} u"
            found.append(f"text {words.text[:60]!r} is cut: it has {room}")
    texts = [(words, *words.bounds) for words in root.walk(restrict=True)
             if isinstance(words, Words) and words.placed and shown(words)
             and not isinstance(words, StopStrip)]              # that one hides what it lies over
    grooves = [(track, *track._groove) for track in root.walk(restrict=True)
               if isinstance(track, Track) and track.shown and track.height > 1 and shown(track)]
    for words, left, low, right, high in texts:
        for track, groove_y, groove_high in grooves:
            if min(right, track.right) - max(left, track.x) > 1 and min(high, groove_y + groove_high) - max(low, groove_y) > 1:
                found.append(f"text {words.text[:40]!r} lies in a groove")
    for n, (one, left, low, right, high) in enumerate(texts):
        for other, from_x, from_y, to_x, to_y in texts[n + 1:]:
            if min(right, to_x) - max(left, from_x) > 1 and min(high, to_y) - max(low, from_y) > 1:
                found.append(f"texts {one.text[:40]!r} and {other.text[:40]!r} lie over each other")
    return found


NEAR = 5                # u: edges that lie nearer to each other than this, but not on one line, look like a slip


def askew(root) -> list[str]:
    """What stands off the grid: a key, lane or ground nearer to the panel's side than the room's margin, or one whose edge
    all but meets another's. What stands in a lane has the lane's own grid."""
    found, grids = [], {}
    for part in root.walk(restrict=True):
        if shown(part) and min(part.size) > 1 and (isinstance(part, (Ground, LaneCard)) or isinstance(part, Key) and part.text):
            x, name = part.to_window(*part.pos)[0], getattr(part, "text", "") or type(part).__name__
            if x < look.wide - 1 or x + part.width > root.width - look.wide + 1:
                found.append(f"{name!r} stands in the margin")
            for side, edge in (("left", x), ("right", x + part.width)):
                grids.setdefault((lane_of(part), side), []).append((edge, name))
    for (_lane, side), edges in grids.items():
        for (edge, one), (other_edge, other) in pairwise(sorted(edges)):
            if 1 < other_edge - edge < NEAR * look.u:
                found.append(f"{one!r} and {other!r} all but meet at their {side}: {(other_edge - edge) / look.u:.1f} u")
    return found


def lane_of(part) -> LaneCard | None:
    """The lane that it stands in."""
    while (part := part.parent) is not None and part is not Window:
        if isinstance(part, LaneCard):
            return part
    return None
