"""The scale's door: readings come in on its own thread, as samples, and are handed over on the drawing thread."""

from collections.abc import Callable
from queue import Empty, SimpleQueue

from hardware.frames import Reading
from hardware.scale import Health, Scale
from hardware.serial_settings import BadPattern, SerialSettings
from hardware.stay import Heard
from kiosk.bar.model import ScaleSetup
from kiosk.bar.weighing import Sample
from kiosk.book import Book
from kiosk.station.weighing import Weighing

SILENT_S = 2.0          # of the bar's clock: a scale that has said nothing for so long is not there


class Port:
    """Opens the scale at `url` for `weighing`; `hand_over` is called many times a second. `heard(t_s, raw, number)` is given each
    line as it came, `complain` the sentence about a pattern that cannot be read."""

    def __init__(self, weighing: Weighing, url: str, setup: ScaleSetup, book: Book, clock: Callable[[], float],
                 heard: Callable[[float, bytes, int], None], complain: Callable[[str], None]):
        self._weighing, self.url, self._book, self._clock, self._on_heard = weighing, url, book, clock, heard
        self._samples: SimpleQueue[Sample] = SimpleQueue()
        self._heard: SimpleQueue[Heard] = SimpleQueue()
        self._last_s = float("-inf")
        try:
            line = SerialSettings(bit_rate=setup.baud, request=setup.request, tare=setup.tare, pattern=setup.pattern,
                        usb=(book.memory("scale") or {}).get("usb") if url == "auto" else None)
        except BadPattern as unfit:
            complain(unfit.words)
            line = SerialSettings()
        self._usb = line.usb
        self.scale = Scale("" if url == "auto" else url, line, on_reading=self._take, on_heard=self._heard.put,
                           clock=clock)
        self.scale.start()

    def _take(self, t_s: float, reading: Reading) -> None:
        self._samples.put(Sample(t_s, reading.grams, reading.stable, reading.resolution_g))

    def hand_over(self) -> None:
        """Readings since the last call, in turn; and whether the scale is there at all."""
        while not self._heard.empty():
            heard = self._heard.get_nowait()
            self._on_heard(heard.t_s, heard.raw, self._weighing.number)
        try:
            while True:
                sample = self._samples.get_nowait()
                self._last_s = sample.t_s
                self._weighing.observe(sample)
        except Empty:
            pass
        if self._clock() - self._last_s > SILENT_S:
            self._weighing.answering(False)
        elif self.url == "auto" and (usb := self.scale.health.usb) and usb != self._usb:
            self._usb = usb
            self._book.remember("scale", {"usb": usb})

    @property
    def health(self) -> Health:
        return self.scale.health

    def recent(self) -> tuple[Heard, ...]:
        return self.scale.recent()

    def tare(self) -> None:
        self.scale.tare()

    def close(self) -> None:
        self.scale.close()
