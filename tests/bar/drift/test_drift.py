"""The watch on a grinder: what it flags, what it leaves alone, and what it remembers."""

import json
from dataclasses import replace
from math import isfinite
from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm

from kiosk.bar.drift import BEGAN_OFF, COARSER, DRIFTING, FINER, ODD, SPREAD, STEADY, UNKNOWN, ChangeDetector, Watch
from kiosk.bar.drift import change_detector as detector
from kiosk.bar.drift import watch as rules
from kiosk.bar.drift.verdict import FALSE_ALARM
from kiosk.bar.model import NotchMoved, Pull, usual
from tests.bench import drift as bench

RECIPE = usual("house", "double")


def a_pull(off_s: float = 0.0, setting: int = 12, **changes) -> Pull:
    pull = Pull(id="p", at="2026-01-05T09:00:00+01:00", grinder="left", coffee="house", setting=setting, recipe=RECIPE,
                dose_g=RECIPE.dose_g, yield_g=RECIPE.yield_g, time_s=RECIPE.time_s + off_s)
    return replace(pull, **changes)


def a_move(before: int, after: int, **changes) -> NotchMoved:
    return replace(NotchMoved(id="m", at="2026-01-05T09:00:00+01:00", grinder="left", coffee="house", before=before,
                              after=after), **changes)


def a_watch(calm: int = 0, seed: int = 1) -> Watch:
    watch, rng = Watch("left", "house", words={FINER: "turn left", COARSER: "turn right"}), Random(seed)
    for _ in range(calm):
        watch.update(a_pull(rng.gauss(0, 1.6)))
    return watch


def told(watch: Watch, offs, **changes):
    return [watch.update(a_pull(off, **changes)) for off in offs]


@pytest.mark.parametrize("off_s, direction", [(5.0, COARSER), (-5.0, FINER)])
def test_a_grinder_that_moves_is_flagged_by_name_setting_and_the_way_to_turn(off_s, direction):
    rng = Random(2)
    verdicts = told(a_watch(20), [off_s + rng.gauss(0, 1.6) for _ in range(6)])
    flags = [verdict.flag for verdict in verdicts if verdict.flag]
    assert len(flags) == 1
    flag = flags[0]
    assert (flag.kind, flag.direction, flag.grinder, flag.setting) == (DRIFTING, direction, "left", 12)
    assert "left at 12" in flag.sentence and flag.one_false_in >= 370
    assert flag.evidence["after_s"] * off_s > 0
    assert verdicts[-1].standing == flag and verdicts[-1].kind == DRIFTING


def test_the_chart_leaves_its_limits_exactly_where_the_watch_says_that_the_grinder_moved():
    rng, watch = Random(3), a_watch(20)
    told(watch, [rng.gauss(0, 1.6) for _ in range(40)] + [4 + rng.gauss(0, 1.6) for _ in range(12)])
    points = watch.chart()
    assert {point.kind for point in points} >= {STEADY, DRIFTING}
    for point in points:
        assert (point.kind in (DRIFTING, SPREAD)) == (not point.low < point.value < point.high)


def test_one_odd_pull_however_gross_is_no_drift():
    for off_s in (-15, 15, 60):
        verdict = told(a_watch(20), [off_s])[0]
        assert verdict.kind == ODD and verdict.flag is None


def test_a_run_that_began_off_is_not_called_drift():
    rng, watch = Random(4), a_watch(20)
    watch.moved(a_move(12, 16))
    verdicts = told(watch, [-6 + rng.gauss(0, 1.6) for _ in range(8)], setting=16)
    flags = [verdict.flag for verdict in verdicts if verdict.flag]
    assert [flag.kind for flag in flags] == [BEGAN_OFF] and flags[0].direction == FINER


def test_pulls_that_spread_twice_as_wide_end_up_flagged_with_no_way_to_turn():
    rng, watch = Random(5), a_watch(60)
    last = [verdict.flag for verdict in told(watch, [rng.gauss(0, 3.2) for _ in range(40)]) if verdict.flag][-1]
    assert last.kind == SPREAD and last.direction is None


def test_wrong_doses_raise_flags_without_the_scale_and_hardly_any_with_it():
    def flags(weighed: bool) -> int:
        many = 0
        for seed in range(8):
            rng, watch = Random(seed), a_watch()
            for _ in range(60):
                more_g = rng.choice((-1.2, 0.0, 0.0, 1.2))
                dose_g = RECIPE.dose_g + more_g if weighed else None
                many += watch.update(a_pull(3.0 * more_g + rng.gauss(0, 1.4), dose_g=dose_g)).flag is not None
        return many

    assert flags(weighed=True) <= 4          # 480 pulls: five or more at one in 370 is a chance of 1 in 90 (Poisson)
    assert flags(weighed=False) > flags(weighed=True)


