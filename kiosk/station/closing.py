"""The closing of a day: its evening is written to a folder."""

from collections.abc import Callable
from pathlib import Path
from threading import Thread

from kiosk.bar.messages import Message
from kiosk.bar.model import Setup
from kiosk.book import Book
from kiosk.places import named
from kiosk.station.aside import Aside
from kiosk.station.clock import Clock

LOOK_EVERY_S = 60.0
WRITTEN = "evening"         # a memory of the book: the last evening that was written, and through which record of its day


class Closing:
    """Writes each evening when the bar says that it closes, and once its service day is over where it was not written, or where
    the bar went on after it. `trouble` is what to tell."""

    def __init__(self, book: Book, clock: Clock, setup: Callable[[], Setup], aside: Aside):
        self._book, self._clock, self._setup, self._aside = book, clock, setup, aside
        self._looked_s = float("-inf")
        self._at_work: Thread | None = None
        self._amiss: str | None = None      # the day that `trouble` is of
        self._whole: str | None = None      # the day whose evening is known to hold all of it
        self.trouble: Message | None = None
        self.written: Path | None = None

    @property
    def folder(self) -> Path:
        """Where the evenings go, for the screen: as the setting has it where that leads nowhere."""
        try:
            return self._folder()
        except OSError:
            return Path(self._setup().manager.evenings)

    def _folder(self) -> Path:
        return self._book.folder / named(self._setup().manager.evenings or "evenings")

    def tick(self) -> None:
        """To be called now and then: yesterday's evening is written if it has not been, or not with all of its day."""
        now_s = self._clock.s()
        if now_s - self._looked_s < LOOK_EVERY_S or (self._at_work and self._at_work.is_alive()):
            return
        self._looked_s = now_s
        over = [day for day in self._book.days() if day < self._book.day_now()]
        if over:
            self.write(over[-1], again=False)

    def write(self, day: str, wait: bool = False, again: bool = True) -> None:
        """Write the evening of `day`, on a thread of its own; where it is there already and whole, only `again`."""
        setup, folder = self._setup(), self.folder

        def work() -> None:
            from kiosk.station.evenings import evening_of, weeks_of  # the first screen waits for no evening's sums
            from kiosk.station.reports import Alone

            try:
                to = self._folder()
                if again or not (to / f"{day}.html").exists() or self._went_on(day):
                    through = self._book.day(day).last_number
                    of = evening_of(self._book, setup, day, traces=True)
                    self.written = Alone(of, setup, weeks_of(self._book, day)).write(to)
                    self._book.remember(WRITTEN, {"day": day, "through": through})
                    self._book.add_up(day)                  # days that a newer program adds up otherwise
                elif day != self._amiss:
                    return              # what is told is of another evening
                self.trouble = None
            except OSError as wrong:
                self._amiss = day
                self.trouble = Message("The evening could not be written to {folder} ({why}). Check that the folder is there and has "
                                       "room, or choose another under Setup, Evening.", folder=folder, why=wrong.strerror)

        def failed() -> None:
            self._amiss = day
            self.trouble = Message("The evening of {day} could not be added up. Its records are kept: have the kiosk's log looked at.",
                                   day=day)

        self._at_work = self._aside.begin("evening", work, failed)
        if wait:
            self._at_work.join()

    def _went_on(self, day: str) -> bool:
        """Whether anything was kept of a day that is over after its evening was written: a last order, or a slip at noon."""
        if day == self._whole:
            return False
        known = self._book.memory(WRITTEN) or {}
        went_on = known.get("day") == day and known.get("through") != self._book.day(day).last_number
        self._whole = None if went_on else day
        return went_on
