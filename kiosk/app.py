"""The kiosk: wires the bar, the book, the scale and the screens together. Import it only after `display.prepare`."""

import gc
from collections.abc import Callable

from kivy.app import App
from kivy.clock import Clock as Frames
from kivy.core.window import Keyboard, Window

from kiosk.screens.barista.stop_strip import StopStrip
from kiosk.screens.ui.look import Colour, look
from kiosk.screens.ui.rooms import Rooms
from kiosk.screens.ui.sound import Sounds
from kiosk.station.station import Station
from kiosk.station.watched import Watched

TICKS_A_SECOND = 20
MEND_S = 5.0


def key_name(code: int) -> str:
    """ "a", "f5", "spacebar" …: what a key is called in Setup."""
    return next((name for name, each in Keyboard.keycodes.items() if each == code), str(code))


class Kiosk(App):
    """`each_tick` is called many times a second on the drawing thread, for whoever plays a practice shift. `first_day`: the
    book was empty, and its bar is asked what can be asked. `by_itself`: it ticks; else somebody else calls `tick`."""

    title = "Evenpull"

    def __init__(self, service: Station, each_tick: Callable[["Kiosk"], None] | None = None, first_day: bool = False,
                 by_itself: bool = True, **given):
        super().__init__(**given)
        self.service, self.each_tick, self._first_day, self._by_itself = service, each_tick, first_day, by_itself
        self.ports = []                 # of the scales, in turn: kiosk.station.port.Port
        self._scale_setup = None

    def build(self):
        Window.clearcolor = Colour.ground
        self._fit()
        Window.bind(on_key_down=self._key)
        Window.bind(size=self._fit)
        self.sounds = Sounds(lambda: self.service.setup.sounds)
        self.service.cues.sounded.append(self.sounds.play)
        self.service.changed += (self._ports_settled, self._fit)
        self.root = Rooms(self.service, over=StopStrip(self.service))
        if self._first_day:
            self.root.go("first day")
        self._mending = Frames.create_trigger(self.mend, MEND_S, interval=True)
        self._ticking = Frames.create_trigger(self.tick, 1 / TICKS_A_SECOND, interval=True)
        # What is triggered now is called before the first frame is drawn, and what that triggers after it.
        self._drawn = Frames.create_trigger(self._opened)
        self._opening = Frames.schedule_once(lambda _seconds: self._drawn())
        self._watched = Watched()
        return self.root

    def _opened(self, _seconds) -> None:
        """The first screen is there, and has waited for no port and for nothing that is not on it."""
        self._ports_settled()
        self._mending()
        if self._by_itself:
            self._ticking()

    def _fit(self, *_) -> None:
        look.fit(*Window.size, self.service.setup.panel_inches)

    def mend(self, _seconds) -> None:
        """Every few seconds: what a disk in trouble did not take is tried again, and a day's backup made when due."""
        self.service.book.nudge()
        self.service.backing.tick()

    def tick(self, _seconds=0.0):
        self._watched.alive()
        for port in self.ports:
            port.hand_over()
        self.service.tick()
        self.service.signals.tick()
        self.service.till.tick()
        for weighing in self.service.scales.weighings:
            weighing.tick()
        self.root.tick()
        if self.each_tick is not None:
            self.each_tick(self)

    @property
    def port(self):
        """The first scale's, None at a station without one."""
        return self.ports[0] if self.ports else None

    def _ports_settled(self) -> None:
        """Opens the ports of signals, till and scales, and again whenever their settings have changed."""
        self.service.signals.set_up(self.service.setup.signals)
        self.service.till.set_up(self.service.setup.till)
        wanted = self.service.setup.scale
        if wanted == self._scale_setup:
            return
        self._scale_setup = wanted
        self._close_ports()
        for weighing, url in zip(self.service.scales.weighings, (wanted.url, wanted.second)):
            if url:
                from kiosk.station.port import Port

                self.ports.append(Port(weighing, url, wanted, self.service.book, self.service.clock.s, self.service.scales.feeds.observe,
                                       self.service.complain))
        self.root.ports = self.ports

    def _close_ports(self) -> None:
        for port in self.ports:
            port.close()
        self.ports.clear()
        self.service.scales.closed()

    def open_settings(self, *_):
        """Kivy's own settings panel stays shut: setup has a screen of its own."""

    def _key(self, _window, code, _scan, _text, _modifiers) -> bool:
        """A key that is a group's foot switch; every other one is left to the screens."""
        return self.service.signals.key(key_name(code))

    def on_stop(self):
        Window.unbind(on_key_down=self._key, size=self._fit)
        self.root.close()
        for each in (self._opening, self._drawn, self._ticking, self._mending):
            each.cancel()
        self._close_ports()
        self.service.close()
        gc.unfreeze()                   # what the rooms are made of may go
