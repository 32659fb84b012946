"""The practice bar: causes that can be told apart, a score of which are, and what comes next."""

from collections import Counter
from random import Random

import pytest

from hardware.practice import LAWS
from kiosk.bar.model import Recipe, usual
from kiosk.bar.training import AMOUNTS, CAUSES, MENDS, Cause, Mend, SeenPull, named, next_cause, score, stopped, why
from kiosk.practice.practice_bar import LONGEST_S, Practising
from tests.bench.lesson import average, guesser, lessons, perfect, taught
from tests.support.lesson_truth import untrue

RECIPE = usual("Practice", "double")


def seen(**shown):
    right = {"dose_g": 16.0, "time_s": 25.0, "yield_g": RECIPE.yield_g, "first_drop_s": 4.0}
    return SeenPull(recipe=RECIPE, **right | shown)


# First drop 3–5 s, 20–30 s in all, the dose within its tolerance: common practice, and the recipe's own windows.
@pytest.mark.parametrize(("shown", "cause"), [
    ({}, Cause.NONE),
    ({"time_s": 19.0, "first_drop_s": 3.2}, Cause.COARSE),
    ({"time_s": 36.0, "first_drop_s": 6.0}, Cause.FINE),
    ({"dose_g": 17.9, "time_s": 31.0}, Cause.OVER),
    ({"dose_g": 14.2, "time_s": 19.0}, Cause.UNDER),
    ({"time_s": 19.0, "first_drop_s": 1.7}, Cause.SOFT),
    ({"time_s": 19.0, "first_drop_s": 1.7, "left": 0.3}, Cause.CROOKED),
    ({"time_s": 23.0, "first_drop_s": 2.1, "spat": True}, Cause.UNPURGED),
    ({"left": 0.0}, Cause.BLOCKED),
    ({"time_s": 18.0, "spurted_s": 10.0}, Cause.CHANNEL),
    ({"thin": True, "lain_min": 30.0}, Cause.STALE),
    ({"thin": True}, Cause.OLD),
    ({"cold": True}, Cause.COLD),
    ({"dose_g": None, "time_s": 36.0, "first_drop_s": 5.0}, Cause.FINE),
    ({"dose_g": None, "time_s": 36.0, "first_drop_s": 7.0}, Cause.OVER),
    ({"dose_g": None, "time_s": 18.0, "first_drop_s": 2.5}, Cause.UNDER),
])
def test_a_sign_on_the_screen_names_its_cause(shown, cause):
    assert named(seen(**shown)) is cause


def test_a_pump_stopped_early_or_late_changes_nothing_of_the_cause():
    practice = Practising(seed=3)
    for cause in CAUSES:
        for share in (0.75, 1.25):
            practice.prepare(cause)
            practice.begin()
            practice.stop(min(LONGEST_S, practice.poured.stop_for(RECIPE.yield_g) * share))
            assert named(practice.seen()) is cause, (cause, share)


@pytest.mark.parametrize("law", LAWS)
def test_whoever_looks_at_everything_tells_each_cause(law):
    found = taught(perfect, lessons(law=law, each=5, seed=5))
    assert found.lessons == 5 * len(CAUSES) and found.share == 1.0


def test_whoever_looks_at_some_of_it_scores_less_and_a_guesser_next_to_nothing():
    given = lessons(each=20, seed=5)
    assert 0.6 <= taught(average, given).share <= 0.85
    assert taught(guesser, given).share < 0.2


@pytest.mark.parametrize("weighed", [True, False])
def test_every_sentence_said_of_a_pull_is_true_of_its_figures_and_its_cause(weighed):
    assert [words for each in lessons(weighed, each=8, seed=9) for words in untrue(each.cause, each.seen, each.hidden)] == []


def test_a_sentence_that_is_not_so_is_found_untrue():
    right, fine = (next(each for each in lessons(each=5, seed=5) if each.cause is cause) for cause in (Cause.NONE, Cause.FINE))
    assert untrue(Cause.FINE, right.seen, right.hidden) and untrue(Cause.NONE, fine.seen, fine.hidden)


def test_practice_pours_the_bars_own_recipe():
    """36 g of 18 g in 28 s, as many bars have it (common practice): what is right there is right here."""
    recipe = Recipe(coffee="House", basket="double", dose_g=18, amount=36, unit="g", time_s=28, time_within_s=3)
    practice = Practising(2, recipe=recipe)
    for cause in (Cause.NONE, Cause.FINE, Cause.UNDER):
        assert practice.prepare(cause) is cause
        practice.begin()
        practice.stop(practice.poured.stop_for(36))
        assert named(practice.seen()) is cause
        assert practice.seen().recipe is recipe


