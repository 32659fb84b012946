"""A scale for the benches: rate, filter, line delay, rounding, the pump's hum, and what bumps into it."""

from collections import deque
from dataclasses import dataclass
from math import exp, pi, sin
from random import Random

from tests.bench.group import DT_S


@dataclass
class Balance:
    """What stays the same of one scale. `delay_s` is its line; `filter_s` the filter's time constant or its window."""

    rate_hz: float
    filter_s: float
    averages: bool          # a moving average; else exponential
    delay_s: float
    noise_g: float
    hum_g: float
    jitter_s: float

    @classmethod
    def drawn(cls, chance: Random) -> "Balance":
        u = chance.uniform
        averages = chance.random() < 0.5
        return cls(rate_hz=chance.choice((5, 8, 10, 10, 12.5, 16, 20)),
                   filter_s=u(0.1, 0.9) if averages else u(0.05, 0.45), averages=averages,
                   delay_s=u(0.02, 0.2), noise_g=u(0.01, 0.05), hum_g=u(0.02, 0.3),
                   jitter_s=u(0.0, 0.015))

    @property
    def late_s(self) -> float:
        """The mean delay of what it shows."""
        return self.delay_s + (self.filter_s / 2 if self.averages else self.filter_s)


@dataclass(frozen=True)
class Bump:
    """Grams, beginning at `t_s`: "ring" (a knock that dies away), "push" (a hand), "shift" (stays)."""

    kind: str
    t_s: float
    grams: float
    for_s: float
    hz: float = 7.0

    def at(self, t_s: float) -> float:
        since_s = t_s - self.t_s
        if since_s < 0:
            return 0.0
        if self.kind == "ring":
            return self.grams * exp(-since_s / self.for_s) * sin(2 * pi * self.hz * since_s + 0.6)
        if self.kind == "push":
            return self.grams * sin(pi * since_s / self.for_s) ** 2 if since_s < self.for_s else 0.0
        return self.grams

    @classmethod
    def drawn(cls, chance: Random, from_s: float, to_s: float) -> "Bump":
        u = chance.uniform
        if chance.random() < 2 / 3:
            return cls("ring", u(from_s, to_s), u(2, 60), u(0.05, 0.4), u(3, 12))
        return cls("push", u(from_s, to_s), chance.choice((-1, 1)) * u(2, 40), u(0.3, 1.6))


class Shown:
    """What one scale shows of a load, step by step: `step(t_s, load_g, pump)` gives (arrival, grams) or None."""

    def __init__(self, balance: Balance, chance: Random, t_s: float = 0.0):
        self.balance, self.chance = balance, chance
        self._due_s = t_s + chance.uniform(0, 1 / balance.rate_hz)
        self._filtered: float | None = None
        self._window: deque[float] = deque(maxlen=max(1, round(balance.filter_s / DT_S)))
        self._sum = 0.0
        self._on_the_line: deque[tuple[float, float]] = deque()
        self._phase = chance.uniform(0, 2 * pi)

    def step(self, t_s: float, load_g: float, pump: bool) -> tuple[float, float] | None:
        b = self.balance
        if pump:
            load_g += self.chance.gauss(0, b.hum_g * 2) + b.hum_g * sin(2 * pi * 1.7 * t_s + self._phase)
        if b.averages:
            if len(self._window) == self._window.maxlen:
                self._sum -= self._window[0]
            self._window.append(load_g)
            self._sum += load_g
            shown_g = self._sum / len(self._window)
        else:
            self._filtered = load_g if self._filtered is None else self._filtered + (load_g - self._filtered) * (
                1 - exp(-DT_S / b.filter_s))
            shown_g = self._filtered
        if t_s >= self._due_s:
            self._due_s += 1 / b.rate_hz
            grams = round(shown_g + self.chance.gauss(0, b.noise_g), 1)
            self._on_the_line.append((t_s + b.delay_s + self.chance.uniform(0, b.jitter_s), grams))
        if self._on_the_line and t_s >= self._on_the_line[0][0]:
            return self._on_the_line.popleft()
        return None
