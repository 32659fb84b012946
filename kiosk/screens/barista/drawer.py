"""The drawer: what is wanted seldom in service, each with its key, so that the station keeps only what is wanted often."""

from pathlib import Path

from kivy.lang import Builder
from kivy.properties import BooleanProperty

from kiosk.screens.barista.glass import WIPE_S
from kiosk.screens.ui.room import Room


class DrawerScreen(Room):
    wipe_s = WIPE_S
    sounding = BooleanProperty(True)
    tastable = BooleanProperty(False)

    def show(self):
        self.sounding, self.tastable = self.service.setup.sounds, self.service.lanes.last_pull is not None

    def turn_sounds(self):
        self.service.set_setting(("sounds",), not self.service.setup.sounds)


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
