"""The evening's figures and words, against reference libraries and against days whose truth is known."""

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from random import Random

import numpy
import pytest
import statsmodels.api as sm
from scipy import stats

from kiosk.bar.evening import as_plain, as_text, groups, mean_within, t_quantile
from kiosk.bar.evening.evening import evening
from kiosk.bar.evening.trend import trend
from kiosk.bar.model import Corrected, FlagRaised, GroundsPurged, NotchMoved, OrderEnded, Pull, ScaleChecked, corrected, usual
from kiosk.bar.model.record import Noted, from_json
from tests.bench.evening import said_right
from tests.support.summed import summary

DAY = "2026-10-23"
OPENS = datetime(2026, 10, 23, 7, 0, tzinfo=timezone(timedelta(hours=2)))
DEMO = Path(__file__).parents[3] / "demo_data"


def at(hours, opens=OPENS):
    return (opens + timedelta(hours=hours)).isoformat()


def a_pull(n, hours, time_s=25.0, *, opens=OPENS, **more):
    recipe = usual("House", more.pop("basket", "double"))
    about = {"grinder": "Left", "coffee": "House", "setting": 20, "dose_g": recipe.dose_g, "yield_g": recipe.yield_g,
             "first_drop_s": 4.0, "order_id": "o"}
    return Pull(id=f"p{n}", at=at(hours, opens), recipe=recipe, time_s=time_s, **(about | more))


def a_day(seed, *, pulls=80, hours=10.0, slope=0.0, sd=1.5, level=0.0, **more):
    chance = Random(seed)
    return [a_pull(n, h, 25 + level + slope * h + chance.gauss(0, sd), **more)
            for n, h in enumerate(sorted(chance.uniform(0, hours) for _ in range(pulls)))]


def left(of):
    return next(each for each in of.figures.grinders if each.grinder == "Left")


# the statistics

@pytest.mark.parametrize("freedom", [1, 2, 3, 4, 5, 7, 10, 17, 29, 40, 41, 60, 150, 1000])
def test_students_t_is_scipys(freedom):
    for probability in (0.6, 0.9, 0.95, 0.975, 0.995):
        assert t_quantile(probability, freedom) == pytest.approx(stats.t.ppf(probability, freedom), rel=1e-5)


def test_students_t_refuses_what_it_was_not_made_for():
    for probability, freedom in ((0.3, 5), (1.0, 5), (0.975, 0)):
        with pytest.raises(ValueError):
            t_quantile(probability, freedom)


@pytest.mark.parametrize("seed", range(5))
def test_a_run_s_drift_mean_and_spread_are_scipys(seed):
    pulls = a_day(seed, slope=0.4)
    run = left(summary(pulls, DAY)).runs[0]
    hours = [(datetime.fromisoformat(p.at) - OPENS).total_seconds() / 3600 for p in pulls]
    times = [p.time_s for p in pulls]                     # dose and yield as the recipe's: the even time is the time
    line = stats.linregress(hours, times)
    within = stats.t.ppf(0.975, len(pulls) - 2) * line.stderr
    drift = run.drift
    assert drift.s_per_hour == pytest.approx(line.slope)
    assert (drift.low, drift.high) == pytest.approx((line.slope - within, line.slope + within), rel=1e-4)
    assert drift.robust_s_per_hour == pytest.approx(stats.theilslopes(times, hours).slope)
    assert (run.even_s, run.even_sd_s) == pytest.approx((numpy.mean(times), numpy.std(times, ddof=1)))


def test_the_day_s_drift_with_notches_taken_out_is_the_one_statsmodels_finds():
    chance = Random(3)
    points = [tuple((h, level + 0.5 * h + chance.gauss(0, 1)) for h in sorted(chance.uniform(*span) for _ in range(n)))
              for level, span, n in ((0, (0, 3), 20), (-2, (3, 7), 31), (-4, (7, 10), 12))]
    found = trend(tuple(points))
    design = [[h, *(float(i == j) for j in range(3))] for i, each in enumerate(points) for h, _ in each]
    fit = sm.OLS([y for each in points for _, y in each], design).fit()
    assert found.s_per_hour == pytest.approx(fit.params[0])
    assert (found.low, found.high) == pytest.approx(tuple(fit.conf_int(0.05)[0]), rel=1e-4)


