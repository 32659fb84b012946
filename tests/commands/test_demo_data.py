"""The demo fortnight is what its maker says it is, and is made the same each time."""

import json
from datetime import datetime, timedelta
from pathlib import Path
from statistics import mean

import pytest

from demo_data import make, story
from kiosk.bar.model import (
    Corrected,
    FlagRaised,
    GroundsPurged,
    NotchMoved,
    Noted,
    OrderEnded,
    OrderTaken,
    Pull,
    ScaleChecked,
    read,
    span,
    to_json,
)
from kiosk.bar.model.record import from_json
from kiosk.bar.model.service_day import service_day

FOLDER = Path(make.__file__).parent
DAYS = span("2026-10-19", "2026-11-01")


@pytest.fixture(scope="module")
def days():
    return {day: tuple(from_json(json.loads(line)) for line in (FOLDER / f"{day}.jsonl").read_text("utf-8").splitlines())
            for day in DAYS}


def of(kind, records):
    return [kept for kept in records if isinstance(kept, kind)]


def test_making_it_again_gives_the_same_bytes():
    for name, contents in make.made().items():
        assert (FOLDER / name).read_bytes() == contents.encode(), f"{name}: run python -m demo_data.make and commit it"


def test_it_is_two_weeks_of_files_and_small_enough_to_carry(days):
    files = {path.name for path in FOLDER.glob("*.jsonl")}
    assert files == {f"{day}.jsonl" for day in DAYS} and len(DAYS) == 14
    assert sum(path.stat().st_size for path in FOLDER.iterdir() if path.is_file()) < 6_000_000


def test_every_line_is_a_record_and_comes_back_as_it_went(days):
    for day, records in days.items():
        lines = (FOLDER / f"{day}.jsonl").read_text("utf-8").splitlines()
        assert [json.loads(line) for line in lines] == [to_json(kept) for kept in records]
    assert {type(kept) for records in days.values() for kept in records} >= {
        Pull, OrderTaken, OrderEnded, NotchMoved, GroundsPurged, FlagRaised, ScaleChecked, Noted, Corrected}


def test_records_lie_in_their_service_day_in_order_with_names_of_their_own(days):
    seen = set()
    for day, records in days.items():
        moments = [datetime.fromisoformat(kept.at) for kept in records]
        assert moments == sorted(moments)
        assert {service_day(kept.at) for kept in records} == {day}
        seen |= {kept.id for kept in records}
    assert len(seen) == sum(map(len, days.values()))


def test_it_is_a_working_bar(days):
    for day, records in days.items():
        pulls = of(Pull, records)
        assert 100 <= len(pulls) <= 300, day
        assert {(pull.grinder, pull.coffee) for pull in pulls} == {("Left", "Dusk"), ("Right", "Meadow")}
        assert {pull.basket for pull in pulls} == {"single", "double"}
    everyone = [pull for records in days.values() for pull in of(Pull, records)]
    assert 150 <= len(everyone) / 14 <= 250
    assert {pull.barista for pull in everyone} == {hand.name for hand in story.HANDS}
    assert {"gushed", "spilt", "tasted at opening"} <= {pull.sink for pull in everyone}
    assert any(pull.trace for pull in everyone) and sum(bool(pull.trace) for pull in everyone) < 100


def test_orders_add_up_to_their_drinks(days):
    for records in days.values():
        pulls, ended = of(Pull, records), {end.order_id: end.how for end in of(OrderEnded, records)}
        for order in of(OrderTaken, records):
            drinks = [name for pull in pulls if pull.order_id == order.id and pull.sink is None for name in pull.drinks]
            wanted = [name for name, count in order.drinks for _ in range(count)]
            assert ended[order.id] == ("served" if drinks else "cancelled")
            assert not drinks or sorted(drinks) == sorted(wanted)


def test_a_grinder_goes_one_notch_at_a_time_and_its_pulls_say_where_it_stood(days):
    setting = {}
    for records in days.values():
        for kept in records:
            if isinstance(kept, NotchMoved):
                assert abs(kept.after - kept.before) == 1
                assert kept.before == setting.get(kept.grinder, kept.before)
                setting[kept.grinder] = kept.after
    flags = {flag.id for records in days.values() for flag in of(FlagRaised, records)}
    assert all(move.flag_id in flags for records in days.values() for move in of(NotchMoved, records))


def test_on_the_bad_afternoon_the_doses_were_short_and_the_grinder_was_not_to_blame(days):
    short = [pull for pull in of(Pull, days["2026-10-23"])
             if pull.barista == "Emil" and pull.dose_kept and pull.basket == "double" and pull.grinder == "Left"
             and 12 <= datetime.fromisoformat(pull.at).hour < 14]
    assert len(short) >= 5 and mean(pull.dose_g for pull in short) == pytest.approx(16 - 1.9, abs=0.5)
    assert mean(pull.time_s for pull in short) < 22


def test_without_a_scale_nothing_is_made_up(days):
    blind = [pull for pull in of(Pull, days["2026-10-28"]) if pull.yield_from == "tap"]
    assert len(blind) >= 15
    assert all(pull.dose_g is None and pull.time_from == "tap" and pull.notes for pull in blind)


def test_the_night_the_clocks_go_back_has_two_o_clock_twice(days):
    small_hours = [pull.at for pull in of(Pull, days["2026-10-24"]) if pull.at.startswith("2026-10-25T02")]
    assert {at[-6:] for at in small_hours} == {"+02:00", "+01:00"}
    first, last = datetime.fromisoformat(small_hours[0]), datetime.fromisoformat(small_hours[-1])
    assert timedelta(hours=1) < last - first < timedelta(hours=2)
    assert all(kept.at.endswith("+01:00") for kept in days["2026-10-25"])


def test_the_market_morning_is_the_busiest(days):
    def orders(day):
        return sum(9 <= datetime.fromisoformat(order.at).hour < 12 for order in of(OrderTaken, days[day]))

    assert orders("2026-10-31") > 1.4 * max(orders(day) for day in DAYS if day != "2026-10-31")


def test_the_bar_s_setup_is_one_the_kiosk_takes_without_complaint():
    bar = json.loads((FOLDER / "bar.json").read_text("utf-8"))
    setup, complaints = read(bar["settings"])
    assert complaints == () and bar["invented"]
    assert [grinder.name for grinder in setup.grinders] == ["Left", "Right"]
    assert all(setup.recipe(coffee, basket) == recipe for (coffee, basket), recipe in story.RECIPES.items())
