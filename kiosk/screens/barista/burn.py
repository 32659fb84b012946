"""A card for burns, behind one touch."""

from pathlib import Path

from kivy.lang import Builder

from kiosk.screens.ui.room import Room


class BurnScreen(Room):
    """Cool running water for 20 minutes, no ice (Australian and New Zealand Burn Association, first aid)."""


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
