"""The story of a feed: every pull of it once, told by hands, by signals or by the scale alone, and nothing that was none."""

from collections.abc import Callable

import pytest

from kiosk.bar.model import usual
from kiosk.bar.model.record import CONTACT, SCALE, TAPPED
from kiosk.bar.weighing import Sample
from kiosk.bar.weighing.story import Story, ToldPull

RECIPE = usual("house", "double")       # first drop 3 to 5 s, 50 g out
CUP_G = 120.0


class Feed:
    """Scales shown to a story ten times a second; `pulls` are those that are over."""

    def __init__(self):
        self.story, self.t_s, self.told = Story(RECIPE), 0.0, []
        self.grams = {1: 0.0}

    @property
    def pulls(self) -> list[ToldPull]:
        return [each for each in self.told if isinstance(each, ToldPull)]

    def show(self, seconds: float, flow: Callable[[float], float] | float = 0.0, scale: int = 1) -> None:
        for _ in range(round(seconds * 10)):
            self.t_s = round(self.t_s + 0.1, 1)
            self.grams[scale] += 0.1 * (flow(self.t_s) if callable(flow) else flow)
            for number, grams in self.grams.items():
                self.told += self.story.observe(Sample(self.t_s, round(grams, 1)), number)

    def put(self, grams: float, scale: int = 1) -> None:
        self.grams[scale] = grams
        self.show(3.0)

    def deed(self, what: str) -> None:
        self.told += self.story.deed(self.t_s, what)

    def edge(self, group: int, on: bool) -> None:
        self.told += self.story.edge(self.t_s, group, on)

    def pour(self, seconds: float = 22.0, flow: float = 2.2) -> None:
        """Four seconds until the first drop, then a stream."""
        self.show(4.0)
        self.show(seconds, flow)

    def lift(self) -> None:
        self.show(6.0)
        self.put(0.0)

    def end(self) -> list[ToldPull]:
        self.told += self.story.close()
        return self.pulls


def test_a_pull_that_hands_told_has_their_times_and_the_scales_weights():
    feed = Feed()
    feed.show(2.0)
    feed.deed("lock in")
    feed.put(CUP_G)
    feed.deed("pump on")
    on_s = feed.t_s
    feed.pour()
    feed.deed("pump off")
    feed.lift()
    pull, = feed.end()
    assert (pull.on_s, pull.on_from, pull.on_within_s, pull.off_from) == (on_s, TAPPED, 1.0, TAPPED)
    assert pull.time_s == pytest.approx(26.0) and pull.first_drop_s == pytest.approx(4.0, abs=0.6)
    assert pull.yield_g == pytest.approx(48.4, abs=0.3) and pull.lifted and pull.group is None
    assert pull.stop_cue_s is not None and 20 < pull.stop_cue_s < 26.5


def test_a_dose_weighed_a_while_ago_is_the_next_pulls_and_no_others():
    feed = Feed()
    feed.show(2.0)
    for expected in (16.0, None):
        if expected:
            feed.put(540.0)
            feed.show(8.0, 2.0)
            feed.show(4.0)
            feed.put(0.0)
        feed.put(CUP_G)
        feed.edge(1, True)
        feed.pour()
        feed.edge(1, False)
        feed.lift()
        assert feed.pulls[-1].dose_g == (None if expected is None else pytest.approx(expected, abs=0.3))


def test_a_signal_alone_tells_a_pull_and_no_purge_nor_backflush_is_one():
    feed = Feed()
    feed.put(CUP_G)
    for seconds in (3.0, 5.0, 5.0, 5.0):
        feed.edge(2, True)
        feed.show(seconds)
        feed.edge(2, False)
        feed.show(4.0)
    feed.edge(2, True)
    on_s = feed.t_s
    feed.pour()
    feed.edge(2, False)
    feed.lift()
    pull, = feed.end()
    assert (pull.group, pull.on_s, pull.on_from, pull.off_from) == (2, on_s, CONTACT, CONTACT)
    assert pull.time_s == pytest.approx(26.0) and pull.yield_g == pytest.approx(48.4, abs=0.3)


def test_a_hand_and_a_signal_that_tell_one_pump_tell_one_pull_by_the_signals_times():
    feed = Feed()
    feed.put(CUP_G)
    feed.deed("lock in")
    feed.show(2.0)
    feed.edge(1, True)
    on_s = feed.t_s
    feed.show(1.0)
    feed.deed("pump on")
    feed.show(3.0)
    feed.show(22.0, 2.2)
    feed.edge(1, False)
    off_s = feed.t_s
    feed.show(1.0)
    feed.deed("pump off")
    feed.lift()
    pull, = feed.end()
    assert (pull.on_s, pull.off_s, pull.on_from, pull.off_from, pull.group) == (on_s, off_s, CONTACT, CONTACT, 1)


