"""The watch, rule by rule: what it hands to the advice, when a run begins and ends, whose pulls a flag speaks of."""

import json
from dataclasses import replace
from math import log10
from random import Random

import pytest

from kiosk.bar.drift import (
    COARSER,
    DRIFTING,
    FINER,
    GRIND,
    HOLD,
    ODD,
    SPREAD,
    STEADY,
    TAMP,
    UNKNOWN,
    ChangeDetector,
    Flag,
    Watch,
    advise,
    attribution,
)
from kiosk.bar.drift import watch as rules
from kiosk.bar.drift.change_detector import mean_sd
from kiosk.bar.drift.watch import counts
from tests.bar.drift.test_drift import RECIPE, a_move, a_pull, a_watch, told


@pytest.fixture
def stood(monkeypatch):
    """How the grinder stood at each pull, as the advice was given it."""
    seen = []

    def heard(standing, words):
        seen.append(standing)
        return advise(standing, words)

    monkeypatch.setattr(rules.to_do, "advise", heard)
    return seen


def test_a_verdict_is_what_the_detector_shows_in_the_recipes_seconds(stood):
    for side in (1, -1):
        rng, watch = Random(2), a_watch(15)
        for off_s in [side * 4 + rng.gauss(0, 1.6) for _ in range(6)]:
            verdict = watch.update(a_pull(off_s))
            sight, spread_s = watch.sight, watch.spread0 * 25
            level, sd = (each * spread_s for each in mean_sd(sight.levels))
            assert (verdict.level_s, verdict.level_within_s) == pytest.approx((level, 1.645 * sd))
            assert stood[-1].level_s == pytest.approx((level, sd))
            assert verdict.value == pytest.approx((1 if sight.slower >= sight.faster else -1) * log10(1 + sight.evidence))
            assert verdict.high == -verdict.low == pytest.approx(log10(231)) and verdict.deviation_s == pytest.approx(off_s)
            assert stood[-1].worth_s == pytest.approx((watch.known.worth * 25, watch.known.worth_sd * 25))
            assert stood[-1].pulls == verdict.pulls
            half = 0.5 * watch.known.worth / watch.spread0                  # of a notch, in spreads
            slow, fast = sum(p for v, p in sight.levels if v > half), sum(p for v, p in sight.levels if v < -half)
            assert stood[-1].off == pytest.approx(slow if slow >= fast else -fast)
        assert verdict.value * side > 0 and watch.chart()[-1][1:4] == (verdict.value, verdict.low, verdict.high)
        assert watch.chart()[-1][5:7] == (verdict.deviation_s, verdict.level_s)


def test_a_flag_that_stands_is_counted_and_its_direction_handed_on(stood):
    rng = Random(2)
    verdicts = told(a_watch(20), [5 + rng.gauss(0, 1.6) for _ in range(9)])
    raised = next(n for n, verdict in enumerate(verdicts) if verdict.flag)
    found = stood[20:]
    assert [each.flagged for each in found] == [False] * raised + [True] * (9 - raised)
    assert [each.flagged_for for each in found[raised:]] == list(range(9 - raised))
    assert {each.direction for each in found[raised:]} == {COARSER} and found[0].direction is None


def test_the_way_back_is_asked_for_more_while_the_last_move_is_news(stood):
    """More than 0.8 of a notch off for forty pulls, half of one after; on the way on, half of one."""
    for moved, share in ((1, 0.8), (-1, 0.5)):
        rng, watch = Random(6), a_watch(20)
        watch.moved(a_move(12, 12 + moved))
        told(watch, [-6 + rng.gauss(0, 1.6) for _ in range(12)], setting=12 + moved)
        assert stood[-1].direction == FINER
        assert stood[-1].off == pytest.approx(watch._off(watch.sight.levels, share)) != watch._off(watch.sight.levels,
            1.3 - share)


