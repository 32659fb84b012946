"""Cues: what is to be heard, told to whoever plays it; a stop that nobody heeded is heard again."""

from collections.abc import Callable, Mapping

from kiosk.station.lane import Lane, Work

HEARD, HEARD_EVERY_S = 3, 1.5        # the stop is heard so often, so far apart, unless the pump is seen to stop


class Cues:
    """`sounded` is called with each sound by its name: "stop", "ready", "flag" …"""

    def __init__(self, clock: Callable[[], float], lanes: Mapping[int, Lane]):
        self._clock, self._lanes = clock, lanes
        self.sounded: list[Callable[[str], None]] = []

    def sound(self, sound: str) -> None:
        for listener in self.sounded:
            listener(sound)

    def stop(self, work: Work) -> None:
        """Stop the pump now: each group by a sound of its own."""
        work.cued += 1
        self.sound("stop" if work.group == 1 else f"stop-{work.group}")

    def tick(self) -> None:
        """Many times a second."""
        now_s = self._clock()
        for lane in self._lanes.values():
            work = lane.work
            if work is not None and work.cue_at_s is not None and work.guide.pulling and work.cued < HEARD \
                    and now_s - work.cue_at_s >= HEARD_EVERY_S * work.cued:
                self.stop(work)
