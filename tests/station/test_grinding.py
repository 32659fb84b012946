"""A grinder that moves, through the kiosk: flagged, turned, purged, watched anew, and undone."""

from dataclasses import replace
from random import Random

import pytest

from kiosk.bar.model import DOUBLE, FlagRaised, GroundsPurged, NotchMoved, Pull, usual
from kiosk.book import Book
from kiosk.languages import catalogue
from kiosk.station.clock import Clock
from kiosk.station.station import Station
from tests.support.at_work import OPENING, AtWork


def poured(service, chance: Random, n: int, off_s: float = 0.0, setting: int | None = None) -> Pull:
    """A finished pull of the first grinder, `off_s` from the recipe's time, judged as the service judges it."""
    grinder = service.setup.grinders[0]
    pull = Pull(id=f"{n}", at=service.clock.at(), grinder=grinder.name, coffee=grinder.coffee,
                setting=grinder.setting if setting is None else setting, recipe=usual(grinder.coffee, DOUBLE), dose_g=16.0,
                yield_g=50.4, time_s=25.0 + off_s + chance.gauss(0, 1.0), first_drop_s=4.0)
    service.book.keep(pull)
    service.grinding.judge(pull)
    return pull


@pytest.fixture
def work(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 2}) as at_work:
        yield at_work


def drift(service, chance: Random, off_s: float, most: int = 60) -> int:
    """Steady pulls, then pulls `off_s` off; how many of these until the flag stood."""
    for n in range(15):
        poured(service, chance, n)
    assert service.grinding.flag(service.setup.grinders[0]) is None
    for n in range(most):
        poured(service, chance, 100 + n, off_s)
        if service.grinding.flag(service.setup.grinders[0]) is not None:
            return n + 1
    raise AssertionError("no flag")


def test_a_grinder_that_moved_is_named_with_its_setting_and_which_way_to_turn(work):
    assert drift(work.service, Random(1), -4.0) <= 15
    (kept,) = work.book.today().of(FlagRaised)
    assert (kept.grinder, kept.setting, kept.direction) == ("Grinder 1", 20, "finer")
    assert "Grinder 1 at 20" in kept.sentence
    work.service.publish()
    station = work.kiosk.root.room("station")
    assert "Grinder 1" in station.flag and station.flagged == "Grinder 1"


def test_a_flag_that_an_older_program_remembered_in_english_alone_is_said_in_german_after_the_update(work):
    drift(work.service, Random(1), -4.0)
    said = work.service.grinding.flag(work.service.setup.grinders[0]).sentence
    kept = work.book.memory("watches")
    (_, _, watch), = kept["watches"]
    for flag in (watch["standing"], *watch["raised"]):
        assert isinstance(flag["sentence"], dict)
        flag["sentence"] = str(said)
    work.book.remember("watches", kept)
    after = Station.open(work.book, work.clock)
    again = after.grinding.flag(after.setup.grinders[0]).sentence
    assert again == said and catalogue("de").render(again) == catalogue("de").render(said) != said


def test_turning_the_notch_that_the_flag_asks_for_begins_a_new_run_and_counts_the_grounds(work):
    drift(work.service, Random(2), 4.0)
    work.service.publish()
    work.frames(3)
    before = work.finger.taps
    work.finger.tap("Grinder 1")
    work.frames(3)
    work.finger.tap("Turned")
    work.frames(3)
    assert work.finger.taps - before == 2
    (move,), (purge,) = work.book.today().of(NotchMoved), work.book.today().of(GroundsPurged)
    assert (move.before, move.after) == (20, 21) and purge.grams == 6.0
    assert move.flag_id == work.book.today().of(FlagRaised)[0].id
    assert work.service.grinding.flag(work.service.setup.grinders[0]) is None
    poured(work.service, Random(3), 300)
    assert work.service.grinding.to_do(work.service.setup.grinders[0])[0] == "hold"     # at least two pulls first


def test_a_turn_that_was_a_slip_is_taken_back_with_its_grounds_and_the_flag_stands_again(work):
    drift(work.service, Random(4), 4.0)
    grinder = work.service.setup.grinders[0]
    flag = work.service.grinding.flag(grinder)
    work.service.grinding.move(grinder, "coarser", 6.0)
    assert work.service.grinding.undo_move()
    assert work.book.today().of(NotchMoved) == () == work.book.today().of(GroundsPurged)
    assert work.service.setup.grinders[0].setting == 20
    assert work.service.grinding.flag(work.service.setup.grinders[0]) == flag


def test_what_the_watch_knows_outlives_a_restart_and_a_lost_memory(tmp_path):
    chance = Random(5)
    with Book.open(tmp_path, now=lambda: OPENING) as book:
        service = Station.open(book, Clock(wall=lambda: OPENING))
        drift(service, chance, 4.0)
        standing = service.grinding.flag(service.setup.grinders[0])
    for lose in (False, True):
        if lose:
            (tmp_path / "memory" / "watches.json").write_text("{")
        with Book.open(tmp_path, now=lambda: OPENING) as book:
            service = Station.open(book, Clock(wall=lambda: OPENING))
            again = service.grinding.flag(service.setup.grinders[0])
            assert (again.kind, again.direction) == (standing.kind, standing.direction)


def test_more_than_a_notch_at_once_only_at_opening_and_only_where_the_manager_allows_it(work):
    def advised(off_s: float) -> int:
        for n in range(8):
            poured(work.service, Random(6 + n), n, off_s)
        return work.service.grinding.to_do(work.service.setup.grinders[0])[2]

    assert advised(9.0) == 1
    with_leave = replace(work.service.setup.manager, notches_at_opening=3)
    assert work.service.set_setting(("manager", "notches_at_opening"), with_leave.notches_at_opening) == ()
    work.service.grinding._watches.clear()
    assert 2 <= advised(9.0) <= 3
    for n in range(20):                                     # the day goes on
        poured(work.service, Random(50 + n), 900 + n, 0.0)
    for n in range(30):
        poured(work.service, Random(90 + n), 700 + n, 9.0)
    assert work.service.grinding.to_do(work.service.setup.grinders[0])[2] <= 1