def test_causes_are_looked_for_where_a_pull_or_its_grinder_is_off():
    watch = a_watch(10)
    assert told(watch, [0.5])[0].faults == () and told(watch, [0.5], yield_g=RECIPE.yield_g * 1.2)[0].faults
    assert told(watch, [0.5], dose_g=17.0)[0].faults and told(watch, [5.5])[0].faults
    assert told(watch, [0.5], dose_g=None, yield_g=None)[0].faults == ()


@pytest.mark.parametrize("pull, counted", [
    (a_pull(), True), (a_pull(practice=True), False), (a_pull(sink="Gushed over"), True), (a_pull(sink="choked"), True),
    (a_pull(sink="spilt"), False),
    (a_pull(sink="gushed", dose_g=16.5), True), (a_pull(sink="gushed", dose_g=16.6), False),
    (a_pull(sink="choked", dose_g=None), False),
    (a_pull(sink="gushed", practice=True), False)])
def test_a_sink_shot_tells_of_its_grinder_where_its_dose_was_right(pull, counted):
    assert counts(pull) is counted


def test_pulls_ground_before_a_turn_are_the_old_runs_until_three_of_the_new_setting_were_pulled():
    watch = a_watch(10)
    watch.moved(a_move(12, 13))
    assert told(watch, [0], setting=12)[0].kind == UNKNOWN
    for n in (1, 2):
        assert told(watch, [0], setting=13)[0].pulls == n and told(watch, [0], setting=12)[0].kind == UNKNOWN
    assert told(watch, [0], setting=13)[0].pulls == 3
    assert told(watch, [0], setting=12)[0].pulls == 1           # by now the collar stands there again
    untold = a_watch(10)
    # nobody told of a turn
    assert told(untold, [0], setting=13)[0].pulls == 1 and told(untold, [0], setting=12)[0].pulls == 1
    another = a_watch(10)
    another.moved(a_move(12, 13))
    assert told(another, [0], setting=11)[0].pulls == 1


def test_more_than_one_notch_is_allowed_for_the_first_ten_pulls_of_a_service_day(stood):
    watch = Watch("left", "house", notches_at_opening=3)
    for n in range(12):
        watch.update(a_pull(at=f"2026-01-05T09:{n:02d}:00+01:00"))
    watch.update(a_pull(at="2026-01-06T03:30:00+01:00"))        # the service day ends at four
    watch.update(a_pull(at="2026-01-06T09:00:00+01:00"))
    assert [each.most_notches for each in stood] == [3] * 10 + [1] * 3 + [3]
    untimed = Watch("left", "house", notches_at_opening=3)
    for _ in range(12):
        untimed.update(a_pull(at=""))
    assert [each.most_notches for each in stood[-12:]] == [3] * 10 + [1] * 2


def test_a_new_run_expects_the_level_less_what_its_notches_are_worth():
    """Beside the recipe itself, which a barista turns towards."""
    for after in (13, 10):
        watch = a_watch(20)
        level, sd = watch._level()
        watch.moved(a_move(12, after))
        notches, known = after - 12, watch.known
        centre, width = level - known.worth * notches, (sd**2 + (known.worth_sd * notches)**2)**0.5
        anchors = ((0.75, 0.0, 0.1), (0.1, 0.0, 0.7), (0.05, 0.0, 3.0),
                   (0.05, centre / known.spread, max(width / known.spread, 0.2)))
        expected = ChangeDetector(anchors, known.doubt)
        assert watch.detector.lowest == expected.lowest and sum(watch.detector.calm, []) == pytest.approx(sum(expected.calm, []))
        assert (watch.setting, watch.last_move) == (after, notches)
        watch.moved(a_move(after, after + 2))                   # turned again with no pull between: from where it stood before
        assert watch.left == (pytest.approx(level), pytest.approx(sd), notches + 2)


def test_another_recipe_is_another_run_that_expects_nothing_of_the_one_before():
    watch = a_watch(20)
    told(watch, [0], recipe=replace(RECIPE, dose_g=18.0))
    assert watch.detector.pulls == 1 and watch.left is None


