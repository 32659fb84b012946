"""What past setting runs taught of a grinder, by Bayes' rule for normal means written out."""

from statistics import median

import pytest

from kiosk.bar.drift.grinder_model import GrinderModel


@pytest.mark.parametrize("notches", [1, -1, 3])
def test_a_move_teaches_what_a_notch_is_worth_as_bayes_rule_says(notches):
    """Prior and sight weigh by their precisions. A median tells 1.57 times less than a mean; two moves of a notch differ by
    half a spread."""
    model = GrinderModel()
    first, level, level_sd = [0.02, -0.05, 0.01, 0.3], 0.12, 0.03
    model.learn_move((level, level_sd), first, notches)
    seen = (level - median(first)) / notches
    seen_sd2 = (level_sd**2 + 1.57 * 0.08**2 / 4 + (0.5 * 0.08)**2) / notches**2
    precision = 1 / 0.05**2 + 1 / seen_sd2
    assert model.worth == pytest.approx(min(0.4, max(0.02, (0.10 / 0.05**2 + seen / seen_sd2) / precision)))
    assert model.worth_sd == pytest.approx(precision**-0.5)


def test_no_notch_or_a_single_pull_after_it_teaches_nothing():
    for first, notches in (([0.1, 0.2], 0), ([0.1], 1), ([], 1)):
        model = GrinderModel()
        model.learn_move((0.1, 0.02), first, notches)
        assert model == GrinderModel()
    two = GrinderModel()
    two.learn_move((0.1, 0.02), [0.1, 0.1], 1)
    assert two.worth < 0.10 and two.worth_sd < 0.05


def test_no_sight_of_a_notch_makes_it_worth_nothing_or_the_whole_pull():
    """Between half a second and ten seconds of 25."""
    for level, bound in ((9.0, 0.4), (-9.0, 0.02)):
        model = GrinderModel()
        model.learn_move((level, 0.01), [0.0, 0.0, 0.0], 1)
        assert model.worth == bound


def test_a_run_of_five_pulls_tells_the_spread_which_is_never_surer_than_to_seven_in_a_hundred():
    model = GrinderModel()
    model.learn_spread(0.2, 0.1, 4)
    assert model == GrinderModel()
    model.learn_spread(0.06, 0.2, 5)
    assert (model.spread, model.doubt) == (0.06, 0.2)
    model.learn_spread(0.07, 0.01, 5000)
    assert (model.spread, model.doubt) == (0.07, 0.07)
