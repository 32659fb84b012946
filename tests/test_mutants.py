"""The runner of `python -m tests.bench.mutants` finds what a test notices, and what none does."""

import ast

import pytest
from statsmodels.stats.proportion import proportion_confint

from tests.bench import mutants

FILE = "kiosk/bar/guide/attention.py"
SOURCE = '''
def far(grams, most=3):
    """How far."""
    if not grams or grams >= most:
        return min(grams, 2.0) - 1
    log(grams)
'''


def test_every_kind_of_change_is_made_once_and_each_is_python():
    made = [ast.unparse(mutants.changed(SOURCE, n)) for n in range(sum(1 for _ in mutants.places(ast.parse(SOURCE))))]
    plain = ast.unparse(ast.parse(SOURCE))
    assert len(set(made)) == len(made) and plain not in made
    for part in ("grams > most", "grams <= most", "not grams and", "if grams or", "max(grams", "3.0", "+ 1", "- 2", "most=4",
                 "pass",
                 "return None", "if not (not grams"):
        assert sum(part in each for each in made) == 1, part


def test_a_change_that_a_test_notices_is_caught_and_one_that_none_does_is_not(monkeypatch):
    """In a function, beside one, and one that never ends."""
    by_key = {mutant.key.removeprefix("kiosk.bar.guide.attention."): mutant for mutant in mutants.mutants_of(FILE)}
    noticed = by_key["urgency: turn the condition: if guide.pulling: → if not guide.pulling:"]
    outside = by_key["*: more: 5 → 6"]
    tests = "tests/bar/guide/test_attention.py"
    found = mutants.in_a_child(lambda: mutants.caught([noticed, outside], (tests,)))
    assert found[noticed].startswith(tests) and found[outside] is None
    monkeypatch.setattr(mutants, "AT_LEAST_S", 0.2)
    assert mutants.in_a_child(lambda: mutants._tried(noticed, mutants.Passes({FILE: {noticed.line: {"a"}}}, {"a": 0.0}, ()),
                                                     _for_ever)) \
        == "it never ended, or broke off"


def _for_ever(_tests):
    while True:
        pass


def test_what_comes_to_the_same_bytecode_is_no_change_and_a_draw_takes_of_each_room_its_share():
    drawn, in_all = mutants.draw(15, 5, mutants.ROOMS)
    assert len(set(drawn)) == 15 and drawn == mutants.draw(15, 5, mutants.ROOMS)[0] != mutants.draw(15, 6, mutants.ROOMS)[0]
    for room in mutants.ROOMS:
        of_room = sum(len(mutants.mutants_of(file)) for file in mutants._files((room,)))
        assert abs(sum(each.room == room for each in drawn) - 15 * of_room / in_all) < 2
    assert all(map(mutants.is_a_change, drawn))


def test_each_change_that_was_judged_is_one_that_can_be_made():
    every = {mutant.key for file in mutants._files(mutants.ROOMS) for mutant in mutants.mutants_of(file)}
    assert not mutants.judged().keys() - every and all(mutants.judged().values())


@pytest.mark.parametrize("caught, of", [(8, 10), (90, 100), (0, 7)])
def test_the_interval_is_wilsons(caught, of):
    assert mutants.wilson(caught, of) == pytest.approx(proportion_confint(caught, of, method="wilson"), abs=0.001)