def test_another_recipe_ends_a_run_that_teaches_as_a_turn_of_the_collar_does():
    rng, watches = Random(3), (a_watch(), a_watch())
    for off_s in [rng.gauss(0, 0.6) for _ in range(40)]:
        assert len({watch.update(a_pull(off_s)).kind for watch in watches}) == 1
    told(watches[0], [0], recipe=replace(RECIPE, dose_g=18.0))
    watches[1].moved(a_move(12, 13))
    assert watches[0].known == watches[1].known and watches[0].alike == watches[1].alike
    assert watches[0].known.spread < 0.05


def test_a_run_teaches_the_spread_and_the_move_before_it_when_it_ends():
    watch = a_watch(20)
    assert watch.known == a_watch().known                       # nothing while it goes on
    watch.moved(a_move(12, 13))
    assert watch.known.doubt < 0.35 and watch.known.worth == 0.10
    told(watch, [-3.0] * 6, setting=13)
    watch.moved(a_move(13, 14))
    assert watch.known.worth == pytest.approx(0.12, abs=0.025) and watch.known.worth_sd < 0.05 and watch.known.worth != 0.10


def test_pulls_that_spread_are_the_new_usual_after_fifteen():
    rng, watch = Random(5), a_watch(60)
    verdicts = told(watch, [rng.gauss(0, 3.6) for _ in range(60)])
    raised = next(n for n, verdict in enumerate(verdicts) if verdict.standing and verdict.standing.kind == SPREAD)
    settled = next(n for n in range(raised, 60) if verdicts[n].pulls < verdicts[n - 1].pulls)
    assert settled - raised == 16 and verdicts[settled].standing is None


def test_a_flag_is_taken_down_once_its_evidence_has_fallen_to_a_fifth_of_an_alarm():
    rng, watch = Random(2), a_watch(20)
    told(watch, [5 + rng.gauss(0, 1.0) for _ in range(5)])
    assert watch.standing is not None
    taken_down = set()
    for off_s in [rng.gauss(0, 1.2) for _ in range(40)]:
        verdict = watch.update(a_pull(off_s))
        low = watch.sight.evidence < 230 / 5
        if verdict.kind == STEADY:
            assert (verdict.standing is None) is low
            taken_down.add(low)
    assert taken_down == {True, False}
    assert verdict.pulls < 65 or verdict.standing is None


# ---- whose pulls a flag speaks of ----------------------------------------------------------------------------------

def of_people(*rows) -> Watch:
    watch = a_watch(2)
    watch.people = list(rows)
    return watch


@pytest.mark.parametrize("last, shared", [("AAAA", True), ("AAAB", False), ("ABABAB", True), ("ABABA", False),
                                          ("AABBBCAC", True), ("CABAB", True)])
def test_a_change_is_shared_where_three_of_its_pulls_are_others_or_the_bar_has_one_barista(last, shared):
    assert of_people(*((0.0, who, False) for who in last))._shared_by_others(len(last)) is shared
    assert of_people((0.0, "B", False), *((0.0, "A", False) for _ in range(9)))._shared_by_others(9) is False


@pytest.mark.parametrize("late, many, before, tapped, told_so", [
    (3.1, 5, 10, True, True), (2.9, 5, 10, True, False), (3.1, 8, 10, True, True), (3.1, 9, 10, True, False),
    (3.1, 5, 0, True, False), (3.1, 5, 1, True, True),
    (3.1, 5, 10, False, False), (-3.1, 5, 10, True, False)])
def test_a_few_lone_taps_each_far_too_late_for_a_grinder_are_asked_about(late, many, before, tapped, told_so):
    watch = of_people(*((0.0, "A", False) for _ in range(10)), *((0.0, "A", True) for _ in range(many - 1)), (0.0, "A", tapped))
    spread_s = watch.spread0 * watch.sight.spread * 25
    figures = {"last_pulls": many, "before_pulls": before, "before_s": 0.5, "after_s": 0.5 + late * spread_s}
    assert watch._stopped_late(figures, 25.0) is told_so


