"""The map of the code in DEVELOPERS.md leads where it says, and no way on it gets longer: as `python -m tests.bench.five_ways`."""

from tests.bench import five_ways

# (hops, files). The bars are the command's own; a way that is longer than its bar is at least to get no longer.
AS_THEY_ARE = ((24, 17), (16, 8), (17, 11), (9, 5), (6, 3))


def test_each_step_of_the_five_ways_reaches_the_next_and_none_is_longer_than_it_was():
    found = five_ways.figures(five_ways.gone())
    assert len(found) == len(five_ways.BARS) == 5
    for (name, (hops, files)), bars, was in zip(found.items(), five_ways.BARS, AS_THEY_ARE):
        assert hops <= max(bars[0], was[0]) and files <= max(bars[1], was[1]), name
