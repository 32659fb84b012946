"""Shifts served by hands that forget to tap, at a station without a window: `python -m tests.bench.rush [MACHINES [PULLS]]`.

A barista pulls on one or two groups that share a scale. What is told to the kiosk is drawn pull by pull from a chain of
two states, so that forgetting comes in bursts: `forgets` is the share of pulls in the forgetting state, which lasts
`BURST` pulls on average. Every machine, scale and puck is drawn at random; the truth is known. The hands are rough: half of
the doses are ground into one of three portafilters, 1 to 8 g apart, on the same scale; every tenth cup is late, one in eight is
taken within a second and a half; it is knocked and leant on; with a signal each pull has its purge, and one in twenty is followed by a backflush.

The laws "darcy" and "compacting" were used while the observer was tuned; "eroding" and "channelling" were not, and the
campaign runs on those. Ranges of first drop, flow and cups are from memory. The suite runs a slice of it.
"""

import argparse
import tempfile
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from datetime import timedelta
from math import exp, log
from os import cpu_count
from pathlib import Path
from random import Random
from statistics import fmean, median, stdev

from kiosk.bar.drift import DRIFTING
from kiosk.bar.evening.onset import onset
from kiosk.bar.guide import guide as guides
from kiosk.bar.model import FlagRaised, Pull, Step
from kiosk.bar.weighing import Sample
from kiosk.book import Book
from kiosk.station.clock import Clock
from kiosk.station.evenings import evening_of
from kiosk.station.station import Station
from tests.bench.balance import Balance, Bump, Shown
from tests.bench.bars import Bars
from tests.bench.group import DT_S, Group, Pour
from tests.support.opening import OPENING

TUNED_ON, PROVED_ON = ("darcy", "compacting"), ("eroding", "channelling")
BURST = 4.0
WEIGHED, BACKFLUSHED = 0.5, 0.05        # shares of the pulls
BUMPS_EVERY_S = 60.0


@dataclass(frozen=True)
class Made:
    """One pull that was truly made, and the record that the kiosk kept of it (None: none)."""

    group: int
    time_s: float
    in_cup_g: float
    lifted_after_s: float
    pull: Pull | None