def test_a_mean_s_interval_is_scipys():
    values = [1.2, -0.4, 2.2, 0.9, 1.7]
    middle, within = mean_within(values)
    low, high = stats.t.interval(0.95, 4, loc=numpy.mean(values), scale=stats.sem(values))
    assert (middle - within, middle + within) == pytest.approx((low, high))


def test_a_known_drift_lies_in_its_interval_at_the_stated_rate():
    chance, hits = Random(11), 0
    for seed in range(400):
        slope = chance.uniform(-1, 1)
        drift = left(summary(a_day(seed, pulls=40, slope=slope), DAY)).drift
        hits += drift.low <= slope <= drift.high
    assert 0.90 <= hits / 400 <= 0.98                     # stated: 95 %


def test_three_wild_pulls_do_not_make_a_drift():
    pulls = a_day(4, sd=0.8)
    wild = [a_pull(100 + n, 9.0 + n / 10, 44.0) for n in range(3)]
    drift = left(summary(pulls + wild, DAY)).drift
    assert drift.low > 0 and not drift.sure
    assert abs(drift.robust_s_per_hour) < 0.15


def test_a_thousand_pulls_at_one_setting_keep_a_robust_slope():
    drift = left(summary(a_day(5, pulls=1000, slope=0.5), DAY)).drift
    assert drift.robust_s_per_hour == pytest.approx(0.5, abs=0.1)


# what counts as what

def test_a_notch_begins_a_run_and_a_pull_already_running_stays_in_the_old_one():
    move = NotchMoved(id="m", at=at(1), grinder="Left", coffee="House", before=20, after=19)
    pulls = [a_pull(0, 0.5), a_pull(1, 1.001), a_pull(2, 1.1, setting=19), a_pull(3, 1.2, setting=19)]
    runs = left(summary([*pulls, move], DAY)).runs
    assert [(s.setting, s.pulls) for s in runs] == [(20, ("p0", "p1")), (19, ("p2", "p3"))]


def test_a_notch_there_and_back_begins_a_run_and_so_does_a_new_recipe():
    there = NotchMoved(id="m1", at=at(1), grinder="Left", coffee="House", before=20, after=19)
    back = NotchMoved(id="m2", at=at(1.1), grinder="Left", coffee="House", before=19, after=20)
    longer = replace(a_pull(9, 3), recipe=replace(usual("House", "double"), time_s=30.0))
    runs = left(summary([a_pull(0, 0.5), there, back, a_pull(1, 1.5), longer], DAY)).runs
    assert [s.pulls for s in runs] == [("p0",), ("p1",), ("p9",)]


def test_sink_shots_stay_out_of_the_drift_unless_the_grinder_caused_them():
    pulls = [a_pull(n, n / 4) for n in range(12)]
    slip = a_pull(20, 1.6, 12.0, sink="wrong drink")
    gushed = a_pull(21, 1.7, 12.0, sink="gushed")
    short = a_pull(22, 1.8, 12.0, sink="gushed", dose_g=13.0)
    run = left(summary([*pulls, slip, gushed, short], DAY)).runs[0]
    assert set(run.pulls) - set(run.told) == {"p20", "p22"}
    assert run.served == 12 and run.judged == 12


def test_share_in_window_counts_what_was_served_and_timed():
    pulls = [a_pull(0, 0), a_pull(1, 1, 31.0), a_pull(2, 2, yield_g=70.0), a_pull(3, 3, None),
             a_pull(4, 4, yield_g=None), a_pull(5, 5, 12.0, sink="gushed"), a_pull(6, 6, 25.0, practice=True)]
    totals = as_plain(summary(pulls, DAY))["totals"]
    assert (totals["pulls"], totals["served"], totals["judged"], totals["in_window"]) == (6, 5, 4, 2)


