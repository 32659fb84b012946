"""The kiosk: wires the bar, the book, the scale and the screens together. Import it only after `display.prepare`."""

from collections.abc import Callable
from queue import Empty, SimpleQueue

from kivy.app import App
from kivy.clock import Clock as Frames
from kivy.core.window import Window

from hardware.line import Line, Unfit
from hardware.scale import Arrival, Scale
from hardware.stay import Heard
from kiosk.bar.live import Sample
from kiosk.screens.look import Colour, look
from kiosk.screens.rooms import Rooms
from kiosk.screens.sound import Sounds
from kiosk.service import Service

TICKS_A_SECOND = 20
SILENT_S = 2.0          # of the bar's clock: a scale that has said nothing for so long is not there


class Port:
    """The scale's door: readings come in on its own thread and are handed over, one by one, on ours."""

    def __init__(self, service: Service):
        self._service = service
        self._arrivals: SimpleQueue[Arrival] = SimpleQueue()
        self._heard: SimpleQueue[Heard] = SimpleQueue()
        self._last_s = float("-inf")
        self.asked = service.setup.scale
        setup = service.setup.scale
        try:
            line = Line(bit_rate=setup.baud, request=setup.request, tare=setup.tare, pattern=setup.pattern,
                        usb=(service.book.memory("scale") or {}).get("usb"))
        except Unfit as unfit:
            service.complaints = (*service.complaints, str(unfit))
            line = Line()
        self._usb = line.usb
        self.scale = Scale("" if setup.url == "auto" else setup.url, line, on_arrival=self._arrivals.put,
                           on_heard=self._heard.put, clock=service.clock.s)
        self.scale.start()

    def hand_over(self) -> None:
        """Readings since the last call, in turn; and whether the scale is there at all."""
        while not self._heard.empty():
            heard = self._heard.get_nowait()
            self._service.feeds.heard(heard.t_s, heard.raw)
        try:
            while True:
                arrival = self._arrivals.get_nowait()
                self._last_s = arrival.t_s
                self._service.weighing.weighed(Sample(arrival.t_s, arrival.grams, arrival.stable))
        except Empty:
            pass
        if self._service.clock.s() - self._last_s > SILENT_S:
            self._service.weighing.came(False)
        elif (usb := self.scale.health.usb) and usb != self._usb:
            self._usb = usb
            self._service.book.remember("scale", {"usb": usb})

    @property
    def health(self):
        return self.scale.health

    def recent(self):
        return self.scale.recent()

    def tare(self) -> None:
        self.scale.tare()

    def close(self) -> None:
        self.scale.close()


class Kiosk(App):
    """`each_tick` is called many times a second on the drawing thread, for whoever plays a practice shift."""

    title = "Evenpull"

    def __init__(self, service: Service, each_tick: Callable[["Kiosk"], None] | None = None, **given):
        super().__init__(**given)
        self.service, self.each_tick = service, each_tick
        self.port: Port | None = None

    def build(self):
        Window.clearcolor = Colour.ground
        look.fit(*Window.size)
        Window.bind(size=lambda _window, size: look.fit(*size))
        self.sounds = Sounds(lambda: self.service.setup.sounds)
        self.service.sounded.append(self.sounds.play)
        self.service.changed.append(self._scale_settled)
        self.root = Rooms(self.service)
        self._scale_settled()
        self._ticking = Frames.schedule_interval(self.tick, 1 / TICKS_A_SECOND)
        return self.root

    def tick(self, _seconds=0.0):
        if self.port is not None:
            self.port.hand_over()
        self.service.weighing.tick()
        self.root.tick()
        if self.each_tick is not None:
            self.each_tick(self)

    def _scale_settled(self) -> None:
        """Opens the scale's port, and again whenever its settings have changed."""
        wanted = self.service.setup.scale
        if self.port is not None and self.port.asked == wanted:
            return
        if self.port is not None:
            self.port.close()
            self.port = None
            self.service.weighing.came(False)
        if wanted.url:
            self.port = Port(self.service)
        self.root.port = self.port

    def open_settings(self, *_):
        """Kivy's own settings panel stays shut: setup has a screen of its own."""

    def on_stop(self):
        self._ticking.cancel()
        if self.port is not None:
            self.port.close()
            self.port = None
