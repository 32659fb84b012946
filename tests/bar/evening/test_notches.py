"""Where the collar is turned: what a notch is worth, where to open tomorrow, what the hands did and what the grinder
did."""

from dataclasses import replace
from datetime import datetime, timedelta, timezone
from random import Random
from statistics import fmean

import pytest

from kiosk.bar.drift import UNKNOWN, Watch, adjusted_time_s
from kiosk.bar.evening import groups, moment
from kiosk.bar.evening.evening import evening
from kiosk.bar.evening.figures import figures
from kiosk.bar.model import NotchMoved, Pull, usual
from kiosk.bar.model.service_day import service_day
from tests.bench.bars import Bars
from tests.bench.notches import a_day, fortnight, over_the_weeks, words
from tests.support.evening_again import setting_runs

DAY = "2026-10-23"
OPENS = datetime(2026, 10, 23, 7, 0, tzinfo=timezone(timedelta(hours=2)))
RECIPE = usual("House", "double")


def a_pull(n, hours, time_s, **more):
    return Pull(**{"id": f"p{n}", "at": (OPENS + timedelta(hours=hours)).isoformat(), "grinder": "Left",
                   "coffee": "House",
                   "setting": 20, "recipe": RECIPE, "time_s": time_s, "dose_g": RECIPE.dose_g,
                   "yield_g": RECIPE.yield_g, "first_drop_s": 4.0, "order_id": "o", **more})


def a_turn(hours, before, after):
    at = (OPENS + timedelta(hours=hours)).isoformat()
    return NotchMoved(id=f"m{at}", at=at, grinder="Left", coffee="House", before=before, after=after)


def a_course(seed, off_s, pulls=80, **more):
    """A day of ten hours; `off_s` gives the true seconds off the recipe at an hour."""
    chance = Random(seed)
    return [a_pull(n, n / 8, RECIPE.time_s + off_s(n / 8) + chance.gauss(0, 1.5), **more) for n in range(pulls)]


def left(records):
    return next(each for each in evening(records, DAY).grinders if each.figures.grinder == "Left")


@pytest.mark.parametrize("off_s, setting", [(3.5, 21), (-3.5, 19), (0.5, 20)])
def test_a_grinder_that_was_off_all_day_is_opened_one_notch_on(off_s, setting):
    for seed in range(10):
        assert left(a_course(seed, lambda hour: off_s)).start.setting == setting


def test_never_more_than_one_notch_however_far_it_was_off():
    assert left(a_course(1, lambda hour: 12.0)).start.setting == 21


def test_a_grinder_that_moved_only_towards_the_evening_is_opened_where_the_morning_was_right():
    for seed in range(10):
        begin = left(a_course(seed, lambda hour: 3.5 if hour > 6 else 0.0)).start
        assert begin.setting == 20 and "judge the first two" in begin.why


def test_after_a_day_of_following_the_collar_goes_back_towards_the_morning():
    day = a_course(2, lambda hour: 0.0, pulls=40)
    day.append(a_turn(5, 20, 23))
    day += [a_pull(100 + n, 5.1 + n / 8, RECIPE.time_s, setting=23) for n in range(30)]
    assert left(day).start.setting == 22


def test_too_few_pulls_say_nothing():
    begin = left([a_pull(1, 0.1, 40.0), a_pull(2, 0.2, 40.0)]).start
    assert begin.setting == 20 and "too few" in begin.why


def test_a_notch_that_was_never_moved_is_worth_nothing_known():
    each = left(a_course(1, lambda hour: 0.3 * hour))
    assert each.worth is None and each.moving is None


def test_on_a_slice_of_the_invented_days_words_and_intervals_agree_with_what_happened():
    bars = Bars("A slice")
    words(bars, 40)
    over_the_weeks(bars, fortnight(bars))
    assert bars.end() == 0


def test_what_a_move_did_is_in_its_interval_nine_times_in_ten():
    held = []
    for seed in range(60):
        each, = evening(a_day(seed, (), 0.6, 2.4)[0], DAY).grinders
        held.append(each.worth is not None and each.worth.low <= 2.4 <= each.worth.high)
    assert sum(held) / len(held) >= 0.9


