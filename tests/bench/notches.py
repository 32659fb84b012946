"""Whether the evening's intervals hold the truth where the collar is turned, and its words what happened:
`python -m tests.bench.notches`. Invented days with a known drift and a known notch, the demo fortnight's own truth,
and 200 days with up to three causes at once. Takes about a minute.
"""

import json
import sys
from datetime import date, datetime, timedelta, timezone
from math import exp
from pathlib import Path
from random import Random
from statistics import fmean, median

import numpy

from demo_data import story
from hardware.practice import Puck, pull
from kiosk.bar.evening import Evening, grinder_days
from kiosk.bar.evening.evening import evening
from kiosk.bar.evening.weeks import notch_worth_of as weeks_worth
from kiosk.bar.model import GroundsPurged, NotchMoved, Pull, ScaleChecked, corrected, usual
from kiosk.bar.model.record import from_json
from tests.bench.bars import Bars

DAY = "2026-10-23"
OPENS = datetime(2026, 10, 23, 7, tzinfo=timezone(timedelta(hours=2)))
RECIPE = usual("House", "double")
HOURS, PULLS = 10.0, 150
DEMO = Path(__file__).resolve().parents[2] / "demo_data"
CAUSES = {"left slow": "Start Left one notch coarser", "left fast": "Start Left one notch finer",
          "doses": "Weigh each dose",
          "scale": "Level and clean the scale", "blind": "Look at the scale and its cable", "drift": "Judge Left every",
          "old grounds": "Grind the old grounds away", "groups": "Purge the group",
          "sink": "Look through the sink shots"}


def at(hours: float) -> str:
    return (OPENS + timedelta(hours=hours)).isoformat()


def a_day(seed: int, causes: tuple[str, ...] = (), per_hour: float = 0.0, worth_s: float = 2.2,
          sd_s: float = 1.8) -> tuple[list, float]:
    """Records of a day, and how many notches coarser than where it was left it should open again, the next morning
    being like this one. The collar follows the last eight pulls."""
    chance = Random(seed)
    kept, last, setting = [], [], 20
    level = {"left slow": 3.0, "left fast": -3.0}.get(next((c for c in causes if c.startswith("left")), ""), 0.0)
    follows = not level
    for n, hour in enumerate(sorted(chance.uniform(0, HOURS) for _ in range(PULLS))):
        true_s = level + per_hour * hour + worth_s * (20 - setting)
        short = "doses" in causes and chance.random() < 0.2
        blind = "blind" in causes and 4 <= hour < 5.5
        dose_g = RECIPE.dose_g + chance.gauss(0, 0.15) - 1.8 * short
        even_s = RECIPE.time_s + true_s + chance.gauss(0, sd_s)
        time_s = even_s + 1.6 * RECIPE.time_s * (dose_g / RECIPE.dose_g - 1)
        kept.append(Pull(
            id=f"p{n}", at=at(hour), grinder="Left", coffee="House", setting=setting, recipe=RECIPE, order_id="o",
                         time_s=time_s,
            dose_g=None if blind else round(dose_g, 2), yield_g=RECIPE.yield_g, first_drop_s=4.0,
            purged=not ("groups" in causes and chance.random() < 0.15),
            sink="tastes off" if "sink" in causes and chance.random() < 0.08 else None))
        last.append(even_s - RECIPE.time_s)
        turn = 0
        if follows and len(last) >= 8 and abs(median(last[-8:])) > 2.2:
            turn = 1 if median(last[-8:]) > 0 else -1
        elif "old grounds" in causes and n in (50, 100):
            turn = 1 if n == 50 else -1
        if turn:
            kept.append(NotchMoved(id=f"m{n}", at=at(hour + 0.001), grinder="Left", coffee="House", before=setting,
                                   after=setting + turn))
            if "old grounds" not in causes:
                kept.append(GroundsPurged(id=f"g{n}", at=at(hour + 0.002), grinder="Left", coffee="House", grams=6.0))
            setting, last = setting + turn, []
    if "scale" in causes:
        kept.append(ScaleChecked(id="s", at=at(0), nominal_g=100.0, read_g=101.0, resolution_g=0.1))
    return kept, 20 + level / worth_s - setting


