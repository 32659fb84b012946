"""A pour that nobody announced: told from the scale alone, whatever the guides think is being done."""

from collections import deque
from dataclasses import dataclass
from math import inf

from kiosk.bar.model import usual
from kiosk.bar.weighing import stream
from kiosk.bar.weighing.drop import DropWatch
from kiosk.bar.weighing.plate import Plate
from kiosk.bar.weighing.sightings import Sample

KEPT_S = 90.0               # of readings: a whole pull, so that a watch begun late sees it from before its first drop
BELIEVED_AFTER_S = 1.8      # a stream is believed so long after its first drop
SURE_S, SURE_G = 0.5, 2.5   # a stream that went on so much longer, to so much, was no drip and no leaning hand
FASTEST_G_PER_S = 8.0       # hot water from a tap runs faster than any espresso
REST_S, STILL_G_PER_S = 1.5, 0.15
CUP_LATE_S = 5.0            # no cup comes longer after the first drop (from memory)
HEAVIEST_CUP_G = 330.0      # more stands there: a portafilter being dosed, a jug
MOST_SO_SOON_G = 20.0       # no stream brings more before it is sure; what was set down while the scale shook may seem to


@dataclass(frozen=True, slots=True)
class PourSeen:
    """A stream has begun to fall into a cup: its first drop fell at `drop_at_s`, or up to `earlier_s` before where the cup was set
    down under it; seen at `t_s`."""

    t_s: float
    drop_at_s: float
    earlier_s: float = 0.0


class UntoldPour:
    """Fed with every reading: to `observe` while no pull is known to pour, else to `pass_by`. `readings` are the last ones,
    oldest first."""

    def __init__(self) -> None:
        self.readings: deque[Sample] = deque()
        self._last_s = -inf
        self._again()

    def _again(self) -> None:
        self._plate, self._drop = Plate(), DropWatch(usual("", "double"))
        self._since_s: float | None = None      # when the stream was first believed
        self._told = False                      # of the stream that still runs
        self._ran_before = False                # into nothing, before its cup came

    def lost(self) -> None:
        """The scale went away: what stands on it later has to show itself anew."""
        self.readings.clear()
        self._again()

    def forget(self) -> None:
        """The pour has been given to a pull, or was none: look for the next one."""
        self._again()

    def pass_by(self, sample: Sample) -> bool:
        """It is only kept; whether it is a new one."""
        if sample.t_s <= self._last_s:
            return False
        self._last_s = sample.t_s
        self.readings.append(sample)
        while sample.t_s - self.readings[0].t_s > KEPT_S:
            self.readings.popleft()
        return True

    def observe(self, sample: Sample) -> PourSeen | None:
        """The pour that this reading gives away; None where there is none. Each is told once."""
        t_s = sample.t_s
        if not self.pass_by(sample):
            return None
        grown, moved = self._plate.observe(t_s, sample.grams, True)
        if moved:
            self._drop, self._since_s = DropWatch(usual("", "double")), None
            self._told = False
            self._ran_before = self._plate.pouring and not self._plate.level_seen
        if not grown or not self._plate.points:
            return None
        if self._told:
            rest = self._plate.since(t_s - REST_S)
            if rest[-1][0] - rest[0][0] >= REST_S - 0.3 and stream.line(rest, t_s)[1] < STILL_G_PER_S:
                self._again()
            return None
        from_s = self._plate.points[0][0]
        if self._since_s is None:
            if self._plate.pouring or self._drop.began(self._plate, from_s, t_s):
                self._since_s, self._plate.pouring = t_s, True
            return None
        last = self._plate.since(t_s - 1.0)
        net_g = self._plate.points[-1][1]
        if t_s - self._since_s < SURE_S or len(last) < 3 or net_g < SURE_G:
            return None
        flow = stream.line(last, t_s)[1]
        standing_g = sample.grams - min(net_g, MOST_SO_SOON_G)
        if not 0.2 < flow < FASTEST_G_PER_S or standing_g > HEAVIEST_CUP_G:
            self._again()
            return None
        bend = None if self._ran_before else self._drop.bend(self._plate, from_s, t_s)
        drop_s = bend[0] if bend else self._since_s - net_g / max(flow, 0.5)
        self._since_s, self._told = None, True
        return PourSeen(t_s, max(from_s, min(drop_s, t_s)), CUP_LATE_S if self._ran_before else 0.0)