class Shift:
    """One station, its groups and its scale, and a clock of its own."""

    def __init__(self, folder: Path, seed: int, *, laws: tuple[str, ...] = PROVED_ON, groups: int = 1, signal: bool = False):
        self.chance, self.t_s, self.signal = Random(seed), 1000.0, signal
        self.clock = Clock(monotonic=lambda: self.t_s, wall=lambda: OPENING + timedelta(seconds=self.t_s - 1000))
        self.book = Book.open(folder, now=self.clock.now)
        self.station = Station.open(self.book, self.clock)
        self.station.set_setting(("groups",), groups)
        balance = Balance.drawn(self.chance)
        self.shown = Shown(balance, Random(seed + 1), self.t_s)
        self.machines = {n: Group.drawn(self.chance, self.chance.choice(laws)) for n in range(1, groups + 1)}
        self.load_g, self.pour, self.pump = 0.0, None, False
        self.base_g = 0.0
        self.hands = Random(seed + 2)
        first_g = self.hands.uniform(450, 640)
        self.portafilters = first_g, first_g + self.hands.uniform(1, 8), first_g - self.hands.uniform(1, 8)
        self.bumps: list[Bump] = []
        self.forgetting, self.extra = False, 0
        self.usual_drops = {n: usual_drop(machine, Random(seed + n)) for n, machine in self.machines.items()} if groups > 1 else {}

    def let(self, seconds: float, each=lambda: None) -> None:
        until = self.t_s + seconds
        while self.t_s < until:
            self.t_s += DT_S
            if self.pour is not None:
                self.pour.step()
            cup_g = self.pour.cup_g - self.base_g if self.pour is not None and self.load_g else 0.0
            seen = self.shown.step(self.t_s, self.load_g + cup_g + self._bumped_g(), self.pump)
            if seen is not None:
                self.station.scales.first.observe(Sample(*seen))
            self.station.signals.tick()
            self.station.scales.first.tick()
            each()

    def _bumped_g(self) -> float:
        """What a knock or a hand adds now."""
        if self.hands.random() < DT_S / BUMPS_EVERY_S:
            self.bumps.append(Bump.drawn(self.hands, self.t_s, self.t_s + 1.0))
        self.bumps = [each for each in self.bumps if self.t_s < each.t_s + 4.0]
        return sum(each.at(self.t_s) for each in self.bumps)

    def ground(self, dose_g: float) -> None:
        """A portafilter set on the scale, ground into, looked at, taken away."""
        c, empty_g = self.hands, self.hands.choice(self.portafilters) + self.hands.uniform(-1, 1)
        self.load_g = empty_g
        self.let(c.uniform(1.0, 3.0))
        seconds, began_s = c.uniform(4.0, 8.0), self.t_s

        def grind():
            self.load_g = empty_g + dose_g * min(1.0, (self.t_s - began_s) / seconds)
        self.let(seconds, grind)
        self.load_g = empty_g + dose_g
        self.let(c.uniform(1.0, 3.0))
        self.load_g = 0.0
        self.let(c.uniform(4.0, 7.0))           # levelled, tamped, the rim wiped

    def backflush(self, group: int) -> None:
        for _ in range(self.hands.randint(3, 6)):
            self.edge(group, True)
            self.let(self.hands.uniform(3, 7))
            self.edge(group, False)
            self.let(self.hands.uniform(3, 7))

    def tap(self, group: int, kind=guides.Forward, *values) -> None:
        self.station.tap(group, kind, *values)

    def one(self, group: int, forgets: float, told: bool = False) -> Made:
        """One double for that group, from the order to the cup lifted."""
        c, machine = self.chance, self.machines[group]
        if forgets > 0:
            leave, enter = 1 / BURST, (1 / BURST) * forgets / (1 - forgets) if forgets < 1 else 1.0
            self.forgetting = c.random() > leave if self.forgetting and forgets < 1 else c.random() < enter
        taps = told or not (self.forgetting or forgets >= 1)
        work = self.station.lanes[group].work
        if taps:
            self.tap(group)
        if self.hands.random() < WEIGHED:
            self.ground(self.hands.gauss(16, 0.3))
        if taps:
            if work.guide.step is Step.DOSE:
                self.tap(group, guides.DoseTapped, round(c.gauss(16, 0.15), 1))
            while work.guide.step is not Step.PULL:
                self.tap(group)
        if self.signal:
            self.edge(group, True)
            self.let(c.uniform(2, 4))
            self.edge(group, False)
        self.let(c.uniform(1, 6))
        late = c.random() < 0.1
        cup_g = c.choice((c.uniform(100, 150), c.uniform(220, 300), c.uniform(9, 18)))
        self.late, self.cup = late, cup_g
        if not late:
            self.load_g = cup_g
            self.let(c.uniform(1, 4))
        self.pour, self.base_g, self.pump = Pour(machine, Random(c.getrandbits(32))), 0.0, True
        on_s, set_s = self.t_s, self.t_s + c.uniform(0.5, 2.0)
        if taps:
            self.tap(group)
        if self.signal:
            self.edge(group, True)

        def set_down():
            if late and not self.load_g and self.t_s >= set_s:
                self.load_g, self.base_g = cup_g, self.pour.cup_g

        cue = []
        limit = machine.time_s * c.uniform(0.92, 1.08)
        while self.t_s - on_s < limit and not cue:
            self.let(0.1, set_down)
            now = self.station.lanes[group].work
            if now is not None and now.cue_at_s is not None and c.random() < 0.8:
                cue.append(self.t_s)
        self.let(max(0.1, c.gauss(machine.reaction_s, machine.reaction_sd_s)), set_down)
        off_s, self.pump = self.t_s, False
        self.pour.stop()
        if self.signal:
            self.edge(group, False)
        lifted_after_s = c.uniform(0.6, 8.0)
        self.let(lifted_after_s)
        in_cup_g, self.load_g, self.pour = self.pour.cup_g - self.base_g, 0.0, None
        before = self.before
        self.let(c.uniform(6, 10))
        if self.signal and self.hands.random() < BACKFLUSHED:
            self.backflush(group)
        new = [each for each in self.kept() if each.id not in before]
        if taps and not new and self.station.lanes[group].work is work:
            while not work.guide.ended:
                self.tap(group)
            new = [each for each in self.kept() if each.id not in before]
        self.before = {each.id for each in self.kept()}
        self.extra += max(0, len(new) - 1)
        return Made(group, off_s - on_s, in_cup_g, lifted_after_s, new[0] if new else None)

    def kept(self) -> list[Pull]:
        return list(self.book.today().of(Pull))

    before: set[str] = frozenset()

    def edge(self, group: int, on: bool) -> None:
        self.station.signals.edge(group, self.t_s, on)

    def serve(self, pulls: int, forgets: float, teach: int = 0) -> list[Made]:
        """The pulls after `teach` told ones, group after group in turn."""
        made = []
        for n in range(teach + pulls):
            group = 1 + n % len(self.machines)
            if self.station.lanes[group].work is None:
                self.station.orders.take(((self.station.setup.menu[1], len(self.machines)),))
            one = self.one(group, forgets, told=n < teach)
            made += [one] if n >= teach else []
        return made


