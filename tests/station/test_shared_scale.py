"""Two pumps at once, one cup on the one scale: a slice of `python -m tests.bench.rush --part shared`, on its own seeds."""

from tests.bench import rush


def test_coffee_never_goes_to_the_wrong_group_without_a_word():
    cases = [case for seed in (50_021, 50_022, 50_024) for case in rush.shared(seed, 8)]
    assert len(cases) == 24
    assert not any(wrong and not said for wrong, said, _ in cases)
    assert sum(not wrong and not said for wrong, said, _ in cases) >= 8       # where it is clear, nothing is said
