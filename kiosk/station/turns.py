"""Turns: of the pulls that one scale serves, whose portafilter or cup it carries, and whose first drop was due."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from math import inf

from kiosk.bar.model import Setup, Step
from kiosk.bar.weighing import PourWatch
from kiosk.station.lane import Lane, Work
from kiosk.station.learned import Learned
from kiosk.station.signals import Signals

DOSING = (Step.DOSE, Step.LEVEL)
DOSED = (Step.TAMP, Step.RIM)       # a portafilter that comes back to the scale may have been ground anew


class ScaleTurns:
    """Of the `number`th scale, 1 or 2. Looks at what is and changes nothing; `lanes` are the station's, `learned` is what that
    scale taught of its groups."""

    def __init__(self, number: int, setup: Callable[[], Setup], lanes: Mapping[int, Lane], signals: Signals, learned: Learned):
        self._number, self._setup, self._lanes, self._signals, self._learned = number, setup, lanes, signals, learned

    @property
    def groups(self) -> range:
        """The groups that this scale serves: all of them, or one half where there are two scales. One that Setup took away
        while it made a pull is weighed to its end."""
        setup = self._setup()
        last = max((setup.groups, *self._lanes))
        last_of_first = -(-setup.groups // 2) if setup.scale.second else last
        return range(1, last_of_first + 1) if self._number == 1 else range(last_of_first + 1, last + 1)

    @property
    def works(self) -> list[Work]:
        groups = self.groups
        return [lane.work for lane in self._lanes.values() if lane.work is not None and lane.group in groups]

    # ---- whose portafilter or cup ---------------------------------------------------------------------------------

    def begun(self) -> list[Work]:
        """The pulls whose pump is or was on and whose cup may still be filling, in the order in which they began."""
        begun = [work for work, watch in watched(self.works) if work.guide.pump_on_at_s is not None and not watch.beside]
        live = [work for work, watch in watched(begun) if not watch.over]
        if not live and begun:              # late drips are told of the pull that settled last
            live = [max(begun, key=_pump_on_s)]
            if any(work.dose_watch is not None and work.guide.step in DOSING for work in self.works):
                live = []
        return sorted(live, key=_pump_on_s)

    def idle(self, load_of: str | None) -> list[Work]:
        """While nothing pours: the pull that doses, and each that is getting its cup ready. `load_of` is the pull whose dose
        stands there."""
        dosing = [work for work in self.works if work.dose_watch is not None]
        first = min(dosing, key=_turn, default=None)
        if first is not None and first.guide.step not in DOSING and load_of not in (None, first.key):
            first = next((work for work in dosing if work.key == load_of), None)    # it was dosed a moment ago
        return self._ready() + ([first] if first is not None else [])

    def served(self) -> Work | None:
        """The pull whose portafilter or cup the scale carries: one that pours comes before one that doses."""
        begun = self.begun()
        if begun:
            return next((work for work, watch in watched(begun) if watch.pouring), begun[0])
        dosing = [work for work in self.works if work.dose_watch is not None and work.guide.step not in DOSED]
        if dosing:
            return min(dosing, key=_turn)
        return min(self._ready(), key=lambda work: work.guide.entered_at_s, default=None)

    def _ready(self) -> list[Work]:
        return [work for work in self.works if work.pour_watch is not None and work.guide.pump_on_at_s is None]

    # ---- whose first drop -----------------------------------------------------------------------------------------

    def untimely(self, work: Work, drop_s: float) -> float:
        """By how many of its own ± a first drop at `drop_s` is off for that pull."""
        return self._learned.habits(work.group).untimely(work.guide.recipe, drop_s - _pump_on_s(work))

    def likelier_run(self, drop_s: float, than: float) -> int | None:
        """The group whose pump runs untold and whose first drop was likeliest due at `drop_s`, by less than `than` of its own ±."""
        runs = self._untold_runs(drop_s)
        likeliest = min(runs, key=runs.__getitem__, default=None)
        return likeliest if likeliest is not None and runs[likeliest] < than else None

    def _untold_runs(self, drop_s: float) -> dict[int, float]:
        """The groups whose pump runs by their signal and is not yet known to make a pull: by how many of its own ± a first
        drop at `drop_s` is off for each."""
        found = {}
        for work in self.works:
            since_s = self._signals.running_since(work.group)
            if since_s is not None and work.guide.pump_on_at_s is None and not work.guide.ended:
                found[work.group] = self._learned.habits(work.group).untimely(work.guide.recipe, drop_s - since_s)
        return found


def watched(works: Iterable[Work]) -> Iterator[tuple[Work, PourWatch]]:
    """Those whose cup is watched now, with what watches it."""
    for work in works:
        if work.pour_watch is not None:
            yield work, work.pour_watch


def _pump_on_s(work: Work) -> float:
    """When its pump went on; later than anything where that is not known."""
    return inf if work.guide.pump_on_at_s is None else work.guide.pump_on_at_s


def _turn(work: Work) -> tuple[bool, bool, float]:
    """Whose portafilter the scale carries: one that is being dosed comes before one whose cup still warms, and that before
    one that was dosed."""
    return work.guide.step not in DOSING, work.guide.step in DOSED, work.guide.entered_at_s
