"""A slice of the campaign `python -m tests.bench.kill_shift`: the kiosk is killed, and nothing that was said is lost."""

from tests.bench import kill_shift


def test_a_shift_killed_at_random_moments_loses_no_pull_and_resumes_those_on_their_way():
    assert kill_shift.campaign(kills=4, seed=3).end() == 0