def intervals(bars: Bars, days: int) -> None:
    held: dict[str, list[bool]] = {"drift": [], "a notch's worth": [], "drift in notches": []}
    for seed in range(days):
        chance = Random(10_000 + seed)
        per_hour, worth_s = chance.uniform(-0.9, 0.9), chance.uniform(1.5, 3.5)
        each, = evening(a_day(seed, (), per_hour, worth_s)[0], DAY).grinders
        drift = each.figures.drift
        held["drift"].append(drift.low <= per_hour <= drift.high)
        if each.worth:
            held["a notch's worth"].append(each.worth.low <= worth_s <= each.worth.high)
        if each.moving:
            held["drift in notches"].append(each.moving.low <= per_hour / worth_s <= each.moving.high)
    for name, of_it in held.items():
        bars.above(f"{name}: share of {len(of_it)} days whose 95 % interval holds it", fmean(of_it), 0.90)
        bars.below("the same, not more than", fmean(of_it), 0.98)


def words(bars: Bars, days: int) -> None:
    """The sentence and the three things, each day with none to three causes."""
    right, by_cause = [], {cause: [] for cause in CAUSES}
    for seed in range(days):
        chance = Random(20_000 + seed)
        among = [cause for cause in CAUSES if not cause.startswith("left")
                 or cause == chance.choice(("left slow", "left fast"))]
        causes = tuple(chance.sample(among, chance.choice((0, 1, 1, 2, 2, 3))))
        if any(cause.startswith("left")
               for cause in causes):      # then nobody turned it, and it did not move by itself
            causes = tuple(cause for cause in causes if cause not in ("drift", "old grounds"))
        per_hour = chance.choice((-1, 1)) * chance.uniform(0.5, 0.9) if "drift" in causes else 0.0
        kept, turn = a_day(seed, causes, per_hour)
        found = evening(kept, DAY).summary
        fits = agrees(causes, per_hour, turn, [thing.what for thing in found.to_do], found.sentence)
        right.append(fits)
        for cause in causes:
            by_cause[cause].append(fits)
    for cause, of_it in by_cause.items():
        print(f"  {cause}: agreed on {sum(of_it)} of {len(of_it)} days")
    bars.above(f"share of {days} days whose sentence and three things agree with what was simulated", fmean(right),
               0.90)


def agrees(causes, per_hour: float, turn: float, things: list[str], sentence: str) -> bool:
    """All that happened is said, as far as three things go, and nothing else. A turn of about a notch may be said or
    not."""
    wanted = [start for cause, start in CAUSES.items() if cause in causes and not cause.startswith("left")]
    opens = CAUSES["left slow" if turn > 0 else "left fast"]
    allowed = {opens} if abs(turn) >= 0.6 else set()
    if abs(turn) >= 1.3:
        wanted.insert(0, opens)
    said = [next((start for start in CAUSES.values() if thing.startswith(start)), thing) for thing in things]
    extra = [each for each in said if each not in wanted]
    if not set(extra) <= allowed:
        return False
    if [each for each in wanted if each in said] != wanted[:max(0, 3 - len(extra))]:
        return False
    side = "slower" if per_hour > 0 else "faster"
    return (f" drifted {side} from " in sentence) if "drift" in causes else " drifted " not in sentence


def fortnight(bars: Bars) -> dict[str, list]:
    """The demo bar's pulls come from the practice puck, whose notch is worth what the puck says."""
    worth_s = {mill.coffee: notch_worth_s(mill) for mill in story.MILLS}
    days = sorted(path.stem for path in DEMO.glob("2026-*.jsonl"))
    drifts, worths, misses, still = [], [], [], []
    turned: dict[str, list] = {mill.coffee: [] for mill in story.MILLS}
    truths = {day: {mill.coffee: Truth(mill, date.fromisoformat(day)) for mill in story.MILLS} for day in days}
    for day, following in zip(days, [*days[1:], None]):
        kept = corrected(from_json(json.loads(line))
                         for line in (DEMO / f"{day}.jsonl").read_text("utf-8").splitlines())
        found = evening(kept, day)
        pulls, moves = ([each for each in kept if isinstance(each, kind)] for kind in (Pull, NotchMoved))
        for (_, coffee), of_day in grinder_days(day, [each for each in pulls if not each.practice], moves, []).items():
            turned[coffee].append(of_day)
        for each in found.grinders:
            coffee, truth = each.figures.coffee, truths[day][each.figures.coffee]
            slope = true_slope(found, each, truth, worth_s[coffee])
            drifts.append(each.figures.drift.low <= slope <= each.figures.drift.high)
            if each.worth:
                worths.append(each.worth.low <= worth_s[coffee] <= each.worth.high)
            if following:
                opening = truths[following][coffee].first_hour()
                misses.append(abs(each.start.setting - opening))
                still.append(abs(each.figures.setting - opening))
    print(f"  a notch is worth, by the puck: {', '.join(f'{coffee} {s:.2f} s' for coffee, s in worth_s.items())}")
    for name, of_it in (("the drift", drifts), ("a notch's worth", worths)):
        bars.above(f"demo fortnight: share of {len(of_it)} grinder-days whose 95 % interval holds {name}", fmean(of_it),
                   0.90)
        if of_it is drifts:         # a notch's worth is held by what is usual, which is near the truth here
            bars.below("the same, not more than", fmean(of_it), 0.98)
    bars.below("demo fortnight: notches from the right one at the next opening, where it says to start", fmean(misses),
               fmean(still) + 1e-9)
    return turned


