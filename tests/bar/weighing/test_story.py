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


# ---- each rule at its edge ------------------------------------------------------------------------------------------

def dosed(feed: Feed, empty_g: float, dose_g: float) -> None:
    """A portafilter set down empty, ground into, and taken away."""
    feed.put(empty_g)
    feed.show(4.0, dose_g / 4)
    feed.show(3.0)
    feed.put(0.0)


def by_signal(feed: Feed, seconds: float = 14.0, group: int = 1) -> ToldPull:
    """A pull that its group's signal tells, cup lifted; the pull that it came to."""
    feed.put(CUP_G)
    feed.edge(group, True)
    feed.pour(seconds)
    feed.edge(group, False)
    feed.lift()
    return feed.pulls[-1]


@pytest.mark.parametrize("empty_g, dose_g, known", [
    (540.0, 7.7, None), (540.0, 8.3, 8.3), (540.0, 23.7, 23.7), (540.0, 24.3, None),        # half the recipe's dose either way
    (420.0, 16.0, None), (432.0, 16.0, 16.0)])                                              # lighter, and it may be a jug
def test_a_dose_that_nobody_announced_is_a_recipes_dose_in_a_portafilter(empty_g, dose_g, known):
    feed = Feed()
    feed.show(2.0)
    dosed(feed, empty_g, dose_g)
    assert by_signal(feed).dose_g == (None if known is None else pytest.approx(known, abs=0.2))


def test_a_light_portafilter_that_is_known_is_one_and_one_that_was_dosed_is_known_from_then_on():
    feed = Feed()
    feed.story = Story(RECIPE, empties=(("short", 300.0),))
    feed.show(2.0)
    feed.put(316.0)
    feed.put(0.0)
    assert by_signal(feed).dose_g == pytest.approx(16.0, abs=0.2) and feed.story.empties == (("short", 300.0),)
    dosed(feed, 540.0, 16.0)
    assert feed.story.empties == (("short", 300.0), ("540 g", pytest.approx(540.0, abs=0.2)))
    dosed(feed, 540.8, 16.0)
    assert len(feed.story.empties) == 2                         # the same, a gram of water in it
    by_signal(feed)
    feed.put(556.0)                                             # set down dosed: it needs no showing any more
    feed.put(0.0)
    assert by_signal(feed).dose_g == pytest.approx(16.0, abs=0.3)


@pytest.mark.parametrize("waits_s, kept", [(270.0, True), (310.0, False)])
def test_a_dose_of_five_minutes_ago_is_nobodys(waits_s, kept):
    feed = Feed()
    feed.show(1.0)
    dosed(feed, 540.0, 16.0)
    feed.t_s = round(feed.t_s + waits_s, 1)                     # nobody looked at the scale meanwhile
    assert (by_signal(feed, 8.0).dose_g is not None) is kept


def test_what_hands_tell_of_the_dose_is_weighed_for_their_pull():
    feed = Feed()
    feed.put(500.0)
    feed.deed("dose")
    feed.show(1.0)
    feed.deed("tare")
    feed.show(4.0, 4.0)
    feed.show(2.0)
    feed.put(0.0)
    feed.deed("lock in")
    feed.put(CUP_G)
    feed.deed("pump on")
    feed.pour(14.0)
    feed.deed("pump off")
    feed.lift()
    pull, = feed.end()
    assert pull.dose_g == pytest.approx(16.0, abs=0.2) and pull.off_from == TAPPED and pull.off_within_s == 1.0


def test_a_new_dose_begins_a_new_pull_only_once_the_one_before_had_begun():
    feed = Feed()
    feed.show(1.0)
    for _ in range(2):
        feed.deed("dose")
        feed.show(1.0)
    feed.deed("lock in")
    feed.deed("pump on")
    feed.show(8.0)
    assert feed.pulls == []
    feed.deed("dose")
    assert len(feed.pulls) == 1 and feed.pulls[0].off_s is None
    assert len(feed.end()) == 1                                  # a dose alone is no pull


def test_a_tap_never_moves_what_the_groups_own_signal_told():
    feed = Feed()
    feed.deed("lock in")
    feed.edge(1, True)
    on_s = feed.t_s
    feed.show(20.0)
    feed.edge(1, False)
    off_s = feed.t_s
    feed.deed("pump off")
    pull, = feed.end()
    assert (pull.on_s, pull.off_s, pull.on_within_s, pull.off_within_s) == (on_s, off_s, 0.1, 0.1)
    assert (pull.time_s, pull.first_drop_s, pull.stop_cue_s, pull.yield_g) == (pytest.approx(20.0), None, None, None)


