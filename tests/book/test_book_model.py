"""The book against a plain list, and starts from books that nobody thought of: slices of the campaigns."""

from tests.bench import book_model, starts


def test_the_book_is_what_a_plain_list_says_through_cuts_and_sick_disks():
    assert book_model.campaign(400).end() == 0


def test_a_record_that_nobody_thought_of_stops_no_start_and_is_told():
    assert starts.campaign(40, seed=21).end() == 0
