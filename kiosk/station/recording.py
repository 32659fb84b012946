"""Recorded feeds: what the scale sent during a pull, kept as a file that `python -m kiosk replay` runs again."""

import logging
from collections import deque
from dataclasses import asdict
from pathlib import Path

from kiosk.bar.model import ScaleSetup, Step
from kiosk.station.feed import Recorder
from kiosk.station.lane import Work

REMEMBERED_S, AT_MOST = 900.0, 20_000   # no pull takes a quarter of an hour; lines, of a scale that sends more than 22 a second
KEPT_FILES = 200                    # the oldest go
log = logging.getLogger(__name__)


class Recording:
    """Holds the last lines in memory, so that a pull can be recorded after the fact; each in `folder`, by its key."""

    def __init__(self, folder: Path):
        self.folder = folder
        self._heard = {number: deque[tuple[float, bytes]](maxlen=AT_MOST) for number in (1, 2)}

    def observe(self, t_s: float, raw: bytes, number: int = 1) -> None:
        """One line of the `number`th scale."""
        heard = self._heard[number]
        heard.append((t_s, raw))
        while heard[0][0] < t_s - REMEMBERED_S:
            heard.popleft()

    def save(self, work: Work, scale: ScaleSetup, number: int = 1) -> Path | None:
        """The feed of a pull that has ended: its lines and what hands did. None where nothing was heard during it, or
        where it could not be kept: a recording is no reason to hold up a cup."""
        deeds = _deeds(work)
        from_s = deeds[0][0]
        lines = [(t_s, raw) for t_s, raw in self._heard[number] if t_s >= from_s]
        if not lines:
            return None
        path = self.folder / f"{work.key}.feed"
        told = {"recipe": asdict(work.guide.recipe), "portafilters": [list(each) for each in scale.portafilters]}
        if work.pour_watch is not None:
            told["habits"] = asdict(work.pour_watch.habits)
        if scale.pattern:
            told["pattern"] = scale.pattern
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            recorder = Recorder(path, told)
            both: list[tuple[float, str | bytes]] = [*deeds, *lines]
            for t_s, what in sorted(both, key=lambda each: each[0]):
                if isinstance(what, str):
                    recorder.done(t_s, what)
                else:
                    recorder.observe(t_s, what)
            recorder.close()
            for old in sorted(self.folder.glob("*.feed"))[:-KEPT_FILES]:
                old.unlink(missing_ok=True)
        except OSError as wrong:
            log.warning("no feed in %s: %s", self.folder, wrong)
            return None
        return None if recorder.failed else path


def _deeds(work: Work) -> list[tuple[float, str]]:
    """What hands did, from the dose on, in order of time."""
    guide, t_s = work.guide, work.guide.began_at_s
    for step, seconds in guide.step_s:
        if step == Step.DOSE:
            break
        t_s += seconds
    deeds = [(t_s, "dose")]
    for moment_s, deed in ((guide.locked_at_s, "lock in"), (guide.pump_on_at_s, "pump on"),
                           (guide.pump_off_at_s if guide.off_from == "tap" else None, "pump off")):
        if moment_s is not None:
            deeds.append((moment_s, deed))
    return deeds