def shared(seed: int, pairs: int) -> list[tuple[bool, bool, float]]:
    """Two pumps run at once, one cup on the one scale, the other beside it; a third of the lanes out of turn. For each pair:
    whether the coffee went to the wrong group, whether anything was said of it, and how likely one who knows both machines'
    laws would be wrong about it from the same drop and the same stops."""
    found = []
    with tempfile.TemporaryDirectory() as folder:
        shift = Shift(Path(folder) / "book", seed, groups=2, signal=True)
        for _ in range(10):                     # told pulls of this machine
            for group in (1, 2):
                if shift.station.lanes[group].work is None:
                    shift.station.orders.take(((shift.station.setup.menu[1], 2),))
                shift.one(group, 0.0, told=True)
        for _ in range(pairs):
            found.append(_pair(shift))
        shift.book.close()
    return found


def usual_drop(machine: Group, chance: Random) -> tuple[float, float]:
    """(mean, spread) of the log of that machine's first drop, out of forty pulls."""
    logs = []
    for _ in range(40):
        pour = Pour(machine, Random(chance.getrandbits(32)))
        while pour.first_drop_s is None:
            pour.step()
        logs.append(log(pour.first_drop_s))
    return fmean(logs), stdev(logs)


def doubt(laws: dict[int, tuple[float, float]], begins: dict[int, float], ends: dict[int, float], drop_s: float,
          lifted_s: float) -> float:
    """How likely the likelier group is the wrong one, by the first drop and by the stops: those tell surely where they lie
    half a second apart and the cup stood a second and a half after the first (valve, spout and the scale's filter)."""
    if abs(ends[1] - ends[2]) >= 0.5 and lifted_s - min(ends.values()) >= 1.5:
        return 0.0
    likely = {}
    for group, (mean, spread) in laws.items():
        since_s = max(0.1, drop_s - begins[group])
        likely[group] = exp(-((log(since_s) - mean) / spread) ** 2 / 2) / (spread * since_s) + 1e-12
    return min(likely.values()) / sum(likely.values())


def least_asked(doubts: list[float], silent: float) -> float:
    """The share that must be asked at least, so that of all no more than `silent` are wrong without a word."""
    asked, left = 0, sum(doubts)
    for each in sorted(doubts, reverse=True):
        if left <= silent * len(doubts):
            break
        asked, left = asked + 1, left - each
    return asked / len(doubts)


def _pair(shift: Shift) -> tuple[bool, bool, float]:
    c, station = shift.chance, shift.station
    while any(lane.work is None for lane in station.lanes.values()):
        station.orders.take(((station.setup.menu[1], 2),))
    keys = {group: station.lanes[group].work.key for group in (1, 2)}
    first, second = (1, 2) if c.random() < 2 / 3 else (2, 1)
    weighed = c.choice((1, 2))
    shift.load_g = c.uniform(100, 150)
    shift.let(3.0)
    begins = {first: shift.t_s, second: shift.t_s + c.uniform(0.5, 10.0)}
    pours: dict[int, Pour] = {}
    ends = {group: at + shift.machines[group].time_s * c.uniform(0.92, 1.08) for group, at in begins.items()}
    shift.base_g, shift.pump = 0.0, True
    while shift.t_s < max(ends.values()) + 3.0:
        for group, at in begins.items():
            if group not in pours and shift.t_s >= at:
                pours[group] = Pour(shift.machines[group], Random(c.getrandbits(32)))
                shift.edge(group, True)
            if group in pours and ends[group] is not None and shift.t_s >= ends[group] > 0:
                pours[group].stop()
                shift.edge(group, False)
                ends[group] = -ends[group] if ends[group] > 0 else ends[group]
        if all(at < 0 for at in ends.values()) and shift.t_s > max(-at for at in ends.values()) + 5.0:
            break
        shift.pour = pours.get(weighed)
        other = pours.get(3 - weighed)
        if other is not None:
            for _ in range(5):
                other.step()
        shift.let(0.1)
        if shift.t_s > max(abs(at) for at in ends.values()) + 5.0:
            break
    in_cup_g, lifted_s = pours[weighed].cup_g, shift.t_s
    shift.load_g, shift.pour, shift.pump = 0.0, None, False
    shift.let(4.0)
    for group in (1, 2):
        if station.lanes[group].work is not None and station.lanes[group].work.key == keys[group]:
            while station.lanes[group].work is not None and station.lanes[group].work.key == keys[group]:
                shift.tap(group)
    pulls = {pull.id: pull for pull in shift.book.today().of(Pull)}
    made = {group: pulls.get(keys[group]) for group in (1, 2)}
    wrong_one = made[3 - weighed]
    wrong = wrong_one is not None and wrong_one.yield_g is not None and abs(wrong_one.yield_g - in_cup_g) < 3.0
    said = any("Two pulls could" in note or "Nobody told" in note for pull in made.values() if pull for note in pull.notes)
    stops = {group: abs(at) for group, at in ends.items()}
    return wrong, said, doubt(shift.usual_drops, begins, stops, begins[weighed] + pours[weighed].first_drop_s, lifted_s)


