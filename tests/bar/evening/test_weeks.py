"""The weeks: against statsmodels, and against invented months whose truth is known."""

from dataclasses import dataclass, replace
from datetime import date, timedelta
from random import Random

import numpy
import pytest
import statsmodels.api as sm
from statsmodels.stats.proportion import confint_proportions_2indep

from kiosk.bar.evening import DayRun, RoomReading, Turns, Week, behind, of_week, share_change, slope, week_groups
from kiosk.bar.evening.evening import evening
from kiosk.bar.evening.week_rows import WEEKS
from kiosk.bar.evening.weeks import notch_worth_of, weeks
from kiosk.bar.model import NotchMoved, Noted
from kiosk.book import Book
from kiosk.commands.report import Demo
from tests.support.bar_of_the_book import WallClock, pulled

FIRST = date(2026, 3, 2)        # a Monday
WORTH_S, SD_S = 2.4, 2.0


@dataclass
class GrinderDay:
    grinder: str = "Left"
    coffee: str = "House"
    dosed_g: float = 3000.0
    purged_g: float = 30.0
    sunk_g: float = 0.0
    overdosed_g: float = 0.0
    pulls: int = 100
    undosed: int = 0
    timed: int = 95
    in_window: int = 85
    first_setting: int | None = None
    last_setting: int | None = None
    notch_moves: int = 1
    flags: int = 1
    drifting: int = 1
    runs: tuple = ()
    readings: tuple = ()
    turns: Turns | None = None


@dataclass
class Day:
    """What the book's sums of a day are to the weeks."""

    day: str
    grinders: tuple
    new_burrs: tuple = ()
    checks: tuple = ()
    pulls: int = 200
    timed: int = 190
    in_window: int = 170
    wasted_g: float = 90.0
    purged_g: float = 30.0
    sunk_g: float = 60.0
    overdosed_g: float = 0.0
    tasted_g: float = 120.0
    bags: tuple = ()
    flags: int = 1
    notch_moves: int = 1
    orders_served: int = 120


def spell(chance, right, setting, pulls=100):
    """A setting run at `setting` where `right` would have been right."""
    return DayRun(setting=setting, pulls=pulls, off_s=WORTH_S * (right - setting) + chance.gauss(0, SD_S / pulls ** 0.5))


def a_turn(chance, curved_s, beside=12):
    """What the day's one notch seemed to do, from a dozen pulls on each side; `curved_s` is what a drift that is no
    straight line adds, the same way every day."""
    sd_s = SD_S * (2 / beside) ** 0.5
    return Turns(moves=1, worth_s=WORTH_S + curved_s + chance.gauss(0, sd_s), sd_s=sd_s)


def month(seed, days=40, per_kg=0.0, alike=0.5, day_sd=0.4, per_percent=0.05, new_burrs_on=None):
    """Days whose right setting wanders as beans do, moves with the kilograms, and with the room within the day."""
    chance, found, wander, kg = Random(seed), [], 0.0, 0.0
    curved_s = Random(-1 - seed).gauss(0, 0.2)
    for n in range(days):
        wander = alike * wander + chance.gauss(0, day_sd * (1 - alike ** 2) ** 0.5)
        if n == new_burrs_on:
            kg = 0.0
        kg += 3.03
        right = 20.0 + wander + per_kg * kg
        setting = round(right)
        runs = (spell(chance, right, setting + 1, 40), spell(chance, right, setting, 100))
        readings = []
        for hour in (8.0, 13.0, 19.0):
            temperature, humidity = chance.gauss(21, 1.5), chance.gauss(50, 8)
            wanted = right + per_percent * (humidity - 50)
            readings.append(RoomReading(temperature_c=temperature, humidity_percent=humidity, pulls=20, setting=setting, hour=hour,
                                    off_s=WORTH_S * (wanted - setting) + chance.gauss(0, SD_S / 20 ** 0.5)))
        found.append(Day((FIRST + timedelta(n)).isoformat(),
                         (GrinderDay(runs=runs, readings=tuple(readings), turns=a_turn(chance, curved_s)),),
                         new_burrs=("Left",) if n == new_burrs_on else ()))
    return found


