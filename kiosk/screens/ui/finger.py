"""A finger for practice shifts and tests: it finds a key by its words, on the real widget tree, and touches it."""

from kivy.base import EventLoop
from kivy.core.window import Window
from kivy.input.motionevent import MotionEvent

from kiosk.screens.ui.touch import Key


class _Touch(MotionEvent):
    def __init__(self, x: float, y: float):
        super().__init__("practice", 1, {"x": x / max(1, Window.width), "y": y / max(1, Window.height)}, is_touch=True,
                         type_id="touch")

    def depack(self, args):
        self.sx, self.sy = args["x"], args["y"]
        self.profile = ["pos"]
        super().depack(args)


class Finger:
    """Counts its taps. Raises LookupError where no such key is on the screen and can be touched."""

    def __init__(self, rooms):
        self.rooms = rooms
        self.taps = 0

    def keys(self, part=None) -> list[Key]:
        """Every key on the current screen that can be touched, top left first."""
        found = [key for key in (part or self.rooms.open).walk(restrict=True)
                 if isinstance(key, Key) and not key.disabled and key.opacity > 0 and min(key.size) > 1 and key.text]
        return sorted(found, key=lambda key: (-key.to_window(*key.center)[1], key.to_window(*key.center)[0]))

    def find(self, words: str, part=None) -> Key | None:
        keys = self.keys(part)
        return next((key for key in keys if key.text == words), None) or next(
            (key for key in keys if words in key.text), None)

    def tap(self, words: str, part=None) -> None:
        key = self.find(words, part)
        if key is None:
            shown = ", ".join(key.text for key in self.keys(part))
            raise LookupError(f"no key {words!r} to touch on {self.rooms.current!r}; there are: {shown}")
        key._last_tap = Key.opened_s = float("-inf")    # a practised finger is never taken for a bounce
        self.touch(*key.to_window(*key.center))

    def touch(self, x: float, y: float) -> None:
        """Down and up at one place of the window, in pixels from its lower left corner."""
        self.taps += 1
        touch = _Touch(x, y)
        touch.depack({"x": x / max(1, Window.width), "y": y / max(1, Window.height)})
        touch.scale_for_screen(Window.width, Window.height)
        for kind in ("begin", "end"):
            EventLoop.post_dispatch_input(kind, touch)