def test_a_notch_moved_or_another_setting_on_a_pull_or_another_recipe_begins_a_new_run():
    watch = a_watch(10)
    watch.moved(a_move(12, 13))
    assert told(watch, [0], setting=13)[0].pulls == 1
    assert told(watch, [0], setting=14)[0].pulls == 1
    assert told(watch, [0], setting=14)[0].pulls == 2
    assert told(watch, [0], setting=14, recipe=replace(RECIPE, time_s=28.0))[0].pulls == 1


def test_a_collar_turned_there_and_back_with_no_pull_between_teaches_nothing_of_a_notch():
    watch = a_watch(10)
    watch.moved(a_move(12, 13))
    watch.moved(a_move(13, 12))
    told(watch, [0.5] * 5)
    watch.moved(a_move(12, 13))
    assert watch.known.worth == a_watch().known.worth


def test_another_grinders_move_is_none_of_this_watchs():
    watch = a_watch(10)
    watch.moved(a_move(12, 13, grinder="right"))
    watch.moved(a_move(12, 13, coffee="guest"))
    assert told(watch, [0])[0].pulls == 11


def test_singles_and_doubles_are_one_run():
    watch, single = a_watch(10), usual("house", "single")
    verdict = watch.update(a_pull(recipe=single, dose_g=single.dose_g, yield_g=single.yield_g))
    assert verdict.pulls == 11 and verdict.kind == STEADY


@pytest.mark.parametrize("changes, counted", [
    ({"sink": "dropped"}, 0), ({"sink": "gushed"}, 1), ({"sink": "choked", "dose_g": None}, 0),
    ({"sink": "gushed", "dose_g": 13.0}, 0), ({"practice": True}, 0), ({"time_s": None}, 0), ({"yield_g": 2.0}, 0)])
def test_only_pulls_that_tell_of_the_grinder_count(changes, counted):
    verdict = a_watch(10).update(a_pull(**changes))
    assert verdict.pulls == 10 + counted
    assert (verdict.kind == UNKNOWN) == (not counted)


def test_a_barista_who_is_always_slower_is_not_the_grinders_drift():
    rng, watch = Random(8), a_watch()
    for n in range(80):
        watch.update(a_pull(rng.gauss(0, 1.4) + (1.5 if n % 2 else -1.5), barista="A" if n % 2 else "B"))
    assert watch.effects["by A"] - watch.effects["by B"] == pytest.approx(3 / 25, abs=0.04)
    verdicts = [watch.update(a_pull(1.5 + rng.gauss(0, 1.4), barista="A")) for _ in range(20)]     # a shift alone
    assert not any(verdict.flag for verdict in verdicts)


def test_what_a_notch_is_worth_is_learned_from_the_moves():
    rng, watch, setting = Random(9), a_watch(), 12
    for _ in range(12):
        told(watch, [rng.gauss(0, 1.4) for _ in range(15)] + [3.6 + rng.gauss(0, 1.4) for _ in range(12)], setting=setting)
        watch.moved(a_move(setting, setting + 1))
        setting += 1
    assert watch.known.worth * 25 == pytest.approx(3.6, abs=0.6)


def test_a_watch_resumed_from_json_goes_on_as_if_it_had_never_stopped():
    rng = Random(10)
    offs = [rng.gauss(0, 1.6) for _ in range(30)] + [3 + rng.gauss(0, 1.6) for _ in range(10)]
    whole, first = a_watch(15), a_watch(15)
    told(first, offs[:20])
    second = a_watch()
    second.restore(json.loads(json.dumps(first.memory())))
    expected, resumed = told(whole, offs)[20:], told(second, offs[20:])
    assert [v.kind for v in resumed] == [v.kind for v in expected]
    assert [v.flag and v.flag.sentence for v in resumed] == [v.flag and v.flag.sentence for v in expected]
    assert [v.value for v in resumed] == pytest.approx([v.value for v in expected], abs=1e-3)
    assert [point.kind for point in second.chart()] == [point.kind for point in whole.chart()]


@pytest.mark.parametrize("memory", [{}, {"version": 99}, {"version": 1}])
def test_a_memory_that_is_not_whole_is_refused_in_words(memory):
    with pytest.raises(ValueError):
        a_watch().restore(memory)


def test_what_a_watch_remembers_does_not_grow_with_the_pulls():
    watch, sizes = a_watch(), []
    for _n in range(3):
        told(watch, [0.1 * (m % 7) for m in range(200)])
        sizes.append(len(json.dumps(watch.memory())))
    assert sizes[2] < 1.1 * sizes[0] < 60_000


def test_a_grinder_left_far_off_for_weeks_stays_flagged_and_its_figures_stay_finite():
    rng, watch = Random(11), a_watch(20)
    verdicts = told(watch, [9 + rng.gauss(0, 1.6) for _ in range(600)])
    assert verdicts[-1].standing is not None and isfinite(verdicts[-1].value)
    assert sum(verdict.flag is not None for verdict in verdicts) == 1