def mended(cause: Cause, *mends: tuple[Mend, int]) -> Cause:
    """What the pull after `mends` shows."""
    practice = Practising(seed=4)
    practice.prepare(cause)
    for what, much in mends:
        practice.mend(what, much)
    practice.begin()
    practice.stop(practice.poured.stop_for(RECIPE.yield_g))
    return named(practice.seen())


def test_the_right_mend_and_enough_of_it_cures_its_cause_alone():
    """Four notches or so are wrong: one of them cures nothing, and no other mend does."""
    for cause, what in MENDS.items():
        times = 4 if cause in (Cause.FINE, Cause.COARSE) else 3 if what in AMOUNTS else 1
        assert mended(cause, *[(what, 1)] * times) is Cause.NONE, cause
        other = Mend.WARM if what is not Mend.WARM else Mend.FLUSH
        assert mended(cause, (other, 1)) is cause
    assert mended(Cause.FINE, (Mend.COARSER, 1)) is Cause.FINE
    assert mended(Cause.NONE, (Mend.COARSER, 3), (Mend.COARSER, 3)) is Cause.COARSE


def test_the_stream_pales_as_it_runs_and_at_once_where_it_breaks_through():
    practice = Practising(3)
    for cause, at_s in ((Cause.NONE, 12), (Cause.CHANNEL, 14)):
        practice.prepare(cause)
        practice.begin()
        assert practice.pale(6) == 0 and practice.pale(40) == 1
        assert (practice.pale(at_s) > 0.5) is (cause is Cause.CHANNEL)


def test_a_cup_that_is_far_off_is_said_whatever_the_cause():
    """117 g against 50 are the hand on the pump, and told apart from what was wrong with the puck."""
    assert str(stopped(seen(yield_g=117.0))) == "Stopped late: 117.0 g, right is 45.4–55.4."
    assert "at that pace" in why(Cause.COARSE, seen(yield_g=117.0, time_s=35.6))
    assert stopped(seen()) is None
    assert str(stopped(seen(yield_g=45.0))) == "Stopped early: 45.0 g, right is 45.4–55.4."
    assert stopped(seen(dose_g=None, yield_g=45.0)) is None         # an eye's 45 g may be 47


def test_the_same_seed_hides_the_same_pulls():
    def pulls(seed):
        practice = Practising(seed)
        for cause in (Cause.CROOKED, Cause.OVER):
            practice.prepare(cause)
            practice.begin()
            practice.stop(22)
            yield practice.seen()

    assert list(pulls(4)) == list(pulls(4)) != list(pulls(5))


def test_a_pull_can_be_seen_only_once_its_pump_has_stopped():
    practice = Practising(1)
    practice.prepare(Cause.NONE)
    practice.begin()
    with pytest.raises(RuntimeError, match="stop it first"):
        practice.seen()


def test_steam_is_spat_only_by_a_group_that_was_not_purged_and_before_its_first_drop():
    practice = Practising(2)
    for cause in CAUSES:
        practice.prepare(cause)
        practice.begin()
        spits = [t / 10 for t in range(100) if practice.spits(t / 10)]
        assert bool(spits) is (cause is Cause.UNPURGED)
        assert all(t < practice.poured.first_drop_s for t in spits)


def test_the_two_spouts_together_pour_what_falls_into_the_cup():
    practice = Practising(6)
    practice.prepare(Cause.CROOKED)
    practice.begin()
    fell = sum(sum(practice.streams(t / 20)) / 20 for t in range(20 * 20))
    assert fell == pytest.approx(practice.poured(20), rel=0.02)
    left, right = practice.streams(15)
    assert max(left, right) / (left + right) == pytest.approx(max(practice.left, 1 - practice.left))


def test_the_score_says_what_is_told_apart_and_what_is_taken_for_what():
    found = score([("soft", "soft"), ("soft", "coarse"), ("soft", "coarse"), ("soft", "none"), ("fine", "fine"),
                   ("of another program", "fine")])
    assert (found.lessons, found.told, found.share) == (5, 2, 0.4)
    assert (found.right(Cause.SOFT), found.met(Cause.SOFT)) == (1, 4)
    assert found.taken_for(Cause.SOFT) == ((Cause.COARSE, 2), (Cause.NONE, 1))
    assert score([]).share is None


def test_what_was_missed_or_never_met_comes_up_more_often():
    so_far = score([*[(cause, cause) for cause in CAUSES if cause not in (Cause.SOFT, Cause.OVER)], ("soft", "coarse")])
    chance = Random(1)
    drawn = Counter(next_cause(so_far, chance.random()) for _ in range(4000))
    assert set(drawn) == set(CAUSES)
    assert drawn[Cause.SOFT] > 3 * drawn[Cause.FINE]
    assert drawn[Cause.OVER] > 1.5 * drawn[Cause.FINE]
    assert next_cause(so_far, 0.0) is CAUSES[0]