def test_waste_adds_up_and_every_gram_has_its_record():
    records = [
        GroundsPurged(id="g1", at=at(1), grinder="Left", coffee="House", grams=6.2),
        a_pull(1, 2, 12.0, sink="gushed", dose_g=15.8), a_pull(2, 3, sink="spilled", dose_g=None),
        a_pull(3, 4, dose_g=17.1), a_pull(4, 5, dose_g=16.4),
        a_pull(5, 6, dose_g=18.0, practice=True)]
    of = summary(records, DAY)
    assert {each.record_id: round(each.grams, 6) for each in of.figures.waste} == {
        "g1": 6.2, "p1": 15.8, "p2": 16.0, "p3": 0.6}     # over the recipe's 16.5 g, by hand
    assert [each.record_id for each in of.figures.waste if each.assumed] == ["p2"]
    totals = as_plain(of)["totals"]
    assert totals["waste_g"] == pytest.approx(6.2 + 15.8 + 16.0 + 0.6)
    assert totals["purged_g"] + totals["sink_g"] + totals["overdosed_g"] == pytest.approx(totals["waste_g"])
    assert "1 sink shot not weighed" in as_text(of)


def test_every_figure_s_ids_are_records_of_the_day():
    records = [from_json(json.loads(line)) for line in (DEMO / f"{DAY}.jsonl").read_text("utf-8").splitlines()]
    page = as_plain(summary(records, DAY))
    known = {kept.id for kept in records}
    named = [each["record_id"] for each in page["waste"]]
    named += [id for thing in page["to_do"] for id in thing["record_ids"]]
    for grinder in page["grinders"]:
        in_runs = [id for run in grinder["stretches"] for id in run["pulls"]]
        assert len(in_runs) == len(set(in_runs)) == grinder["pulls"]
        named += in_runs + [each["id"] for each in grinder["moves"] + grinder["flags"]]
    assert set(named) <= known
    assert json.loads(json.dumps(page)) == page and page["format"] == 1


def test_a_count_is_of_as_many_records_as_it_names():
    """So that whoever touches a figure finds those pulls, and no others among them."""
    for day in ("2026-10-19", DAY):
        records = [from_json(json.loads(line)) for line in (DEMO / f"{day}.jsonl").read_text("utf-8").splitlines()]
        counts = [row for group in groups(evening(records, day)) for row in group.rows
                  if row.record_ids and row.value is not None and row.form == ".0f" and not row.unit and row.key not in ("start", "practice")]
        assert len(counts) > 30
        assert [row.key for row in counts if len(row.record_ids) not in (row.value, row.of)] == []


# corrections

def test_a_correction_is_followed_and_a_voided_pull_never_happened():
    records = [a_pull(0, 0), a_pull(1, 1), Corrected(id="c1", at=at(2), of="p0", changes={"sink": "spilled"}),
               Corrected(id="c2", at=at(30), of="p1", changes={}, void=True)]
    of = summary(records, DAY)
    assert [(pull.id, pull.sink) for pull in of.figures.pulls] == [("p0", "spilled")]


def test_a_correction_may_be_taken_back_and_nonsense_changes_nothing():
    records = [a_pull(0, 0), Corrected(id="c1", at=at(1), of="p0", changes={}, void=True),
               Corrected(id="c2", at=at(2), of="c1", changes={}, void=True),
               Corrected(id="c3", at=at(3), of="p0", changes={"no such field": 1, "time_s": 26.0}),
               Corrected(id="c4", at=at(4), of="p0", changes={"recipe": 7}),
               Corrected(id="c5", at=at(5), of="nobody", changes={})]
    assert [pull.time_s for pull in corrected(records)] == [26.0]


# things to do tomorrow

def test_a_grinder_left_slow_is_opened_coarser_and_one_left_fast_finer():
    for level, words in ((3.5, "Start Left one notch coarser, at 21"), (-3.5, "Start Left one notch finer, at 19")):
        first = summary(a_day(1, level=level), DAY).to_do[0]
        assert first.what.startswith(words) and len(first.record_ids) == 12


def test_a_quiet_day_asks_for_nothing_in_nearly_all_cases():
    asked = [summary(a_day(seed, sd=1.2, dose_g=16.0), DAY).to_do for seed in range(200)]
    assert sum(bool(things) for things in asked) <= 10    # 5 %


