"""One setting changed: nothing beside it is touched, and only what is its own fault is complained of."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kiosk.bar.model import Setup, as_settings, change, name_taken, new_entry, read, setup

USUAL = Setup()
LISTS = {"menu": ("may_share", True), "grinders": ("purge_g", 9.0), "changes": ("cold", True),
         "opening": ("caution", "Hot."), "closing": ("who", "Ben")}
KEPT = st.fixed_dictionaries({}, optional={
    "groups": st.integers(0, 9), "bar": st.sampled_from(("The corner", 7)),
    "menu": st.just({"Flat white": {"shot": "double"}, "Odd": {"shot": "treble"}}),
    "grinders": st.just({"Left": {"setting": 12}, "Right": {"setting": 40_000}})})


@settings(max_examples=60, deadline=None)
@given(KEPT, st.sampled_from(sorted(LISTS)), st.integers(0, 6))
def test_a_change_inside_a_list_leaves_every_other_entry_as_it_was(kept, kind, place):
    before = read(kept)[0]
    things = getattr(before, kind)
    name, (field, value) = things[place % len(things)].name, LISTS[kind]
    found = change(kept, (kind, name, field), value)
    written = dict(kept)
    *above, last = found.path.split(".")
    inside = written
    for part in above:
        inside = inside.setdefault(part, {})
    inside[last] = found.value
    after = read(written)[0]
    assert found.problems == () and found.setup == after            # what is said to come of it does
    wanted = as_settings(things)
    wanted[name][field] = value
    assert as_settings(getattr(after, kind)) == wanted
    assert [each.name for each in getattr(after, kind)] == [each.name for each in things]


@settings(max_examples=60, deadline=None)
@given(KEPT, st.sampled_from((2, 9)))
def test_what_is_wrong_elsewhere_is_not_this_settings_fault(kept, groups):
    found = change(kept, ("groups",), groups)
    assert bool(found.problems) == (groups == 9) and set(found.problems) <= set(found.complaints)


def test_the_setup_is_read_once_for_a_change_that_fits(monkeypatch):
    reads = []
    monkeypatch.setattr(setup, "read", lambda settings: reads.append(1) or read(settings))
    assert change({"groups": 2}, ("sounds",), False).problems == () and len(reads) == 1


@pytest.mark.parametrize("kind", ("grinders", "menu", "changes", "staff", "opening", "closing"))
def test_what_is_added_by_its_name_alone_fits(kind):
    found = change({}, (kind, "New one"), new_entry(kind, "New one"))
    assert found.problems == () and [each.name for each in getattr(found.setup, kind)] == [
        *(each.name for each in getattr(USUAL, kind)), "New one"]


@pytest.mark.parametrize("kind", sorted(LISTS))
def test_a_name_that_is_there_already_is_told_however_it_is_written(kind):
    first = getattr(USUAL, kind)[0].name
    for name in (first, first.upper(), f" {first.lower()} "):
        assert name_taken(USUAL, kind, name) == ("There is one of that name already. Choose another.",)
    assert name_taken(USUAL, kind, f"{first} too") == name_taken(USUAL, kind, first.swapcase(), but=first) == ()


@pytest.mark.parametrize("name", ("", "  ", "Dr. Oat"))
def test_a_name_that_could_not_be_written_is_refused_in_words(name):
    assert change({}, ("staff", name), {"new": True}).problems == (
        "A name has at least one letter and no full stop. Choose another.",)
