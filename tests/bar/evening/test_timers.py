"""What a timed grinder wants in the evening is what it wants in service: the watch, fed the same day, says the same."""

from dataclasses import replace
from datetime import date, timedelta
from random import Random

import pytest

from kiosk.bar.drift import Watch
from kiosk.bar.evening import as_plain, groups, moment
from kiosk.bar.evening.evening import evening
from kiosk.bar.model import NotchMoved, SettingChanged
from kiosk.station.evenings import evening_of
from tests.bar.drift.test_dosing import ground, right_s
from tests.bar.evening.test_tomorrow_hands import ABOUT, DAY, RECIPE, a_pull, at, things
from tests.support.a_station import WorkingStation


def a_day(rng, timer_s: float, **turns):
    """Forty pulls; by its number, before which of them the timer was set (`timers`) or the collar turned (`notches`)."""
    records, setting = [], 20
    for n in range(40):
        if n in turns.get("timers", {}):
            then_s = turns["timers"][n]
            records.append(SettingChanged(id=f"s{n}", at=at(n / 8 - 0.01), path="grinders.Left.timer_s", before=timer_s, after=then_s))
            timer_s = then_s
        if n in turns.get("notches", ()):
            records.append(NotchMoved(id=f"m{n}", at=at(n / 8 - 0.01), **ABOUT, before=setting, after=setting - 1))
            setting -= 1
        if n in turns.get("back_at_once", ()):
            records += [NotchMoved(id=f"m{n}{after}", at=at(n / 8 - later), **ABOUT, before=before, after=after)
                        for before, after, later in ((setting, setting - 1, 0.02), (setting - 1, setting, 0.01))]
        dose_g = ground(rng, timer_s)
        records.append(a_pull(n, 3.0 * (dose_g - RECIPE.dose_g) + rng.gauss(0, 0.8), setting=setting, dose_g=dose_g))
    return records, timer_s


def moved_to(record, by: timedelta, id: str):
    return replace(record, id=id, at=(moment(record.at) + by).isoformat())


def in_service(records, timer_s: float):
    watch = Watch("Left", "House", timer_s=timer_s)
    for each in records:
        if isinstance(each, NotchMoved):
            watch.moved(each)
        elif isinstance(each, SettingChanged):
            watch.timer_s = each.after
        else:
            watch.update(each)
    return watch.dosing.wanted


@pytest.mark.parametrize("turns", [{}, {"notches": (12,)}, {"notches": (38,)}, {"timers": {20: 6.3}}, {"timers": {37: 6.3}},
                                   {"timers": {8: 5.9}, "notches": (24,)}, {"timers": {8: 5.9, 20: 6.3}},
                                   {"back_at_once": (24,)}, {"back_at_once": (38,)}])
def test_the_evening_asks_for_the_tenths_that_service_asked_for(turns):
    for seed in range(6):
        began_s = round(right_s() + Random(seed).choice((-0.6, -0.3, 0.0, 0.3)), 1)
        records, stands_s = a_day(Random(f"timer {seed}"), began_s, **turns)
        wanted = in_service(records, began_s)
        found = evening(records[::-1], DAY, timers={"Left": stands_s}).summary.timers
        told = [(each.tenths, each.doses, each.off_g, each.timer_s) for each in found]
        assert told == ([] if wanted is None else [(wanted.tenths, wanted.doses, pytest.approx(wanted.off_g), stands_s)])


def test_it_is_told_with_its_doses_on_the_list_among_the_rows_and_in_json():
    records, stands_s = a_day(Random(1), 6.2)
    found = evening(records, DAY, timers={"Left": stands_s})
    what, because = next((thing.what, thing.because) for thing in found.summary.to_do if "timer" in thing.what)
    assert what == "Set the timer of Left 0.5 s longer, to 6.7 s."
    assert because.startswith("The last 10 weighed doses were 1.") and because.endswith(" g a second. Weigh the first dose.")
    assert not any("Weigh each dose" in thing for thing in things(records, timers={"Left": stands_s}))
    row, = (row for group in groups(found) for row in group.rows if row.key == "timer")
    assert row.text.startswith("+0.5 s") and row.record_ids == tuple(each.id for each in records[-10:])
    plain, = as_plain(found.summary)["timers"]
    assert (plain["tenths"], plain["timer_s"], plain["doses"], plain["record_ids"]) == (5, 6.2, 10, list(row.record_ids))
    assert as_plain(evening(records, DAY).summary)["timers"] == [] == list(evening(records, DAY, timers={"Left": 0.0}).summary.timers)


def test_a_timer_is_left_alone_where_the_collar_is_to_be_turned():
    records, stands_s = a_day(Random(1), 6.2)
    slow = [each if isinstance(each, SettingChanged) else a_pull(n, 6.0, dose_g=each.dose_g) for n, each in enumerate(records)]
    told = things(slow, timers={"Left": stands_s})
    assert "coarser" in told[0] and not any("timer" in each for each in told)


def test_a_timer_set_this_morning_is_none_of_yesterdays(tmp_path):
    station = WorkingStation(tmp_path / "book")
    station.service.set_setting(("grinders",), {"Left": {"coffee": "House", "timer_s": 6.2}})
    day = station.book.day_now()
    records, _ = a_day(Random(1), 6.2)
    shift = timedelta(days=(date.fromisoformat(day) - date.fromisoformat(DAY)).days)
    station.book.keep_all([moved_to(each, shift, station.book.new_id()) for each in records])
    on_the_day = evening_of(station.book, station.service.setup, day).summary.timers
    station.t_s += 24 * 3600
    station.service.set_setting(("grinders", "Left", "timer_s"), 6.6)
    assert on_the_day and evening_of(station.book, station.service.setup, day).summary.timers == on_the_day
    assert evening_of(station.book, station.service.setup, station.book.day_now()).summary.timers == ()
    station.book.close()
