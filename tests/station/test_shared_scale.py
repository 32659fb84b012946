"""Two pumps at once, one cup on the one scale: a slice of `python -m tests.bench.rush --part shared`, on its own seeds."""

from dataclasses import asdict

import pytest

from kiosk.bar.guide import guide as guides
from kiosk.bar.model import Pull, Step, not_known
from kiosk.bar.weighing import Habits, Poured, Sample
from kiosk.bar.weighing.pour import PourWatch
from kiosk.bar.weighing.whose import LOOKED_FOR_S
from tests.bench import rush
from tests.support.a_station import WorkingStation


def test_coffee_never_goes_to_the_wrong_group_without_a_word():
    cases = [case for seed in (50_021, 50_022, 50_024) for case in rush.shared(seed, 8)]
    assert len(cases) == 24
    assert not any(wrong and not said for wrong, said, _ in cases)
    assert sum(not wrong and not said for wrong, said, _ in cases) >= 8       # where it is clear, nothing is said


class OneScale(WorkingStation):
    """Two groups over one scale, without a window; the hands tap Pump on and what stands on the scale is shown."""

    def __init__(self, folder):
        super().__init__(folder)
        assert self.service.set_setting(("groups",), 2) == ()
        self.order("Double espresso", "Double espresso")
        self.grams = 110.0
        for group in (1, 2):
            self.to(group, Step.PULL)
        self.show(3.0)

    def to(self, group: int, step: Step) -> None:
        while self.service.lanes[group].work.guide.step is not step:
            self.tap(group)

    def show(self, seconds: float, flow: float = 0.0, knock: tuple[float, ...] = ()) -> None:
        """`knock` is what a knock adds to the last readings."""
        many = round(seconds * 10)
        for more_g in (*[0.0] * (many - len(knock)), *knock):
            self.t_s, self.grams = self.t_s + 0.1, self.grams + flow * 0.1
            self.service.scales.first.observe(Sample(self.t_s, round(self.grams + more_g, 1)))
            self.service.signals.tick()
            self.service.scales.first.tick()

    def signal(self, group: int, on: bool) -> None:
        self.service.signals.edge(group, self.t_s, on)

    def guide(self, group: int):
        return self.service.lanes[group].work.guide

    def pump(self, group: int) -> None:
        self.service.tap(group, guides.Forward)


# The usual recipe's first drop comes 3 to 5 s after its pump on.
@pytest.mark.parametrize("apart_s, drops_after_s, owner", [(9.0, 4.0, 2), (2.6, 1.4, 1), (3.0, 4.0, 2)])
@pytest.mark.parametrize("first", [1, 2])
def test_the_first_drop_belongs_to_the_group_whose_own_was_due(tmp_path, first, apart_s, drops_after_s, owner):
    station, second = OneScale(tmp_path), 3 - first
    station.pump(first)
    station.show(apart_s)
    station.pump(second)
    station.show(drops_after_s)
    station.show(8.0, flow=2.2)
    whose = {1: first, 2: second}[owner]
    assert station.guide(whose).drop_at_s is not None and station.guide(3 - whose).drop_at_s is None
    assert station.service.scales.first.turns.served().group == whose
    assert station.service.scales.first.busy_with(3 - whose) == whose and station.service.scales.first.busy_with(whose) is None
    began_s = station.guide(3 - whose).pump_on_at_s
    station.show(4.0, flow=2.2)                 # it keeps the scale until it has settled
    station.pump(3 - whose)                     # the other's pump is stopped: nothing of this cup becomes its own
    station.show(10.0, flow=2.2)
    station.pump(whose)
    station.show(6.0)
    assert station.guide(whose).yield_g == pytest.approx(station.grams - 110.0, abs=0.5)
    assert station.guide(3 - whose).yield_g is None and station.guide(3 - whose).pump_on_at_s == began_s
    assert not_known.UNSEEN in station.guide(3 - whose).notes and station.service.lanes.trouble(3 - whose) is None


@pytest.mark.parametrize("late_s", [1.0, 8.0, 16.0])
def test_a_pull_beside_the_scale_has_no_yield_and_is_not_called_choked(tmp_path, late_s):
    station, wrong = OneScale(tmp_path), []

    def show(seconds: float, flow: float = 0.0) -> None:
        for _ in range(round(seconds)):
            station.show(1.0, flow)
            wrong.append(station.service.lanes.trouble(2))

    station.pump(1)
    show(4.0)
    show(late_s, flow=2.2)
    station.pump(2)
    show(24.0 - late_s, flow=2.2)
    station.pump(1)
    show(2.0 + late_s)
    station.pump(2)
    show(4.0)
    assert station.guide(1).yield_g == pytest.approx(24.0 * 2.2, abs=0.5)
    assert station.guide(2).yield_g is None and not_known.UNSEEN in station.guide(2).notes and set(wrong) == {None}
    other = station.service.lanes[2].work.key
    station.grams = 0.0                         # the first one's cup is lifted: that one is served, and not the other
    station.show(2.0)
    pull, = station.book.today().of(Pull)
    assert pull.yield_g == pytest.approx(24.0 * 2.2, abs=0.5)
    assert station.service.lanes.makes(2, other)


def test_the_next_cup_is_weighed_though_its_pump_went_on_before_the_last_one_had_settled(tmp_path):
    station = OneScale(tmp_path)
    station.pump(1)
    station.show(4.0)
    station.show(24.0, flow=2.2)
    station.pump(1)
    station.show(1.0)
    station.pump(2)
    station.show(1.5)
    station.grams = 0.0
    station.show(0.7)
    station.grams = 120.0
    station.show(1.3)
    station.show(22.0, flow=2.4)
    station.pump(2)
    station.show(4.0)
    assert station.guide(2).yield_g == pytest.approx(22.0 * 2.4, abs=0.5)


