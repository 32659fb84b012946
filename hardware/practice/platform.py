"""A weighing platform: what stands on it, what falls into that, and what it makes of both."""

import time
from collections import deque
from collections.abc import Callable
from math import exp, pi, sin
from random import Random
from threading import RLock

from hardware.practice.stream import Stream

CAPACITY_G = 3000.0
STILL_FOR_S = 0.5


class Platform:
    """A scale without its cable. `line` weighs, and says so in plain ASCII: `ST,+00012.3 g`, CR and LF.

    ST is at rest, US is moving, OL is more than it can weigh. `lag_s` is the time constant of its filter, `delay_s`
    how long ago what it says was so, `noise_g` and `shake_g` the standard deviations of its noise and of the pump's
    hum. `rate_hz` is how often it will be asked. `clock` gives the bar's seconds: the monotonic clock if left out.
    """

    def __init__(self, rate_hz: float = 10.0, resolution_g: float = 0.1, lag_s: float = 0.15, noise_g: float = 0.03,
                 seed: int = 0, *, delay_s: float = 0.0, shake_g: float = 0.12,
                 clock: Callable[[], float] = time.monotonic):
        self.rate_hz, self.resolution_g, self.lag_s, self.noise_g = rate_hz, resolution_g, lag_s, noise_g
        self.delay_s, self.shake_g, self.now_s = delay_s, shake_g, clock
        self._chance = Random(seed)
        self._lock = RLock()
        self._standing: list[tuple[float, float, float]] = []      # from when (s), over how long (s), grams
        self._pour: Callable[[float], float] | None = None
        self._pour_began_s = 0.0
        self._missed_g = 0.0                                       # of the pour, while nothing stood there
        self._knocks: list[tuple[float, float]] = []
        self._tared_g = 0.0                                        # by the platform's own reading
        self._tared_truly_g = 0.0
        self._filtered_g = 0.0
        self._last_s = self.now_s()
        self._lately: deque[int] = deque(maxlen=max(3, round(STILL_FOR_S * rate_hz)))

    def put_on(self, grams: float, over_s: float = 0.0) -> None:
        """Set something down, at once or trickling in `over_s` seconds; less than 0 takes that much away."""
        with self._lock:
            if not self._standing:
                self._missed_g = self._poured_g(self.now_s())
            self._standing.append((self.now_s(), over_s, grams))

    def lift_all(self) -> None:
        """Take everything away: a pour that is still running falls beside the scale until something is put on."""
        with self._lock:
            self._standing = []

    def pour(self, grams_at: Callable[[float], float], began_s: float | None = None) -> None:
        """Let `grams_at(seconds since pump on)` (a `Poured`, say) fall into what stands there, if anything does.

        `began_s` is pump on by this scale's clock, now if left out. Pouring on with the same `began_s` replaces the
        one before, as when the pump stops; another keeps what has fallen until now.
        """
        with self._lock:
            now_s = self.now_s()
            began_s = now_s if began_s is None else began_s
            if began_s != self._pour_began_s:
                if self._standing:
                    self._standing.append((now_s, 0.0, self._poured_g(now_s) - self._missed_g))
                self._missed_g = 0.0
            self._pour, self._pour_began_s = grams_at, began_s

    def knock(self, grams: float = 5.0) -> None:
        """Somebody bumps into the counter: a swing of about `grams` that dies away within a second."""
        with self._lock:
            self._knocks.append((self.now_s(), grams))

    def tare(self) -> None:
        """Set it to nought, as its own button does."""
        with self._lock:
            self._tared_g, self._tared_truly_g = self._filtered_g, self.load_g
            self._lately.clear()

    @property
    def load_g(self) -> float:
        """The true grams on it now, tare or no tare."""
        with self._lock:
            return self._load_g(self.now_s())

    @property
    def truth_g(self) -> float:
        """The true grams on it now less those that stood there when it was tared."""
        return self.load_g - self._tared_truly_g

    def line(self, now_s: float) -> bytes:
        """Weigh at `now_s`, which never goes back, and say so in one line."""
        with self._lock:
            seen_s = now_s - self.delay_s
            keeps = exp(-(now_s - self._last_s) / self.lag_s) if self.lag_s > 0 else 0.0
            self._last_s = now_s
            pushed_g = self._load_g(seen_s) + self._shaken_g(seen_s)
            self._filtered_g = pushed_g + (self._filtered_g - pushed_g) * keeps
            shown_g = self._filtered_g - self._tared_g + self._chance.gauss(0, self.noise_g)
            steps = round(shown_g / self.resolution_g)
            self._lately.append(steps)
            if self._filtered_g > CAPACITY_G:
                return b"OL,+99999.9 g\r\n"
            still = len(self._lately) == self._lately.maxlen and max(self._lately) - min(self._lately) <= 1
            places = max(0, len(f"{self.resolution_g:g}".partition(".")[2]))
            return f"{'ST' if still else 'US'},{steps * self.resolution_g:+0{7 + places}.{places}f} g\r\n".encode()

    def _load_g(self, now_s: float) -> float:
        load_g = self._poured_g(now_s) - self._missed_g if self._standing else 0.0
        for from_s, over_s, grams in self._standing:
            if now_s >= from_s:
                load_g += grams if over_s <= 0 else grams * min(1.0, (now_s - from_s) / over_s)
        return load_g

    def _poured_g(self, now_s: float) -> float:
        return self._pour(now_s - self._pour_began_s) if self._pour else 0.0

    def _shaken_g(self, now_s: float) -> float:
        """The pump's hum, and the knocks of the last second."""
        shaken_g = 0.0
        since_s = now_s - self._pour_began_s
        stop_s = self._pour.stop_s if isinstance(self._pour, Stream) else None
        if self._pour and since_s >= 0 and (stop_s is None or since_s < stop_s):
            shaken_g += self._chance.gauss(0, self.shake_g)
        self._knocks = [knock for knock in self._knocks if now_s - knock[0] < 1.5]
        for at_s, grams in self._knocks:
            if now_s >= at_s:
                shaken_g += grams * exp(-(now_s - at_s) / 0.25) * sin(2 * pi * 6.3 * (now_s - at_s) + 0.7)
        return shaken_g
