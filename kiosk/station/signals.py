"""The groups' own signals at work: edges come in on their ports' threads and are handed over on the drawing thread."""

from collections.abc import Callable, Iterable, Mapping
from queue import Empty, SimpleQueue
from typing import TYPE_CHECKING

from kiosk.bar.guide import guide as guides
from kiosk.bar.messages import Message
from kiosk.bar.model import CONTACT, KEY, GroupPurged, PumpOffSeen, PumpOnSeen, Step
from kiosk.bar.model.setup import SignalSetup
from kiosk.bar.weighing import WITHIN_S, GroupSignal, PumpRan
from kiosk.station.lane import Lane, Work

if TYPE_CHECKING:               # a station opens without what reads ports
    from hardware.contact import Contact, LineHealth

SERVED_AFTER_S = 4.0        # the pump runs again: what this group made before has been taken away
KEY_WITHIN_S = 0.3          # ± of a foot switch (common practice)
SWAPPED_S = 3.0             # two groups' pumps seldom go on so near each other, one of them unseen
UNWEIGHED_PULL_S = 15.0     # without a scale, a run so long that nobody ordered is a pull


class Signals:
    """`lanes` are the station's, `happened(group, event)` takes what was seen to its guide, `unordered(groups)` begins
    a pull that nobody ordered, `trouble(sentence)` is told of a signal that cannot be believed."""

    def __init__(self, lanes: Mapping[int, Lane], clock: Callable[[], float], happened: Callable[[int, guides.Event], None],
                 unordered: Callable[[Iterable[int]], Work | None], trouble: Callable[[str], None]):
        self._lanes, self._clock, self._happened = lanes, clock, happened
        self._unordered, self._trouble = unordered, trouble
        self._groups: dict[int, GroupSignal] = {}
        self._edges: SimpleQueue[tuple[int, float, bool]] = SimpleQueue()
        self._contacts: list[Contact] = []
        self._wanted: tuple[SignalSetup, ...] = ()

    def running(self, group: int) -> bool:
        """Whether that group's signal says that its pump runs."""
        return group in self._groups and self._groups[group].running

    def running_since(self, group: int) -> float | None:
        """When that group's signal said that its pump went on; None while it does not run."""
        return self._groups[group].on_since_s if group in self._groups else None

    def makes_a_pull(self, group: int) -> None:
        """Coffee was seen to fall of that run: it is no purge."""
        signal = self._groups.get(group)
        if signal is not None:
            for ran in signal.pours():
                self._tell(group, ran, signal.on_since_s)

    def set_up(self, wanted: tuple[SignalSetup, ...]) -> None:
        """Opens the ports that `wanted` names, and closes those of before."""
        if wanted == self._wanted:
            return
        self.close()
        self._wanted = wanted
        self._groups = {each.group: self._groups.get(each.group) or GroupSignal() for each in wanted}
        for url in dict.fromkeys(each.url for each in wanted if each.url):
            from hardware.contact import Contact, Wired

            wired = tuple(Wired(each.group, each.line, each.closed_is_on) for each in wanted if each.url == url)
            contact = Contact(url, wired, lambda *edge: self._edges.put(edge), self._clock)
            self._contacts.append(contact)
            contact.start()

    def close(self) -> None:
        for contact in self._contacts:
            contact.close()
        self._contacts, self._wanted = [], ()

    @property
    def health(self) -> "tuple[LineHealth, ...]":
        return tuple(contact.health for contact in self._contacts)

    @property
    def trouble(self) -> str:
        """A sentence where a port does not answer or a line cannot be believed; "" where all is well."""
        return next((each.trouble for each in self.health if each.trouble), "")

    def edge(self, group: int, t_s: float, on: bool) -> None:
        """That group's pump went on or off, told on any thread."""
        self._edges.put((group, t_s, on))

    def key(self, name: str) -> bool:
        """A foot switch or a button that is a keyboard key: the pump of its group goes on, or off. Whether it is one."""
        group = next((each.group for each in self._wanted if each.key and each.key == name), None)
        if group is None:
            return False
        guide, now_s = self._guide(group), self._clock()
        if guide is not None and guide.pulling:
            self._happened(group, PumpOffSeen(now_s, now_s, KEY, KEY_WITHIN_S))
        elif guide is None and self._unordered((group,)) is None:
            return True
        elif guide is None or guide.pump_on_at_s is None:
            self._happened(group, PumpOnSeen(now_s, now_s, KEY, KEY_WITHIN_S))
        return True

    def tick(self) -> None:
        """Many times a second: what has come in, and what has come of it since."""
        try:
            while True:
                group, t_s, on = self._edges.get_nowait()
                signal = self._groups.setdefault(group, GroupSignal())
                if on:
                    self._serve_the_last(group, t_s)
                began_s = signal.on_since_s
                for ran in signal.edge(t_s, on, ready=self._ready(group), weighed=self._weighed(group)):
                    self._tell(group, ran, began_s)
        except Empty:
            pass
        for group, signal in self._groups.items():
            for ran in signal.at(self._clock(), ready=self._ready(group), weighed=self._weighed(group)):
                self._tell(group, ran, signal.on_since_s)

    def _guide(self, group: int) -> guides.Guide | None:
        lane = self._lanes.get(group)
        return lane.work.guide if lane is not None and lane.work is not None else None

    def _pours_without_its_own(self, group: int, began_s: float) -> int | None:
        """Another group that has a signal and pulled from that moment on with no word from it: the wires may be swapped."""
        for other in {each.group for each in self._wanted if each.url} - {group}:
            guide = self._guide(other)
            if guide is not None and guide.pump_on_at_s is not None and abs(guide.pump_on_at_s - began_s) <= SWAPPED_S \
                    and guide.on_from != CONTACT and not self.running(other):
                return other
        return None

    def _ready(self, group: int) -> bool:
        guide = self._guide(group)
        return guide is not None and guide.step is Step.PULL

    def _weighed(self, group: int) -> bool:
        guide = self._guide(group)
        return guide is not None and guide.drop_at_s is not None

    def _serve_the_last(self, group: int, t_s: float) -> None:
        guide = self._guide(group)
        if guide is not None and guide.step is Step.SERVE and t_s - guide.entered_at_s >= SERVED_AFTER_S:
            self._happened(group, guides.CupTaken(t_s))

    def _tell(self, group: int, ran: PumpRan, began_s: float | None) -> None:
        now_s, guide = self._clock(), self._guide(group)
        match ran.what:
            case "stuck":
                self._trouble(Message("The signal of group {group} stays on. Check its contact; taps count meanwhile.", group=group))
            case "purge" if guide is not None:
                self._happened(group, GroupPurged(now_s))
            case "on" | "again" if guide is not None:
                self._happened(group, PumpOnSeen(now_s, ran.at_s, CONTACT, WITHIN_S))
            case "off" if guide is not None:
                self._happened(group, PumpOffSeen(now_s, ran.at_s, CONTACT, WITHIN_S))
            case "off" if began_s is not None and (other := self._pours_without_its_own(group, began_s)) is not None:
                self._trouble(Message("The signal of group {group} ran while group {other} pulled. Check that each is wired to its own group.",
                                      group=group, other=other))
            case "off" if began_s is not None and ran.at_s - began_s >= UNWEIGHED_PULL_S and self._unordered((group,)):
                self._happened(group, PumpOnSeen(now_s, began_s, CONTACT, WITHIN_S))
                self._happened(group, PumpOffSeen(now_s, ran.at_s, CONTACT, WITHIN_S))
