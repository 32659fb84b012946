"""The pull on the scale: cup, first drop, flow, stop cue, pump off, settled yield, and what goes wrong between them."""

from math import hypot, inf
from statistics import median

from kiosk.bar import stream
from kiosk.bar.cue import Habits, Poured
from kiosk.bar.live import (CupLifted, CupSet, FirstDrop, FlowEnded, Sample, Settled, Sighting, StopNow, YieldLost)
from kiosk.bar.recipe import Recipe

FLOW_WINDOW_S = 2.0
FLOW_LAG_S = FLOW_WINDOW_S / 2   # a straight line through the last two seconds tells the flow of their middle
REST_S = 0.6
KEPT_S = 12.0                    # of points, for the fits: from before the pump went off until the last drip
GATE_G = 3.0                     # no stream jumps so far between two readings: a hand, a knock or a cup does
FALLS_G = 1.2                    # no stream falls; what came back down by more, through hum and tenths, was a hand
FLOWING_GATE_G = 1.5
SHOULDER_S = 0.4                 # on either side of a jump the scale is already, or still, on its way
STEADY_S = 0.7                   # what stays this long after a jump has come to stay
CUP_FROM_G = 4.0                 # the lightest paper cup
BEGIN_S = 1.5
STILL_G_PER_S = 0.3                # slower than this, a scale is finding its last tenths
LOOK_AGAIN_S = 1.0               # a first drop is told at once, and once more when the stream has shown its pace
SETTLE_S = 2.0
SETTLED_SPREAD_G = 0.25
DROP_S = 0.3                     # what of the scale's delay and the stream's gathering stays unknown, 19 times in 20
TAUGHT_S, UNTAUGHT_S = 0.25, 0.6 # the same of valve and delay, once a tapped stop has shown them, and before
CURVE_EVERY_S, CURVE_POINTS = 0.1, 1800


