"""The runner of `python -m tests.bench.mutants` finds what a test notices, and what none does."""

import ast

import pytest
from statsmodels.stats.proportion import proportion_confint

from tests.bench import mutants

FILE = "kiosk/bar/guide/trouble.py"
SOURCE = '''
def far(grams, most=3):
    """How far."""
    if not grams or grams >= most:
        return min(grams, 2.0) - 1
    log(grams)
'''


def test_every_kind_of_change_is_made_once_and_each_is_python():
    made = [mutants.changed(SOURCE, n) for n in range(sum(1 for _ in mutants.changes(ast.parse(SOURCE))))]
    plain = ast.unparse(ast.parse(SOURCE))
    assert len(set(made)) == len(made) and plain not in made
    for part in ("grams > most", "grams <= most", "not grams and", "if grams or", "max(grams", "3.0", "+ 1", "- 2", "most=4", "pass",
                 "return None", "if not (not grams"):
        assert sum(part in each for each in made) == 1, part


def test_a_change_that_a_test_notices_is_caught_and_one_that_none_does_is_not(tmp_path):
    runner = mutants.Runner(tmp_path, ("tests/bar/guide/test_trouble.py",))
    found = {mutant.what: mutant for mutant in mutants.mutants_of(FILE)}
    unseen = "compare: cup_g < recipe.yield_g * NOTHING_SHARE  →  cup_g <= recipe.yield_g * NOTHING_SHARE"
    assert runner.tests_by(found[unseen]) and not runner.caught(found[unseen])
    assert runner.caught(next(each for what, each in found.items() if what.startswith("reverse: cup_g < recipe.yield_g * NOTHING")))
    assert (runner.tree / FILE).read_text("utf-8") == (mutants.ROOT / FILE).read_text("utf-8")      # put back


@pytest.mark.parametrize("caught, of", [(8, 10), (90, 100), (0, 7)])
def test_the_interval_is_wilsons(caught, of):
    assert mutants.wilson(caught, of) == pytest.approx(proportion_confint(caught, of, method="wilson"), abs=0.001)
