"""What a hire's page says of wrong pulls at each moment; a slice of `python -m tests.bench.said`, which plays all thirteen."""

import pytest

from tests.support.wrong_pulls import SAID, WRONG, played


def test_each_wrong_pull_has_its_words():
    assert set(SAID) == set(WRONG) and len(WRONG) == 13


@pytest.mark.parametrize("name", ["3 g over, kept", "locked in for two minutes", "no cup"])
def test_what_is_said_of_a_wrong_pull_is_true_at_each_moment(name, tmp_path):
    play = played(name, tmp_path)
    assert play.said == SAID[name]
    assert play.untrue == []
