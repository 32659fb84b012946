"""The scales at work: one for all groups, or one for each half of them; and what they send, kept as feeds."""

from collections.abc import Callable, Iterable, Mapping
from pathlib import Path

from kiosk.bar.guide import guide as guides
from kiosk.bar.model import Setup
from kiosk.book import Book
from kiosk.station.lane import Lane, Work
from kiosk.station.recording import Recording
from kiosk.station.signals import Signals
from kiosk.station.weighing import Weighing


class Scales:
    """What is handed to it is handed on: see Weighing."""

    def __init__(self, book: Book, clock: Callable[[], float], setup: Callable[[], Setup], lanes: Mapping[int, Lane], signals: Signals, *,
                 happened: Callable[[int, guides.Event], None], unordered: Callable[[Iterable[int]], Work | None],
                 cue: Callable[[Work], None], sound: Callable[[str], None], publish: Callable[[], None]):
        self._clock, self._setup, self._lanes, self._happened = clock, setup, lanes, happened
        self.weighings = tuple(Weighing(number, book, clock, setup, lanes, signals, happened=happened, unordered=unordered, cue=cue,
                                        sound=sound, publish=publish) for number in (1, 2))
        self.feeds = Recording(book.folder / "feeds")

    @property
    def first(self) -> Weighing:
        """At most stations the only one."""
        return self.weighings[0]

    def of(self, group: int) -> Weighing:
        """The one that serves that group."""
        return next((each for each in self.weighings if group in each.turns.groups), self.first)

    def closed(self) -> None:
        """No scale is read until one answers anew; a setting may have given a group another one."""
        for weighing in self.weighings:
            weighing.answering(False)
        for lane in self._lanes.values():
            if lane.work is not None and lane.work.guide.has_scale:
                self._happened(lane.group, guides.ScaleSeen(self._clock(), False))

    def record(self, work: Work) -> Path | None:
        """What the scale sent during a pull that has ended, in a file; None where nothing was heard."""
        return self.feeds.save(work, self._setup().scale, self.of(work.group).number)