def test_short_doses_are_named_with_their_hour_and_the_grinder_is_left_alone():
    pulls = a_day(2, sd=1.0)
    for n in range(10):
        pulls.append(a_pull(100 + n, 5 + n / 10, 20.0, dose_g=14.0))
    things = summary(pulls, DAY).to_do
    assert [thing.what for thing in things] == ["Weigh each dose and put it right before tamping."]
    assert "most of them short" in things[0].because and "from 12:00 to 12:54" in things[0].because
    assert set(things[0].record_ids) == {f"p{n}" for n in range(100, 110)}


def test_a_scale_that_lied_and_doses_that_nobody_weighed_are_told():
    checked = ScaleChecked(id="s", at=at(0), nominal_g=100.0, read_g=98.6, resolution_g=0.1)
    pulls = [a_pull(n, n / 4, dose_g=None if 10 <= n < 18 else 16.0) for n in range(40)]
    things = summary([*pulls, checked], DAY).to_do
    assert [thing.record_ids for thing in things] == [("s",), tuple(f"p{n}" for n in range(10, 18))]
    assert "98.6 g" in things[0].because and "all of them from 09:30 to 11:15" in things[1].because


def test_a_notch_without_a_purge_is_told_and_one_with_it_is_not():
    moves = [NotchMoved(id=f"m{n}", at=at(n), grinder="Left", coffee="House", before=20, after=21) for n in (2, 4)]
    purge = GroundsPurged(id="g", at=at(2.01), grinder="Left", coffee="House", grams=6.0)
    things = summary([*a_day(7, sd=0.5), *moves, purge], DAY).to_do
    assert [thing.record_ids for thing in things if "old grounds" in thing.what] == [("m4",)]


def test_uneven_hands_skipped_purges_and_sink_shots_come_after_what_hurts_more():
    chance = Random(5)
    pulls = [a_pull(n, n / 8, 25 + chance.gauss(0, 3.5), purged=n % 5 > 0, sink="gushed" if n % 16 == 3 else None)
             for n in range(80)]
    whats = [thing.what for thing in summary(pulls, DAY).to_do]
    assert whats == ["Tamp level, same pressure: show each other how.", "Purge the group before every pull.",
                     "Look through the sink shots together."]


def test_on_simulated_days_with_one_cause_it_is_the_first_thing_said_nine_times_in_ten():
    def short(seed):
        chance = Random(seed)
        return [a_pull(n, n / 8, 25 + chance.gauss(0, 1.2), dose_g=16.0 if n % 4 else 14.2) for n in range(80)]

    causes = {"Start Left one notch coarser": lambda seed: a_day(seed, sd=1.2, level=3.0),
              "Start Left one notch finer": lambda seed: a_day(seed, sd=1.2, level=-3.0),
              "Weigh each dose": short,
              "Tamp level, same pressure": lambda seed: a_day(seed, sd=3.5)}
    right = [summary(day(seed), DAY).to_do[:1] for day in causes.values() for seed in range(50)]
    expected = [words for words in causes for _ in range(50)]
    hits = sum(bool(first) and first[0].what.startswith(words) for first, words in zip(right, expected))
    assert hits / len(expected) >= 0.9


@pytest.mark.parametrize("law, cause", [("darcy", "coarse"), ("dissolving", "fine"), ("dissolving", "dose"),
                                        ("fines", "tamp"), ("fines", "quiet")])
def test_on_a_day_that_the_practice_bar_plays_the_first_thing_said_is_what_was_wrong(law, cause):
    assert said_right(law, 2, cause)                      # all of them: python -m tests.bench.evening


# words

def test_an_empty_day_reads_sensibly():
    of = summary([], DAY)
    assert of.sentence == "No pulls on Friday 23 October 2026." and of.to_do == ()
    assert as_text(of, "The Tin Lantern").splitlines()[0] == "The Tin Lantern, Friday 23 October 2026"
    assert as_plain(of)["totals"]["share_in_window"] is None


