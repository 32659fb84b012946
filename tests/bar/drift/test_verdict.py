"""What a flag says in words, each number in it recomputed by numpy from the pulls it speaks of."""

from random import Random

import numpy as np
import pytest

from kiosk.bar.drift import DOSE, PULL, TAMP
from kiosk.bar.drift.verdict import by_hand, change_at, drifted, late_stops, one_persons


def likeliest_step(values) -> int:
    """The split whose two means leave the least squared error."""
    return min(range(1, len(values)), key=lambda k: np.var(values[:k]) * k + np.var(values[k:]) * (len(values) - k))


@pytest.mark.parametrize("seed", range(12))
def test_the_change_is_where_two_means_leave_the_least_squares(seed):
    chance = Random(seed)
    many = chance.randint(2, 30)
    step = chance.randint(1, many - 1)
    values = [chance.gauss(0, 1) + (2.5 if n >= step else 0.0) for n in range(many)]
    assert change_at(values) == likeliest_step(values)
    assert change_at([3.0]) == 0 and change_at([1.0, 1.0]) == 1


def test_a_drift_is_said_with_the_pulls_before_and_since():
    sentence, figures = drifted("left at 12", [0.0, 0.5, -0.5, 0.0, 4.0, 5.0])
    assert sentence == "left at 12 has drifted: the last 2 pulls ran 4.5 s slower than the 4 before."
    assert figures == {"last_pulls": 2, "before_pulls": 4, "before_s": 0.0, "after_s": 4.5}
    assert drifted("x", [0.0, 0.0025, -3.1264, -3.1287])[1] == {"last_pulls": 2, "before_pulls": 2, "before_s": 0.0, "after_s": -3.13}
    assert drifted("x", [1.0, 1.0, 1.0, -2.26])[0] == "x has drifted: the last pull ran 3.3 s faster than the 3 before."
    assert drifted("x", [2.5]) == ("x has drifted: its 1 pulls ran 2.5 s slower than the recipe.",
                                   {"last_pulls": 1, "before_pulls": 0, "before_s": 0.0, "after_s": 2.5})


def test_hands_are_named_by_what_they_did_and_never_by_name():
    slower = {"last_pulls": 5, "before_pulls": 20, "before_s": -0.5, "after_s": 2.0}
    faster = slower | {"after_s": -3.0}
    assert late_stops("x", slower) == "x: the last 5 pulls were stopped 2 s later than those before. Were these stopped late?"
    assert one_persons("x", faster) == \
        "x: the last 5 pulls of one person ran 2.5 s faster, the others' did not. The tamp comes first."
    assert by_hand("x", DOSE, slower) == "x: the last 5 pulls ran 2.5 s slower, and the doses explain it. Leave the grinder."
    assert by_hand("x", PULL, slower) == "x: the last 5 pulls ran 2.5 s slower; it looks like the pull itself. Leave the grinder."
    assert by_hand("x", TAMP, faster) == ("x: the last 5 pulls ran 2.5 s faster. Grinder or hands cannot be told yet: "
                                          "let somebody else pull the next.")
