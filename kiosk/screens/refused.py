"""What the panel shows of a kiosk that may not start: why, and what to do. It tries again by itself, and at a touch."""

from collections.abc import Callable
from pathlib import Path

from kivy.app import App
from kivy.clock import Clock as Frames
from kivy.core.window import Window
from kivy.lang import Builder
from kivy.properties import StringProperty

from kiosk.screens.ui import room, sheet  # noqa: F401  the rule uses its page
from kiosk.screens.ui.look import Colour, look
from kiosk.screens.ui.words import _
from kiosk.station.refusal import wait_s
from kiosk.station.watched import Watched

LONGER_S = 30.0         # of the start's own time, asked of the service manager while this is shown


class RefusedScreen(room.Room):
    """`look_again` is called at a touch."""

    why = StringProperty()
    waits = StringProperty()

    def __init__(self, look_again: Callable[[], None], **given):
        self.look_again = look_again
        super().__init__(**given)


class RefusalApp(App):
    """`look_again` gives the sentence that still stands, or None: then this ends, and the kiosk can be started."""

    title = "Evenpull"

    def __init__(self, why: str, look_again: Callable[[], str | None], watched: Watched | None = None, **given):
        super().__init__(**given)
        self._why, self._look_again, self._watched = why, look_again, watched or Watched()
        self._tries, self._left_s, self._extended_s = 0, wait_s(0), 0.0

    def build(self):
        Window.clearcolor = Colour.ground
        look.fit(*Window.size)
        Window.bind(size=lambda _window, size: look.fit(*size))
        self.root = RefusedScreen(self.look)
        sheet.show(sheet.Sheet(self.root))
        self.show()
        self._ticking = Frames.schedule_interval(self.tick, 1.0)
        return self.root

    def load_kv(self, filename=None) -> bool:
        """None by the app's own name: it is the file of the room's rule, which would then be laid on twice."""
        return False

    def show(self) -> None:
        self.root.why = _(self._why)
        self.root.waits = _("The next try is in {s:.0f} s.").format(s=max(0.0, self._left_s))

    def tick(self, seconds: float) -> None:
        """A second has passed."""
        self._left_s -= seconds
        self._extended_s -= seconds
        if self._extended_s <= 0:
            self._extended_s = LONGER_S / 2
            self._watched.starting(str(self._why), LONGER_S)
        if self._left_s <= 0:
            self.look()
        else:
            self.show()

    def look(self) -> None:
        """Try again; each time that it is in vain, the next try comes later."""
        why = self._look_again()
        if why is None:
            self._ticking.cancel()
            self.stop()
            return
        self._why, self._tries = why, self._tries + 1
        self._left_s = wait_s(self._tries)
        self.show()


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