def test_one_pull_reads_sensibly():
    assert summary([a_pull(0, 1)], DAY).sentence == "One pull, in its window."
    assert summary([a_pull(0, 1, 33.0)], DAY).sentence == "One pull, outside its window."
    assert summary([a_pull(0, 1, None)], DAY).sentence == "One pull, not timed."
    assert "Not measured: 1 time, of 1 pull." in as_text(summary([a_pull(0, 1, None)], DAY))
    assert summary([a_pull(0, 1, sink="spilled")], DAY).sentence.startswith("One pull, into the sink; 16 g lost")
    for currency, cost in (("€", "(0.40 €)"), ("", "(0.40)")):
        assert f"16 g {cost} lost" in summary([a_pull(0, 1, sink="spilled")], DAY, price_per_kg=25.0, currency=currency).sentence
    text = as_text(summary([a_pull(0, 1)], DAY))
    assert "Left, House: 1 pull, 1 of 1 in their window" in text


def test_all_are_in_their_window_only_where_it_is_known_of_all():
    served = [a_pull(n, n / 8) for n in range(20)]
    sunk, blind = a_pull(30, 5, sink="spilled"), [a_pull(40 + n, n / 8, None) for n in range(30)]
    assert summary([*served, sunk], DAY).sentence.startswith("21 pulls, all 20 served in their window")
    assert summary([*served, blind[0]], DAY).sentence.startswith("21 pulls, 20 timed, 20 in window")
    assert summary([*served, a_pull(50, 6, 40.0), *blind], DAY).sentence.startswith("51 pulls, 21 timed, 20 in window")
    assert summary([*served, a_pull(50, 6, 40.0), *blind[:9]], DAY).sentence.startswith("30 pulls, 95 % in window")


def test_a_day_with_no_doses_at_all_reads_sensibly():
    of = summary([a_pull(n, n / 8, dose_g=None, yield_g=None) for n in range(40)], DAY)
    assert of.sentence.startswith("40 pulls, all in their window")
    assert not any("Weigh the doses" in thing.what for thing in of.to_do)       # a bar without a scale knows that it has none
    assert "Not measured: 40 doses, 40 yields, of 40 pulls." in as_text(of)


def test_the_sentence_names_the_grinder_that_drifted_and_how_far():
    pulls = a_day(6, slope=0.8, sd=0.3) + [
        a_pull(200 + n, n / 4, 25 + (-1) ** n, grinder="Right", coffee="Guest") for n in range(30)]
    moves = [NotchMoved(id=f"m{n}", at=at(11 + n), grinder="Left", coffee="House", before=20 + n, after=21 + n)
             for n in range(2)]
    said = summary(pulls + moves, DAY).sentence
    assert "Left drifted slower from 07:" in said and "worst +" in said and "s, now " in said and "Right" not in said


def test_a_day_across_a_clock_change_neither_loses_nor_doubles_an_hour():
    summer, winter = timezone(timedelta(hours=2)), timezone(timedelta(hours=1))
    begins = datetime(2026, 10, 25, 0, 0, tzinfo=UTC)
    moments = [begins + timedelta(minutes=6 * n) for n in range(21)]                # 02:00 +02:00 to 03:00 +01:00
    pulls = [Pull(id=f"p{n}", at=when.astimezone(summer if n < 10 else winter).isoformat(), grinder="Left",
                  coffee="House", setting=20, recipe=usual("House", "double"), dose_g=16.0, yield_g=50.4,
                  first_drop_s=4.0, time_s=24.0 + n / 10) for n, when in enumerate(moments)]
    of = summary(pulls, "2026-10-24")
    assert len(of.figures.pulls) == 21
    assert left(of).drift.hours == pytest.approx(2.0) and left(of).drift.s_per_hour == pytest.approx(1.0)
    assert "The clocks changed" in as_text(of) and "The clocks changed" not in as_text(summary(a_day(1), DAY))
    notes = [Noted(id=f"n{n}", at=f"2026-10-25T{at}", what="cleaned", facts={}) for n, at in enumerate(("02:40+02:00", "02:10+01:00"))]
    rows = {(group.kind, row.key): row for group in groups(evening([*pulls, *notes], "2026-10-24")) for row in group.rows}
    assert rows["service", "busiest"].name == "Busiest hour, 02 (+02:00): pulls"
    noted = [row.name for group in groups(evening([*pulls, *notes], "2026-10-24")) if group.kind == "notes" for row in group.rows]
    assert noted == ["02:40 cleaned", "02:10 cleaned"]


