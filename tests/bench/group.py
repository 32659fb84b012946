"""A group for the benches: four flow laws, its own valve, spout and drips, and the person who answers the cue.

Nothing here is the watch's model (straight lines, and `after_s` × flow + `drip_g`). Ranges are common practice and
from memory; they are meant to be wider than what a bar meets.
"""

from dataclasses import dataclass, field
from math import exp
from random import Random

DT_S = 0.02
LAWS = ("darcy", "compacting", "eroding", "channelling")
DROP_G = 0.06


@dataclass
class Group:
    """What stays the same from pull to pull on one group."""

    law: str
    settled_g: float        # flow is such that this much takes about `time_s`
    time_s: float
    drop_s: float           # pump on to a wetted puck
    gather_s: float         # over which the puck's area comes through, unevenly
    ramp_s: float           # pump's rise
    valve_s: float          # switch to valve
    relief_s: float         # pressure's fall after it
    spout_s: float          # what hangs in the spout
    fall_s: float           # spout to cup
    drips: tuple[float, float]   # mean number, mean grams
    wanders: float          # pull to pull, relative, of the puck's resistance
    reaction_s: float
    reaction_sd_s: float
    shape: dict = field(default_factory=dict)

    @classmethod
    def drawn(cls, chance: Random, law: str | None = None, settled_g: float = 50.4) -> "Group":
        u = chance.uniform
        return cls(law=law or chance.choice(LAWS), settled_g=settled_g, time_s=u(20, 31), drop_s=u(2.5, 6.5),
                   gather_s=u(0.2, 1.5), ramp_s=u(0.2, 1.2), valve_s=u(0.03, 0.3), relief_s=u(0.05, 0.4),
                   spout_s=u(0.1, 0.5), fall_s=u(0.08, 0.18), drips=(u(0, 6), u(0.04, 0.15)), wanders=u(0.03, 0.08),
                   reaction_s=u(0.25, 0.65), reaction_sd_s=u(0.05, 0.12),
                   shape={"rest": u(0.5, 0.85), "fall_s": u(3, 12), "gain": u(0.2, 1.0), "half_g": u(10, 40),
                          "burst_s": u(6, 20), "burst": u(0.1, 0.4), "turbulent": u(0.0, 0.3)})


class Pour:
    """One pull, a step at a time: `step()` moves on by DT_S; `cup_g` is what has landed; `stop()` the pump whenever."""

    def __init__(self, group: Group, chance: Random, chokes: bool = False):
        self.group, self.t_s, self.cup_g, self.first_drop_s = group, 0.0, 0.0, None
        self.looser = exp(chance.gauss(0, group.wanders)) * (0.0 if chokes else 1.0)
        self.drop_s = group.drop_s / max(self.looser, 1e-9) * exp(chance.gauss(0, 0.05))
        self._pressure, self._wet, self._passed_g, self._hanging_g, self._spilled_g = 0.0, 0.0, 0.0, 0.0, 0.0
        self._stop_s: float | None = None
        self._in_air: list[float] = [0.0] * max(1, round(group.fall_s / DT_S))
        count = max(0, round(chance.gauss(group.drips[0], 0.35 * group.drips[0])))
        self._drips = sorted((chance.uniform(0.6, 5.0), group.drips[1] * chance.uniform(0.6, 1.4))
                             for _ in range(count))
        self._burst_s = group.shape["burst_s"] * chance.uniform(0.7, 1.4)
        self._flow = group.settled_g / (group.time_s - group.drop_s - group.gather_s / 2) / self._mean_shape()

    def _mean_shape(self) -> float:
        s, span_s = self.group.shape, self.group.time_s - self.group.drop_s
        if self.group.law == "compacting":
            return s["rest"] + (1 - s["rest"]) * s["fall_s"] / span_s * (1 - exp(-span_s / s["fall_s"]))
        if self.group.law == "eroding":
            return 1 + 0.55 * s["gain"]
        return 1.0

    def _shape(self) -> float:
        s, wet_s = self.group.shape, self.t_s - self.drop_s
        if self.group.law == "compacting":
            return s["rest"] + (1 - s["rest"]) * exp(-wet_s / s["fall_s"])
        if self.group.law == "eroding":
            return 1 + s["gain"] * self._passed_g / (self._passed_g + s["half_g"])
        if self.group.law == "channelling":
            return 1 + s["burst"] * (self.t_s > self._burst_s) + 0.004 * wet_s
        return 1.0

    def stop(self):
        self._stop_s = self.t_s

    def step(self):
        group = self.group
        self.t_s += DT_S
        shut_s = None if self._stop_s is None else self.t_s - self._stop_s - group.valve_s
        if shut_s is None or shut_s < 0:
            self._pressure += (1 - self._pressure) * DT_S / group.ramp_s
        else:
            self._pressure *= 1 - DT_S / group.relief_s
        through = min(1.0, max(0.0, (self.t_s - self.drop_s) / group.gather_s))
        pressure = self._pressure
        if group.law == "compacting":                   # part of the loss is turbulent: flow rises slower than pressure
            a = group.shape["turbulent"]
            pressure = ((1 - a) ** 2 + 4 * a * pressure) ** 0.5 / (2 * a) - (1 - a) / (2 * a) if a > 0.01 else pressure
        flow = self._flow * self.looser * self._shape() * pressure * through if through else 0.0
        self._passed_g += flow * DT_S
        self._hanging_g += flow * DT_S
        leaves_g = self._hanging_g * DT_S / group.spout_s
        self._hanging_g -= leaves_g
        while self._drips and shut_s is not None and shut_s >= self._drips[0][0]:
            drip_g = self._drips.pop(0)[1]
            leaves_g += drip_g if self._passed_g > 1 else 0.0
        self._in_air.append(leaves_g)
        self._spilled_g += self._in_air.pop(0)
        # A trickle falls in drops; a stream is continuous.
        steady = leaves_g / DT_S > 0.8
        landed_g = self._spilled_g if steady else self._spilled_g - self._spilled_g % DROP_G
        self.cup_g = max(self.cup_g, landed_g)
        if self.first_drop_s is None and self.cup_g > 0:
            self.first_drop_s = self.t_s

    def settled_g(self) -> float:
        """Runs the stopped pour to its end."""
        for _ in range(round(15 / DT_S)):
            self.step()
        return self.cup_g
