"""A slice of the campaign `python -m tests.bench.monkey`: random touches break nothing and lose nothing."""

from tests.bench import monkey


def test_random_touches_raise_nothing_stick_nowhere_and_leave_a_book_that_agrees(tmp_path):
    assert monkey.campaign(touches=250, seed=8, folder=tmp_path).end() == 0
