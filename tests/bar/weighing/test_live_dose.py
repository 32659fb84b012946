"""The dose on the scale: what a barista sets down, and what the kiosk then knows without a tap."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kiosk.bar.model import usual
from kiosk.bar.weighing import DoseRead, DoseUnclear, DoseWatch, PortafilterSet, Sample, to_mend_g
from tests.support.on_the_scale import Scale

DOUBLE, SINGLE = usual("house", "double"), usual("house", "single")
FAR_APART = (("left", 520.0), ("right", 585.0))
ALIKE = (("left", 520.0), ("right", 523.0))


def doses(scale: Scale) -> list[tuple[float, str | None]]:
    return [(told.dose_g, told.portafilter) for told in scale.all(DoseRead)]


def about(dose_g: float):
    return pytest.approx(dose_g, abs=0.05)


def test_a_known_portafilter_set_down_dosed_is_read_with_no_tare_and_no_tap():
    scale = Scale(DoseWatch(DOUBLE, FAR_APART))
    scale.shows(0.0, 2)
    scale.shows(585.0 + 16.4, 3)
    assert doses(scale) == [(about(16.4), "right")]


@settings(deadline=None)
@given(dose_g=st.floats(9, 23), hz=st.sampled_from((5, 8, 10, 20)), which=st.sampled_from(FAR_APART))
def test_any_dose_is_told_within_a_second_of_coming_to_rest_by_any_scale(dose_g, hz, which):
    scale = Scale(DoseWatch(DOUBLE, FAR_APART), hz)
    scale.shows(0.0, 2)
    scale.shows(lambda since_s: (which[1] + dose_g) * min(1.0, since_s / 0.4), 0.4)
    scale.shows(which[1] + dose_g, 4)
    told_s, told = scale.told[-1]
    assert told_s - scale.rests_since_s <= 1.0
    assert told.portafilter == which[0] and abs(told.dose_g - dose_g) <= 0.06


def test_an_unknown_portafilter_is_tared_by_itself_and_its_next_rest_is_the_dose():
    scale = Scale(DoseWatch(DOUBLE))
    scale.shows(0.0, 2)
    scale.shows(548.3, 2)
    assert scale.all(PortafilterSet)[0].grams == pytest.approx(548.3, abs=0.05) and scale.watch.holds_empty
    scale.shows(0.0, 8)
    scale.shows(548.3 + 15.9, 2)
    assert [told.dose_g for told in scale.all(DoseRead)] == [pytest.approx(15.9, abs=0.05)]
    assert scale.watch.grams == pytest.approx(15.9, abs=0.06)


def test_a_pinch_taken_out_is_told_again_and_the_same_dose_is_not():
    scale = Scale(DoseWatch(DOUBLE, FAR_APART))
    scale.shows(520 + 17.2, 6)
    scale.shows(520 + 16.3, 6)
    assert doses(scale) == [(about(17.2), "left"), (about(16.3), "left")]


def test_grounds_still_falling_are_not_a_dose():
    scale = Scale(DoseWatch(DOUBLE, FAR_APART))
    scale.shows(520.0, 2)
    scale.shows(lambda since_s: 520 + 1.6 * since_s, 10)
    assert scale.all(DoseRead) == []
    scale.shows(536.0, 2)
    assert [told.dose_g for told in scale.all(DoseRead)] == [pytest.approx(16.0, abs=0.05)]


def test_a_dose_off_is_told_as_grams_to_add_or_to_take_out():
    assert to_mend_g(DOUBLE, 14.8) == pytest.approx(1.2)
    assert to_mend_g(DOUBLE, 17.5) == pytest.approx(-1.5)
    assert to_mend_g(DOUBLE, 16.2) is None
    assert to_mend_g(DOUBLE, 15.5) is None and to_mend_g(DOUBLE, 16.5) is None      # the recipe's ± 0.5 g, edges in
    assert to_mend_g(DOUBLE, 14.8765) == 1.12 and to_mend_g(SINGLE, 8.6) == pytest.approx(-0.6)


def test_two_portafilters_that_weigh_alike_are_not_guessed_between():
    scale = Scale(DoseWatch(DOUBLE, ALIKE))
    scale.shows(0.0, 2)
    scale.shows(523.0 + 15.0, 3)
    assert scale.all(DoseRead) == []
    assert [told.portafilters for told in scale.all(DoseUnclear)] == [("left", "right")]


def test_of_two_alike_the_one_shown_empty_is_the_one_dosed():
    scale = Scale(DoseWatch(DOUBLE, ALIKE))
    scale.shows(523.0, 2)
    scale.shows(0.0, 9)
    scale.shows(523.0 + 15.0, 3)
    assert doses(scale) == [(about(15.0), "right")]


def test_a_hand_tare_makes_any_portafilter_empty():
    scale = Scale(DoseWatch(DOUBLE, FAR_APART))
    scale.shows(611.7, 2)
    scale.heard(scale.watch.tared(scale.t_s))
    scale.shows(0.0, 5)
    scale.shows(611.7 + 16.2, 2)
    assert [told.dose_g for told in scale.all(DoseRead)] == [pytest.approx(16.2, abs=0.05)]


def test_a_tare_asked_while_the_scale_still_swings_waits_for_rest():
    scale = Scale(DoseWatch(DOUBLE, FAR_APART))
    scale.shows(0.0, 2)
    scale.shows(611.7, 0.3)
    scale.heard(scale.watch.tared(scale.t_s))
    assert scale.told == []
    scale.shows(611.7, 2)
    assert [told.grams for told in scale.all(PortafilterSet)] == [pytest.approx(611.7, abs=0.1)]


def test_a_dosing_cup_tared_by_hand_gives_the_dose():
    scale = Scale(DoseWatch(SINGLE))
    scale.shows(41.0, 2)
    scale.heard(scale.watch.tared(scale.t_s))
    scale.shows(0.0, 3)
    scale.shows(41.0 + 8.1, 2)
    assert [told.dose_g for told in scale.all(DoseRead)] == [pytest.approx(8.1, abs=0.05)]


def test_a_portafilter_tared_on_the_scales_own_button_gives_the_dose():
    scale = Scale(DoseWatch(DOUBLE, FAR_APART))
    scale.shows(520.0, 2)
    scale.shows(0.0, 2)
    scale.shows(16.1, 2)
    assert [told.dose_g for told in scale.all(DoseRead)] == [pytest.approx(16.1, abs=0.05)]


def test_the_other_portafilter_is_told_apart_when_it_takes_the_firsts_place():
    scale = Scale(DoseWatch(DOUBLE, FAR_APART))
    scale.shows(520 + 16.0, 2)
    scale.shows(0.0, 2)
    scale.shows(585 + 16.0, 2)
    assert [told.portafilter for told in scale.all(DoseRead)] == ["left", "right"]


def test_a_scale_that_went_away_while_dosing_starts_afresh():
    scale = Scale(DoseWatch(DOUBLE, FAR_APART))
    scale.shows(536.0, 0.4)
    scale.heard(scale.watch.lost(scale.t_s))
    assert scale.watch.grams is None
    scale.shows(536.0, 0.3)
    assert scale.told == []
    scale.shows(536.0, 2)
    assert [told.dose_g for told in scale.all(DoseRead)] == [pytest.approx(16.0, abs=0.05)]


# ---- where each rule of the bench begins and ends, on a scale without a filter --------------------------------------


class Bench:
    """A dose watch shown exact readings ten times a second."""

    def __init__(self, recipe=DOUBLE, empties=()):
        self.watch, self.n = DoseWatch(recipe, empties), 0

    @property
    def t_s(self) -> float:
        return self.n / 10

    def shows(self, *grams: float, for_s: float | None = None):
        """What was seen of these readings, or of one for so long."""
        seen = []
        for each in grams if for_s is None else grams * round(for_s * 10):
            self.n += 1
            seen += self.watch.observe(Sample(self.t_s, each))
        return seen

    def rests(self, grams: float, after_nothing: bool = True):
        """Something is set down on a bare scale, and rests."""
        if after_nothing:
            self.shows(0.0, for_s=1.0)
        return [(type(each), round(getattr(each, "dose_g", getattr(each, "grams", 0.0)), 2), each.portafilter)
                for each in self.shows(grams, for_s=1.0)]


@pytest.mark.parametrize("load_g, seen", [
    (1.9, []), (2.0, [(DoseRead, 2.0, None)]),                              # under 2 g the scale's zero has wandered
    (32.0, [(DoseRead, 32.0, None)]), (32.1, []),                           # twice the dose: a cup, or a cloth
    (100.0, []), (100.1, [(PortafilterSet, 100.1, None)])])
def test_what_an_unknown_load_is_taken_for(load_g, seen):
    assert Bench().rests(load_g) == seen


@pytest.mark.parametrize("net_g, seen", [
    (-0.5, [(PortafilterSet, 519.5, "left")]), (0.5, [(PortafilterSet, 520.5, "left")]),      # drops of water, crumbs
    (0.6, [(PortafilterSet, 520.6, None)]), (7.9, [(PortafilterSet, 527.9, None)]),
    (8.0, [(DoseRead, 8.0, "left")]), (24.0, [(DoseRead, 24.0, "left")]),                     # half a dose either way
    (24.1, [(PortafilterSet, 544.1, None)])])
def test_what_a_known_portafilter_may_hold(net_g, seen):
    assert Bench(empties=FAR_APART).rests(520.0 + net_g) == seen


@pytest.mark.parametrize("net_g, seen", [(0.9, []), (1.0, [(DoseRead, 1.0, None)]), (45.0, [(DoseRead, 45.0, None)]),
                                         (45.1, [(PortafilterSet, 593.4, None)])])
@pytest.mark.parametrize("lifted", [False, True])
def test_what_may_lie_in_a_portafilter_that_was_shown_empty(net_g, seen, lifted):
    bench = Bench()
    bench.rests(548.3)
    assert bench.rests(548.3 + net_g, after_nothing=lifted) == seen


def test_one_that_never_left_the_plate_is_dosed_whatever_else_it_could_be():
    """548.3 g shown empty a moment ago, and 8 g in it: not the other one, 556 g empty, set down in its place."""
    empties = (("other", 556.3),)
    stayed, lifted = Bench(empties=empties), Bench(empties=empties)
    for bench in (stayed, lifted):
        bench.rests(548.3)
    assert stayed.rests(556.3, after_nothing=False) == [(DoseRead, 8.0, None)]
    assert lifted.rests(556.3) == [(PortafilterSet, 556.3, "other")]


def test_a_dose_is_told_anew_from_a_sixth_of_a_gram_and_an_empty_from_a_whole_one():
    bench = Bench(empties=FAR_APART)
    bench.rests(536.0)
    assert bench.rests(536.14, after_nothing=False) == []
    (_, told_g, name), = bench.rests(536.17, after_nothing=False)
    assert told_g == pytest.approx(16.17, abs=0.021) and name == "left"
    other = Bench()
    other.rests(548.3)
    assert other.rests(549.2) == []
    assert other.rests(550.3) == [(DoseRead, 2.0, None)]                    # two grams more than it was: not empty any more
    assert other.rests(547.2) == [(PortafilterSet, 547.2, None)]


def test_a_load_that_kept_still_for_half_a_second_to_a_tenth_rests():
    assert [type(each) for each in Bench(empties=FAR_APART).shows(*[536.0] * 4)] == []
    assert [type(each) for each in Bench(empties=FAR_APART).shows(*[536.0] * 5)] == [DoseRead]
    assert Bench(empties=FAR_APART).shows(*[536.0] * 3, *[536.1] * 3)       # one step of a cheap scale, to and fro
    assert Bench(empties=FAR_APART).shows(535.9, 536.1, 536.0, 535.9, 536.1, 536.0)     # it swings about one weight
    assert not Bench(empties=FAR_APART).shows(536.0, 536.1, 536.2, 536.3, 536.4, 536.5)     # a gram a second: still falling
    assert not Bench(empties=FAR_APART).shows(536.0, 536.6, 536.0, 536.6, 536.0, 536.6)     # no scale's last tenth


def test_a_dose_is_told_in_hundredths_and_nothing_is_unclear_before_anything_was_set_down():
    bench = Bench(empties=FAR_APART)
    assert not bench.watch.unclear
    assert [each.dose_g for each in bench.shows(*[536.1264] * 5)] == [16.13]


def test_what_comes_back_after_the_scale_was_gone_has_to_rest_anew():
    bench = Bench(empties=FAR_APART)
    bench.shows(*[536.0] * 4)
    assert bench.watch.lost(bench.t_s) == () and bench.watch.grams is None
    assert bench.shows(*[536.0] * 4) == [] and [type(each) for each in bench.shows(536.0)] == [DoseRead]


def test_a_tare_waits_a_second_and_a_half_for_rest_and_no_longer():
    soon, late = Bench(), Bench()
    for bench, swings in ((soon, 9), (late, 10)):
        bench.shows(0.0, for_s=1.0)
        bench.shows(26.0, 34.0)
        bench.watch.tared(bench.t_s)
        bench.shows(*[30.0 + 4 * (-1)**n for n in range(swings)])
    assert soon.shows(*[41.0] * 6) == [] and soon.watch.grams == 0.0        # a dosing cup: nothing, by hand
    assert [each.dose_g for each in late.shows(*[25.0] * 6)] == [25.0]


@pytest.mark.parametrize("load_g, empty_g", [(100.0, None), (100.1, 100.1)])
def test_what_a_hand_tares_is_a_portafilter_from_a_hundred_grams(load_g, empty_g):
    bench = Bench()
    bench.shows(0.0, for_s=1.0)
    bench.shows(load_g, for_s=1.0)
    bench.watch.tared(bench.t_s)
    assert bench.watch.empty_g == (None if empty_g is None else pytest.approx(empty_g))
    bench.shows(load_g, for_s=0.2)
    assert bench.watch.grams == pytest.approx(0.0)
    assert [each.dose_g for each in bench.shows(load_g + 8.0, for_s=1.0)] == [pytest.approx(8.0)]


def test_a_zero_that_wandered_is_taken_off_and_one_set_by_hand_stays():
    bench = Bench(empties=FAR_APART)
    bench.shows(1.5, for_s=1.0)
    bench.shows(1.5 + 520.0 + 16.0, for_s=1.0)
    assert bench.watch.grams == pytest.approx(16.0) and bench.watch.empty_g == 520.0 and not bench.watch.holds_empty
    by_hand = Bench()
    by_hand.shows(41.0, for_s=1.0)
    by_hand.watch.tared(by_hand.t_s)
    by_hand.shows(0.0, for_s=1.0)
    assert [each.dose_g for each in by_hand.shows(49.0, for_s=1.0)] == [8.0]


@pytest.mark.parametrize("net_g, holds", [(0.9, True), (-0.9, True), (1.0, False), (-1.0, False)])
def test_a_portafilter_holds_nothing_up_to_a_gram(net_g, holds):
    bench = Bench()
    bench.rests(548.0)
    bench.shows(548.0 + net_g)
    assert bench.watch.holds_empty is holds


def test_two_that_could_be_it_are_named_and_asked_for_once():
    three = (("left", 520.0), ("right", 525.0), ("spare", 600.0))
    bench = Bench(empties=three)
    bench.shows(0.0, for_s=1.0)
    unclear, = bench.shows(541.0, for_s=1.0)
    assert unclear.portafilters == ("left", "right") and bench.watch.unclear
    assert bench.shows(541.1, for_s=1.0) == []                              # the same load
    again, = bench.shows(543.0, for_s=1.0)
    assert again.portafilters == ("left", "right")
    bench.rests(525.0)
    assert not bench.watch.unclear
    assert [(each.dose_g, each.portafilter) for each in bench.shows(541.0, for_s=1.0)] == [(16.0, "right")]


@pytest.mark.parametrize("g_per_s, rests", [(0.11, True), (-0.11, True), (0.14, False), (-0.14, False)])
def test_a_load_that_swings_rests_where_its_halves_drift_apart_by_less_than_an_eighth_of_a_gram_a_second(g_per_s, rests):
    """0.15 g/s between the middles of two halves of half a second."""
    swings = (0.1, -0.1, -0.1, -0.1, -0.1, 0.1)
    assert bool(Bench(empties=FAR_APART).shows(*(536.0 + each + g_per_s * n / 10 for n, each in enumerate(swings)))) is rests
