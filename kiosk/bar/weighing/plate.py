"""What stands on the scale during a pull: cups come and go, hands lean and knock, and what is left is in the cup.

A reading far from what a stream could have made of the one before it is held back. If the weight comes back, it was a
hand or a knock, and nothing happened. If it stays, something was set down or taken away, and the tare moves with it.
"""

from dataclasses import dataclass
from math import inf

from kiosk.bar.weighing import stream
from kiosk.bar.weighing.sightings import CupLifted, CupSet

KEPT_S = 12.0              # of points: from before the pump went off until the last drip
GATE_G = 3.0               # no stream jumps so far between two readings: a hand, a knock or a cup does
POURING_GATE_G = 1.5       # and once its pace is known, no further than this from it
FALLS_G = 1.2              # no stream falls; what came back down by more, through hum and tenths, was a hand
FASTEST_G_PER_S, GUSH_S = 12.0, 1.3
QUICKENS_G_PER_S = 4.0     # a young stream may run so fast after a jump, an older one at twice its pace
AT_ONCE_S, AT_ONCE_FROM_G = 0.5, 1.0       # no stream begins with the lightest cup's grams in so little time from a level
SHOULDER_S = 0.4           # on either side of a jump the scale is already, or still, on its way
STEADY_S = 0.7             # a cup that stays this long was set down
STAYS_S = 2.5              # anything else that stays this long has come to stay
LATE_CUP_S = 2.1           # and a rise this long keeps a stream's pace, where a slow scale's creep dies away
LATE_WITHIN_G = 2.0        # a cup set down as the stream began is known so well, or not at all
STEEP_S, STEEP_G_PER_S = 0.25, 6.0         # a scale on its way to a cup's weight; no stream that is looked for behind it
SURELY_RISEN_S = 1.4       # so much of the stream is looked at in any case
LEVEL_S = 0.4              # of level that must be seen for a stream to have begun on it
STILL_G_PER_S = 0.3
STEADY_G = 0.5
CUP_FROM_G = 4.0           # the lightest paper cup
SURELY_A_CUP_G = 50.0      # no leaning hand keeps so much so still, whatever else (a drip tray) stands there
STEPPED_S = (0.8, 1.5)     # after a jump a cup stands there whole; a stream would have brought a gram or two
CREPT_S = 4.0              # a slow scale has shown a light cup by then
CREPT_SHARE, CREPT_G_PER_S = 0.3, 4.0      # between these shares of its way up it rose faster than any stream begins
CREEP_G_PER_S = 0.4        # and what is left of its way is no stream
HIDDEN_STREAM_G = 12.0     # what may pour while a knock hides it
PACE_S = 2.0
AWAY_S, AWAY_SHARE, AWAY_FROM_G = 0.6, 0.5, 25.0    # half of cup and coffee gone for so long, and not so light a cup that a hand could


@dataclass(frozen=True, slots=True)
class Shifted:
    """The weight moved for good in the middle of a stream, and no cup explains it."""

    t_s: float


@dataclass(frozen=True, slots=True)
class Vague:
    """A cup was set down as the stream began: what it weighs is known well enough to foresee the stop, not to keep a yield."""

    t_s: float


Moved = CupSet | CupLifted | Shifted | Vague