def left(days):
    return weeks(days).grinders[0]


def test_a_notch_s_worth_is_found_from_the_moves():
    worths = [left(month(seed)).worth for seed in range(60)]
    assert numpy.mean([w.value for w in worths]) == pytest.approx(WORTH_S, abs=0.05)
    assert numpy.mean([w.low <= WORTH_S <= w.high for w in worths]) >= 0.9


@pytest.mark.parametrize("worth_s, told", [(WORTH_S, "from 40 moves"), (-3.0, "not known: its moves do not agree")])
def test_moves_that_do_not_agree_give_a_notch_no_worth(worth_s, told):
    """A finer notch never makes a pull faster, and no figure lies beside its own interval."""
    days = [replace(day, grinders=(replace(day.grinders[0], turns=Turns(moves=1, worth_s=worth_s, sd_s=0.8)),)) for day in month(1)]
    row, = (row for group in week_groups(weeks(days)) for row in group.rows if row.key == "worth")
    assert row.words == told and (row.value is None) is (worth_s < 0)
    assert row.value is None or row.low <= row.value <= row.high


def test_the_suiting_setting_is_within_a_fifth_of_a_notch_on_nine_days_in_ten():
    misses = []
    for seed in range(10):
        chance_free = month(seed, per_percent=0.0, day_sd=0.0)
        misses += [abs(each.setting - 20.0) for each in left(chance_free).suits]
    assert numpy.quantile(misses, 0.9) <= 0.2


def test_the_slope_is_statsmodels_and_days_that_are_alike_widen_its_interval():
    chance = Random(3)
    x = [float(n) for n in range(30)]
    level, y = 0.0, []
    for n in x:
        level = 0.7 * level + chance.gauss(0, 1)
        y.append(0.1 * n + level)
    found = slope(list(zip(x, y)))
    fit = sm.OLS(y, sm.add_constant(x)).fit()
    assert found.value == pytest.approx(fit.params[1])
    low, high = fit.conf_int()[1]
    assert found.low < low and found.high > high
    robust = fit.get_robustcov_results("HAC", maxlags=3)        # Newey and West, Econometrica 55, 1987
    assert found.high - found.low > 2 * 1.96 * robust.bse[1]


def test_wear_is_not_seen_where_there_is_none_and_is_seen_where_it_is():
    """Days as alike as in a bar (beans last several days): no more false alarms than the interval's 2.5 % a side
    allows."""
    quiet = [left(month(seed)) for seed in range(200)]
    assert sum(each.looks_like_wear for each in quiet) / len(quiet) <= 0.05
    covered = [each.wear.low <= 0 <= each.wear.high for each in quiet]
    assert 0.9 <= numpy.mean(covered) <= 0.99
    worn = [left(month(seed, days=90, per_kg=-0.012)) for seed in range(60)]
    assert sum(each.looks_like_wear for each in worn) / len(worn) >= 0.8


def test_new_burrs_begin_the_kilograms_anew():
    found = left(month(1, new_burrs_on=25))
    assert found.changed_on == (FIRST + timedelta(25)).isoformat()
    assert found.ground_kg == pytest.approx(15 * 3.03)
    assert len(found.suits) == 15


def test_the_room_s_effect_is_what_statsmodels_finds_with_a_level_for_each_day():
    days = month(5)
    found = left(days)
    worth = found.worth

    def fitted(worth_s):
        rows = [(n, r.temperature_c, r.humidity_percent, r.hour, r.setting + r.off_s / worth_s)
                for n, day in enumerate(days) for r in day.grinders[0].readings]
        design = [[t, h, hour, *(float(n == k) for k in range(len(days)))] for n, t, h, hour, _ in rows]
        return sm.OLS([y for *_, y in rows], numpy.array(design)).fit()

    fit, nudged = fitted(worth.value), fitted(worth.value * 1.0001)
    for n, effect in enumerate(found.room):
        low, high = fit.conf_int()[n]
        by_worth = (nudged.params[n] - fit.params[n]) / (0.0001 * worth.value) * (worth.high - worth.low) / 2
        reach = ((high - low) ** 2 / 4 + by_worth ** 2) ** 0.5
        assert effect.within.value == pytest.approx(fit.params[n])
        assert (effect.within.low, effect.within.high) == pytest.approx((fit.params[n] - reach, fit.params[n] + reach),
                                                                        rel=1e-3)


