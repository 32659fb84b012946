"""Everything on the open room that keeps still is drawn once, on a sheet, and a frame copies the places where there is some.

Kivy draws each shape and each text on its own in every frame, and each costs some microseconds beside the pixels of its
place; without a graphics card the pixels cost most, so what is only ground is not copied. Here a widget that has a flat part gives its shapes in `flats()`, one with a text its signs in `letters()`, and
each calls `changed` whenever they would be others; they are gathered anew as the next frame is drawn.
"""

from collections.abc import Callable, Iterator
from math import ceil, cos, floor, hypot, pi, sin

from kivy.core.window import Window
from kivy.graphics import Callback, ClearBuffers, ClearColor, Fbo, Mesh, RenderContext
from kivy.graphics.opengl import GL_BLEND, glDisable, glEnable
from kivy.uix.widget import Widget

from kiosk.screens.ui.look import Colour

Flat = tuple[list[float], tuple[tuple[float, float], ...]]      # a colour, and the corners of a convex shape

PLACED = """
attribute vec2 vPosition;
attribute vec2 vTexCoords0;
attribute vec4 vColour;
uniform mat4 modelview_mat;
uniform mat4 projection_mat;
varying vec2 place;
varying vec4 colour;
void main(void) {
    %s
    gl_Position = projection_mat * modelview_mat * vec4(vPosition, 0.0, 1.0);
}
"""
FILLED = """
#ifdef GL_ES
precision mediump float;
#endif
uniform sampler2D texture0;
varying vec2 place;
varying vec4 colour;
void main(void) {
    gl_FragColor = %s;
}
"""
FLAT = PLACED % "colour = vColour;", FILLED % "colour"
INKED = PLACED % "colour = vColour; place = vTexCoords0;", FILLED % (
    "vec4(colour.rgb, colour.a * texture2D(texture0, place).a)")
COPIED = PLACED % "place = vTexCoords0;", FILLED % "texture2D(texture0, place)"
AT, IN_PICTURE, COLOURED = (b"vPosition", 2, "float"), (b"vTexCoords0", 2, "float"), (b"vColour", 4, "float")


def box(colour: list[float], x: float, y: float, width: float, height: float) -> Flat:
    """An upright rectangle, in pixels."""
    return colour, ((x, y), (x + width, y), (x + width, y + height), (x, y + height))


def frame(colour: list[float], x: float, y: float, width: float, height: float, edge: float) -> list[Flat]:
    """Its edge, so broad, and nothing within."""
    return [box(colour, x, y, width, edge), box(colour, x, y + height - edge, width, edge),
            box(colour, x, y + edge, edge, height - 2 * edge),
            box(colour, x + width - edge, y + edge, edge, height - 2 * edge)]


CORNER = 4              # points that a rounded corner is made of


def rounded(colour: list[float], x: float, y: float, width: float, height: float, radius: float) -> Flat:
    """A rectangle with round corners, in pixels."""
    radius = min(radius, width / 2, height / 2)
    corners = []
    for turn, (cx, cy) in enumerate(((x + width - radius, y + height - radius), (x + radius, y + height - radius),
                                     (x + radius, y + radius), (x + width - radius, y + radius))):
        for n in range(CORNER):
            angle = pi / 2 * (turn + n / (CORNER - 1))
            corners.append((cx + radius * cos(angle), cy + radius * sin(angle)))
    return colour, tuple(corners)


def ringed(edge: list[float], fill: list[float], x: float, y: float, width: float, height: float, radius: float,
           broad: float) -> list[Flat]:
    """Such a rectangle with an edge so broad round it."""
    return [rounded(edge, x, y, width, height, radius),
            rounded(fill, x + broad, y + broad, width - 2 * broad, height - 2 * broad, max(0.0, radius - broad))]


def outlined(colour: list[float], x: float, y: float, width: float, height: float, radius: float, broad: float) -> list[Flat]:
    """Such a rectangle's edge alone, so broad, inside it."""
    half = broad / 2
    _colour, corners = rounded(colour, x + half, y + half, width - broad, height - broad, radius - half)
    return stroke(colour, (*corners, corners[0]), broad)


def stroke(colour: list[float], points: tuple[tuple[float, float], ...], broad: float) -> list[Flat]:
    """A line through these points, so broad, its joints filled."""
    flats = []
    for (x, y), (to_x, to_y) in zip(points, points[1:]):
        long = hypot(to_x - x, to_y - y)
        if long == 0:
            continue
        along_x, along_y = (to_x - x) / long * broad / 2, (to_y - y) / long * broad / 2
        flats.append((colour, ((x - along_x + along_y, y - along_y - along_x), (to_x + along_x + along_y, to_y + along_y - along_x),
                               (to_x + along_x - along_y, to_y + along_y + along_x),
                               (x - along_x - along_y, y - along_y + along_x))))
    return flats


def seen(widget: Widget) -> Iterator[Widget]:
    """The widget and all in it, those beneath first, without what is hidden."""
    if widget.opacity:
        yield widget
        for child in widget.children:
            yield from seen(child)


def drawn(vertex_shader: str, fragment_shader: str) -> RenderContext:
    return RenderContext(vs=vertex_shader, fs=fragment_shader, use_parent_projection=True, use_parent_modelview=True)


