"""The pull on the scale: cup, first drop, flow, stop cue, pump off, settled yield, and what goes wrong between them."""

from collections.abc import Iterable
from math import hypot, inf
from statistics import median

from kiosk.bar.model import Recipe, not_known
from kiosk.bar.weighing import stream
from kiosk.bar.weighing.cue import Habits, Poured
from kiosk.bar.weighing.drop import LOOK_AGAIN_S, DropWatch
from kiosk.bar.weighing.plate import PACE_S, Moved, Plate, Shifted, Vague
from kiosk.bar.weighing.sightings import (
    CupGone,
    CupLifted,
    CupSet,
    FirstDrop,
    FlowEnded,
    Sample,
    Settled,
    Sighting,
    StopNow,
    YieldLost,
)

FLOW_LAG_S = PACE_S / 2          # a straight line through the last two seconds tells the flow of their middle
REST_S, AT_REST_G_PER_S = 0.6, 1.0
SETTLE_S = 2.0                   # a cup so long at rest is settled
THIN_SHARE = 0.2                 # of its full pace: so thin for so long, a stream that nobody stopped has been stopped
STOPPED_S, WETTING_S = 1.5, 5.0
SETTLED_SPREAD_G, SETTLED_G_PER_S = 0.25, 0.1
NEW_YIELD_G = 0.1
SEEN_S, HIDDEN_S = 1.0, 0.2      # the last second before a cup is lifted; what the scale had not shown by then
NEARLY_G_PER_S = 0.8             # a stream this thin has as good as ended
TAIL_FROM_S, TAIL_BENDS_S = 2.0, (-0.1, 1.1)     # before the stop, to know the pace; where its bend may lie
THINNED_TO = 60
LIFTED_WITHIN_G = 0.5            # a cup lifted while it still fills is known so well, or not at all
TAUGHT_S, UNTAUGHT_S = 0.25, 0.6 # ± of a stop that nobody tapped: where a tapped one has shown this group's, and before
BACK_WITHIN_S = 4.0              # a cup that is put straight comes back under the stream sooner
JUST_STOPPED = 0.6               # of its full pace: a stream that thin in its last half second had been stopped
UNSEEN_S = 1.0                   # a pump on so long before the watch began is a pull half seen
ABSENT_S, OTHER_G = 0.7, 3.0     # a weight gone so long was taken; so far from what stood there it is no drift and no drip
NOTHING_G = 1.0                  # less on the scale is no coffee
CURVE_EVERY_S, CURVE_POINTS = 0.1, 1800
LOOKS_BACK_S = 6.0               # before the first reading that is shown to a watch that begins late


def begun_before(recipe: Recipe, habits: Habits, began_s: float, readings: Iterable[Sample]) -> tuple["PourWatch", tuple[Sighting, ...]]:
    """A watch for a pump that went on at `began_s`, shown those `readings` that came before; and what it made of them."""
    before = [each for each in readings if each.t_s <= began_s]
    watch = PourWatch(recipe, habits, before[-1].t_s - LOOKS_BACK_S if before else began_s)
    return watch, tuple(sighting for sample in before for sighting in watch.observe(sample))