class PourWatch:
    """Watches one cup (or two) through one pull.

    Begin it at lock-in, or earlier, and tell it `pump_on(t_s)`; or give the pump's time at once. `pump_off(t_s)` when
    somebody taps. Between readings `at(t_s)` lets the cue fall on its moment. All four answer with sightings.
    """

    def __init__(self, recipe: Recipe, habits: Habits = Habits(), t_s: float | None = None):
        self.recipe, self.habits = recipe, habits
        self.on_s, self.off_s = t_s, None        # off_s: tapped, or told by the curve
        self.grams: float | None = None          # in the cup, net
        self.flow_g_per_s: float | None = None   # FLOW_LAG_S late
        self.curve: list[tuple[float, float]] = []
        self.stop_at_s: float | None = None      # where the cue is going to fall, as things stand
        self._base_g: float | None = None
        self._points: stream.Points = []         # (seconds, net grams) that belong to the cup and its stream
        self._odd: stream.Points = []            # (seconds, raw grams) since a jump
        self._last_s: float | None = None
        self._flowing = self._tapped = self._lost = False
        self._drop_told_s: float | None = None
        self._shaken_s = -inf
        self._cue_s: float | None = None
        self._peak_g_per_s = 0.0
        self._at_off: tuple[float, float] | None = None
        self._settled_g: float | None = None
        self._bend_s: float | None = None

    # What hands do

    def pump_on(self, t_s: float) -> tuple[Sighting, ...]:
        self.on_s = t_s
        return ()

    def pump_off(self, t_s: float) -> tuple[Sighting, ...]:
        self.off_s, self._tapped, self.stop_at_s = t_s, True, None
        self._at_off = self._line(t_s)
        return ()

    def lost(self, t_s: float) -> tuple[Sighting, ...]:
        """The scale went away. Timing goes on by taps; what poured unseen cannot be known."""
        self._odd.clear()
        self.flow_g_per_s = self.stop_at_s = None
        if self.on_s is None:
            self._base_g, self.grams = None, None
            self._points.clear()
            return ()
        return self._lose(t_s, "The scale went away during the pull: the yield is not known.")

    @property
    def poured(self) -> Poured | None:
        """What this pull has to teach the group's habits; None until it has settled."""
        if self._settled_g is None or self.off_s is None or self._lost:
            return None
        reaction = self.off_s - self._cue_s if self._cue_s is not None else None
        shown_g, flow = self._at_off or (None, None)
        after_g = None if shown_g is None else self._settled_g - shown_g
        return Poured(reaction_s=reaction, flow_g_per_s=flow, after_g=after_g, bend_s=self._bend_s)

    # What the scale shows

    def at(self, t_s: float) -> tuple[Sighting, ...]:
        """The clock stands at `t_s`: the cue, if its moment has come between two readings."""
        if self.stop_at_s is None or self._cue_s is not None or t_s < self.stop_at_s or self._lost:
            return ()
        self._cue_s = self.stop_at_s
        self.stop_at_s = None
        return (StopNow(self._cue_s, round(self._expected_g, 2)),)

    def saw(self, sample: Sample) -> tuple[Sighting, ...]:
        t_s, raw_g = sample.t_s, sample.grams
        if self._last_s is not None and t_s <= self._last_s:
            return ()
        since_s, self._last_s = t_s - (self._last_s or t_s), t_s
        seen = list(self.at(t_s))
        if self._base_g is None or self._jumped(t_s, raw_g - self._base_g, since_s):
            if not self._odd:
                self._points = [p for p in self._points if t_s - p[0] > SHOULDER_S or p is self._points[0]]
            self._odd.append((t_s, raw_g))
            return tuple(seen) + self._came_to_stay(t_s)
        if self._odd:
            self._shaken_s = t_s
            self._odd.clear()
        if t_s - self._shaken_s < SHOULDER_S:
            return tuple(seen)
        self._points.append((t_s, raw_g - self._base_g))
        while t_s - self._points[0][0] > KEPT_S:
            self._points.pop(0)
        self._draw(t_s)
        if not self._flowing:
            seen += self._before_the_drop(t_s)
        else:
            seen += self._in_the_stream(t_s)
        return tuple(seen)

    def _draw(self, t_s: float):
        self.grams = self._points[-1][1]
        if self.on_s is None or t_s < self.on_s or len(self.curve) >= CURVE_POINTS:
            return
        if not self.curve or t_s - self.on_s - self.curve[-1][0] >= CURVE_EVERY_S - 0.01:
            self.curve.append((round(t_s - self.on_s, 3), round(self.grams, 2)))

    def _before_the_drop(self, t_s: float) -> tuple[Sighting, ...]:
        last = self._since(t_s - REST_S)
        if self.on_s is None:
            if len(last) >= 3 and abs(stream.line(last, t_s)[1]) < 0.5:
                drift = sum(g for _, g in last) / len(last)
                self._base_g += drift
                self._points = [(t, g - drift) for t, g in last]
            return ()
        self.flow_g_per_s = 0.0
        grams = self._points[-1][1]
        if any(g > grams + FALLS_G for _, g in self._points):
            self._points = [p for p in self._points if p[1] < grams + FALLS_G / 2]
            self._shaken_s = t_s
        if not self._begins(t_s):
            return ()
        self._flowing, self._drop_told_s = True, t_s
        return self._first_drop(t_s)

    def _first_drop(self, t_s: float) -> tuple[Sighting, ...]:
        points = self._since(t_s - 5.0)
        bend_s, plus_minus = stream.onset(points, self.on_s, t_s - 0.3)
        if bend_s - points[0][0] < 0.3:
            return ()    # the stream is older than what was seen of it: a cup set down late, or a long knock
        return (FirstDrop(max(self.on_s, bend_s - self.habits.delay_s()), round(hypot(plus_minus, DROP_S), 2)),)

    def _begins(self, t_s: float) -> bool:
        """Whether the cup fills, third by third of a while, well above what came before: no knock or drip does that."""
        if t_s - self._shaken_s < 1.5:
            return False
        if self._rises(t_s, 3.0, 0.4, 1.3):
            return True
        # A hand that leans on the tray rises for a second too, but seldom at a stream's pace and time.
        usual_g_per_s = self.recipe.yield_g / self.recipe.time_window_s[0]
        return (t_s - self.on_s > 3.0 and self._rises(t_s, 1.5, 0.3, 1.0)
                and stream.line(self._since(t_s - 0.5), t_s)[1] < 3 * usual_g_per_s)

    def _rises(self, t_s: float, for_s: float, third_g: float, whole_g: float) -> bool:
        last = self._since(max(t_s - for_s, self.on_s))
        if len(last) < 6 or last[-1][0] - last[0][0] < for_s - 0.25:
            return False
        before = [g for t, g in self._points if t_s - for_s - 2.5 <= t < t_s - for_s] or [0.0]
        level_g = sum(before) / len(before)
        shake_g = (sum((g - level_g) ** 2 for g in before) / len(before)) ** 0.5
        third = len(last) // 3
        a, b, c = (sum(g for _, g in part) / len(part) for part in (last[:third], last[third:-third], last[-third:]))
        return (min(b - a, c - b) > max(third_g, shake_g) and c - level_g > max(whole_g, 4 * shake_g)
                and stream.line(last[-third:], t_s)[1] > 0 and stream.rms(last) < 0.15 + shake_g + 0.08 * (c - a))

    def _in_the_stream(self, t_s: float) -> tuple[Sighting, ...]:
        shown_g, flow = self._line(t_s) or (self.grams, 0.0)
        self.flow_g_per_s = max(0.0, flow)
        self._peak_g_per_s = max(self._peak_g_per_s, flow)
        seen = ()
        if self._drop_told_s is not None and t_s - self._drop_told_s >= LOOK_AGAIN_S:
            self._drop_told_s, seen = None, self._first_drop(self._drop_told_s + LOOK_AGAIN_S)
        if self._cue_s is None and self.off_s is None and not self._lost:
            self._foresee(t_s, shown_g, flow)
            cue = self.at(t_s)
            if cue:
                return seen + cue
        return seen + self._settles(t_s)

    def _foresee(self, t_s: float, shown_g: float, flow: float):
        if flow < 0.1:
            self.stop_at_s = None
            return
        after_s, drip_g = self.habits.after()
        lead_s = self.habits.reaction_s() + after_s
        short_g = self.recipe.yield_g - drip_g - shown_g - flow * lead_s
        self._expected_g = self.recipe.yield_g - min(0.0, short_g)
        self.stop_at_s = max(t_s, t_s + short_g / flow)

    def _settles(self, t_s: float) -> tuple[Sighting, ...]:
        if self._lost:
            return ()
        wait_s = SETTLE_S if self.off_s is not None else SETTLE_S + 1.0
        last = self._since(t_s - wait_s)
        if t_s - last[0][0] < wait_s - 0.25 or len(last) < 5 or t_s - (self.off_s or t_s) < 0:
            return ()
        last_g = [g for _, g in last]
        if max(last_g) - min(last_g) > SETTLED_SPREAD_G or abs(stream.line(last, t_s)[1]) > 0.1:
            return ()
        yield_g = sum(last_g) / len(last_g)
        if self._settled_g is not None and abs(yield_g - self._settled_g) < 0.15:
            return ()
        seen = self._ended()
        self._settled_g = yield_g
        return (*seen, Settled(t_s, round(yield_g, 2)))

    def _ended(self) -> tuple[Sighting, ...]:
        """The bend that the stopped pump left in the curve; told where nobody tapped, learned from where somebody did."""
        if self._settled_g is not None:
            return ()
        about_s = self.off_s if self._tapped else self._last_steep_s() - 0.5
        points = [p for p in self._points if about_s - 2.0 <= p[0] <= about_s + 3.0]
        if len(points) < 8:
            return ()
        bend_s, plus_minus = stream.ending(points, about_s - 0.7, about_s + 1.5)
        if self._tapped:
            self._bend_s = bend_s - self.off_s if plus_minus < 0.4 else None
            return ()
        self.off_s = bend_s - self.habits.bend_s()
        before = [p for p in self._points if self.off_s - FLOW_WINDOW_S <= p[0] <= self.off_s]
        self._at_off = stream.line(before, self.off_s) if len(before) >= 3 else None
        return (FlowEnded(self.off_s, round(hypot(plus_minus, TAUGHT_S if self.habits.taught else UNTAUGHT_S), 2)),)

    def _last_steep_s(self) -> float:
        """When the stream last ran at half its pace."""
        steep = [u for (t, g), (u, h) in zip(self._points, self._points[3:]) if h - g > (u - t) * self._peak_g_per_s / 2]
        return steep[-1] if steep else self._points[0][0]

    # Jumps: cups, hands and knocks

    def _jumped(self, t_s: float, net_g: float, since_s: float) -> bool:
        if not self._points:
            return False
        if not self._flowing:
            last_s, last_g = self._points[-1]
            level_g = median(g for _, g in self._since(last_s - 3.0))
            return abs(net_g - last_g) > GATE_G + 8.0 * min(0.3, t_s - last_s) or net_g < level_g - FALLS_G
        expected_g, flow = self._line(t_s) or (self._points[-1][1], 0.0)
        return abs(net_g - expected_g) > FLOWING_GATE_G + max(1.0, flow) * min(0.3, since_s)

    def _came_to_stay(self, t_s: float) -> tuple[Sighting, ...]:
        self._odd = [p for p in self._odd if t_s - p[0] <= KEPT_S]
        steady = [p for p in self._odd if t_s - p[0] <= STEADY_S + 0.05]
        if len(steady) < 3 or steady[-1][0] - steady[0][0] < STEADY_S - 0.25 or stream.rms(steady) > 0.5:
            return ()
        level_g, slope = stream.line(steady, t_s)
        if not self._flowing:
            return self._another_base(t_s, steady, level_g, slope)
        if not -STILL_G_PER_S < slope < 12:
            return ()
        began_s = self._odd[0][0]
        self._odd.clear()
        change_g = level_g - self._base_g - (self._line(t_s) or (self.grams, 0.0))[0]
        if change_g <= -CUP_FROM_G:
            return self._lifted(began_s)
        # A stream a little faster or slower than foreseen is no shift: it was not seen for as long as the jump lasted.
        if abs(change_g) > FLOWING_GATE_G + 2.0 * (t_s - self._points[-1][0]):
            self._base_g += change_g
        self._points += [(t, g - self._base_g) for t, g in steady]
        if t_s - began_s > 2.0:
            return self._lose(began_s, "The scale was knocked during the pull: the yield is not known.")
        return ()

    def _another_base(self, t_s: float, steady: stream.Points, level_g: float, slope: float) -> tuple[Sighting, ...]:
        began_s, pouring = self._odd[0][0], False
        if abs(slope) >= STILL_G_PER_S:
            # A cup that came late stands under a stream: a rise that keeps its pace, where a filter's creep dies away.
            long = [p for p in self._odd if t_s - p[0] <= 3 * STEADY_S]
            if self.on_s is None or t_s - long[0][0] < 3 * STEADY_S - 0.25 or stream.rms(long) > 0.5:
                return ()
            early = stream.line(long[:len(long) // 2], t_s)[1]
            late = stream.line(long[len(long) // 2:], t_s)[1]
            if not 0.7 * early < late < 12 or early < STILL_G_PER_S:
                return ()
            pouring, steady = True, long
            level_g, _ = stream.line(long, began_s)
            if self._points and abs(level_g - self._base_g - self._points[-1][1]) < CUP_FROM_G:
                # No cup came: a knock hid where the stream began. What poured under it is in the cup.
                self._odd.clear()
                self._points += [(t, g - self._base_g) for t, g in long]
                return ()
        change_g = level_g - (self._base_g or 0.0) - (self._points[-1][1] if self._points else 0.0)
        cup_g = level_g - (self._base_g or 0.0)
        self._odd.clear()
        self._base_g = level_g
        self._points = [(t, g - level_g) for t, g in steady]
        self._flowing = pouring
        if change_g >= CUP_FROM_G:
            return (CupSet(began_s, round(cup_g, 1)),)
        return (CupLifted(began_s),) if change_g <= -CUP_FROM_G else ()

    def _lifted(self, t_s: float) -> tuple[Sighting, ...]:
        if self._settled_g is not None or self._lost:
            return (CupLifted(t_s),)
        last = [p for p in self._points if p[0] >= self._points[-1][0] - 0.8]
        still = len(last) >= 3 and stream.line(last, t_s)[1] < 0.4
        if still and (self.off_s is not None or self._cue_s is not None):
            seen = self._ended()
            self._settled_g = self._points[-1][1]
            return (*seen, Settled(t_s, round(self._settled_g, 2)), CupLifted(t_s))
        return (CupLifted(t_s), *self._lose(t_s, "The cup was lifted before it was full: the yield is not known."))

    def _lose(self, t_s: float, why: str) -> tuple[Sighting, ...]:
        if self._lost or self._settled_g is not None:
            return ()
        self._lost, self.stop_at_s, self.grams = True, None, None
        return (YieldLost(t_s, why),)

    def _since(self, from_s: float) -> stream.Points:
        """The points from `from_s` on; the list is short and the wanted ones are at its end."""
        i = len(self._points)
        while i and self._points[i - 1][0] >= from_s - 1e-9:
            i -= 1
        return self._points[i:]

    def _line(self, t_s: float) -> tuple[float, float] | None:
        """(net grams at `t_s`, flow) by the straight line through the last seconds; None where there are too few."""
        if not self._points:
            return None
        last = self._since(self._points[-1][0] - FLOW_WINDOW_S)
        return stream.line(last, t_s) if len(last) >= 3 else None
