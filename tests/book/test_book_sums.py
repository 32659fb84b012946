"""What a day comes to, added up by hand; kept for closed days, and never out of date."""

import pytest

from kiosk.bar.model import Corrected, FlagRaised, GroundsPurged, NotchMoved, OrderEnded, Pull, ScaleChecked, usual
from kiosk.book import Book
from tests.support.bar_of_the_book import WallClock, pulled

DAY = "2026-03-02"


def a_mixed_day(book):
    """Left: 4 served, 3 timed, of which 1 fast and 1 short; 1 sunk. Right: 1 without a dose. One for practice."""
    first, _, _, _ = pulled(book), pulled(book, time_s=18.0), pulled(book, yield_g=30.0), pulled(book, time_s=None)
    pulled(book, dose_g=18.5, sink="spilt")
    pulled(book, dose_g=16.9, grinder="right", coffee="single origin", dose_from=None, setting=7,
           recipe=usual("single origin", "double"))
    pulled(book, dose_g=None, grinder="right", coffee="single origin", setting=7,
           recipe=usual("single origin", "double"))
    pulled(book, practice=True, dose_g=99.0)
    book.keep(NotchMoved(id=book.new_id(), at=book.at(), grinder="left", coffee="house", before=12, after=11))
    book.keep(GroundsPurged(id=book.new_id(), at=book.at(), grinder="left", coffee="house", grams=6.0))
    book.keep(FlagRaised(id=book.new_id(), at=book.at(), grinder="left", coffee="house", setting=12, what="drifting",
                         direction="finer", sentence="", evidence={}))
    book.keep(ScaleChecked(id=book.new_id(), at=book.at(), nominal_g=100.0, read_g=100.1))
    for n, how in enumerate(("served", "served", "cancelled")):
        book.keep(OrderEnded(id=book.new_id(), at=book.at(), order_id=str(n), how=how))
    return first[0]


def close_to(value):
    return round(value, 6)


def test_a_mixed_day_adds_up(tmp_path):
    with Book.open(tmp_path, now=WallClock()) as book:
        a_mixed_day(book)
        sums, = book.sums(DAY, DAY)
    assert (sums.pulls, sums.timed, sums.in_window, sums.sunk) == (7, 5, 3, 1)
    assert (sums.orders_served, sums.orders_cancelled, sums.scale_checks) == (2, 1, 1)
    assert (sums.notch_moves, sums.flags) == (1, 1)
    assert close_to(sums.dosed_g) == close_to(4 * 16.1 + 18.5 + 16.9 + 16.0)      # the last was not weighed: its recipe's dose
    assert close_to(sums.overdosed_g) == 0.4   # 16.9 g where 16.5 g is the most
    assert close_to(sums.wasted_g) == close_to(18.5 + 6.0 + 0.4)
    left, right = sums.grinders
    assert (left.grinder, left.pulls, left.timed, left.in_window, left.sunk, left.undosed) == ("left", 5, 3, 1, 1, 0)
    assert (left.first_setting, left.last_setting, left.mean_setting) == (12, 11, 12)
    assert close_to(left.mean_time_s) == close_to((25.4 + 18.0 + 25.4) / 3)
    assert (right.coffee, right.pulls, right.undosed, right.notch_moves) == ("single origin", 2, 1, 0)


def test_a_correction_made_days_later_is_in_the_sums_of_the_day_it_corrects(tmp_path):
    clock = WallClock()
    with Book.open(tmp_path, now=clock) as book:
        wrong = a_mixed_day(book)
        clock.pass_by(days=9)
        before, = book.sums(DAY, DAY)
    with Book.open(tmp_path, now=clock) as book:
        assert book.sums(DAY, DAY) == (before,)
        book.keep(Corrected(id=book.new_id(), at=book.at(), of=wrong.id, changes={}, void=True))
        after, = book.sums(DAY, DAY)
        assert (after.pulls, close_to(before.dosed_g - after.dosed_g)) == (before.pulls - 1, 16.1)
        assert book.days() == (DAY,)


def test_kept_sums_are_read_without_the_days_and_reckoned_again_without_them(tmp_path):
    clock = WallClock()
    with Book.open(tmp_path, now=clock) as book:
        for _ in range(3):
            a_mixed_day(book)
            clock.pass_by(days=1)
        reckoned = book.sums("", "9999-12-31")
    hidden = tmp_path / "days" / f"{DAY}.log"
    size = hidden.stat().st_size
    whole = hidden.read_bytes()
    hidden.write_bytes(b"?" * size)   # as long as it was, and nothing in it to read
    with Book.open(tmp_path, now=clock, read_only=True) as book:
        assert book.sums("", "9999-12-31") == reckoned
    hidden.write_bytes(whole)
    (tmp_path / "sums" / "2026.log").write_bytes(b"nothing of use")
    with Book.open(tmp_path, now=clock) as book:
        assert book.sums("", "9999-12-31") == reckoned
        assert len(book.day(DAY).of(Pull)) == 8


def test_a_day_is_summed_when_the_next_begins_so_that_a_year_is_never_summed_at_once(tmp_path):
    clock = WallClock()
    for _ in range(4):
        with Book.open(tmp_path, now=clock) as book:
            a_mixed_day(book)
        clock.pass_by(days=1)
    summed = [line.split()[2] for line in (tmp_path / "sums" / "2026.log").read_text().splitlines()]
    assert summed == ["2026-03-02", "2026-03-03", "2026-03-04"]


@pytest.mark.parametrize("odd", [{"dose_g": "sixteen"}, {"time_s": 10 ** 400}, {"grinder": ["left"]}])
def test_a_record_that_does_not_add_up_holds_up_no_pull_of_the_next_day(tmp_path, odd):
    clock = WallClock()
    with Book.open(tmp_path, now=clock) as book:
        pulled(book, 3, **odd)
        clock.pass_by(days=1)
        kept = pulled(book)
        assert list(book.today().of(Pull)) == kept and book.trouble is None


def test_a_day_with_nothing_in_it_has_no_sums(tmp_path):
    with Book.open(tmp_path, now=WallClock()) as book:
        assert book.sums(DAY, DAY) == ()