class PourWatch:
    """Watches one cup (or two) through one pull.

    Begin it at lock-in, or earlier, `t_s` being when. Tell it `pump_on(t_s)`, and `pump_off(t_s)` where somebody taps.
    Between readings `at(t_s)` lets the cue fall on its moment. Each answers with sightings.

    `grams` is what is in the cup, net; `flow_g_per_s` is FLOW_LAG_S late; `curve` holds (seconds since pump on, grams)
    for drawing and keeping; `comes` is whether coffee seems to come, a second before the first drop is sure; `stop_at_s` is where the cue is going to fall as things stand. None: not known.
    """

    def __init__(self, recipe: Recipe, habits: Habits = Habits(), t_s: float = -inf):
        self.recipe, self.habits = recipe, habits
        self.on_s: float | None = None
        self.off_s: float | None = None          # tapped, or told by the curve
        self.grams: float | None = None
        self.flow_g_per_s: float | None = None
        self.comes = False
        self.curve: list[tuple[float, float]] = []
        self.stop_at_s: float | None = None
        after_s, self._drip_g = habits.after()
        self._lead_s = habits.reaction_s() + after_s
        self._plate = Plate()
        self._drop = DropWatch(recipe)
        self._drop_told_s: float | None = None
        self._began_s = self._last_s = t_s
        self._tapped = self._lost = self._bent = False
        self.beside = False                      # the coffee falls where no scale is
        self._cue_s: float | None = None
        self._expected_g = recipe.yield_g
        self._peak_g_per_s = 0.0
        self._full_s = inf                       # when the stream last ran at half its full pace or more
        self._at_off: tuple[float, float] | None = None
        self._settled_g: float | None = None
        self._told_g: float | None = None
        self._vague = False                      # the stop can be foreseen, but a yield is not kept
        self._gone = False                       # the cup was lifted after its yield was told
        self._absent_s: float | None = None      # since when the scale shows less than stood there, while it serves another pull
        self._bend_s: float | None = None
        self._lifted_s: float | None = None      # a cup taken from under a stream that nobody had stopped

    # what hands do

    def pump_on(self, t_s: float) -> tuple[Sighting, ...]:
        """The pump went on; where that was before the watch began, what poured meanwhile cannot be known."""
        self.on_s = t_s
        return self._lose(t_s, not_known.UNSEEN) if t_s < self._began_s - UNSEEN_S else ()

    def pump_was_on(self, t_s: float) -> None:
        """The pump went on at `t_s`, as is known better by now: the curve is counted from there."""
        late_s, self.on_s = 0.0 if self.on_s is None else self.on_s - t_s, t_s
        if late_s:
            self.curve = [(round(at_s + late_s, 3), grams) for at_s, grams in self.curve if at_s + late_s >= 0]

    def pump_off(self, t_s: float) -> tuple[Sighting, ...]:
        self.off_s, self._tapped, self.stop_at_s = t_s, True, None
        self._at_off = self._plate.line(t_s)
        return ()

    def cannot_tell(self, t_s: float, why: str) -> tuple[Sighting, ...]:
        """What stands on the scale is not this pull's alone: its yield cannot be known. Timing goes on."""
        return self._lose(t_s, why)

    def falls_beside(self, t_s: float) -> tuple[Sighting, ...]:
        """This pull's coffee falls where no scale is: what stands on this one is another's."""
        self.beside = True
        return self._lose(t_s, not_known.UNSEEN)

    def pass_by(self, sample: Sample) -> tuple[Sighting, ...]:
        """A reading while the scale serves another pull: whether the cup of this one, which has settled, is taken meanwhile."""
        stood_g = self._plate.stood_g
        if self._settled_g is None or self.beside or stood_g is None:
            return ()
        more_g = sample.grams - stood_g
        self._gone = self._gone or abs(more_g) > OTHER_G        # whatever stands there when it is watched again, its yield is known
        if more_g > -max(OTHER_G, self._settled_g / 2):
            self._absent_s = None
            return ()
        self._absent_s = sample.t_s if self._absent_s is None else self._absent_s
        if sample.t_s - self._absent_s < ABSENT_S:
            return ()
        self.beside = True
        return (CupLifted(self._absent_s),)

    def lost(self, t_s: float) -> tuple[Sighting, ...]:
        """The scale went away. Timing goes on by taps; what poured unseen cannot be known."""
        self.grams = self.flow_g_per_s = self.stop_at_s = None
        self._plate.forget()
        return () if self.on_s is None else self._lose(t_s, not_known.GONE)

    @property
    def pouring(self) -> bool:
        """Whether a stream was seen to fall into the cup."""
        return self._plate.pouring

    @property
    def cup_seen(self) -> bool:
        """Whether a cup was set down since the watch began, or coffee fell into what stood there."""
        return bool(self._plate.cups_g) or self._plate.pouring

    @property
    def cups(self) -> int:
        """How many cups were set down one after the other since the watch began."""
        return len(self._plate.cups_g)

    def ends_with(self, own_off_s: float | None, other_off_s: float | None, t_s: float) -> float | None:
        """Log of the odds that this stream ended with the other pump's stop and not with its own; None for a pump that still
        runs. None where the curve shows too little of it."""
        first_s, now_s = min(each for each in (own_off_s, other_off_s, t_s) if each is not None), t_s
        points = [p for p in self._plate.points if first_s - TAIL_FROM_S <= p[0] <= now_s]
        if len(points) < 8 or points[-1][0] < now_s - 0.8:
            return None
        points = stream.thinned(points, THINNED_TO)       # many fits are tried, while the screen waits
        bend_s = self.habits.bend_s()
        own_s, other_s = (now_s + 1.0 if off_s is None else off_s + bend_s for off_s in (own_off_s, other_off_s))
        return stream.likelier_end(points, own_s, other_s)

    @property
    def over(self) -> bool:
        """Nothing that falls from now on belongs to this pull: it has settled, its cup was lifted, or stands elsewhere."""
        return self._settled_g is not None or self.beside or (
            self._lost and (self.off_s is not None or self._lifted_s is not None))

    @property
    def settled_g(self) -> float | None:
        """What came into the cup, once it has settled."""
        return None if self._lost or self._vague else self._settled_g

    def awaits_cup(self, t_s: float) -> bool:
        """Whether a cup taken from under a stream that nobody had stopped may still come back."""
        return self._lifted_s is not None and self.off_s is None and t_s - self._lifted_s < BACK_WITHIN_S

    @property
    def poured(self) -> Poured | None:
        """What this pull has to teach the group's habits; None until it has settled."""
        if self._settled_g is None or self.off_s is None or self._lost or self._vague:
            return None
        shown_g, flow = self._at_off or (None, None)
        return Poured(reaction_s=None if self._cue_s is None else self.off_s - self._cue_s, flow_g_per_s=flow,
                      after_g=None if shown_g is None else self._settled_g - shown_g, bend_s=self._bend_s)

    # what the scale shows

    def at(self, t_s: float) -> tuple[Sighting, ...]:
        """The clock stands at `t_s`: the cue, if its moment has come between two readings."""
        if self.stop_at_s is None or t_s < self.stop_at_s:
            return ()
        self._cue_s, self.stop_at_s = self.stop_at_s, None
        return (StopNow(self._cue_s, round(self._expected_g, 2)),)

    def observe(self, sample: Sample) -> tuple[Sighting, ...]:
        t_s = sample.t_s
        if t_s <= self._last_s:
            return ()
        self._last_s = t_s
        seen = list(self.at(t_s))
        grown, moved = self._plate.observe(t_s, sample.grams, self.on_s is not None)
        for sighting in moved:
            seen += self._moved(sighting)
        if grown and not self._lost:
            grams = self._draw(t_s)
            seen += self._in_the_stream(t_s, grams) if self._plate.pouring else self._before_the_drop(t_s)
        elif grown and self._lost and self._lifted_s is None and self.on_s is not None and self.off_s is None:
            seen += self._ends_unweighed(t_s)
        if self._lifted_s is not None and self._still_fills(self._lifted_s, t_s):
            self._lifted_s = None
        if self._lifted_s is not None and self.off_s is None and t_s - self._lifted_s >= BACK_WITHIN_S:
            self.off_s = self._lifted_s
            seen.append(CupGone(self._lifted_s))
        return tuple(each for each in seen if not (self._vague and isinstance(each, Settled)))

    def _still_fills(self, lifted_s: float, t_s: float) -> bool:
        """Whether a stream is seen to fall into what stands there: it was not the cup that was taken away."""
        last = self._plate.since(max(t_s - STOPPED_S, lifted_s + SEEN_S))      # not the stream from before
        return len(last) >= 5 and last[-1][0] - last[0][0] > 0.8 and stream.line(last, t_s)[1] > NEARLY_G_PER_S

    def _ends_unweighed(self, t_s: float) -> tuple[Sighting, ...]:
        """The scale came back in mid-pour: what is in the cup is not known any more, that the stream ends is seen."""
        if len(self._plate.since(t_s - STOPPED_S)) < 3:
            return ()
        flow = (self._plate.line(t_s) or (0.0, 0.0))[1]
        self._peak_g_per_s = max(self._peak_g_per_s, flow)
        if flow >= self._peak_g_per_s / 2 or self._full_s == inf:
            self._full_s = t_s
        last = self._plate.since(t_s - STOPPED_S)
        thin = t_s - self._full_s > STOPPED_S and stream.line(last, t_s)[1] < THIN_SHARE * self._peak_g_per_s
        return self._ended() if thin else ()

    def _draw(self, t_s: float) -> float:
        """Show what is in the cup now, in grams, and draw the curve on."""
        self.grams = grams = self._plate.points[-1][1]
        if self.on_s is None or t_s < self.on_s or len(self.curve) >= CURVE_POINTS:
            return grams
        if not self.curve or t_s - self.on_s - self.curve[-1][0] >= CURVE_EVERY_S - 0.01:
            self.curve.append((round(t_s - self.on_s, 3), round(grams, 2)))
        return grams

    def _before_the_drop(self, t_s: float) -> tuple[Sighting, ...]:
        if self.on_s is None:
            last = self._plate.since(t_s - REST_S)
            if len(last) >= 3 and stream.rms(last) < SETTLED_SPREAD_G and abs(stream.line(last, t_s)[1]) < AT_REST_G_PER_S:
                self._plate.tare(sum(g for _, g in last) / len(last))
            return ()
        self.flow_g_per_s = 0.0
        if self._tapped:
            return self._settles(t_s)      # a choked pull ends too, with what dripped
        began = self._drop.began(self._plate, self.on_s, t_s)
        self.comes = began or self._drop.seems(self._plate, self.on_s, t_s)
        if not began:
            return ()
        self._plate.pouring, self._drop_told_s = True, t_s
        return self._first_drop(self.on_s, t_s)

    def _first_drop(self, on_s: float, t_s: float) -> tuple[Sighting, ...]:
        bend = self._drop.bend(self._plate, on_s, t_s)
        return (FirstDrop(max(on_s, bend[0] - self.habits.delay_s()), round(bend[1], 2)),) if bend else ()

    def _in_the_stream(self, t_s: float, grams: float) -> tuple[Sighting, ...]:
        shown_g, flow = self._plate.line(t_s) or (grams, 0.0)
        self.flow_g_per_s = max(0.0, flow)
        self._peak_g_per_s = max(self._peak_g_per_s, flow)
        if flow >= self._peak_g_per_s / 2:
            self._full_s = t_s
        seen: tuple[Sighting, ...] = ()
        if self.on_s is not None and self._drop_told_s is not None and t_s - self._drop_told_s >= LOOK_AGAIN_S:
            self._drop_told_s, seen = None, self._first_drop(self.on_s, t_s)
        if self._cue_s is None and self.off_s is None:
            self._foresee(t_s, shown_g, flow)
            seen += self.at(t_s)
        if self.off_s is None and self._thin(t_s, grams):
            seen += self._ended()
        return seen + self._settles(t_s)

    def _foresee(self, t_s: float, shown_g: float, flow: float) -> None:
        if flow < SETTLED_G_PER_S:
            self.stop_at_s = None
            return
        short_g = self.recipe.yield_g - self._drip_g - shown_g - flow * self._lead_s
        self._expected_g = self.recipe.yield_g + max(0.0, -short_g)
        self.stop_at_s = t_s + max(0.0, short_g / flow)

    def _thin(self, t_s: float, grams: float) -> bool:
        """Whether next to nothing of the stream has been left for a while: the pump must be off."""
        # A group may wet the puck, wait, and only then press: with little in the cup yet, that is no stop.
        wait_s = STOPPED_S if grams > self.recipe.yield_g / 2 else WETTING_S
        last = self._plate.since(t_s - STOPPED_S)
        return (t_s - self._full_s > wait_s and len(last) >= 3
                and stream.line(last, t_s)[1] < THIN_SHARE * self._peak_g_per_s)

    def _settles(self, t_s: float) -> tuple[Sighting, ...]:
        last = self._plate.since(t_s - SETTLE_S)
        if self.off_s is None or self._gone or t_s - last[0][0] < SETTLE_S - 0.25 or len(last) < 5 or t_s < self.off_s:
            return ()
        last_g = [g for _, g in last]
        flickers = len({round(g, 3) for g in last_g}) <= 2      # between two steps of a coarse scale
        if max(last_g) - min(last_g) > SETTLED_SPREAD_G and not flickers:
            return ()
        if abs(stream.line(last, t_s)[1]) > SETTLED_G_PER_S:
            return ()
        yield_g = sum(last_g) / len(last_g)
        seen = self._ended() if self._tapped else ()
        timed = self.on_s is not None and self.off_s - self.on_s <= self.recipe.time_window_s[1]
        if timed and not self.cup_seen and yield_g < NOTHING_G:     # later it may well have choked over a cup that stood before
            return (*seen, *self._lose(t_s, not_known.NO_CUP))
        self._settled_g, self.stop_at_s = yield_g, None
        if self._told_g is not None and abs(yield_g - self._told_g) < NEW_YIELD_G:
            return seen
        self._told_g = yield_g
        return (*seen, Settled(t_s, round(yield_g, 2)))

    def _ended(self) -> tuple[Sighting, ...]:
        """The bend that the stopped pump left in the curve: learned where somebody tapped, told where nobody did."""
        if self._bent:
            return ()
        self._bent = True
        tapped_s = self.off_s if self._tapped else None
        about_s = self._full_s - FLOW_LAG_S if tapped_s is None else tapped_s
        points = [p for p in self._plate.points if about_s - 2.0 <= p[0] <= about_s + 3.0]
        if len(points) < 8:
            return ()
        bend_s, within_s = stream.ending(points, about_s - 0.7, about_s + 1.5)
        if tapped_s is not None:
            self._bend_s = bend_s - tapped_s if within_s < 0.4 else None
            return ()
        self.off_s = off_s = bend_s - self.habits.bend_s()
        before = [p for p in self._plate.points if off_s - PACE_S <= p[0] <= off_s]
        self._at_off = stream.line(before, off_s) if len(before) >= 3 else None
        return (FlowEnded(off_s, round(hypot(within_s, TAUGHT_S if self.habits.taught else UNTAUGHT_S), 2)),)

    # what goes wrong

    def _moved(self, sighting: Moved) -> tuple[Sighting, ...]:
        gone, lifted = self._gone, isinstance(sighting, CupLifted)
        self._gone = gone or (lifted and self._told_g is not None)
        if isinstance(sighting, CupSet) and self._lifted_s is not None:
            self._lifted_s, self._full_s = None, self._last_s
        in_the_pour = self._plate.pouring and self._settled_g is None and not self._lost
        if isinstance(sighting, Vague):
            told, self._vague = self._vague or self._lost, True
            return () if told else (YieldLost(sighting.t_s, not_known.KNOCKED),)
        if isinstance(sighting, Shifted):
            return self._lose(sighting.t_s, not_known.KNOCKED) if in_the_pour else ()
        if lifted and self._told_g is not None and not self._lost:
            return (sighting,) if gone else (*self._last_drips(sighting.t_s, self._told_g), sighting)
        if not lifted and in_the_pour and self._plate.level_seen and self.on_s is not None:
            self._plate.level_seen = False
            return (sighting, *self._first_drop(self.on_s, self._last_s))      # of a stream that began while the scale was settling
        if not lifted or not in_the_pour:
            return (sighting,)
        last = [p for p in self._plate.points if sighting.t_s - SEEN_S <= p[0] < sighting.t_s]
        flow = stream.line(last, sighting.t_s)[1] if len(last) >= 3 else self._peak_g_per_s
        if self.off_s is not None or self._cue_s is not None or flow < self._peak_g_per_s / 4:
            seen = self._ended() if self.off_s is not None else self._ended_before(sighting.t_s)
            full = self._full_when_lifted(sighting.t_s)
            if full is not None:
                self._settled_g = self._told_g = full
                self._gone = True
                return (*seen, Settled(sighting.t_s, round(full, 2)), sighting)
            if seen:
                return (*seen, *self._lose(sighting.t_s, not_known.LIFTED), sighting)
        if self.off_s is None and self._cup_had_stopped(sighting.t_s):
            seen = self._ended_before(sighting.t_s)
            if seen:
                return (*seen, *self._lose(sighting.t_s, not_known.LIFTED), sighting)
        self._lifted_s = sighting.t_s if self.off_s is None else None
        return (sighting, *self._lose(sighting.t_s, not_known.LIFTED))

    def _full_when_lifted(self, lifted_s: float) -> float | None:
        """What is in a cup that was lifted before it had come to rest: the end of its stream, as far as it was seen."""
        if self.off_s is None:
            return None
        points = [p for p in self._plate.points if self.off_s - TAIL_FROM_S <= p[0] < lifted_s]
        if len(points) < 6 or points[-1][0] <= self.off_s:
            return None
        first_s, last_s = (self.off_s + each for each in TAIL_BENDS_S)
        grams, within_g = stream.tail(points, first_s, last_s, lifted_s + HIDDEN_S)
        return grams if within_g <= LIFTED_WITHIN_G else None

    def _last_drips(self, lifted_s: float, told_g: float) -> tuple[Sighting, ...]:
        """What still fell into a cup that had settled, until it was lifted."""
        last_g = [g for t, g in self._plate.points if lifted_s - SEEN_S <= t < lifted_s]
        if len(last_g) < 3 or max(last_g) - min(last_g) > 2 * SETTLED_SPREAD_G:
            return ()
        yield_g = median(last_g[len(last_g) // 2:])
        if abs(yield_g - told_g) < NEW_YIELD_G:
            return ()
        self._settled_g = self._told_g = yield_g
        return (Settled(lifted_s, round(yield_g, 2)),)

    def _cup_had_stopped(self, lifted_s: float) -> bool:
        """Whether the stream was dying away in the half second before the cup was lifted."""
        last = [p for p in self._plate.points if lifted_s - 0.7 <= p[0] < lifted_s]
        return len(last) >= 3 and stream.line(last, lifted_s)[1] < JUST_STOPPED * self._peak_g_per_s

    def _ended_before(self, lifted_s: float) -> tuple[Sighting, ...]:
        """The stop, from what the curve showed of it before the cup was lifted."""
        if self._bent:
            return ()
        points = [p for p in self._plate.points if lifted_s - 4.0 <= p[0] < lifted_s]
        if len(points) < 8:
            return ()
        self._bent = True
        bend_s, within_s = stream.ending(points, lifted_s - 3.0, lifted_s - 0.2)
        self.off_s = bend_s - self.habits.bend_s()
        within_s = hypot(within_s, TAUGHT_S if self.habits.taught else UNTAUGHT_S)
        return (FlowEnded(self.off_s, round(within_s, 2)),)

    def _lose(self, t_s: float, why: str) -> tuple[Sighting, ...]:
        if self._lost or self._settled_g is not None:
            return ()
        self._lost, self.grams, self.flow_g_per_s, self.stop_at_s = True, None, None, None
        return () if self._vague else (YieldLost(t_s, why),)
