"""The kiosk's one clock: monotonic seconds for durations, a wall time with its offset for records."""

import time
from collections.abc import Callable
from datetime import datetime, timedelta

SET_BY_S = 60.0         # less is a clock that is kept right over the network


def wall_now() -> datetime:
    return datetime.now().astimezone()


class Clock:
    def __init__(self, monotonic: Callable[[], float] = time.monotonic, wall: Callable[[], datetime] = wall_now):
        self._monotonic, self._wall, self._ahead_s = monotonic, wall, 0.0

    def s(self) -> float:
        """Seconds, never backwards; what guides, watches and the scale count in."""
        return self._monotonic() + self._ahead_s

    def now(self) -> datetime:
        return self._wall()

    def at(self, t_s: float | None = None) -> str:
        """The wall time, ISO 8601 with its offset, now or at moment `t_s` of this clock."""
        now = self._wall()
        if t_s is not None:
            now -= timedelta(seconds=self.s() - t_s)
        return now.isoformat(timespec="milliseconds")

    def carry_on(self, t_s: float, at: str, jumped_s: float = 0.0) -> None:
        """Go on counting from a moment kept before a restart: `t_s` then, plus the wall time that has passed since, less
        what the wall clock is known to have been set forward by.

        A wall clock set back in between counts as no time at all.
        """
        passed = max(0.0, (self._wall() - datetime.fromisoformat(at)).total_seconds() - jumped_s)
        self._ahead_s = t_s + passed - self._monotonic()


class WallWatch:
    """Notices that the wall clock was set while the kiosk runs: it and the monotonic clock have come apart."""

    def __init__(self, clock: Clock):
        self._clock = clock
        self._s, self._at = clock.s(), clock.now()

    def jumped_s(self) -> float | None:
        """Seconds by which the wall clock was set since the last call (forward above zero); None where it was not."""
        s, at = self._clock.s(), self._clock.now()
        by_s = (at - self._at).total_seconds() - (s - self._s)
        self._s, self._at = s, at
        return by_s if abs(by_s) >= SET_BY_S else None