class Plate:
    """`points` are (seconds, net grams) of cup and stream; `shaken_s` is when the last jump was over.

    `pouring` is set by whoever sees the stream begin, or here where a cup is set down under one; `level_seen` then tells whether it
    stood there before the stream began.
    """

    def __init__(self) -> None:
        self.points: stream.Points = []
        self.shaken_s = -inf
        self.pouring = self.level_seen = False
        self.cups_g: list[float] = []
        self._base_g: float | None = None
        self._odd: stream.Points = []      # (seconds, raw grams) since a jump

    def forget(self) -> None:
        """The scale went away: whatever stands on it later has to show itself anew."""
        self.__init__()     # type: ignore[misc]  # no other class is made of this one

    @property
    def stood_g(self) -> float | None:
        """What the scale showed at the last reading that counted: cups and what was in them."""
        return None if self._base_g is None or not self.points else self._base_g + self.points[-1][1]

    def tare(self, net_g: float) -> None:
        """What has gathered before the pump is on belongs to the cup."""
        self._base_g = (self._base_g or 0.0) + net_g
        self.points = [(t, g - net_g) for t, g in self.points]

    def since(self, from_s: float) -> stream.Points:
        """The points from `from_s` on."""
        i = len(self.points)
        while i and self.points[i - 1][0] >= from_s - 1e-9:
            i -= 1
        return self.points[i:]

    def line(self, t_s: float) -> tuple[float, float] | None:
        """(net grams at `t_s`, flow) by the straight line through the last seconds; None where there are too few."""
        last = self.since(self.points[-1][0] - PACE_S) if self.points else []
        return stream.line(last, t_s) if len(last) >= 3 else None

    def _foreseen(self, t_s: float) -> tuple[float, float]:
        """(net grams at `t_s`, flow) if the stream goes on as it ran: none falls back."""
        last_s, last_g = self.points[-1]
        grams, flow = self.line(last_s) or (last_g, 0.0)
        return grams + max(0.0, flow) * (t_s - last_s), max(0.0, flow)

    def observe(self, t_s: float, raw_g: float, pump_on: bool) -> tuple[bool, tuple[Moved, ...]]:
        """Whether `points` has grown by this reading, and what came or went."""
        if self._base_g is None or self._jumped(t_s, raw_g - self._base_g):
            if not self._odd:
                self.points = self.points[:1] + [p for p in self.points[1:] if t_s - p[0] > SHOULDER_S]
            self._odd = [p for p in self._odd if t_s - p[0] <= KEPT_S] + [(t_s, raw_g)]
            return False, self._stays(t_s, pump_on)
        if self._odd:
            self.shaken_s = t_s
            away = self._away()
            self._odd.clear()
            return False, away
        if t_s - self.shaken_s < SHOULDER_S:
            return False, ()
        net_g = raw_g - self._base_g
        if not self.pouring and any(g > net_g + FALLS_G for _, g in self.points):
            self.points = [p for p in self.points if p[1] < net_g + FALLS_G / 2]
            self.shaken_s = t_s
        self.points.append((t_s, net_g))
        while t_s - self.points[0][0] > KEPT_S:
            self.points.pop(0)
        return True, self._crept_up(t_s) if pump_on and not self.pouring else ()

    def _crept_up(self, t_s: float) -> tuple[CupSet | CupLifted, ...]:
        """A light cup that a slow scale took its time to show: no stream begins so fast and then rests."""
        steady = self.since(t_s - STEADY_S)
        before = [p for p in self.points if t_s - CREPT_S <= p[0] < steady[0][0]]
        if not before or len(steady) < 3 or steady[-1][0] - steady[0][0] < STEADY_S - 0.25 or stream.rms(steady) > STEADY_G:
            return ()
        level_g, slope = stream.line(steady, t_s)
        low_g = min(g for _, g in before)
        if level_g - low_g < CUP_FROM_G or abs(slope) > CREEP_G_PER_S:
            return ()
        began_s = next(t for t, g in reversed(before) if g < low_g + CREPT_SHARE * (level_g - low_g))
        risen_s = next(t for t, g in (*before, *steady) if t > began_s and g > level_g - CREPT_SHARE * (level_g - low_g))
        if risen_s - began_s > (level_g - low_g) / CREPT_G_PER_S:
            return ()
        base_g = self._base_g or 0.0
        return self._onto(began_s, base_g + level_g, level_g - low_g, steady=[(t, g + base_g) for t, g in steady])

    def _jumped(self, t_s: float, net_g: float) -> bool:
        if not self.points:
            return False
        last_s, last_g = self.points[-1]
        since_s = min(0.3, t_s - last_s)
        if self.pouring:
            expected_g, flow = self._foreseen(t_s)
            if net_g < max(g for _, g in self.since(last_s - PACE_S)) - FALLS_G:
                return True
            return abs(net_g - expected_g) > POURING_GATE_G + max(1.0, flow) * since_s
        level_g = sorted(g for _, g in self.points)[len(self.points) // 4]
        soon = [g for _, g in self.since(t_s - AT_ONCE_S)]
        if soon and net_g - min(soon) > CUP_FROM_G and min(soon) - level_g < AT_ONCE_FROM_G:
            return True      # a light cup through a slow scale
        return net_g > last_g + GATE_G + 8.0 * since_s or net_g < level_g - FALLS_G

    def _stays(self, t_s: float, pump_on: bool) -> tuple[Moved, ...]:
        steady = self._last_odd(t_s, STEADY_S)
        if not steady:
            return ()
        began_s = self._odd[0][0]
        level_g, slope = stream.line(steady, t_s)
        if abs(slope) >= STILL_G_PER_S and not self.pouring:
            if pump_on and self._gushes(t_s):
                return self._into(list(self._odd))
            steady = self._last_odd(t_s, LATE_CUP_S) if pump_on else []
            if not steady or not _keeps_pace(steady):
                return ()
            return self._under_a_stream(began_s, steady)
        if not -STILL_G_PER_S < slope < FASTEST_G_PER_S:
            return ()
        if self._base_g is None:
            return self._onto(began_s, level_g, level_g, steady)
        last_s, last_g = self.points[-1] if self.points else (t_s, 0.0)
        expected_g, flow = self._foreseen(t_s) if self.pouring and self.points else (last_g, 0.0)
        if self.pouring and slope > max(QUICKENS_G_PER_S, 2 * flow):
            return ()                    # it springs back: no stream runs so much faster all at once
        change_g = level_g - self._base_g - expected_g
        least_g, most_g = (g * (t_s - last_s) for g in (-max(2.0, 1.5 * flow), max(1.0, slope - flow)))
        if self.pouring and least_g - POURING_GATE_G <= change_g <= most_g + POURING_GATE_G:
            return self._into(steady)    # a stream off the pace foreseen, or stopped, while a jump hid it
        if self._like_a_cup(change_g):
            return self._onto(began_s, self._base_g + change_g if pump_on else level_g, change_g, steady)
        if t_s - began_s < STAYS_S:
            return ()
        self._onto(began_s, self._base_g + change_g, 0.0, steady)
        return (Shifted(began_s),) if self.pouring else ()

    def _gushes(self, t_s: float) -> bool:
        """Whether it rises on and on from where it stood, faster than a stream should and longer than a scale takes to a cup."""
        rise = self._last_odd(t_s, GUSH_S)
        from_g = (self._base_g or 0.0) + (self.points[-1][1] if self.points else 0.0)
        return bool(rise) and abs(self._odd[0][1] - from_g) < 2 * GATE_G and stream.line(rise, t_s)[1] >= FASTEST_G_PER_S

    def _under_a_stream(self, began_s: float, steady: stream.Points) -> tuple[Moved, ...]:
        risen = self._risen(steady)
        cup = stream.set_down(risen, began_s)
        change_g = cup.grams - (self._base_g or 0.0) - (self.points[-1][1] if self.points else 0.0)
        if self.points and not (self._like_a_cup(change_g) and (abs(change_g) >= HIDDEN_STREAM_G
                                                                or self._stepped(began_s, change_g))):
            return self._into(steady)    # no cup came: a knock hid where the stream began
        self.pouring, self.level_seen = True, cup.begun_s - cup.settled_s >= LEVEL_S
        moved = self._onto(began_s, cup.grams, change_g, [p for p in risen if p[0] >= min(cup.settled_s, steady[0][0])])
        return (*moved, Vague(began_s)) if cup.within_g > LATE_WITHIN_G else moved

    def _risen(self, steady: stream.Points) -> stream.Points:
        """The readings since a jump but for the scale's own way up, which is steeper than the stream that came to be."""
        steep = max(STEEP_G_PER_S, 1.1 * stream.line(steady, 0.0)[1])
        for i, (t_s, grams) in enumerate(self._odd):
            soon_s, soon_g = next((p for p in self._odd[i + 1:] if p[0] - t_s >= STEEP_S), steady[-1])
            if t_s >= steady[-1][0] - SURELY_RISEN_S or soon_g - grams < steep * (soon_s - t_s):
                return self._odd[i:]
        return steady

    def _away(self) -> tuple[Shifted, ...]:
        """Whether the cup itself was lifted from under a stream and put back, before the scale had come to rest: what fell
        meanwhile is not in it. No knock and no hand takes half of a cup's weight away for so long."""
        if not self.pouring or not self.points:
            return ()
        in_it_g = self.points[-1][1]
        stood_g = sum(self.cups_g) + in_it_g
        gone = [t for t, g in self._odd if g - (self._base_g or 0.0) - in_it_g < -AWAY_SHARE * stood_g]
        away = stood_g >= AWAY_FROM_G and len(gone) >= 2 and gone[-1] - gone[0] >= AWAY_S
        return (Shifted(self._odd[0][0]),) if away else ()

    def _stepped(self, began_s: float, change_g: float) -> bool:
        """Whether the weight was up by nearly all of `change_g` a second after the jump, as under a cup, and stayed."""
        before_g = (self._base_g or 0.0) + self.points[-1][1]
        soon = [g - before_g for t, g in self._odd if STEPPED_S[0] <= t - began_s <= STEPPED_S[1]]
        return len(soon) >= 3 and min(soon) >= 0.75 * change_g >= 0.75 * CUP_FROM_G

    def _last_odd(self, t_s: float, for_s: float) -> stream.Points:
        """The readings of the last `for_s` since the jump, if there are as many and they lie on a line; else none."""
        last = [p for p in self._odd if t_s - p[0] <= for_s + 0.05]
        enough = len(last) >= 3 and last[-1][0] - last[0][0] >= for_s - 0.25
        return last if enough and stream.rms(last) <= STEADY_G else []

    def _like_a_cup(self, change_g: float) -> bool:
        if self.cups_g:
            return abs(change_g) >= min(SURELY_A_CUP_G, min(self.cups_g) / 2)
        return change_g >= CUP_FROM_G or change_g <= -HIDDEN_STREAM_G

    def _into(self, steady: stream.Points) -> tuple:
        self._odd.clear()
        base_g = self._base_g or 0.0
        self.points += [(t, g - base_g) for t, g in steady]
        return ()

    def _onto(self, began_s: float, base_g: float, change_g: float,
              steady: stream.Points) -> tuple[CupSet | CupLifted, ...]:
        self._odd.clear()
        empty_g = (self._base_g or 0.0) - sum(self.cups_g)
        self._base_g = base_g
        self.points = [] if not self.pouring else self.points
        self.points += [(t, g - base_g) for t, g in steady]
        if change_g >= CUP_FROM_G:
            self.cups_g.append(change_g)
            return (CupSet(began_s, round(change_g, 1)),)
        if change_g <= -CUP_FROM_G:
            all_of_them = steady[-1][1] - empty_g < CUP_FROM_G       # two cups may be lifted by one hand
            self.cups_g = [] if all_of_them else self.cups_g[:-1]
            return (CupLifted(began_s),)
        return ()


def _keeps_pace(rise: stream.Points) -> bool:
    early, late = (stream.line(half, rise[-1][0])[1] for half in (rise[:len(rise) // 2], rise[len(rise) // 2:]))
    return early >= STILL_G_PER_S and 0.7 * early < late < FASTEST_G_PER_S
