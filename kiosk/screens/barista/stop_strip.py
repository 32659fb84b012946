"""A pull that should be stopped is told over every other room as well: whoever takes an order meanwhile misses no cue."""

from pathlib import Path

from kivy.lang import Builder
from kivy.properties import ColorProperty

from kiosk.screens.barista.told import stop_told
from kiosk.screens.ui.look import Colour
from kiosk.screens.ui.room import Room
from kiosk.screens.ui.text import Running
from kiosk.screens.ui.words import _


class StopStrip(Running):
    """Along the upper edge of whatever room is open. A finger goes through it: nothing changes its place or its meaning."""

    ground = ColorProperty(Colour.next)         # its own, since it lies over a room's texts

    def __init__(self, service, **given):
        self._service = service
        super().__init__(**given)

    def due(self, room: Room) -> bool:
        """Whether there is something to tell over that room."""
        t_s = self._service.clock.s()
        stops = {group: stop_told(lane.work, t_s) for group, lane in self._service.lanes.items()
                 if lane.work is not None and not room.tells_stop_of(group)}
        self.text = " · ".join(f"{_('Group {n}').format(n=group)}: {told}" for group, told in stops.items() if told)
        return bool(self.text)


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
