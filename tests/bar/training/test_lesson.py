"""The practice bar: causes that can be told apart, a score of which are, and what comes next."""

from collections import Counter
from random import Random

import pytest

from hardware.practice import LAWS
from kiosk.bar.model import usual
from kiosk.bar.training import CAUSES, MENDS, Cause, SeenPull, named, next_cause, score, why
from kiosk.practice.practice_bar import LONGEST_S, Practising
from tests.bench.lesson import average, perfect, taught

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
def test_whoever_looks_at_everything_tells_nine_in_ten_of_each_cause(law):
    found = taught(perfect, law, each=10, seed=5)
    for cause in CAUSES:
        assert found.met(cause) == 10 and found.right(cause) >= 9, cause


def test_whoever_looks_at_some_of_it_scores_less_but_better_than_a_guess():
    usual_hire, best = taught(average, each=25, seed=5), taught(perfect, each=25, seed=5)
    assert 1 / len(CAUSES) + 0.1 < usual_hire.share < best.share - 0.1


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


def test_each_cause_is_explained_with_the_pulls_own_figures_and_has_a_mend():
    shown = {
        Cause.OVER: (seen(dose_g=17.9), "17.9 g"), Cause.UNDER: (seen(dose_g=14.2), "14.2 g"),
        Cause.SOFT: (seen(first_drop_s=1.7, time_s=19), "1.7 s"), Cause.CROOKED: (seen(left=0.3), "70 %"),
        Cause.UNPURGED: (seen(spat=True), "steam"), Cause.FINE: (seen(time_s=36), "36 s"),
        Cause.COARSE: (seen(time_s=18), "18 s"), Cause.NONE: (seen(), "25 s"),
    }
    for cause in CAUSES:
        pull, figure = shown[cause]
        assert figure in why(cause, pull)
        assert MENDS[cause].endswith(".")


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
