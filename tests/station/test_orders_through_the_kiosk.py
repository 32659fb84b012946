"""Orders go through the real screens by touch, from the tapped drink to the served cup, and the book has it all."""


import pytest

from kiosk.bar.model import OrderEnded, OrderTaken, Pull
from tests.support.at_work import AtWork

SERVICE = [(("Espresso", "Espresso"), "double", 2), (("Double espresso",), "double", 1), (("Cappuccino",), "single", 1)]


def serve(work: AtWork, drinks: tuple[str, ...], **how) -> tuple[int, Pull]:
    """One order through group 1; (taps from the tapped order to the served cup, the pull's record)."""
    work.play(work.hand.order(*drinks))
    before = work.finger.taps
    work.play(work.hand.pull(1, **how))
    return work.finger.taps - before, work.book.today().of(Pull)[-1]


def test_three_orders_with_a_scale_are_kept_as_they_were_poured_within_four_taps_a_pull(tmp_path):
    with AtWork(tmp_path, settings={"groups": 1}) as work:
        for drinks, basket, cups in SERVICE:
            taps, pull = serve(work, drinks)
            poured = work.bar.poured
            assert taps <= 4
            assert (pull.basket, pull.cups, pull.drinks) == (basket, cups, drinks)
            assert pull.yield_g == pytest.approx(work.hand.in_cup_g, abs=0.2)
            assert work.hand.in_cup_g == pytest.approx(poured.settled_g, abs=1.0)
            assert pull.time_s == pytest.approx(poured.stop_s, abs=0.2)
            assert (pull.dose_from, pull.yield_from, pull.time_from, pull.first_drop_from) == ("scale",) * 4
            assert pull.first_drop_s == pytest.approx(poured.first_drop_s, abs=0.5)
            assert pull.warmed and pull.purged and pull.sink is None and pull.skipped == ()
            assert len(pull.trace) > 100
        today = work.book.today()
        assert len(today.of(OrderTaken)) == len(today.of(OrderEnded)) == 3
        assert all(ended.how == "served" for ended in today.of(OrderEnded))


def test_three_orders_without_a_scale_are_served_within_seven_taps_and_say_what_was_not_measured(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 1}) as work:
        for drinks, basket, cups in SERVICE:
            taps, pull = serve(work, drinks)
            assert taps <= 7
            assert (pull.basket, pull.cups, pull.sink) == (basket, cups, None)
            assert pull.time_s == pytest.approx(25.0, abs=0.2) and pull.time_from == "tap"
            assert pull.dose_g is pull.yield_g is pull.first_drop_s is None
            assert {"The dose was not measured.", "The yield was not measured."} <= set(pull.notes)


def test_a_scale_unplugged_in_mid_pull_stops_nobody_and_the_record_says_what_is_not_known(tmp_path):
    with AtWork(tmp_path, settings={"groups": 1}) as work:
        _, pull = serve(work, ("Double espresso",), gone=work.scale.unplug)
        assert pull.sink is None and pull.dose_from == "scale"
        assert pull.yield_g is None
        assert pull.time_s == pytest.approx(work.bar.poured.stop_s, abs=0.2) and pull.time_from == "tap"
        assert "The yield was not measured." in pull.notes
        assert any("scale went away" in note for note in pull.notes)
        assert work.finger.keys()                       # the kiosk is still there to be touched
        work.scale.replug()
        work.until(lambda: work.service.scales.first.there)
        _, pull = serve(work, ("Double espresso",))
        assert pull.yield_from == "scale"


def test_a_bad_shot_is_binned_in_two_taps_and_the_drinks_are_still_owed(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 1}) as work:
        work.play(work.hand.order("Latte"))
        before = work.finger.taps
        work.finger.tap("Bin")
        work.frames(2)
        work.finger.tap("Gushed")
        work.frames(2)
        assert work.finger.taps - before == 2
        assert [pull.sink for pull in work.book.today().of(Pull)] == ["gushed"]
        assert work.service.lanes[1].work.planned.title == "Latte"


def test_any_tap_can_be_undone_even_the_one_that_served(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 1}) as work:
        _, pull = serve(work, ("Latte",))
        assert work.book.today().of(Pull) == (pull,)
        before = work.finger.taps
        work.finger.tap("Undo")
        work.frames(2)
        assert work.finger.taps - before == 1
        assert work.book.today().of(Pull) == ()
        assert work.service.lanes[1].work.guide.time_s == pull.time_s
        work.hand.tap(1)
        work.frames(2)
        assert [served.time_s for served in work.book.today().of(Pull)] == [pull.time_s]


def test_a_notch_is_noted_in_three_taps_with_its_grams_as_waste(tmp_path):
    from kiosk.bar.model import GroundsPurged, NotchMoved

    with AtWork(tmp_path, scale=False) as work:
        before = work.finger.taps
        for words in ("Notch", "Finer", "Turned one notch"):
            work.finger.tap(words)
            work.frames(2)
        assert work.finger.taps - before == 3
        (move,), (purge,) = work.book.today().of(NotchMoved), work.book.today().of(GroundsPurged)
        assert (move.before, move.after, purge.grams) == (20, 19, 6.0)
        assert work.service.setup.grinders[0].setting == 19


def test_a_new_hire_walks_every_step_and_none_is_passed_by_the_scale(tmp_path):
    with AtWork(tmp_path, settings={"groups": 1, "staff": {"Tomo": {"new": True}}}) as work:
        work.service.choose("Tomo")
        work.play(work.hand.order("Espresso"))
        assert work.kiosk.root.current == "coach"
        work.play(work.hand.pull(1))
        (pull,) = work.book.today().of(Pull)
        assert [step for step, _ in pull.step_s] == ["warm", "knock", "dose", "level", "tamp", "rim", "purge", "lock",
                                                     "pull", "judge", "serve"]
        assert pull.barista == "Tomo" and pull.skipped == ()
        assert work.kiosk.root.current == "station"


def test_a_restart_in_mid_pull_goes_on_where_it_was(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 1}) as work:
        work.play(work.hand.order("Latte", "Latte"))
        for _ in range(5):
            work.hand.tap(1)
            work.frames(2)
        work.frames(100)
        elapsed_s = work.clock.s() - work.service.lanes[1].work.guide.pump_on_at_s
        stopped_at = work.wall()
    with AtWork(tmp_path, scale=False, start_s=7.0, day=stopped_at) as work:
        guide = work.service.lanes[1].work.guide
        assert guide.pulling
        assert work.clock.s() - guide.pump_on_at_s == pytest.approx(elapsed_s, abs=0.5)
        assert len(work.service.line.waiting) == 1
        work.frames(10)
        for _ in range(2):
            work.hand.tap(1)
            work.frames(2)
        (pull,) = work.book.today().of(Pull)
        assert any("restarted during this pull" in note for note in pull.notes)