def day_told(seed: int, drift_s: float, tapped: bool) -> str:
    """What the evening says drifted, of 60 pulls that ran `drift_s` slower from the 25th on: "slower", "faster" or "". Tapped
    in full, or nothing ordered and nothing touched."""
    with tempfile.TemporaryDirectory() as folder:
        shift = Shift(Path(folder) / "book", seed, signal=True)
        machine = shift.machines[1]
        usual_s, usual_drop_s = machine.time_s, machine.drop_s
        for n in range(60):
            machine.time_s = usual_s + drift_s * (n >= 24)
            machine.drop_s = usual_drop_s * machine.time_s / usual_s        # a finer grind wets later, too
            if tapped and shift.station.lanes[1].work is None:
                shift.station.orders.take(((shift.station.setup.menu[1], 1),))
            shift.one(1, 0.0 if tapped else 1.0, told=tapped)
            shift.let(30.0)
        said = evening_of(shift.book, shift.station.setup, shift.book.day_now()).summary
        shift.book.close()
    found = onset(said.figures.grinders[0]) if said.figures.grinders else None
    return "" if found is None else "slower" if found.now_s > 0 else "faster"


def untouched(days: int, seed: int) -> tuple[list[tuple[str, str]], list[float]]:
    """(tapped in full, untouched) what the evening said of each day, half of which drift; and by how much each drifted."""
    chance = Random(seed)
    drifts = [(chance.choice((-1, 1)) * chance.uniform(3.5, 6.0) if n % 2 else 0.0) for n in range(days)]
    with ProcessPoolExecutor(cpu_count()) as pool:
        told = [list(pool.map(day_told, range(seed, seed + days), drifts, [tapped] * days)) for tapped in (True, False)]
    return list(zip(*told)), drifts


def quantile(values: list[float], share: float) -> float:
    return sorted(values)[min(len(values) - 1, int(share * len(values)))] if values else float("inf")


def shifts(machines: int, pulls: int, forgets: float, *, seed: int = 0, teach: int = 0, **about) -> tuple[list[Made], int, int]:
    """What was made, how many pulls were kept that were none, and how often a grinder was said to
    have drifted: none did, though it may be off the recipe from its first pull."""
    made, extra, flags = [], 0, 0
    for n in range(machines):
        with tempfile.TemporaryDirectory() as folder:
            shift = Shift(Path(folder) / "book", seed + 1000 * n, **about)
            made += shift.serve(pulls, forgets, teach)
            extra += shift.extra
            flags += sum(flag.what == DRIFTING for flag in shift.book.today().of(FlagRaised))
            shift.book.close()
    return made, extra, flags


