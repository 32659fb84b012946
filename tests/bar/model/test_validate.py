"""What is taken in from elsewhere: whatever a file says, the kiosk starts after it and the evening is added up."""

import json
from datetime import datetime, timedelta, timezone

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kiosk.bar.drift import Watch
from kiosk.bar.evening.evening import evening
from kiosk.bar.guide import Forward, ScaleSeen, begin
from kiosk.bar.messages import Message
from kiosk.bar.model import (
    BadRecord,
    Corrected,
    FlagRaised,
    GroundsPurged,
    GuideEvent,
    NotchMoved,
    Noted,
    OrderEnded,
    OrderTaken,
    Pull,
    ScaleChecked,
    SettingChanged,
    Setup,
    corrected,
    event_to_json,
    moment,
    to_json,
    usual,
    validate,
)
from kiosk.book.daybook import DayRecords
from kiosk.book.stored_record import line
from kiosk.book.sums import day_sums
from kiosk.station.lane import Work
from kiosk.station.restore import began, put_back, reground, restored

OPENING = datetime(2026, 3, 2, 8, 0, tzinfo=timezone(timedelta(hours=1)))
DAY = "2026-03-02"


def a_day() -> list[dict]:
    """A record of every kind, and every event that a guide is replayed from, as an export has them."""
    def at(minutes):
        return (OPENING + timedelta(minutes=minutes)).isoformat()

    of = {"grinder": "left", "coffee": "house"}
    order = OrderTaken(id="o", at=at(0), drinks=(("Latte", 2),), coffee="house",
                       pulls=(("house", "double", ("Latte",)), ("house", "double", ("Latte",))))
    setup = Setup()
    (waiting, _) = restored([order], setup).waiting
    work = Work(key="o.0.1", group=1, waiting=waiting, guide=begin(usual("house", "double"), 5.0, full=True,
                                                                   has_scale=True),
                grinder="left", setting=12, barista="Ada",
                events=[event_to_json(Forward(6.0)), event_to_json(ScaleSeen(6.5, True))])
    events = [began(work, 5.0), event_to_json(Forward(7.0)), {"event": "SkipTo", "t_s": 7.5, "step": "tamp"},
              {"event": "DoseTapped", "t_s": 8.0, "dose_g": 16.0}, reground(11, 9.0), put_back(9.5), began(work, 9.6)]
    pulls = [Pull(id=f"p{n}", at=at(n), setting=12, recipe=usual("house", "double"), order_id="o", drinks=("Latte",),
                  barista="Ada", dose_g=16.0 + n / 10, yield_g=50.0, time_s=25.0 + n % 3, first_drop_s=4.0, warmed=True,
                  skipped=("rim",), step_s=(("warm", 3.0),), trace=((4.0, 0.1), (25.0, 49.0)), **of) for n in range(8)]
    records = [
        order, *pulls,
        *(GuideEvent(id=f"e{n}", at=at(n), pull_id="o.0.1", event=each) for n, each in enumerate(events)),
        OrderEnded(id="x", at=at(9), order_id="o", how="served"),
        NotchMoved(id="m", at=at(10), before=12, after=11, by="Ada", **of),
        GroundsPurged(id="g", at=at(10), grams=6.0, **of),
        FlagRaised(id="f", at=at(9), setting=12, what="drifting", direction="finer",
                   sentence=Message("{where} ran {by_s:+.1f} s {way}.", where="left", by_s=2.51, way=Message("slower")),
                   evidence={"level_s": 2.5}, **of),
        ScaleChecked(id="s", at=at(11), nominal_g=100.0, read_g=99.9),
        *(Noted(id=f"n{n}", at=at(4), what=what, facts=facts, by="Ada") for n, (what, facts) in enumerate([
            ("room", {"temperature_c": 21.0, "humidity_percent": 45}), ("beans", {"coffee": "house", "roasted": DAY}),
            ("burrs", {"grinder": "left"}), ("cleaned", {"part": "groups"}), ("signed off", {"who": "Ada"}),
            ("held", {"order_id": "o"})])),
        SettingChanged(id="c", at=at(12), path="bar", before=None, after="Our bar"),
        Corrected(id="r", at=at(13), of="p1", changes={"dose_g": 15.5})]
    return [json.loads(json.dumps(to_json(each))) for each in records]


def lived_with(records) -> None:
    """Everything that a kiosk does with a day's records: put right, started from, watched, added up."""
    as_read = corrected(records)
    restored(records, Setup())
    watch = Watch("left", "house")
    for each in as_read:
        if isinstance(each, Pull):
            watch.update(each)
        elif isinstance(each, NotchMoved):
            watch.moved(each)
    lines = tuple(line(n, to_json(each)) for n, each in enumerate(records, 1))
    day_sums(DayRecords(DAY, lines))
    assert evening(as_read, DAY).summary.sentence


def test_a_day_as_a_kiosk_keeps_it_is_sound():
    kept = a_day()
    records = [validate(each) for each in kept]
    assert [json.loads(json.dumps(to_json(each))) for each in records] == kept
    lived_with(records)


def places(value, path=()):
    """Every place in what JSON holds, as a path to it."""
    inside = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for name, each in inside:
        yield (*path, name)
        yield from places(each, (*path, name))


junk = st.sampled_from([None, True, 5, 0, -1, 1e155, 10 ** 40, -2.5, float("nan"), "", " ", "x", "\ud800", [], {}, [[]],
                        ["x"], [1, 2], [["x", 1]], [["House", "triple", ["x"]]], {"event": {}}, {"event": "Began"},
                        "2026-03-02T08:00:00", "0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-12:00", "2026-W10",
                        {"time_s": "long"}, {"at": "rubbish"}, {"recipe": {}}, {"drinks": 5}, {"facts": {"who": []}}])
KEPT = a_day()
PLACES = [(n, path) for n, each in enumerate(KEPT) for path in places(each)]


@settings(max_examples=120, deadline=None, derandomize=True)
@given(st.sampled_from(PLACES), junk)
def test_whatever_stands_in_whatever_place_of_a_record_it_is_refused_in_words_or_the_bar_lives_with_it(place, value):
    number, path = place
    day = json.loads(json.dumps(KEPT))
    inside = day[number]
    for name in path[:-1]:
        inside = inside[name]
    inside[path[-1]] = value
    records = []
    for each in day:
        try:
            records.append(validate(each))
        except BadRecord as amiss:
            assert not any(word in str(amiss) for word in ("__init__", "object", "argument", "NoneType", "Error"))
    assert len(records) >= len(day) - 1
    lived_with(records)


@pytest.mark.parametrize("at, why", [("2026-03-02T08:00:00", "offset"), ("yesterday", "written like"),
                                     ("0001-01-01T00:00:00+14:00", "year 1"),
                                     ("9999-12-31T23:59:59-12:00", "year 9999")])
def test_a_time_of_day_has_its_offset_and_is_of_our_time(at, why):
    with pytest.raises(BadRecord, match=why):
        moment(at)
