"""The handover card: what whoever takes over has to know, on one screen."""

from pathlib import Path

from kivy.lang import Builder
from kivy.properties import StringProperty

from kiosk.screens.barista.station import flag_told, waiting_told
from kiosk.screens.ui import ground  # noqa: F401  the rules use it
from kiosk.screens.ui.room import Room
from kiosk.screens.ui.words import STEP_WORDS, _, drink_words


class HandoverScreen(Room):
    under_way = StringProperty()
    on = StringProperty()
    flags = StringProperty()
    due = StringProperty()

    def enter(self):
        self.service.due.again()

    def show(self):
        service = self.service
        lanes = [_("Group {n}: {what}").format(n=group, what=self._told(lane.work) if lane.work is not None else _("free"))
                 for group, lane in service.lanes.items()]
        self.under_way = "\n".join((*lanes, waiting_told(service)))
        at_lanes = {lane.work.barista for lane in service.lanes.values() if lane.work is not None and lane.work.barista}
        self.on = ", ".join(dict.fromkeys((service.barista or _("Nobody said so"), *sorted(at_lanes - {service.barista}))))
        told = [flag_told(service, grinder, flag) for grinder in service.setup.grinders if (flag := service.grinding.flag(grinder))]
        collars = ", ".join(_("{name} at {shown}").format(name=g.name, shown=g.shown) for g in service.setup.grinders)
        self.flags = "\n".join((*(": ".join(filter(None, each)) for each in told), collars))
        self._told_due = service.due.found
        self.due = "\n".join(_(each.words) for each in service.due.found) or _("Nothing is due.")

    def tick(self):
        self.service.due.tick(while_pulling=True)
        if self.service.due.found is not self._told_due:
            self.show()

    def _told(self, work) -> str:
        return f"{drink_words(work.planned.title)}, {_(STEP_WORDS[work.guide.step].short)}"


Builder.load_file(str(Path(__file__).with_suffix(".kv")))