def test_taps_that_all_come_late_raise_a_question_and_no_notch():
    rng, watch = Random(7), a_watch(25)
    verdicts = told(watch, [11 + rng.gauss(0, 1.0) for _ in range(8)], yield_g=None)
    flags = [verdict.flag for verdict in verdicts if verdict.flag]
    assert flags and flags[0].kind == "late_stops" and "Were these stopped late?" in flags[0].sentence
    assert flags[0].direction is None
    assert all(verdict.advice.act != "notch" for verdict in verdicts)


def test_one_persons_own_pulls_are_counted_before_and_since():
    watch = of_people((0.04, "A", False), (0.2, "B", False), (0.08, "A", False), (-0.2, "B", False), (-0.08, "A", False),
                      (-0.12, "A", False), (0.0, "B", False))
    assert watch._persons("A", 4, 25.0) == {"last_pulls": 2, "before_pulls": 2, "before_s": 1.5, "after_s": -2.5}
    assert watch._persons("A", 0, 25.0) == {"last_pulls": 4, "before_pulls": 0, "before_s": 0.0, "after_s": -0.5}


def test_grinder_and_tamp_share_what_they_have_together_as_the_whole_run_shows_it():
    watch = a_watch(20)
    told(watch, [4.0] * 4)
    alone = {fault.cause: fault.probability for fault in watch.clues.faults()}
    watch.attributed = attribution.Attributed("hands", 0.7, 3, "A", 0.1, (("grinder", 0.3), ("hands", 0.6), ("none", 0.1)))
    shared = {fault.cause: fault.probability for fault in watch.faults()}
    both = alone[GRIND] + alone[TAMP]
    assert (shared[GRIND], shared[TAMP]) == pytest.approx((0.3 * both, 0.7 * both))
    assert {cause: shared[cause] for cause in alone if cause not in (GRIND, TAMP)} == {cause: alone[cause] for cause in alone
        if cause not in (GRIND, TAMP)}
    assert [fault.probability for fault in watch.faults()] == sorted(shared.values(), reverse=True)
    watch.attributed = replace(watch.attributed, shares=())
    assert watch.faults() == watch.clues.faults()


def test_a_drift_says_its_level_its_odds_and_its_spread_in_figures():
    rng, watch = Random(2), a_watch(20)
    flag, sight = next((verdict.flag, watch.sight) for verdict in (watch.update(a_pull(5.0 + rng.gauss(0, 1.6)))
                                                                   for _ in range(9)) if verdict.flag)
    assert flag.evidence["odds"] == round(sight.evidence, 1)
    assert flag.evidence["spread_s"] == round(watch.spread0 * sight.spread * 25, 2)
    assert flag.evidence["level_s"] == round(mean_sd(sight.levels)[0] * watch.spread0 * 25, 2)
    assert flag.evidence["side"] == COARSER
    assert flag.evidence["pulls"] == watch.detector.pulls and flag.evidence["cause"] == GRIND
    assert 0.5 < flag.evidence["probability"] <= 1


def test_a_run_that_began_off_says_by_how_much_and_how_surely():
    rng, watch = Random(4), a_watch(20)
    watch.moved(a_move(12, 16))
    for _ in range(8):
        verdict = watch.update(a_pull(-6 + rng.gauss(0, 1.6), setting=16))
        if verdict.flag:
            break
    flag = verdict.flag
    assert flag.evidence["certainty"] == round(abs(watch._off(watch.sight.centres)), 3) >= 0.95
    assert flag.sentence == f"left at 16 has run {abs(flag.evidence['level_s']):.0f} s fast since it was set."
    assert verdict.pulls >= 2


def test_a_pull_that_says_nothing_of_the_grinder_changes_nothing():
    watch = a_watch(15)
    before = watch.memory()
    verdict = watch.update(a_pull(9.0, practice=True))
    after = watch.memory()
    points = after.pop("points")
    assert points[:-1] == before.pop("points") and after == before
    assert (verdict.value, verdict.kind, verdict.deviation_s, verdict.pulls, verdict.even_s) == (0.0, UNKNOWN, None, 15,
        pytest.approx(34.0))
    assert verdict.advice.act == HOLD and verdict.high == -verdict.low == pytest.approx(log10(231))


