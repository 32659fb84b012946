"""What falls into the cup, second by second: while the pump runs, and after it stops."""

from dataclasses import dataclass, replace
from math import exp


@dataclass(frozen=True, slots=True, kw_only=True)
class Stream:
    """The mass in the cup over time; every time counts from pump on, in seconds.

    `left_g` is what has left the puck, `cup_g` what has reached the cup, each at 0, `dt_s`, 2 `dt_s` … as if the pump
    never stopped. `stop_s` is when it did stop (None: it is still running). From then on the relief valve lets the
    pressure go within a few `relief_s`, what hangs in the spout drains with the time constant `spout_s`, and
    `drips`, pairs of (seconds after the stop, grams), fall last. `first_drop_s` is None where none came.
    """

    dt_s: float
    left_g: tuple[float, ...]
    cup_g: tuple[float, ...]
    first_drop_s: float | None
    stop_s: float | None = None
    relief_s: float = 0.25
    spout_s: float = 0.35
    drips: tuple[tuple[float, float], ...] = ()

    def __call__(self, time_s: float) -> float:
        """Grams in the cup `time_s` seconds after pump on, the tail after the stop included."""
        if self.stop_s is None or time_s <= self.stop_s:
            return self._at(self.cup_g, time_s)
        after_s = time_s - self.stop_s
        cup_g = self._at(self.cup_g, self.stop_s)
        if self.first_drop_s is None or self.stop_s < self.first_drop_s:
            return cup_g
        hanging_g = self._at(self.left_g, self.stop_s) - cup_g
        coming_g = self._leaving_g_per_s(self.stop_s) * self.relief_s
        relieved, drained = exp(-after_s / self.relief_s), exp(-after_s / self.spout_s)
        if abs(self.relief_s - self.spout_s) < 1e-9:
            still_g = (hanging_g + coming_g * after_s / self.relief_s) * drained
        else:
            share = self.spout_s / (self.relief_s - self.spout_s)
            still_g = hanging_g * drained + coming_g * share * (relieved - drained)
        dripped_g = sum(grams for when_s, grams in self.drips if when_s <= after_s)
        return cup_g + hanging_g + coming_g * (1 - relieved) - still_g + dripped_g

    def stopped(self, at_s: float) -> "Stream":
        """The same pull with its pump stopped `at_s` seconds after it started (0 or more)."""
        if at_s < 0:
            raise ValueError("the pump cannot stop before it has started")
        return replace(self, stop_s=at_s)

    @property
    def settled_g(self) -> float:
        """What the cup holds once the last drop has fallen. Raises ValueError while the pump runs."""
        if self.stop_s is None:
            raise ValueError("the pump is still running: nothing has settled")
        return self(self.stop_s + 60)

    def flow_g_per_s(self, time_s: float) -> float:
        """Grams a second falling into the cup around `time_s`."""
        half_s = self.dt_s
        return (self(time_s + half_s) - self(time_s - half_s)) / (2 * half_s)

    def stop_for(self, settled_g: float) -> float:
        """When to stop the pump so that `settled_g` ends up in the cup, to a hundredth of a second; `inf` if never."""
        low_s, high_s = 0.0, (len(self.cup_g) - 1) * self.dt_s
        if self.stopped(high_s).settled_g < settled_g:
            return float("inf")
        while high_s - low_s > 0.005:
            middle_s = (low_s + high_s) / 2
            if self.stopped(middle_s).settled_g < settled_g:
                low_s = middle_s
            else:
                high_s = middle_s
        return high_s

    def trace(self, rate_hz: float = 10.0, until_s: float | None = None) -> tuple[tuple[float, float], ...]:
        """(seconds, grams) at `rate_hz`, to 5 s after the stop unless told otherwise, to a tenth of a milligram."""
        if until_s is None:
            until_s = (len(self.cup_g) - 1) * self.dt_s if self.stop_s is None else self.stop_s + 5
        return tuple((round(i / rate_hz, 3), round(self(i / rate_hz), 4)) for i in range(int(until_s * rate_hz) + 1))

    def _at(self, grams: tuple[float, ...], time_s: float) -> float:
        if time_s <= 0:
            return 0.0
        place = time_s / self.dt_s
        i = min(int(place), len(grams) - 2)
        return grams[i] + (grams[i + 1] - grams[i]) * (place - i)   # past the end: the last flow goes on

    def _leaving_g_per_s(self, time_s: float) -> float:
        i = max(1, min(int(time_s / self.dt_s), len(self.left_g) - 1))
        return (self.left_g[i] - self.left_g[i - 1]) / self.dt_s