def test_a_grinder_that_moved_to_where_it_should_be_is_watched_from_there():
    rng, watch = Random(12), a_watch()
    told(watch, [-2.0 + rng.gauss(0, 0.9) for _ in range(40)])
    verdicts = told(watch, [0.3 + rng.gauss(0, 0.9) for _ in range(60)])
    assert any(verdict.flag and verdict.flag.kind == DRIFTING for verdict in verdicts)
    assert all(verdict.advice.act == "hold" for verdict in verdicts[10:])
    assert verdicts[-1].standing is None and verdicts[-1].kind == STEADY


maybe = st.none() | st.floats(0.1, 120)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(maybe, maybe, maybe, maybe, st.sampled_from([11, 12]), st.sampled_from([None, "A", "B"]),
                          st.sampled_from([None, "gushed", "dropped"])), max_size=12))
def test_whatever_is_or_is_not_measured_the_verdict_is_a_number_or_unknown(rows):
    watch = a_watch()
    for time_s, dose_g, yield_g, first_s, setting, barista, sink in rows:
        verdict = watch.update(a_pull(time_s=time_s, dose_g=dose_g, yield_g=yield_g, first_drop_s=first_s, setting=setting,
                                      barista=barista, sink=sink))
        assert isfinite(verdict.value) and verdict.low < 0 < verdict.high
        assert sum(fault.probability for fault in verdict.faults) == pytest.approx(1.0 if verdict.faults else 0.0)
        json.dumps(watch.memory())


# -- the statistics --------------------------------------------------------------------------------------------------


def test_the_evidence_is_that_of_the_forward_algorithm_written_out_in_matrices():
    """The hidden states, their chances and scipy's densities, for one centre and spread (Rabiner, Proc. IEEE 77, 1989)."""
    xs, n = [0.3, -1.2, 1.9, 2.2, 1.4, -0.2], len(detector.SIZES)
    move = np.zeros((2 + 2 * n, 2 + 2 * n))       # calm, slower …, faster …, wider; entering is not taken from calm
    move[0, 0] = move[-1, -1] = 1.0
    move[0, -1] = detector.WIDER_WEIGHT
    shifts, spreads = [0.0], [1.0]
    for side in (0, 1):
        for k, size in enumerate(detector.SIZES):
            at = 1 + side * n + k
            move[0, at] = detector.SIZE_WEIGHTS[k] / 2
            move[at, at] = 1.0 if k == n - 1 else 1 - detector.ONWARD
            if k < n - 1:
                move[at, at + 1] = detector.ONWARD
            shifts.append(size if side == 0 else -size)
            spreads.append(1.0)
    shifts, spreads = np.array(shifts + [0.0]), np.array(spreads + [detector.WIDER])
    weights, ours = np.eye(2 + 2 * n)[0], ChangeDetector(((1.0, 0.0, 1e-3),), doubt=1e-9)
    for x in xs:
        density = (1 - detector.ODD) * norm.pdf(x, shifts, spreads) + detector.ODD * detector.ODD_DENSITY
        weights = (weights @ move) * density
        weights /= weights[0]
        sight = ours.update(x)
        assert sight.evidence == pytest.approx(weights[1:].sum(), rel=1e-6)
        assert sight.slower == pytest.approx(weights[1:n + 1].sum(), rel=1e-6)


def test_the_sizes_of_a_move_share_out_one():
    assert sum(detector.SIZE_WEIGHTS) == pytest.approx(1.0)


@pytest.fixture(scope="module")
def seasoned():
    return bench.Bar(seed=21, watches=2)


@pytest.fixture
def seasoned_bar(seasoned):
    """Each test draws for itself, whichever others are run."""
    seasoned.rng = Random(24)
    return seasoned


@pytest.mark.parametrize("share, as_stated", [(1.0, True), (0.5, False)])
def test_a_flag_is_false_as_seldom_as_is_stated_and_would_not_be_at_half_the_evidence(seasoned_bar, monkeypatch, share, as_stated):
    """A slice of the bench: 24 runs of up to 100 calm pulls."""
    monkeypatch.setattr(rules, "ALARM", share * rules.ALARM)
    rng, runs = seasoned_bar.rng, [(0.0, 0.0), (0.0, 0.05), (0.5, 0.0)] * 8
    found = [seasoned_bar.run_to_flag(bench.calm(rng, off, odd, many=100)) for off, odd in sorted(runs)]
    pulls, flags = sum(each or 100 for each in found), sum(each is not None for each in found)
    assert (pulls >= FALSE_ALARM * flags) is as_stated


def test_changes_are_found_about_as_soon_as_by_a_cusum_that_knows_centre_and_spread(seasoned_bar):
    """A slice of the bench: its rows and bars, the pulls of all rows together; h is for one false alarm in 800 pulls."""
    ours = most = 0.0
    for _, after, step, ramp, bar in bench.ROWS:
        streams = [bench.changed(seasoned_bar.rng, after, step, ramp) for _ in range(20)]
        ours += bench.delay(seasoned_bar.run_to_flag, streams, after)
        most += bar * bench.delay(bench.cusum_run(0.5, 5.54), streams, after)
    assert ours <= most