def test_a_memory_stays_as_it_was_when_more_is_pulled_and_moved():
    watch = a_watch(15)
    memory = watch.memory()
    before = json.dumps(memory)
    for n in range(12):
        watch.update(a_pull(n % 3 - 1.0, id=f"later{n}"))
    assert json.dumps(memory) == before
    watch.moved(a_move(20, 21))
    assert json.dumps(memory) == before


def test_the_chart_keeps_a_hundred_and_fifty_pulls():
    watch = a_watch()
    for n in range(160):
        watch.update(a_pull(practice=True, id=f"p{n}"))
    assert [point.pull_id for point in watch.chart()] == [f"p{n}" for n in range(10, 160)]


# ---- flags, once raised ---------------------------------------------------------------------------------------------

def flag_of(kind: str, **evidence) -> Flag:
    return Flag("left", "house", 12, kind, None, "said", {"side": COARSER} | evidence)


@pytest.fixture
def slow_watch():
    """A watch whose evidence says that its pulls run slower."""
    watch = a_watch(10)
    watch.sight = replace(watch.sight, slower=300.0, faster=1.0)
    return watch


def raised(watch: Watch, flags, pulls: int, kind: str = DRIFTING) -> list[int]:
    """The pulls at which it was looked at, what is found then being the next of `flags`, and its last for good."""
    looked, found = [], list(flags)

    def look(_pull, _kind, _direction):
        looked.append(len(watch.told))
        return found.pop(0) if len(found) > 1 else found[0]

    watch._flag, watch.told = look, []
    for _ in range(pulls):
        watch.told.append(watch._flagged(a_pull(), kind))
    return looked


def test_a_flag_that_names_the_grinder_is_raised_once(slow_watch):
    assert raised(slow_watch, [flag_of(DRIFTING)], 8) == [0]
    assert [flag is not None for flag in slow_watch.told] == [True] + [False] * 7 and slow_watch.flagged_for == 7


def test_a_flag_that_blames_a_hand_is_looked_at_anew_three_times_and_then_at_each_fifth_pull(slow_watch):
    assert raised(slow_watch, [flag_of("hands")], 17) == [0, 1, 2, 3, 5, 10, 15]
    assert [flag is not None for flag in slow_watch.told] == [True] + [False] * 16         # with nothing new to say
    assert slow_watch.flagged_for == 16 and slow_watch.standing.kind == "hands"


@pytest.mark.parametrize("first, then, again", [
    (flag_of("hands"), flag_of(DRIFTING), True), (flag_of("hands"), flag_of("hands", who="A"), True),
    (flag_of("hands", who="A"), flag_of("hands"), False), (flag_of("hands", who="A"), flag_of("hands", who="B"), False),
    (flag_of("late_stops"), flag_of("hands"), True)])
def test_what_a_second_look_finds_is_told_where_it_says_more(slow_watch, first, then, again):
    raised(slow_watch, [first, then], 2)
    assert slow_watch.told == [first, then if again else None]
    assert slow_watch.standing == (then if again else first) and slow_watch.raised == [slow_watch.standing]
    assert slow_watch.flagged_for == (0 if again else 1)


def test_each_side_and_kind_has_a_flag_of_its_own_and_all_are_taken_down_together(slow_watch):
    coarser, finer = flag_of(DRIFTING), replace(flag_of(DRIFTING), evidence={"side": FINER})
    raised(slow_watch, [coarser], 1)
    slow_watch.sight = replace(slow_watch.sight, slower=1.0, faster=300.0)
    raised(slow_watch, [finer], 1)
    assert slow_watch.raised == [coarser, finer] and slow_watch.standing == finer
    slow_watch._flagged(a_pull(), STEADY)
    assert slow_watch.standing == finer                             # its evidence is still there
    slow_watch.sight = replace(slow_watch.sight, slower=10.0, faster=10.0, wider=26.1)
    slow_watch._flagged(a_pull(), STEADY)
    assert slow_watch.standing == finer
    slow_watch.sight = replace(slow_watch.sight, wider=25.9)        # 46 is a fifth of 230
    slow_watch._flagged(a_pull(), ODD)
    assert slow_watch.standing == finer                             # an odd pull says nothing
    slow_watch._flagged(a_pull(), STEADY)
    assert (slow_watch.standing, slow_watch.raised, slow_watch.attributed, slow_watch.flagged_for) == (None, [], None, 0)


