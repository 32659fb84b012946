"""The scale as it is: its health, the raw lines as they come, and what was read from them."""

from pathlib import Path

from kivy.lang import Builder
from kivy.properties import BooleanProperty, StringProperty

from hardware.frames import Reading
from kiosk.screens.ui.room import Room
from kiosk.screens.ui.words import _, amount


class ScaleScreen(Room):
    health = StringProperty()
    lines = StringProperty()
    there = BooleanProperty(False)
    several = BooleanProperty(False)    # scales
    told_until_s = 0.0
    looked_at = 0

    def enter(self):
        self.tick()

    def show(self):
        self.tick()

    def tick(self):
        if self.service.clock.s() < self.told_until_s:
            return
        port = self.port
        self.there, self.several = port is not None, len(self.rooms.ports) > 1
        if port is None:
            self.health, self.lines = _("This station works without a scale. Choose one under Setup, Scale."), ""
            return
        now = port.health
        rate = _("{n:.0f} readings a second").format(n=now.rate_hz) if now.rate_hz else _("No readings")
        age = _(", the last {s:.1f} s ago").format(s=now.age_s) if now.age_s is not None else ""
        step = _(", in steps of {g:g} g").format(g=now.resolution_g) if now.resolution_g else ""
        refused = _("{n} lines refused").format(n=now.rejected)
        why = f": {_(now.why_rejected)}" if now.why_rejected else ""
        self.health = f"{_(now.words)}\n{rate}{age}{step}. {refused}{why}"
        self.lines = "\n".join(line_told(heard) for heard in port.recent()[-9:])

    def tare(self):
        if self.port is not None:
            self.port.tare()

    @property
    def port(self):
        """The door of the scale that is looked at."""
        return self.rooms.ports[self.looked_at % len(self.rooms.ports)] if self.rooms.ports else None

    def other(self):
        self.looked_at += 1
        self.tick()

    def record(self):
        """The last pull of any lane, after the fact."""
        works = [lane.last_work for lane in self.service.lanes.values() if lane.last_work is not None]
        last = max(works, key=lambda work: work.guide.entered_at_s, default=None)
        path = last and self.service.scales.record(last)
        self.health = _("Recorded in {path}.").format(path=path) if path else \
            _("There is no pull to record: serve one with the scale first.")
        self.told_until_s = self.service.clock.s() + 8


def line_told(heard) -> str:
    raw = heard.raw.decode("ascii", "backslashreplace").strip()
    read = heard.read
    told = amount(read.grams, ".2f", "g") if isinstance(read, Reading) else _(read.why)
    return f"{raw[:40]:<40}  {told}"


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