def test_a_span_of_days_keeps_each_day_s_runs_apart():
    days = [[a_pull(f"{d}-{n}", 24 * d + n / 4) for n in range(10)] for d in range(3)]
    of = summary([pull for day in days for pull in day], DAY, "2026-10-24")
    assert len(of.figures.pulls) == 20
    assert [(s.day, len(s.pulls)) for s in left(of).runs] == [(DAY, 10), ("2026-10-24", 10)]
    assert as_text(of).startswith("Friday 23 October 2026 to Saturday 24 October 2026\n")


def test_an_evening_that_goes_on_past_midnight_is_one_day_in_every_sentence():
    evenings = [[a_pull(f"{d}-{n}", 24 * d + 14 + n / 10, dose_g=14.0 if 25 <= n < 35 and d else 16.0) for n in range(40)] for d in range(2)]
    flags = [FlagRaised(id=f"f{d}{hours}", at=at(24 * d + hours), grinder="Left", coffee="House", setting=20, what="drifting",
                        direction="coarser", sentence="…", evidence={}) for d in range(2) for hours in (16, 17.5)]
    records = [record for day in evenings for record in day] + flags
    two, one = summary(records, DAY, "2026-10-24"), summary(records, "2026-10-24")
    assert "Left drifted on 2 of 2 days" in two.sentence
    assert "all of them from 23:30 to 00:24." in one.to_do[0].because
    assert "all of them from 23:30 to 00:24." in two.to_do[0].because


def test_records_may_come_in_any_order():
    records = [*a_day(8, slope=0.3), NotchMoved(id="m", at=at(5), grinder="Left", coffee="House", before=20, after=20),
               GroundsPurged(id="g", at=at(5), grinder="Left", coffee="House", grams=6.0),
               OrderEnded(id="e", at=at(1), order_id="o", how="served"),
               OrderEnded(id="f", at=at(2), order_id="x", how="cancelled")]
    shuffled = records[:]
    Random(1).shuffle(shuffled)
    assert as_text(summary(shuffled, DAY)) == as_text(summary(records, DAY))
    assert "Orders: 1 served, 1 cancelled." in as_text(summary(records, DAY))


def test_flags_and_moves_stand_in_the_text_with_their_minute():
    flag = FlagRaised(id="f", at=at(2.5), grinder="Left", coffee="House", setting=20, what="drifting",
                      direction="coarser", sentence="Left at 20 has moved.", evidence={})
    move = NotchMoved(id="m", at=at(2.75), grinder="Left", coffee="House", before=20, after=21, flag_id="f")
    text = as_text(summary([*a_day(9), flag, move], DAY))
    assert "  09:30  flag: Left at 20 has moved." in text and "  09:45  grind setting changed 20 to 21" in text


def test_the_bad_afternoon_of_the_demo_is_told_as_short_doses_and_its_figures_are_right():
    lines = [json.loads(line) for line in (DEMO / f"{DAY}.jsonl").read_text("utf-8").splitlines()]
    of = summary([from_json(line) for line in lines], DAY)
    assert of.to_do[0].what == "Weigh each dose and put it right before tamping." and "from 12:" in of.to_do[0].because
    served = [line for line in lines if line["kind"] == "Pull" and line["sink"] is None]
    good = [line for line in served if abs(line["time_s"] - line["recipe"]["time_s"]) <= 5
            and abs(line["yield_g"] - 0.84 * line["recipe"]["amount"]) <= 0.84 * line["recipe"]["amount_within"]]
    assert (of.figures.served, of.figures.in_window) == (len(served), len(good))
    assert of.figures.waste_g("purge") == pytest.approx(sum(line.get("grams", 0) for line in lines))
    assert of.figures.orders_served == sum(line.get("how") == "served" for line in lines)
