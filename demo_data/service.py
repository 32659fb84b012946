"""One service day after another at the bar of `story`, simulated: what its kiosk would have kept."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime, timedelta
from math import exp
from random import Random
from statistics import median

from demo_data import story
from hardware.practice import PracticeGrinder, PracticeGroup, Puck, pull
from kiosk.bar.drift import drifted, off_since_set, stands
from kiosk.bar.model import (
    SCALE,
    TAPPED,
    USUAL_MENU,
    Corrected,
    FlagRaised,
    GroundsPurged,
    NotchMoved,
    Noted,
    OrderEnded,
    OrderTaken,
    PlannedPull,
    Pull,
    Record,
    ScaleChecked,
    plan,
)

OFF_S = 2.2           # the median of the last eight even times may be this far off before the kiosk says so
TRACE_EVERY = 45      # one pull in so many keeps its curve
GRIND_SD = 0.5        # notches, from one dose to the next
PATIENCE_S = 38.0     # nobody lets a pull run longer


class _Grinder:
    """A grinder over the fortnight, and what the kiosk has seen of it since its collar was last turned."""

    def __init__(self, mill: story.Mill):
        self.mill = mill
        self.works = PracticeGrinder(notch=mill.setting, chute_g=mill.chute_g)
        self.bag_since = datetime.combine(story.FIRST_DAY, datetime.min.time(), story.SUMMER)
        self.on_since = self.bag_since
        self.evens: list[tuple[float, float]] = []        # even time and the recipe's, seconds
        self.asked: FlagRaised | None = None

    def truth(self, moment: datetime) -> float:
        """The notch that would be right at `moment`, all that moves it taken together."""
        mill, day = self.mill, story.local(moment)
        on_h = (moment - self.on_since).total_seconds() / 3600
        right = mill.right - mill.warms * (1 - exp(-on_h / 0.45))
        right -= mill.ages_a_day * (moment - self.bag_since).total_seconds() / 86400
        if day.date() in story.DAMP_DAYS and 13 <= day.hour < 20:
            right -= mill.damp_an_hour * min(day.hour + day.minute / 60 - 13, 4)
        return right

    def grind(self, grams: float, moment: datetime) -> float:
        self.works, coarser = replace(self.works, right_notch=self.truth(moment)).ground(grams)
        return coarser


class Bar:
    """The bar as the days go by; `day` gives each one's records in the order they were kept."""

    def __init__(self):
        self.grinders = {mill.coffee: _Grinder(mill) for mill in story.MILLS}
        self.pulls = 0

    def day(self, day: date) -> tuple[Record, ...]:
        """The records of service day `day`. Ask for the days in turn: the grinders go on from where they are."""
        self.chance = Random(f"tin lantern {day}")
        self.kept: list[Record] = []
        self.number = 0
        self.today = day
        for opens, closes in story.opening(day):
            self._serve(self._time(opens), self._time(closes))
        return tuple(sorted(self.kept, key=lambda kept: datetime.fromisoformat(kept.at)))

    # a service

    def _serve(self, opens: datetime, closes: datetime) -> None:
        for grinder in self.grinders.values():
            grinder.on_since, grinder.evens, grinder.asked = opens - timedelta(minutes=25), [], None
        self._open(opens - timedelta(minutes=15), closes)
        free = [opens, opens]                             # when each group is free again
        for moment in self._arrivals(opens, closes):
            self._order(moment, free)
        self._keep(Noted, closes + timedelta(minutes=20), what="cleaned", facts={"part": "groups and screens"},
                   by=self._hand(closes - timedelta(minutes=1)).name)

    def _open(self, moment: datetime, closes: datetime) -> None:
        hand = self._hand(moment)
        self._keep(ScaleChecked, moment, nominal_g=100.0, read_g=round(100 + self.chance.gauss(0, 0.06), 1),
                   resolution_g=0.1)
        for hours in (0.2, 5.0, 9.0):
            at = moment + timedelta(hours=hours)
            if at >= closes:
                continue
            damp = story.local(at).date() in story.DAMP_DAYS and hours > 1
            self._keep(Noted, at, what="room", by=hand.name, facts={
                "temperature_c": round(19 + min(hours, 6) * 0.5 + self.chance.gauss(0, 0.4), 1),
                "humidity_percent": round((63 if damp else 46) + self.chance.gauss(0, 2))})
        for coffee, roasted, hour in story.NEW_BAGS.get(self.today, ()):
            self._keep(Noted, self._time(hour), what="beans", by=hand.name,
                       facts={"coffee": coffee, "roasted": roasted, "bag_g": 12000})
        for coffee, _grinder in self.grinders.items():     # two tasted and thrown away before the doors open
            for i in range(2):
                made = PlannedPull(coffee=coffee, basket="double", drinks=())
                self._pull(made, moment + timedelta(minutes=3 + 2 * i), 1, None, hand, sink="tasted at opening")

    def _arrivals(self, opens: datetime, closes: datetime) -> Iterator[datetime]:
        moment = opens
        while True:
            rate = story.ORDERS_AN_HOUR[story.local(moment).hour] * {5: 1.15, 6: 1.4}.get(self.today.weekday(), 1.0)
            rate *= 2.2 if story.within(moment, story.BUSY_MORNING) else 1.0
            moment += timedelta(seconds=self.chance.expovariate(rate / 3600))
            if moment >= closes or story.local(moment).hour not in story.ORDERS_AN_HOUR:
                return
            yield moment

    def _order(self, moment: datetime, free: list[datetime]) -> None:
        coffee = "Meadow" if self.chance.random() < 0.2 else "Dusk"
        names, weights = zip(*story.DRINKS)
        count = self.chance.choices((1, 2, 3, 4), (60, 26, 9, 5))[0]
        asked = self.chance.choices(names, weights, k=count)
        wanted = tuple((name, asked.count(name)) for name in names if name in asked)
        order = self._keep(OrderTaken, moment, drinks=wanted, coffee=coffee)
        if self.chance.random() < 0.008:
            self._keep(OrderEnded, moment + timedelta(seconds=40), order_id=order.id, how="cancelled")
            return
        menu = {drink.name: drink for drink in USUAL_MENU}
        done = moment
        for planned in plan(tuple((menu[name], n) for name, n in wanted), coffee):
            while True:                                   # a sink shot is made again
                group = min(range(2), key=free.__getitem__)
                begins = max(moment + timedelta(seconds=self.chance.uniform(6, 25)), free[group])
                hand = self._hand(begins)
                made, done = self._pull(planned, begins, group + 1, order.id, hand)
                free[group] = done + timedelta(seconds=self.chance.uniform(8, 18))
                if made.sink is None:
                    break
        self._keep(OrderEnded, done + timedelta(seconds=self.chance.uniform(8, 45)), order_id=order.id, how="served")

    # a pull

    def _pull(self, planned: PlannedPull, begins: datetime, group: int, order_id: str | None, hand: story.Hand,
              sink: str | None = None) -> tuple[Pull, datetime]:
        chance, recipe = self.chance, story.RECIPES[planned.coffee, planned.basket]
        grinder = self.grinders[planned.coffee]
        self._new_bag(grinder, begins)
        self._obey(grinder, begins, hand)
        weighs = not story.within(begins, story.NO_SCALE)
        dose_g = recipe.dose_g + hand.dose_g + chance.gauss(0, hand.dose_sd_g)
        if story.within(begins, story.SHORT_DOSES) and hand.name == "Emil" and planned.basket == "double":
            dose_g, kept = dose_g - story.SHORT_BY_G, True
        else:
            kept = abs(dose_g - recipe.dose_g) > recipe.dose_within_g and chance.random() < hand.keeps
            if weighs and not kept and abs(dose_g - recipe.dose_g) > recipe.dose_within_g:
                dose_g = recipe.dose_g + chance.uniform(-0.3, 0.3)
        purged, warmed = chance.random() >= hand.no_purge, chance.random() >= hand.cold_cup
        puck = Puck(basket=planned.basket, dose_g=dose_g,
                    coarser=grinder.grind(dose_g, begins) + chance.gauss(0, GRIND_SD),
                    tamp_n=max(40.0, hand.tamp_n * chance.gauss(1, hand.tamp_sd)),
                    tilt=chance.uniform(0.3, 1.0) if chance.random() < hand.tilts else 0.0)
        poured = pull(puck, PracticeGroup(first_water_c=93.0 if purged else 101.0), seed=chance.getrandbits(32), until_s=45.0)
        if weighs:
            stop_s = poured.stop_for(recipe.yield_g + chance.gauss(0, hand.stop_sd_g))
        else:
            stop_s = 0.6 * poured.stop_for(recipe.yield_g * chance.gauss(1, 0.06)) + 0.4 * recipe.time_s
        stop_s = round(min(stop_s, PATIENCE_S + chance.uniform(0, 3)), 2)
        poured = poured.stopped(stop_s)
        pace = poured.settled_g / stop_s / (recipe.yield_g / recipe.time_s)
        if sink is None:
            thrown = chance.random() < 0.8
            sink = ("gushed" if pace > 1.35 and thrown else "choked" if pace < 0.65 and thrown else "spilt"
                    if chance.random() < 0.004 else "wrong drink" if chance.random() < 0.003 else None)
        self.pulls += 1
        before = {"warm": chance.uniform(2, 5), "dose": chance.uniform(7, 14), "tamp": chance.uniform(5, 9),
                  "purge": chance.uniform(2, 4) if purged else 0.0}
        lock_s = chance.uniform(0.8, 3.5) if chance.random() > 0.04 else chance.uniform(6, 12)
        ends = begins + timedelta(seconds=sum(before.values()) + lock_s + stop_s)
        notes = () if weighs else ("The dose was not measured.",)
        came = poured.first_drop_s is not None and poured.first_drop_s < stop_s
        made = self._keep(
            Pull, ends, grinder=grinder.mill.name, coffee=planned.coffee, setting=grinder.works.notch, recipe=recipe,
            group=group, order_id=order_id, drinks=tuple(drink.name for drink in planned.drinks),
            cups=max(1, planned.cups), barista=hand.name,
            dose_g=round(dose_g, 1) if weighs else None, dose_from=SCALE if weighs else None,
            dose_kept=weighs and kept, yield_g=round(poured.settled_g / (1 if weighs else 5), 1) * (1 if weighs else 5),
            yield_from=SCALE if weighs else TAPPED, time_s=round(stop_s, 2), time_from=SCALE if weighs else TAPPED,
            first_drop_s=round(poured.first_drop_s + chance.gauss(0, 0.1 if weighs else 0.4), 2) if came else None,
            first_drop_from=(SCALE if weighs else TAPPED) if came else None,
            grind_to_pull_s=round(before["tamp"] + before["purge"] + lock_s, 1), lock_to_pump_s=round(lock_s, 1),
            warmed=warmed, purged=purged, skipped=() if purged else ("purge",),
            step_s=tuple((name, round(took, 1)) for name, took in [*before.items(), ("pull", stop_s)] if took),
            sink=sink, notes=notes,
            trace=tuple((t, round(grams, 1)) for t, grams in poured.trace(4)) if self.pulls % TRACE_EVERY == 0 else ())
        self._watch(grinder, made, ends)
        if chance.random() < 0.002:
            other = chance.choice([other.name for other in story.HANDS if other.name != hand.name])
            self._keep(Corrected, ends + timedelta(minutes=3), of=made.id, changes={"barista": other}, by=hand.name)
        return made, ends

    def _new_bag(self, grinder: _Grinder, moment: datetime) -> None:
        for coffee, _, hour in story.NEW_BAGS.get(self.today, ()):
            opened = self._time(hour)
            if coffee == grinder.mill.coffee and grinder.bag_since < opened <= moment:
                grinder.bag_since = opened

    def _watch(self, grinder: _Grinder, made: Pull, moment: datetime) -> None:
        """A plain rule, told in the kiosk's words: it only has to turn the collar as often as a good bar would."""
        recipe = made.recipe
        first_s = made.first_drop_s or 4.0
        even_s = first_s + (made.time_s - first_s) * recipe.yield_g / made.yield_g if made.yield_g else made.time_s
        if made.dose_g is not None:
            even_s -= 1.9 * recipe.time_s * (made.dose_g / recipe.dose_g - 1)
        if made.sink in ("spilt", "wrong drink"):
            return
        grinder.evens.append((even_s, recipe.time_s))
        if len(grinder.evens) < 3 or grinder.asked:
            return
        off_s = median(even - right for even, right in grinder.evens[-8:])
        if abs(off_s) <= (2 * OFF_S if len(grinder.evens) < 6 else OFF_S):
            return
        direction = "coarser" if off_s > 0 else "finer"
        before_s = [even - right for even, right in grinder.evens[:-8]]
        began = not before_s or (off_s - median(before_s)) * off_s <= 0
        where = stands(made.grinder, made.setting)
        said = off_since_set(where, off_s) if began else \
            drifted(where, [median(before_s)] * len(before_s) + [off_s] * 8)[0]
        grinder.asked = self._keep(
            FlagRaised, moment, grinder=made.grinder, coffee=made.coffee, setting=made.setting, direction=direction,
            what="began_off" if began else "drifting", pull_id=made.id,
            sentence=said, evidence={"pulls": len(grinder.evens), "level_s": round(off_s, 2)})

    def _obey(self, grinder: _Grinder, moment: datetime, hand: story.Hand) -> None:
        """Whoever grinds next does as the flag says, mostly: a notch, a purge, a new setting run."""
        flag, chance = grinder.asked, self.chance
        if flag is None or moment < datetime.fromisoformat(flag.at) + timedelta(seconds=5):
            return
        grinder.asked = None
        if chance.random() < 0.12:                        # too busy: it will be said again
            grinder.evens = grinder.evens[-2:]
            return
        before = grinder.works.notch
        grinder.works = grinder.works.moved(1 if flag.direction == "coarser" else -1)
        grinder.evens = []
        about = {"grinder": grinder.mill.name, "coffee": grinder.mill.coffee}
        self._keep(NotchMoved, moment - timedelta(seconds=4), before=before, after=grinder.works.notch, by=hand.name,
                   flag_id=flag.id, **about)
        if chance.random() > 0.08:
            grams = grinder.mill.purge_g + chance.uniform(-1, 1)
            grinder.grind(grams, moment)
            self._keep(GroundsPurged, moment - timedelta(seconds=1), grams=round(grams, 1), **about)

    # small things

    def _hand(self, moment: datetime) -> story.Hand:
        return self.chance.choice(story.on_shift(self.today, story.local(moment).hour))

    def _time(self, hour: int) -> datetime:
        """`hour` of the service day, before the clocks go back in the night; past 24 is the next date."""
        midnight = datetime.combine(self.today, datetime.min.time())
        zone = story.SUMMER if midnight.replace(tzinfo=story.SUMMER) < story.CLOCKS_BACK else story.WINTER
        return midnight.replace(tzinfo=zone) + timedelta(hours=hour)

    def _keep(self, kind, moment: datetime, /, **what) -> Record:
        self.number += 1
        at = story.local(moment).isoformat(timespec="milliseconds")
        self.kept.append(kind(id=f"{self.today:%Y%m%d}-{self.number:04d}", at=at, **what))
        return self.kept[-1]
