"""What narrow lanes leave out, and what they never leave out: four groups on a 7-inch panel."""

import pytest

from kiosk.bar.guide import guide as guides
from kiosk.bar.model import Step
from kiosk.screens.barista.lane import LaneFigure
from kiosk.screens.barista.told import parted
from kiosk.screens.ui.text import Words
from tests.support import tour
from tests.support.at_work import AtWork

CUP_G, PORTAFILTER_G = 94.0, 512.0


def lanes(folder, **more):
    return AtWork(folder, **({"settings": tour.SETTINGS | {"groups": 4}} | more))


def card(work, group=1):
    work._drawn_until = work._frames + 6
    work.frames(6)
    return work.kiosk.root.room("station").card(group)


def figure(card) -> LaneFigure:
    return next(each for each in card.walk(restrict=True) if isinstance(each, LaneFigure))


def read(card) -> str:
    """What can be read on the lane."""
    return " / ".join(each.text for each in card.walk(restrict=True)
                      if isinstance(each, Words) and each.placed and tour.shown(each))


def begun(work, step, drink="Double espresso", count=1):
    work.service.orders.take(((work.service.setup.drink(drink), count),))
    for group in range(1, count + 1):
        while work.service.lanes[group].work.guide.step is not step:
            work.service.tap(group, guides.Forward)
    return work.service.lanes[1]


def choked(work):
    begun(work, Step.PULL)
    work.scale.put_on(CUP_G)
    work.frames(60)
    work.service.tap(1, guides.Forward)
    work.until(lambda: work.service.lanes.trouble(1) is not None, 60)


def test_a_warning_hides_no_word_of_the_key_that_it_lies_on(tmp_path):
    with lanes(tmp_path) as work:
        choked(work)
        assert "Nothing flows" in read(card(work)) and not tour.faults(work.kiosk.root)
        work.service.tap(1, guides.Forward)
        work.frames(20)
        assert figure(card(work)).text == "Serve anyway" and "Serve anyway" in read(card(work))
        assert "vent" in read(card(work)) and not tour.faults(work.kiosk.root)


def test_what_is_said_of_two_figures_stands_over_them(tmp_path):
    with lanes(tmp_path) as work:
        begun(work, Step.PULL)
        work.scale.put_on(CUP_G)
        work.frames(60)
        work.service.tap(1, guides.Forward)
        work.frames(200)
        assert "1 · no drop yet" in read(card(work)) and not tour.faults(work.kiosk.root)


def test_coffee_that_was_made_untimed_scorches_no_more(tmp_path):
    with lanes(tmp_path, scale=False) as work:
        begun(work, Step.PULL)
        work.t_s += 25
        assert "Start at once" in read(card(work)) and "Made, not timed" in read(card(work))
        work.service.tap(1, guides.NotTimed)
        work.t_s += 25
        assert work.service.lanes[1].work.guide.step is Step.SERVE and card(work).warning == ""
        assert figure(card(work)).text == ""


def test_the_hot_water_of_a_purge_is_told_whatever_else_there_is_to_say(tmp_path):
    with lanes(tmp_path, scale=False) as work:
        begun(work, Step.PURGE)
        work.t_s += 700
        assert work.service.lanes.warnings(1) and "hands away" in read(card(work))
        assert figure(card(work)).text == ""


@pytest.mark.parametrize("size", [(800, 480), (480, 800)])
def test_number_and_allergens_stay_on_the_lane_under_a_warning(tmp_path, size):
    with lanes(tmp_path, scale=False, size=size) as work:
        work.service.orders.take(((work.service.setup.drink("Cappuccino, soya milk"), 1),))
        work.service.tap(1, guides.Forward)
        while work.service.lanes[1].work.guide.step is not Step.PULL:
            work.service.tap(1, guides.Forward)
        allergens = card(work).contains
        assert allergens and allergens in read(card(work))
        work.t_s += 25
        assert card(work).warning and allergens in read(card(work)) and "1 · " in read(card(work))


def test_where_it_is_asked_whose_coffee_pours_the_key_says_what_the_question_says(tmp_path, monkeypatch):
    with lanes(tmp_path) as work:
        begun(work, Step.TAMP, count=2)
        claims = work.service.scales.of(1).claims
        monkeypatch.setattr(type(claims), "asking", property(lambda _claims: (1, 2)))
        work.service.publish()
        assert card(work, 1).next_text == card(work, 2).next_text == "Pump on"
        assert "Touch Pump on" in read(card(work, 1)) and "? " not in read(card(work, 1)).replace("it? ", "")


def test_a_target_says_that_it_is_one_and_promises_no_scale_that_serves_another(tmp_path):
    with lanes(tmp_path) as work:
        begun(work, Step.DOSE, count=2)
        work.scale.put_on(PORTAFILTER_G)
        work.frames(60)
        assert work.service.scales.first.busy_with(2) == 1
        assert "16 g" in read(card(work, 2)) and "Target · Note dose" in read(card(work, 2))
        assert card(work, 2).next_under == ""


def test_to_go_on_does_not_glow_over_a_dose_that_should_be_put_right(tmp_path):
    with lanes(tmp_path) as work:
        lane = begun(work, Step.TAMP)
        work.service.happened(1, guides.DoseTapped(work.t_s, 22.0))
        assert lane.work.guide.step is Step.TAMP and "too much" in read(card(work)) and not card(work).strong
        work.service.happened(1, guides.DoseTapped(work.t_s, 16.0))
        assert card(work).strong


def test_a_stop_is_told_on_a_hires_lane_too_and_its_key_keeps_its_words(tmp_path):
    with lanes(tmp_path) as work:
        work.service.choose("Tomo")
        begun(work, Step.PULL)
        work.kiosk.root.go("station")
        work.service.tap(1, guides.Forward)
        work.t_s += 40
        at_cue, told = card(work), []
        assert at_cue.cued and figure(at_cue).text == "" and at_cue.next_text == "Stop now"
        at_cue.fbind("next_text", lambda _card, words: told.append(words))
        work.frames(20)
        assert told == []


def test_a_unit_goes_with_its_number():
    assert [parted(each) for each in ("36.4 g", "12.3", "−1.8 g", "–", "?", "")] == [
        ("36.4", "g"), ("12.3", "s"), ("−1.8", "g"), ("–", ""), ("?", ""), ("", "")]


def test_a_dose_noted_by_hand_is_shown_beside_an_empty_scale(tmp_path):
    with lanes(tmp_path) as work:
        begun(work, Step.DOSE)
        work.service.happened(1, guides.DoseTapped(work.t_s, 19.0))
        assert card(work).big == "19.0 g" and card(work).second == "−3.0 g"