def campaign(machines: int = 8, pulls: int = 20, seed: int = 7, parts: tuple[str, ...] = ("signal", "scale", "forgets"),
             days: int = 8) -> int:
    bars = Bars(f"Rush: {machines} machines of laws {', '.join(PROVED_ON)} × {pulls} pulls")
    if "signal" in parts:
        made, extra, _ = shifts(machines, pulls, 1.0, seed=seed, signal=True)
        kept = [each for each in made if each.pull is not None and each.pull.time_s is not None]
        off = [abs(each.pull.time_s - each.time_s) for each in kept]
        grams = [abs(each.pull.yield_g - each.in_cup_g) for each in kept
                 if each.pull.yield_g is not None and each.lifted_after_s >= 1.5]
        bars.above("signal and scale, never touched: share kept", len(kept) / len(made), 1.0)
        bars.below("purges kept as pulls", extra, 0)
        bars.below("time off, median, s", median(off), 0.15)
        bars.below("time off, 95 %, s", quantile(off, 0.95), 0.3)
        bars.below("yield off, 95 % of those known, g", quantile(grams, 0.95), 0.3)
        late = [each for each in kept if each.lifted_after_s >= 1.5]
        bars.above("yield known where the cup stood 1.5 s", len(grams) / max(1, len(late)), 0.95)
    if "scale" in parts:
        made, extra, _ = shifts(machines, pulls, 1.0, seed=seed + 1, teach=10)
        kept = [each for each in made if each.pull is not None]
        timed = [each for each in kept if each.pull.time_s is not None]
        off = [abs(each.pull.time_s - each.time_s) for each in timed]
        holds = sum(abs(each.pull.time_s - each.time_s) <= each.pull.time_within_s for each in timed)
        bars.above("scale alone, never touched: share kept", len(kept) / len(made), 0.98)
        bars.below("pulls that were none", extra, 0)
        stood = [each for each in made if each.lifted_after_s >= 1.5]
        bars.above("share timed, of cups that stood 1.5 s", sum(each in timed for each in stood) / len(stood), 0.95)
        bars.below("time off, median, s", median(off), 0.8)
        bars.above("stated ± holds the truth", holds / max(1, len(timed)), 0.88)
        bars.below("stated ±, 95 %, s", quantile([each.pull.time_within_s for each in timed], 0.95), 2.5)
    if "shared" in parts:
        told = [shared(seed + 1000 * n, pulls) for n in range(machines)]
        cases = [each for of in told for each in of]
        silent = sum(wrong and not said for wrong, said, _ in cases)
        least = least_asked([each for *_, each in cases], 0.0015)
        bars.below(f"one scale, two groups at once, a signal each: wrong group and not a word, share of {len(cases)}",
                   silent / len(cases), 0.0015)
        bars.below("share with a word about it, beside the least that the same evidence allows",
                   sum(said for _, said, _ in cases) / len(cases), 1.5 * least)
        bars.below("wrong, with a word or without", sum(wrong for wrong, *_ in cases) / len(cases), 0.01)
    if "forgets" in parts:
        flagged = {}
        for forgets, least in ((0.0, 0.99), (0.3, 0.99), (0.7, 0.98)):
            made, extra, flagged[forgets] = shifts(machines, pulls, forgets, seed=seed + 2, teach=5)
            kept = [each for each in made if each.pull is not None]
            bars.above(f"forgetting {forgets}: share kept", len(kept) / len(made), least)
            bars.below("pulls that were none", extra, 0)
        for forgets in (0.3, 0.7):
            bars.below(f"drift said of {machines} quiet grinders, forgetting {forgets}, beside forgetting nothing", flagged[forgets],
                       flagged[0.0])
    if "untouched" in parts:
        told, drifts = untouched(days, seed + 3)
        for what, wanted in (("drifted", True), ("were quiet", False)):
            of_them = [each for each, by_s in zip(told, drifts) if bool(by_s) == wanted]
            print(f"       of {len(of_them)} days that {what}, the evening named a drift on {sum(bool(t) for t, _ in of_them)} "
                  f"tapped in full, on {sum(bool(u) for _, u in of_them)} untouched")
        bars.above(f"nothing ordered or touched: drift said as of the same shift tapped in full, share of {len(told)} days",
                   sum(t == u for t, u in told) / len(told), 0.90)
    return bars.end()


PARTS = ("signal", "scale", "shared", "forgets", "untouched")

if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("machines", type=int, nargs="?", default=60)
    parser.add_argument("pulls", type=int, nargs="?", default=60)
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--part", action="append", choices=PARTS)
    parser.add_argument("--days", type=int, default=100, help="of the untouched shifts")
    asked = parser.parse_args()
    raise SystemExit(campaign(asked.machines, asked.pulls, asked.seed, tuple(asked.part or PARTS), asked.days))
