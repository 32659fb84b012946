"""A hire at every step, on the real screens, when the pull goes wrong: what the page says while it happens."""

import pytest

from kiosk.bar.guide import guide as guides
from kiosk.bar.model import Pull, Step
from tests.support.at_work import AtWork
from tests.support.quiet_hands import CUP_G

SETTINGS = {"groups": 1, "staff": {"Ines": {}, "Tomo": {"new": True}}}


@pytest.fixture
def work(tmp_path):
    with AtWork(tmp_path, settings=SETTINGS) as at_work:
        at_work.service.choose("Tomo")
        at_work.service.orders.take(((at_work.service.setup.menu[1], 2),))
        at_work.frames(5)
        yield at_work


def guide_of(work):
    return work.service.lanes[1].work.guide


def to(work, step: Step):
    while guide_of(work).step is not step:
        work.service.tap(1, guides.Forward)
    work.frames(3)


def ready(work, dose_g: float = 16.0):
    """On the hire's page, dosed and locked in, a cup under the spouts."""
    to(work, Step.DOSE)
    work.service.happened(1, guides.DoseTapped(work.t_s, dose_g))
    to(work, Step.PULL)
    work.scale.put_on(CUP_G)
    work.frames(30)


def page(work):
    work.frames(6)
    assert work.kiosk.root.current == "coach"
    return work.kiosk.root.open


def said(work) -> str:
    of = page(work)
    return " ".join((of.what, of.why, of.told, of.caution, of.next_text, of.side_text))


def pump(work, seconds: float, grams: float = 0.0):
    work.service.tap(1, guides.Forward)
    if grams:
        work.frames(30)
        work.scale.put_on(grams, over_s=seconds - 1.5)
        seconds -= 1.5
    work.frames(round(seconds / 0.05))


def test_scene_30_nothing_flows_by_forty_seconds(work):
    ready(work)
    pump(work, 33)
    assert "Nothing flows: stop the pump." in said(work) and "pale" not in said(work)
    work.frames(140)
    work.service.tap(1, guides.Forward)
    work.frames(120)
    of = page(work)
    assert of.next_text == "Bin it" and "vent" in of.what and "call a technician" in of.what
    assert "Serve at once" not in said(work) and "stop later" not in said(work) and "Face away" in of.caution
    work.finger.tap("Bin it")
    work.frames(3)
    work.finger.tap("Choked")
    work.frames(3)
    pull, = work.book.today().of(Pull)
    assert pull.sink == "choked"


def test_scene_30_an_empty_cup_that_is_lifted_is_not_served(work):
    ready(work)
    pump(work, 36)
    work.service.tap(1, guides.Forward)
    to(work, Step.SERVE)
    work.frames(120)
    work.scale.lift_all()
    work.frames(60)
    pull, = work.book.today().of(Pull)
    assert pull.sink == "choked"
    assert work.service.lanes[1].work is not None          # it is made again


def test_scene_31_a_hundred_and_sixty_grams_in_nine_seconds(work):
    ready(work)
    pump(work, 9, 160.0)
    assert "Gushing: stop the pump." in said(work)
    work.service.tap(1, guides.Forward)
    work.until(lambda: page(work).next_text == "Bin it", 20)       # once what is in the cup has settled
    assert "Pour it away" in said(work) and "stop sooner" not in said(work)
    assert "Serve anyway" in said(work)


def test_scene_33_no_cup_under_the_spouts(work):
    to(work, Step.DOSE)
    work.service.happened(1, guides.DoseTapped(work.t_s, 16.0))
    to(work, Step.PULL)
    work.frames(20)
    pump(work, 14)
    assert "No cup on the scale? Look under the spouts." in said(work)


def test_scene_34_three_grams_over_is_to_be_taken_out_and_keeping_it_is_not_the_strong_key(work):
    to(work, Step.DOSE)
    work.scale.put_on(512.0)
    work.frames(40)
    work.scale.put_on(19.1, over_s=3.0)
    work.frames(120)
    of = page(work)
    assert "3.1 g too much: take it out before tamping." in of.what and "chokes" in of.why
    assert of.next_text == "Keep it" and not of.strong


def test_scene_35_three_grams_under_kept_knowingly_is_so_in_the_record(work):
    to(work, Step.DOSE)
    work.scale.put_on(512.0)
    work.frames(40)
    work.scale.put_on(13.0, over_s=3.0)
    work.frames(120)
    assert "too little: add it before tamping." in page(work).what
    work.service.tap(1, guides.Forward)
    assert guide_of(work).dose_kept and "too little" not in said(work)


def test_scene_36_locked_in_for_two_minutes_is_to_be_knocked_out(work):
    ready(work)
    work.frames(round(120 / 0.05))
    of = page(work)
    assert "the coffee is scorched. Knock it out and dose again." in of.what and of.next_text == "Bin it"
    assert "Start at once" not in of.what


def test_scene_37_a_group_not_purged_is_so_in_the_record(work):
    to(work, Step.DOSE)
    work.service.happened(1, guides.DoseTapped(work.t_s, 16.0))
    to(work, Step.PURGE)
    work.service.tap(1, guides.SkipTo, "lock")
    to(work, Step.PULL)
    pump(work, 25)
    work.service.tap(1, guides.Forward)
    to(work, Step.SERVE)
    work.service.tap(1, guides.Forward)
    pull, = work.book.today().of(Pull)
    assert pull.purged is False and "purge" in pull.skipped


def test_scene_40_of_the_right_pull_nothing_bad_is_said(work):
    ready(work)
    work.service.tap(1, guides.Forward)
    assert "tap" not in page(work).what                    # the pump is on: there is nothing to tap but Stop
    work.frames(80)
    work.scale.put_on(48.0, over_s=20.0)
    work.frames(440)
    work.service.tap(1, guides.Forward)
    work.frames(120)
    assert "are right" in page(work).why
    to(work, Step.SERVE)
    assert "Serve at once" in said(work) and page(work).next_text == "Served"


def test_scene_32_one_spout_alone_is_said_by_a_touch_and_names_one_change(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 1}) as work:
        work.service.orders.take(((work.service.setup.menu[0], 2),))
        while work.service.lanes[1].work.guide.step is not Step.PULL:
            work.service.tap(1, guides.Forward)
        work.service.tap(1, guides.Forward)
        work.frames(200)
        taps = work.finger.taps
        for words in ("Bin…", "One spout"):
            work.finger.tap(words)
            work.frames(12)
        assert work.finger.taps - taps == 2
        card, lane = work.kiosk.root.room("station").card(1), work.service.lanes[1]
        assert lane.last.sink == "one spout" and lane.work.planned.cups == 2         # made again at once
        assert "clean both spouts" in card.told and "notch" not in card.told