def test_a_spread_of_times_is_put_down_to_the_hands_and_not_to_the_grinder():
    chance = Random(4)
    day = []
    for n in range(120):
        who, sd_s = (("Ada", 1.0), ("Ben", 2.5))[n % 2]
        turned = 20 if n < 60 else 22       # both work at a grinder that drifts by 6 s and is turned by two notches
        day.append(a_pull(n, n / 12, RECIPE.time_s + 0.6 * n / 12 - 2.0 * (turned - 20) + chance.gauss(0, sd_s),
                          barista=who, setting=turned, dose_g=round(RECIPE.dose_g, 1)))
    ada, ben = evening(day, DAY).people
    assert ada.time_sd_s == pytest.approx(1.0, abs=0.25)
    assert ben.time_sd_s == pytest.approx(2.5, abs=0.5)
    assert (ada.name, ben.name) == ("Ada", "Ben")       # by name, whoever is quicker


def test_people_are_in_the_order_of_their_names_whatever_they_did():
    day = [a_pull(n, n / 8, 25.0, barista=name, skipped=("purge",) if name == "Ada" else ()) for n, name in
           enumerate(("Zoe", "Ada", "Mia") * 6)]
    found = evening(day, DAY).people
    assert [each.name for each in found] == ["Ada", "Mia", "Zoe"]
    assert (found[0].skipped, found[1].skipped) == ((("purge", 6),), ())


def test_a_grinder_has_its_window_its_levels_limits_and_marks_in_the_chart():
    day = [*a_course(3, lambda hour: 0.0, pulls=40),
           NotchMoved(id="m", at=(OPENS + timedelta(hours=4.95)).isoformat(), grinder="Left", coffee="House", before=20,
                      after=21)]
    chart = left(day).chart
    assert chart.within_s == RECIPE.time_within_s and len(chart.points) == 40
    level, = chart.levels
    assert level.low_s < -3 * 1.0 and level.high_s > 3 * 1.0 and abs(level.off_s) < 1
    assert [(mark.kind, mark.words) for mark in chart.marks] == [("notch", "20 to 21")]


def test_the_level_climbs_where_the_run_does_and_stops_where_the_bar_was_closed():
    climbing, = left(a_course(3, lambda hour: 0.8 * hour, pulls=60)).chart.levels
    assert climbing.off_s < 1 and climbing.off_s + climbing.climbs_s > 3
    assert climbing.climbs_s == pytest.approx(0.8 * 59 / 8, rel=0.2)
    assert climbing.high_s - climbing.off_s < 5                     # the limits lie about the climb, not about its mean
    lunch = [pull for pull in a_course(3, lambda hour: 0.0, pulls=60) if not OPENS + timedelta(hours=2) <= moment(pull.at) <= OPENS
             + timedelta(hours=5)]
    before, after = left(lunch).chart.levels
    assert moment(before.until) < OPENS + timedelta(hours=2) and moment(after.since) > OPENS + timedelta(hours=5)
    assert before.climbs_s == after.climbs_s == 0 and before.off_s == after.off_s


def test_who_would_gain_most_from_the_practice_bar_is_told_with_the_fault_and_nobody_where_all_do_alike():
    def team(early=(), short=(), seed=1):
        chance = Random(seed)
        day = []
        for n in range(120):
            who = ("Ada", "Ben", "Cleo")[n % 3]
            day.append(a_pull(n, n / 12, 25 + chance.gauss(0, 1.5), barista=who, purged=True,
                              first_drop_s=1.5 if who in early and n % 4 == 0 else 4.0,
                              dose_g=14.5 if who in short and n % 4 == 1 else 16.0))
        return day

    def said(day, **more):
        return [row.text for group in groups(evening(day, DAY, **more)) for row in group.rows if row.key == "practice"]

    row, = (row for group in groups(evening(team(early=("Ben",)), DAY)) for row in group.rows if row.key == "practice")
    assert row.name == "The practice bar would help Ben most, with an even tamp"
    assert (row.value, row.of, len(row.record_ids)) == (10, 40, 10) and row.text.startswith("10 of 40 (25 %); 0 % among the others")
    row, = (row for group in groups(evening(team(short=("Cleo",)), DAY)) for row in group.rows if row.key == "practice")
    assert "Cleo most, with weighing each dose" in row.name
    assert said(team()) == [] == said(team(early=("Ada", "Ben", "Cleo")))
    assert said(team(early=("Ben",)), show_people=False) == []


