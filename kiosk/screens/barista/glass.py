"""The glass itself: locked while it is wiped, and dark while nobody works here."""

from pathlib import Path

from kivy.lang import Builder
from kivy.properties import NumericProperty, StringProperty

from kiosk.screens.ui.room import Room

WIPE_S = 20.0
PLACES = (0.2, 0.35, 0.5, 0.65, 0.8)    # of the resting clock, across and up: no place of the panel shines for long


class WipeScreen(Room):
    """Takes no touch for 20 s, then goes back to work. What the scale and the signals tell is heard all the while."""

    left_s = NumericProperty(WIPE_S)

    def enter(self):
        self._until_s = self.service.clock.s() + WIPE_S
        self.left_s = WIPE_S

    def tick(self):
        self.left_s = max(0.0, self._until_s - self.service.clock.s())
        if self.left_s == 0.0:
            self.rooms.home()

    def on_touch_down(self, touch):
        return True


class RestScreen(Room):
    """A dark glass with the time, each minute in another place. The first touch wakes it and is no tap."""

    time = StringProperty()
    across, up = NumericProperty(0.5), NumericProperty(0.5)

    def enter(self):
        self.tick()

    def tick(self):
        now = self.service.clock.now()
        self.time = f"{now:%H:%M}"
        minute = now.hour * 60 + now.minute
        self.across, self.up = PLACES[minute % len(PLACES)], PLACES[minute // len(PLACES) % len(PLACES)]

    def on_touch_down(self, touch):
        self.rooms.home()
        return True


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