@pytest.mark.parametrize("sight, pulls, kind", [
    ({"slower": 230.0}, 9, DRIFTING), ({"slower": 229.0}, 9, STEADY), ({"slower": 200.0, "wider": 39.0}, 9, DRIFTING),
    ({"slower": 200.0, "wider": 41.0}, 9, SPREAD),
    ({"odd": 0.5}, 9, ODD), ({"odd": 0.49}, 9, STEADY), ({"centres": ((9.0, 0.95), (0.0, 0.05))}, 2, "began_off"),
    ({"centres": ((9.0, 0.95), (0.0, 0.05))}, 1, STEADY),
    ({"centres": ((-9.0, 0.94), (0.0, 0.06))}, 9, STEADY)])
def test_kinds_of_pulls_begin_at_an_alarm_at_nineteen_in_twenty_and_at_even_odds(sight, pulls, kind):
    watch = a_watch(3)
    plain = {"slower": 0.0, "faster": 0.0, "wider": 0.0, "odd": 0.0, "centres": ((0.0, 1.0),)}
    watch.sight, watch.detector.pulls = replace(watch.sight, **plain | sight), pulls
    assert watch._kind() == kind


@pytest.mark.parametrize("kind, flagged_for, off, settled", [
    (SPREAD, 15, 0.9, True), (SPREAD, 14, 0.9, False), ("hands", 15, 0.9, True), ("late_stops", 15, 0.9, True),
    (DRIFTING, 15, 0.49, True),
    (DRIFTING, 15, 0.51, False), (DRIFTING, 14, 0.1, False), ("began_off", 15, 0.1, False)])
def test_a_flag_that_nobody_need_turn_for_settles_after_fifteen_pulls(kind, flagged_for, off, settled):
    watch = a_watch(3)
    watch.standing, watch.flagged_for = flag_of(kind), flagged_for
    watch.sight = replace(watch.sight, levels=((9.0, off), (0.0, 1 - off)))
    assert watch._settled() is settled
    watch.standing = None
    assert watch._settled() is False


def test_more_evidence_is_asked_for_where_pulls_resemble_each_other():
    watch = a_watch(3)
    assert watch._alarm() == 230.0
    watch.alike.share = 0.4
    assert watch._alarm() == pytest.approx(230.0 * (1 + 10 * 0.4))


def test_a_run_begins_with_a_centre_that_is_not_known_and_people_who_are():
    watch = a_watch(5)
    told(watch, [1.0] * 6, barista="A")
    lean, sd = watch.effects["by A"], watch.effects.sd("by A")
    watch.moved(a_move(12, 13))
    assert (watch.effects["centre"], watch.effects.sd("centre")) == (0.0, pytest.approx(0.3))
    assert watch._lean("A") == (lean, sd) and watch._lean("B") == (0.0, 0.05)
    assert (watch.first, watch.recent, watch.people, watch.standing, watch.raised, watch.flagged_for,
            watch.sight.evidence) == ([], [], [], None, [], 0, 0.0)
    for _ in range(12):
        watch.update(a_pull(setting=13, barista="A"))
    assert len(watch.first) == 8 and len(watch.recent) == 12 and [who for _, who, _ in watch.people] == ["A"] * 12
    own = watch.effects["by A"] - lean                              # a person's pulls, what was known of them taken out
    assert watch.people[-1][0] == pytest.approx(watch.recent[-1] + own, abs=0.01)
