"""What a group's own signal means: a pull, a purge, a backflush, a contact that lets go for a moment, or one that sticks."""

from kiosk.bar.weighing.signal import GroupSignal, PumpRan


def run(signal: GroupSignal, from_s: float, to_s: float, *, ready: bool = False, weighed: bool = False) -> tuple[PumpRan, ...]:
    """The pump runs from then to then, looked at each tenth of a second."""
    said = list(signal.edge(from_s, True, ready=ready, weighed=weighed))
    for n in range(1, round((to_s - from_s) * 10)):
        said += signal.at(from_s + n / 10, ready=ready, weighed=weighed)
    return (*said, *signal.edge(to_s, False, ready=ready, weighed=weighed))


def told(said) -> list[tuple[str, float]]:
    return [(each.what, round(each.at_s, 1)) for each in said]


def test_it_runs_between_its_edges_and_only_then():
    signal = GroupSignal()
    assert not signal.running and signal.at(5.0, ready=True, weighed=True) == ()
    signal.edge(10.0, True, ready=False, weighed=False)
    assert signal.running and signal.on_since_s == 10.0
    signal.edge(11.0, True, ready=False, weighed=False)         # an edge told twice is one
    assert signal.on_since_s == 10.0
    signal.edge(12.0, False, ready=False, weighed=False)
    assert not signal.running and signal.on_since_s is None
    assert signal.edge(13.0, False, ready=False, weighed=False) == ()       # nor does one without its beginning mean anything


def test_a_short_run_is_a_purge_and_one_of_eight_seconds_a_pull_dated_back_to_its_edge():
    assert told(run(GroupSignal(), 10.0, 12.5)) == [("purge", 12.5)]
    assert told(run(GroupSignal(), 10.0, 17.9)) == [("purge", 17.9)]
    assert told(run(GroupSignal(), 10.0, 18.0)) == [("on", 10.0), ("off", 18.0)]
    assert told(run(GroupSignal(), 10.0, 35.0)) == [("on", 10.0), ("off", 35.0)]


def test_locked_in_a_pull_begins_with_the_edge_and_is_taken_back_if_it_was_a_purge():
    assert told(run(GroupSignal(), 10.0, 35.0, ready=True)) == [("on", 10.0), ("off", 35.0)]
    assert told(run(GroupSignal(), 10.0, 13.0, ready=True)) == [("on", 10.0), ("purge", 13.0)]


def test_coffee_that_was_seen_to_fall_makes_a_short_run_a_pull():
    assert told(run(GroupSignal(), 10.0, 14.0, weighed=True)) == [("on", 10.0), ("off", 14.0)]
    signal = GroupSignal()
    assert signal.pours() == ()
    signal.edge(10.0, True, ready=False, weighed=False)
    assert told(signal.pours()) == [("on", 10.0)]
    assert told(signal.edge(40.0, False, ready=False, weighed=True)) == [("off", 40.0)]


def test_three_short_runs_within_a_minute_are_a_backflush_and_no_purge():
    signal = GroupSignal()
    assert [told(run(signal, s, s + 4.0)) for s in (0.0, 10.0, 20.0, 30.0)] == [[("purge", 4.0)], [("purge", 14.0)], [], []]
    assert told(run(signal, 88.0, 92.0)) == [("purge", 92.0)]       # those of more than a minute ago do not count
    assert [told(run(signal, s, s + 4.0)) for s in (1000.0, 1010.0, 1020.0)] == [[("purge", 1004.0)], [("purge", 1014.0)], []]
    apart = GroupSignal()
    assert [told(run(apart, s, s + 4.0)) for s in (0.0, 40.0, 80.0)] == [[("purge", 4.0)], [("purge", 44.0)], [("purge", 84.0)]]
    locked_in = GroupSignal()
    for s in (0.0, 10.0):
        run(locked_in, s, s + 4.0)
    assert told(run(locked_in, 20.0, 24.0, ready=True)) == [("on", 20.0), ("purge", 24.0)]      # that one had been told of


def test_a_contact_that_lets_go_for_a_moment_ends_no_run():
    signal = GroupSignal()
    assert told(run(signal, 10.0, 30.0)) == [("on", 10.0), ("off", 30.0)]
    assert told(signal.edge(30.4, True, ready=False, weighed=False)) == [("again", 30.4)]
    assert signal.on_since_s == 10.0
    assert told(signal.edge(37.0, False, ready=False, weighed=False)) == [("off", 37.0)]
    assert told(signal.edge(37.5, True, ready=False, weighed=False)) == [] and signal.on_since_s == 37.5    # that is another


def test_a_short_run_that_goes_on_was_no_purge_and_counts_for_no_backflush():
    signal = GroupSignal()
    assert told(run(signal, 10.0, 14.0)) == [("purge", 14.0)]
    assert told(signal.edge(14.2, True, ready=False, weighed=False)) == []
    assert told(signal.at(18.1, ready=False, weighed=False)) == [("on", 10.0)]
    assert told(signal.edge(35.0, False, ready=False, weighed=False)) == [("off", 35.0)]
    assert [told(run(signal, s, s + 4.0)) for s in (40.0, 50.0)] == [[("purge", 44.0)], [("purge", 54.0)]]


def test_a_contact_that_sticks_is_told_of_once():
    signal = GroupSignal()
    said = list(signal.edge(0.0, True, ready=True, weighed=False))
    for n in range(1, 400):
        said += signal.at(float(n), ready=False, weighed=False)
    assert told(said) == [("on", 0.0), ("stuck", 181.0)]
    signal.edge(400.0, False, ready=False, weighed=False)
    again = list(signal.edge(500.0, True, ready=True, weighed=False))
    for n in range(501, 700):
        again += signal.at(float(n), ready=False, weighed=False)
    assert told(again) == [("on", 500.0), ("stuck", 681.0)]