def opaque(context: RenderContext, *corner) -> Mesh:
    """A drawing in that context that covers what is under it, each corner made of those numbers."""
    with context:
        Callback(lambda _: glDisable(GL_BLEND))
        mesh = Mesh(fmt=list(corner), mode="triangles")
        Callback(lambda _: glEnable(GL_BLEND))
    return mesh


class Sheet:
    """The sheet, and the copies of its places, under the widget `root`."""

    def __init__(self, root: Widget):
        self._root, self._texts = root, {}
        self._sheet = Fbo(size=(1, 1))
        with self._sheet:
            ClearColor(*Colour.ground)
            ClearBuffers()
        shapes, self._text, copy = (drawn(*shaders) for shaders in (FLAT, INKED, COPIED))
        self._shapes = opaque(shapes, AT, COLOURED)
        self._places = opaque(copy, AT, IN_PICTURE)
        self._sheet.add(shapes)
        self._sheet.add(self._text)
        for each in (self._sheet, copy):
            root.canvas.before.add(each)
        self._stale = True

    def changed(self) -> None:
        self._stale = True
        self.ask()

    def ask(self) -> None:
        """For a frame."""
        self._root.canvas.ask_update()

    def lay(self, *_) -> None:
        """Before a frame: gather what has changed since the last one."""
        while _due:
            _due.pop()()
        if not self._stale:
            return
        self._stale = False
        shapes, indices, texts, places = [], [], {}, []
        widgets = list(seen(self._root))
        learn([widget.signs for widget in widgets if getattr(widget, "placed", False)])    # no font is opened for no text
        for widget in widgets:
            if hasattr(widget, "flats"):
                for colour, corners in widget.flats():
                    places.append(bounds([x for x, _y in corners], [y for _x, y in corners]))
                    count = len(shapes) // 6
                    for corner in corners:
                        shapes += corner
                        shapes += colour
                    for n in range(2, len(corners)):
                        indices += (count, count + n - 1, count + n)
            elif hasattr(widget, "letters") and (letters := widget.letters()):
                signs, corners = letters
                texts.setdefault(signs, []).extend(corners)
                places.append(bounds(corners[0::8], corners[1::8]))
        self._shapes.vertices, self._shapes.indices = shapes, indices
        self._print(texts)
        self._copy(outermost(places))

    def _print(self, texts: dict) -> None:
        for signs in [each for each in self._texts if each not in texts]:
            self._text.remove(self._texts.pop(signs))
        for signs, corners in texts.items():
            if signs not in self._texts:
                self._texts[signs] = Mesh(fmt=[AT, IN_PICTURE, COLOURED], mode="triangles")
                self._text.add(self._texts[signs])
            mesh = self._texts[signs]
            mesh.texture, mesh.vertices, mesh.indices = signs.picture, corners, quads(len(corners) // 32)

    def _copy(self, places: list[tuple[float, float, float, float]]) -> None:
        size = tuple(max(1, int(side)) for side in self._root.size)
        if self._sheet.size != size:
            self._sheet.size = size
        picture = self._places.texture = self._sheet.texture
        picture.mag_filter = picture.min_filter = "nearest"
        across, up = picture.uvsize[0] / size[0], picture.uvsize[1] / size[1]
        vertices = []
        for left, low, right, high in places:
            for x, y in ((left, low), (right, low), (right, high), (left, high)):
                vertices += (x, y, x * across, y * up)
        self._places.vertices, self._places.indices = vertices, quads(len(places))


def bounds(xs: list[float], ys: list[float]) -> tuple[float, float, float, float]:
    return min(xs), min(ys), max(xs), max(ys)


def outermost(places: list[tuple[float, float, float, float]]) -> list[tuple[float, float, float, float]]:
    """Those that lie in no other: nothing is copied twice. In whole pixels, each as large as it needs."""
    whole = {(floor(left), floor(low), ceil(right), ceil(high)) for left, low, right, high in places}
    found: list = []
    for left, low, right, high in sorted(whole, key=lambda each: (each[0] - each[2]) * (each[3] - each[1])):
        if not any(left >= x and low >= y and right <= to_x and high <= to_y for x, y, to_x, to_y in found):
            found.append((left, low, right, high))
    return found


def quads(count: int) -> list[int]:
    """The corners of so many four-cornered shapes, as triangles."""
    return [4 * each + n for each in range(count) for n in (0, 1, 2, 2, 3, 0)]


def learn(wanted: list[tuple]) -> None:
    """Each font meets all its new signs at once: a new one moves the others in their picture."""
    texts: dict = {}
    for signs, text in wanted:
        texts.setdefault(signs, []).append(text)
    for signs, parts in texts.items():
        signs.knows("".join(parts))


_shown: list[Sheet] = []
_due: set[Callable[[], None]] = set()


def show(sheet: Sheet) -> None:
    """This is the one on the window from now on."""
    for before in _shown:
        Window.unbind(on_draw=before.lay)
    _shown[:] = [sheet]
    Window.bind(on_draw=sheet.lay)


def changed(*_) -> None:
    """Something flat, or a text, is not as it was drawn."""
    for sheet in _shown:
        sheet.changed()


def before_the_frame(act: Callable[[], None]) -> None:
    """Do that once before the next frame, however much changes until then."""
    _due.add(act)
    for sheet in _shown:
        sheet.ask()
