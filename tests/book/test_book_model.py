"""The book against a plain list, and starts from books that nobody thought of: slices of the campaigns."""

from kiosk.bar.model import FlagRaised
from kiosk.book import Book
from tests.bench import book_model, starts
from tests.support.bar_of_the_book import MORNING, WallClock


def test_the_book_is_what_a_plain_list_says_through_cuts_and_sick_disks():
    assert book_model.campaign(400).end() == 0


def test_a_record_that_nobody_thought_of_stops_no_start_and_is_told():
    assert starts.campaign(40, seed=21).end() == 0


def test_a_flag_of_any_odds_is_read_again_as_it_was_kept(tmp_path):
    flag = FlagRaised(id="f", at=MORNING.isoformat(), grinder="left", coffee="house", setting=3, what="drifting", direction="finer",
                      sentence="It drifted.", evidence={"odds": 4.2e31}, pull_id="p")
    with Book.open(tmp_path, now=WallClock()) as book:
        book.keep(flag)
    with Book.open(tmp_path, now=WallClock(), read_only=True) as book:
        assert book.today().raw == (flag,) and book.today().unread == ()