def test_of_two_pumps_over_one_cup_the_coffee_is_the_one_whose_first_drop_was_due():
    """Four seconds after its pump, as the recipe has it."""
    for then, owner in ((6.0, 2), (1.0, 1)):
        feed = Feed()
        feed.put(CUP_G)
        feed.edge(1, True)
        feed.show(then)
        feed.edge(2, True)
        feed.show(4.0 if owner == 2 else 3.0)
        feed.show(16.0, 2.2)
        feed.edge(owner, False)
        feed.show(5.0)
        feed.edge(3 - owner, False)
        feed.lift()
        yields = {pull.group: pull.yield_g for pull in feed.end()}
        assert yields == {owner: pytest.approx(35.2, abs=0.4), 3 - owner: None}, owner


def test_a_group_that_drops_late_is_known_to_after_a_few_pulls():
    """What hands told teaches when a pour that nobody tells began."""
    feed = Feed()
    for _ in range(4):
        feed.put(CUP_G)
        feed.deed("lock in")
        feed.deed("pump on")
        feed.show(3.0)
        feed.pour(12.0)                                          # the first drop after seven seconds
        feed.deed("pump off")
        feed.lift()
    feed.put(CUP_G)
    feed.show(10.0)
    dropped_s = feed.t_s
    feed.show(16.0, 2.2)
    feed.lift()
    untold = feed.end()[-1]
    assert untold.on_from == SCALE and untold.on_s == pytest.approx(dropped_s - 6.6, abs=0.6)


def test_a_cup_lifted_ends_its_pull_at_once_and_a_stop_with_its_cup_still_there_does_not():
    feed = Feed()
    by_signal(feed)
    assert len(feed.pulls) == 1 and feed.pulls[0].lifted and feed.pulls[0].flow_g_per_s is not None
    feed.put(CUP_G)
    feed.edge(1, True)
    feed.pour(14.0)
    feed.edge(1, False)
    feed.show(10.0)
    assert len(feed.pulls) == 1
    feed.edge(1, True)                                           # the next pull of that group: the one before is over
    assert len(feed.pulls) == 2


def test_a_scale_that_goes_while_nothing_pours_takes_nothing_with_it():
    feed = Feed()
    feed.put(540.0)
    feed.deed("dose")
    feed.deed("scale lost")
    feed.deed("lock in")
    feed.put(CUP_G)
    feed.deed("scale lost")
    feed.put(CUP_G)
    feed.edge(1, True)
    feed.pour(14.0)
    feed.edge(1, False)
    feed.lift()
    pull, = feed.end()
    assert pull.yield_g == pytest.approx(30.8, abs=0.3)


@pytest.mark.parametrize("on_s, drop_s, off_s, cue_s", [(10.0, 14.0, 35.0, 33.0), (None, 14.0, 35.0, 33.0),
                                                        (10.0, None, None, None)])
def test_times_of_a_pull_are_counted_from_its_pump(on_s, drop_s, off_s, cue_s):
    pull = ToldPull(RECIPE, on_s=on_s, drop_s=drop_s, off_s=off_s, cue_s=cue_s)
    expected = (25.0, 4.0, 23.0) if on_s is not None and off_s is not None else (None, None, None)
    assert (pull.time_s, pull.first_drop_s, pull.stop_cue_s) == expected


@pytest.mark.parametrize("away_s, one", [(2.0, True), (7.0, False)])
def test_a_cup_taken_from_under_the_stream_may_come_back_within_four_seconds_as_in_service(away_s, one):
    feed = Feed()
    feed.put(CUP_G)
    feed.edge(1, True)
    feed.pour(seconds=10.0)
    in_cup_g, feed.grams[1] = feed.grams[1], 0.0
    feed.show(away_s)
    over = len(feed.pulls)
    feed.grams[1] = in_cup_g
    feed.show(8.0, 2.2)
    feed.edge(1, False)
    feed.lift()
    assert over == (0 if one else 1)
    pulls = feed.end()
    assert (pulls[0].off_s is not None) is one and (len(pulls) == 1 or not one)