def test_the_room_s_interval_covers_the_truth_at_its_rate():
    found = [left(month(seed)).room for seed in range(200)]
    humidity = [effects[1].within for effects in found]
    assert 0.9 <= numpy.mean([w.low <= 0.05 <= w.high for w in humidity]) <= 0.99
    temperature = [effects[0].within for effects in found]
    assert 0.9 <= numpy.mean([w.low <= 0 <= w.high for w in temperature]) <= 0.99


def test_too_few_readings_say_nothing():
    assert left(month(2, days=3)).room == () and left(month(2, days=3)).wear is None


def test_this_week_against_last_is_agresti_and_caffo_s_interval():
    def week(in_window, timed):
        return Week(name="2026-W10", days=7, pulls=timed, timed=timed, in_window=in_window, orders=0, wasted_g=0, purged_g=0,
                    sunk_g=0, overdosed_g=0, tasted_g=0, flags=0, notch_moves=0)

    for before, after in (((170, 190), (181, 190)), ((3, 5), (9, 9)), ((0, 12), (1, 40))):
        found = share_change(week(*before), week(*after))
        low, high = confint_proportions_2indep(*after, *before, method="agresti-caffo")
        assert (found.low, found.high) == pytest.approx((100 * low, 100 * high))
    assert share_change(week(0, 0), week(1, 2)) is None


def test_weeks_run_from_monday_to_sunday_and_add_up():
    found = weeks(month(1, days=17))
    assert [(week.name, week.days) for week in found.weeks] == [("2026-W10", 7), ("2026-W11", 7), ("2026-W12", 3)]
    assert sum(week.pulls for week in found.weeks) == 17 * 200
    assert weeks([]) is None


def test_a_day_off_on_which_a_setting_was_put_right_is_no_day_of_service():
    nothing = dict.fromkeys(("pulls", "timed", "in_window", "wasted_g", "purged_g", "sunk_g", "tasted_g", "flags", "notch_moves",
                             "orders_served"), 0)
    served = month(1, days=13)                              # from a Monday to the Saturday after the next
    off = [Day((FIRST + timedelta(n)).isoformat(), (), new_burrs=("Left",) if n == 13 else (), **nothing) for n in (13, 14)]
    found, without = weeks([*served, *off]), weeks(served)
    assert (found.weeks, found.days, found.share_change) == (without.weeks, without.days, without.share_change)
    assert found.grinders[0].burrs == (off[0].day,)
    alone = weeks(off)
    assert (alone.weeks, alone.days) == ((), ()) and [group.name for group in week_groups(alone)] == []


def test_every_figure_of_the_weeks_can_be_read():
    for days in (month(1), month(1, days=1), [Day("2026-03-02", ())]):
        for group in week_groups(weeks(days), 100.0):
            assert all(row.text and row.name for row in group.rows), group.name
    worn = {row.key: row for row in week_groups(weeks(month(1)), 100.0)[0].rows}
    assert "more than the 100 kg" in worn["ground"].text