def over_the_weeks(bars: Bars, turned: dict[str, list]) -> None:
    """What every turn of the fortnight together says of a notch's worth."""
    worth_s = {mill.coffee: notch_worth_s(mill) for mill in story.MILLS}
    for coffee, turns in turned.items():
        worth = weeks_worth(turns)
        print(f"  {coffee}: over the fortnight {worth.value:.2f} s ({worth.low:.2f} to {worth.high:.2f}), {worth.count} moves")
        bars.above(f"{coffee}: the fortnight's interval holds a notch's worth", worth.low <= worth_s[coffee] <= worth.high, 1)
        bars.below(f"{coffee}: ± of a notch's worth over the fortnight, s", (worth.high - worth.low) / 2, 0.8)


def notch_worth_s(mill) -> float:
    recipe = story.RECIPES[mill.coffee, "double"]
    times = [pull(Puck(basket="double", dose_g=recipe.dose_g, coarser=coarser)).stop_for(recipe.yield_g)
             for coarser in (-1.0, 1.0)]
    return (times[0] - times[1]) / 2


class Truth:
    """The notch that was right at each moment of a demo day, as `demo_data.service` made it."""

    def __init__(self, mill, day: date):
        self.mill, self.day = mill, day
        bags = sorted(self._time(at_day, hour) for at_day, new in story.NEW_BAGS.items() for coffee, _, hour in new
                      if coffee == mill.coffee)
        self.bags = [self._time(story.FIRST_DAY, 0), *bags]
        self.ons = [self._time(day, opens) - timedelta(minutes=25) for opens, _ in story.opening(day)]

    def right(self, moment: datetime) -> float:
        mill, local = self.mill, story.local(moment)
        on = max([each for each in self.ons if each <= moment], default=self.ons[0])
        bag = max([each for each in self.bags if each <= moment], default=self.bags[0])
        right = mill.right - mill.warms * (1 - exp(-(moment - on).total_seconds() / 3600 / 0.45))
        right -= mill.ages_a_day * (moment - bag).total_seconds() / 86400
        if local.date() in story.DAMP_DAYS and 13 <= local.hour < 20:
            right -= mill.damp_an_hour * min(local.hour + local.minute / 60 - 13, 4)
        return right

    def first_hour(self) -> float:
        opens = self._time(self.day, story.opening(self.day)[0][0])
        return fmean(self.right(opens + timedelta(minutes=n)) for n in range(0, 60, 5))

    @staticmethod
    def _time(day: date, hour: int) -> datetime:
        midnight = datetime.combine(day, datetime.min.time())
        zone = story.SUMMER if midnight.replace(tzinfo=story.SUMMER) < story.CLOCKS_BACK else story.WINTER
        return midnight.replace(tzinfo=zone) + timedelta(hours=hour)


def true_slope(found: Evening, each, truth: Truth, worth_s: float) -> float:
    """The line that least squares lays through the truth at the same pulls, with the same setting runs."""
    pulls = {pull.id: pull for pull in found.summary.figures.pulls}
    rows = [(n, datetime.fromisoformat(pulls[id].at)) for n, run in enumerate(each.figures.runs)
            for id in run.told]
    many = len(each.figures.runs)
    hours = [(when - rows[0][1]).total_seconds() / 3600 for _, when in rows]
    design = numpy.array([[hour, *(float(n == k) for k in range(many))] for hour, (n, _) in zip(hours, rows)])
    return numpy.linalg.lstsq(design, numpy.array([worth_s * truth.right(when) for _, when in rows]), rcond=None)[0][0]


def main(days: int = 400) -> int:
    bars = Bars("The evening where the collar is turned")
    intervals(bars, days)
    words(bars, days // 2)
    over_the_weeks(bars, fortnight(bars))
    return bars.end()


if __name__ == "__main__":
    sys.exit(main())
