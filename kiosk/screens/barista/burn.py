"""A card for burns, one touch from the lanes and from the steam wand."""

from pathlib import Path

from kivy.lang import Builder

from kiosk.screens.ui.room import Room


class BurnScreen(Room):
    """Cool running water for 20 minutes, no ice (Australian and New Zealand Burn Association, first aid)."""

    def back(self):
        """To the milk that is steamed, else to the lanes."""
        self.rooms.go("milk") if self.rooms.came_from == "milk" else self.rooms.home()


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