def turned_day(seed):
    """A day of six turns of the collar with two groups at work: up to two pulls of the old setting come after it, behind up to
    two of the new one. (records in order, ids of the pulls that were on their way)."""
    chance, setting, records, late, hours = Random(seed), 20, [], set(), 0.0

    def pulled(at):
        nonlocal hours
        hours += 0.02
        records.append(a_pull(len(records), hours, RECIPE.time_s - 3.6 * (at - 20) + chance.gauss(0, 1.0), setting=at))
        return records[-1].id

    for _turn in range(6):
        for _n in range(chance.randint(6, 14)):
            pulled(setting)
        before, setting, hours = setting, setting + chance.choice((-1, 1)), hours + 0.01
        records.append(a_turn(hours, before, setting))
        coming = [before] * chance.randint(0, 2) + [setting] * chance.randint(0, 2)
        chance.shuffle(coming)
        late |= {id for at in coming for id in (pulled(at),) if at == before}
    for _n in range(6):
        pulled(setting)
    return records, late


def test_a_pull_on_its_way_at_a_turn_belongs_to_the_run_before_in_the_evening_and_in_the_watch_alike():
    """Held against `evening_again`, which cuts the runs by its own rule: the last turn that left the collar where a pull was."""
    worths = []
    for seed in range(10):
        records, late = turned_day(seed)
        pulls, moves = ([each for each in records if isinstance(each, kind)] for kind in (Pull, NotchMoved))
        own = [{"id": each.id, "day": DAY, "when": moment(each.at), "setting": each.setting} for each in pulls]
        turns = [{"when": moment(each.at), "before": each.before, "after": each.after} for each in moves]
        of = left(records)
        assert [list(run.pulls) for run in of.figures.runs] == [[each["id"] for each in run] for run in setting_runs(own, turns)]
        watch = Watch("Left", "House")
        told = [(each.id, watch.update(each).kind) for each in records if isinstance(each, Pull) or watch.moved(each)]
        assert {id for id, kind in told if kind == UNKNOWN} == late
        worths.append(of.worth.value)
    assert fmean(worths) == pytest.approx(3.6, rel=0.05)


STRONGER = replace(RECIPE, dose_g=18.0)


@pytest.mark.parametrize("between, hours, late", [
    ([], 1.2, True), ([], 25.0, False), ([(19, STRONGER)], 1.2, False), ([(18, RECIPE)], 1.2, False)])
def test_no_pull_is_on_its_way_over_a_night_another_recipe_or_a_turn_that_nobody_told(between, hours, late):
    """In the evening and in the watch alike."""
    before = [a_pull(n, 0.1 * n, 25.0, setting=20) for n in range(6)]
    then = [a_pull(7 + n, 1.05 + 0.05 * n, 25.0, setting=at, recipe=recipe) for n, (at, recipe) in enumerate([(19, RECIPE), *between])]
    last, turn = a_pull(20, hours, 25.0, setting=20), a_turn(1.0, 20, 19)
    watch = Watch("Left", "House")
    kinds = [watch.update(each).kind for each in (*before, turn, *then, last) if each is not turn or watch.moved(turn)]
    assert (kinds[-1] == UNKNOWN) is late
    runs = figures((*before, turn, *then, last), service_day, DAY, DAY, adjusted_time_s).grinders[0].runs
    assert (last.id in runs[0].pulls) is late


def test_a_long_run_after_a_turn_is_added_up_in_one_go():
    pulls, asked = [a_pull(n, 0.01 * n, 25.0, setting=20 if n < 5 else 19) for n in range(400)], []
    figures((*pulls, a_turn(0.045, 20, 19)), lambda _at: DAY, DAY, DAY, lambda pull: asked.append(pull.id) or 25.0,
            slope=lambda _points: None)
    assert len(asked) <= 4 * len(pulls)
