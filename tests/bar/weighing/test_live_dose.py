"""The dose on the scale: what a barista sets down, and what the kiosk then knows without a tap."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kiosk.bar.model import usual
from kiosk.bar.weighing import DoseRead, DoseUnclear, DoseWatch, PortafilterSet, to_mend_g
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
    assert to_mend_g(SINGLE, 8.6) == pytest.approx(-0.6)


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