def test_the_book_s_sums_carry_what_the_weeks_need(tmp_path):
    clock = WallClock()
    with Book.open(tmp_path, now=clock) as book:
        for setting, time_s in ((12, 27.0), (13, 25.0)):
            for _ in range(6):
                clock.pass_by(minutes=5)
                pulled(book, setting=setting, time_s=time_s, dose_g=16.0, yield_g=50.4)
            if setting == 12:
                book.keep(NotchMoved(id=book.new_id(), at=book.at(), grinder="left", coffee="house", before=12,
                                     after=13))
        book.keep(Noted(id=book.new_id(), at=book.at(), what="room",
                        facts={"temperature_c": 21.5, "humidity_percent": 48}))
        book.keep(Noted(id=book.new_id(), at=book.at(), what="burrs", facts={"grinder": "left"}))
        clock.pass_by(days=1)
        reckoned = book.sums("", "9999-12-31")
        assert book.sums("", "9999-12-31") == reckoned          # kept meanwhile, and read back alike
    day, = reckoned
    grinder, = day.grinders
    assert [(each.setting, each.pulls, round(each.off_s, 6)) for each in grinder.runs] == [(12, 6, 2.0), (13, 6, 0.0)]
    assert [(each.temperature_c, each.pulls) for each in grinder.readings] == [(21.5, 12)]
    assert day.new_burrs == ("left",)
    found = weeks(reckoned).grinders[0]
    assert found.ground_kg == pytest.approx(12 * 16.0 / 1000) and found.changed_on == "2026-03-02"


def test_what_stands_behind_a_figure_of_the_demo_s_weeks_adds_up_to_it():
    """The sums of the days, and the records that the week's own evening names, are two ways to one number."""
    demo, first, last = Demo(), "2026-10-21", "2026-10-29"         # the middle of one week to that of the next
    week_by_week, = (group.rows for group in week_groups(weeks(demo.sums(first, last)), price_per_kg=30.0, currency="EUR")
                     if group.name == WEEKS)
    days = {("2026-W43", first, "2026-10-25"), ("2026-W44", "2026-10-26", last)}
    assert {(row.key[:8], *of_week(row, first, last)[:2]) for row in week_by_week if of_week(row, first, last)} == days
    for _, monday, sunday in days:
        of = evening(demo.records(monday, sunday), monday, sunday, price_per_kg=30.0)
        lost = {each.record_id: each.grams for each in of.summary.figures.waste}
        for row in week_by_week:
            if (of_week(row, first, last) or ("",))[0] == monday:
                figure, ids = of_week(row, first, last)[2], behind(of, of_week(row, first, last)[2])
                assert len(set(ids)) == len(ids) and ids
                worth = {"waste": sum(lost[id] for id in ids if id in lost), "money": sum(lost[id] for id in ids if id in lost) * 0.03,
                         "window": row.value}.get(figure, len(ids))
                assert row.value == pytest.approx(worth), row.name
                assert figure != "window" or len(ids) == row.of


def test_a_bar_without_a_scale_grinds_as_much_and_is_told_that_it_was_not_weighed():
    """By the doses of its recipes, so that its burrs come due as any other's."""
    def ground(undosed):
        return next(row.text for row in week_groups(weeks([Day("2026-03-02", (GrinderDay(undosed=undosed),))]), 2.0)[0].rows
                    if row.key == "ground")

    assert ground(0) == "3.0 kg; since the first day here: no new burrs were noted; more than the 2 kg they are good for"
    assert "; 100 doses not weighed: the recipe's was taken; more than" in ground(100)
    assert "; 1 dose not weighed: the recipe's was taken; more than" in ground(1)
    assert week_groups(weeks([Day("2026-03-02", (GrinderDay(),), pulls=1)]))[-1].rows[0].text.endswith("; 1 pull")


def test_one_dose_through_the_burrs_is_no_nought():
    found = weeks(month(1))
    young = replace(found, grinders=tuple(replace(each, ground_kg=0.016) for each in found.grinders))
    told = {row.key: row.text for row in week_groups(young)[0].rows}
    assert told["ground"].startswith("0.02 kg")


@pytest.mark.parametrize("worth_s", [-3.0, 0.2, 0.4])
def test_a_notch_that_seems_worth_next_to_nothing_lies_within_its_own_interval(worth_s):
    found = notch_worth_of([GrinderDay(runs=(), readings=(), turns=Turns(moves=9, worth_s=worth_s, sd_s=0.05))])
    assert found.value == 0.5 and found.low <= found.value <= found.high and found.count == 9
