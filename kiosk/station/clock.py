"""The kiosk's one clock: monotonic seconds for durations, a wall time with its offset for records."""

import time
from collections.abc import Callable
from datetime import datetime, timedelta


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

    def carry_on(self, t_s: float, at: str) -> None:
        """Go on counting from a moment kept before a restart: `t_s` then, plus the wall time that has passed since.

        A wall clock set back in between counts as no time at all.
        """
        passed = max(0.0, (self._wall() - datetime.fromisoformat(at)).total_seconds())
        self._ahead_s = t_s + passed - self._monotonic()