@pytest.mark.parametrize("late_s, many", [(2.9, 1), (3.0, 1), (3.1, 2)])
def test_a_tap_and_an_edge_more_than_three_seconds_apart_are_two_pumps(late_s, many):
    feed = Feed()
    feed.put(CUP_G)
    feed.deed("pump on")
    feed.show(late_s)
    feed.edge(1, True)
    feed.show(20.0)
    feed.edge(1, False)
    feed.show(2.0)
    assert len(feed.end()) == many


def test_the_scale_alone_tells_a_pull_worked_back_from_its_first_drop():
    feed = Feed()
    feed.put(CUP_G)
    feed.show(10.0)
    dropped_s = feed.t_s
    feed.show(22.0, 2.2)
    feed.lift()
    pull, = feed.end()
    assert pull.on_from == SCALE and pull.on_s == pytest.approx(dropped_s - 4.0, abs=0.6) and pull.on_within_s > 0.5
    assert pull.off_from == SCALE and pull.yield_g == pytest.approx(48.4, abs=0.4)
    assert pull.time_s == pytest.approx(26.0, abs=1.2)


def test_a_scale_that_goes_takes_the_yield_and_leaves_the_time():
    feed = Feed()
    feed.put(CUP_G)
    feed.edge(1, True)
    feed.show(4.0)
    feed.show(8.0, 2.2)
    feed.deed("scale lost")
    feed.show(14.0, 2.2)
    feed.edge(1, False)
    feed.lift()
    pull, = feed.end()
    assert pull.yield_g is None and pull.time_s == pytest.approx(26.0)


def test_two_scales_weigh_two_pulls_each_its_own():
    feed = Feed()
    feed.grams = {1: CUP_G, 2: 90.0}
    feed.show(3.0)
    feed.edge(1, True)
    feed.edge(2, True)
    feed.show(4.0)
    for _ in range(20):
        feed.show(0.5, 2.0, scale=1)
        feed.show(0.5, 2.6, scale=2)
    feed.edge(1, False)
    feed.edge(2, False)
    feed.show(6.0)
    feed.grams = {1: 0.0, 2: 0.0}
    feed.show(3.0)
    by_group = {pull.group: pull for pull in feed.end()}
    assert sorted(by_group) == [1, 2]
    assert sorted(round(pull.yield_g) for pull in by_group.values()) == [20, 26]


@pytest.mark.parametrize("late_s", [1.0, 9.0])
def test_a_pull_beside_the_scale_has_no_yield(late_s):
    feed = Feed()
    feed.put(CUP_G)
    feed.edge(1, True)
    feed.show(4.0)
    feed.show(late_s, 2.2)
    feed.edge(2, True)
    feed.show(22.0 - late_s, 2.2)
    feed.edge(1, False)
    feed.show(4.0 + late_s)
    feed.edge(2, False)
    feed.lift()
    yields = {pull.group: pull.yield_g for pull in feed.end()}
    assert yields == {1: pytest.approx(48.4, abs=0.3), 2: None}


def test_a_pull_whose_cup_stays_is_over_half_a_minute_after_its_stop():
    feed = Feed()
    feed.put(CUP_G)
    feed.edge(1, True)
    feed.pour()
    feed.edge(1, False)
    feed.show(29.0)
    assert feed.pulls == []
    feed.show(2.0)
    assert len(feed.pulls) == 1 and not feed.pulls[0].lifted
    feed.edge(1, True)
    feed.show(149.0)
    assert len(feed.pulls) == 1
    feed.show(2.0)                              # no pull runs so long
    assert len(feed.pulls) == 2 and feed.pulls[1].time_s is None


def test_each_pull_is_told_once_and_in_turn():
    feed = Feed()
    for n in range(3):
        feed.put(CUP_G)
        feed.deed("lock in")
        feed.deed("pump on")
        feed.pour(18.0 + n)
        feed.deed("pump off")
        feed.lift()
    assert [round(pull.time_s) for pull in feed.end()] == [22, 23, 24]
    assert feed.end() == feed.pulls and len(feed.pulls) == 3        # closed again: nothing more