def test_a_slow_group_keeps_its_drop_though_a_quicker_one_began_meanwhile(tmp_path):
    station = OneScale(tmp_path)
    taught = Habits(tuple(Poured(reaction_s=0.4, flow_g_per_s=2.0, after_g=2.0, first_drop_s=8.0) for _ in range(8)))
    station.book.remember("habits-1", asdict(taught))
    station.pump(1)
    station.show(1.6)
    station.pump(2)
    station.show(1.0)
    assert station.service.scales.first.turns.served().group == 1     # nothing pours yet: the one that began first
    station.show(5.2)
    station.show(6.0, flow=2.2)
    assert station.guide(1).drop_at_s is not None and station.guide(2).drop_at_s is None


def test_late_drips_are_of_the_pull_that_settled_last(tmp_path):
    station = OneScale(tmp_path)
    for group in (2, 1):
        station.pump(group)
        station.show(4.0)
        station.show(20.0, flow=2.5)
        station.pump(group)
        station.show(6.0)
        if group == 2:
            station.grams += 110.0              # the next cup comes beside the first
            station.show(3.0)
    assert station.guide(2).yield_g == pytest.approx(50.0, abs=0.5)
    assert station.guide(1).yield_g == pytest.approx(50.0, abs=0.5)
    station.grams += 0.6
    station.show(4.0)
    assert station.guide(2).yield_g == pytest.approx(50.0, abs=0.5)
    assert station.guide(1).yield_g == pytest.approx(50.6, abs=0.2)


def test_a_knock_while_the_other_pump_stops_gives_the_coffee_to_nobody_else(tmp_path):
    """Three readings that fall, as no stream does, look like its end; a moment later it runs on."""
    station = OneScale(tmp_path)
    station.signal(1, True)
    station.show(0.6)
    station.signal(2, True)
    station.show(3.4)
    station.show(21.0, flow=2.2)
    station.signal(2, False)
    station.show(2.1, flow=2.2, knock=(-0.2, -1.25, -1.5, -1.7))
    assert station.guide(1).drop_at_s is not None and station.guide(2).drop_at_s is None
    station.show(0.6, flow=2.2, knock=(-6.0,) * 6)
    station.show(1.0, flow=2.2)
    station.signal(1, False)
    station.show(1.0, flow=1.0)
    station.show(6.0)
    assert station.guide(1).yield_g == pytest.approx(station.grams - 110.0, abs=0.5) and station.guide(2).yield_g is None


def test_a_knock_long_after_the_other_pumps_stop_adds_nothing_to_one_at_its_own(tmp_path, monkeypatch):
    """While nothing new is to be learned of a stop the curve is not asked; what it said last has not been so ever since."""
    station, knocked = OneScale(tmp_path), []
    monkeypatch.setattr(PourWatch, "ends_with", lambda *_given: 50.0 if knocked else -50.0)
    station.signal(1, True)
    station.show(0.6)
    station.signal(2, True)
    station.show(3.4)
    station.show(12.0, flow=2.2)
    station.signal(2, False)
    station.show(LOOKED_FOR_S - 0.2, flow=2.2)
    knocked.append(True)
    station.show(0.6, flow=2.2)
    station.signal(1, False)
    station.show(0.2, flow=1.0)
    knocked.clear()
    station.show(6.0)
    assert station.guide(1).yield_g == pytest.approx(station.grams - 110.0, abs=0.5) and station.guide(2).drop_at_s is None


def test_a_stream_that_a_knock_gave_to_the_wrong_group_is_given_back_at_its_stop(tmp_path):
    """The second group was just locked in as the first one's coffee came: a knock hid the drop, the stop tells."""
    station = OneScale(tmp_path)
    station.signal(1, True)
    station.show(6.0)
    station.signal(2, True)
    station.show(1.0)
    station.show(0.8, flow=2.2, knock=(9.0,) * 8)
    station.show(14.0, flow=2.2)
    station.signal(1, False)
    station.show(0.6, flow=1.0)
    station.show(7.0)
    assert station.guide(1).yield_g == pytest.approx(station.grams - 110.0, abs=0.5) and station.guide(2).yield_g is None
    assert not_known.EVERY.isdisjoint(station.guide(1).notes)


def test_a_dose_into_a_portafilter_set_down_while_the_scale_still_shook_from_the_cup_before_is_no_pour(tmp_path):
    station = OneScale(tmp_path)
    station.tap(2, guides.Back, times=4)
    station.show(1.0)
    station.pump(1)
    station.show(4.0)
    station.show(24.0, flow=2.1)
    station.pump(1)
    station.show(5.0)
    station.grams = 0.0
    for _ in range(30):                                     # its cup is taken, somebody bumps into the counter …
        station.show(0.1)
        if station.service.lanes[1].work is None:
            break
    assert station.service.lanes[1].last.yield_g == pytest.approx(50.4, abs=0.1)
    station.show(1.1, knock=(2.2, 2.3, -0.9, 0.9, 0.1, -0.3, 0.3, -0.1, 0.0, 0.2, -0.1))
    station.service.tap(2, guides.Forward)
    assert station.guide(2).step is Step.DOSE
    for loaded_g in (249.2, 377.1, 442.7, 476.4, 493.8, 502.6, 507.2, 509.5, 510.8, 511.3, 511.7, 511.8, 511.9, 512.0, 511.9, 512.0):
        station.grams = loaded_g                            # … and at once the next portafilter stands there
        station.show(0.1)
    station.show(0.2)
    station.show(4.0, flow=4.0)
    station.show(2.5)
    assert station.guide(2).pump_on_at_s is None
    assert station.guide(2).dose_g == pytest.approx(16.0, abs=0.2)
