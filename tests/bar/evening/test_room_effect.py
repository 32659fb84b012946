"""What the room does to the setting, told from what the hour does: rooms warm through the day as grinders do."""

from random import Random
from types import SimpleNamespace

from kiosk.bar.evening.day_runs import RoomReading, grinder_days
from kiosk.bar.evening.notch import Within
from kiosk.bar.evening.weeks import _room
from kiosk.bar.model import Noted, Pull, usual

WORTH = Within(2.0, 1.4, 2.6, 12)


def a_month(seed: int, per_c: float):
    """28 days, the room read three times a day; the grinder asks for 0.6 notches coarser from morning to evening, whatever
    the room; a day's own warmth wanders by 2 °C."""
    chance = Random(seed)
    for _ in range(28):
        level_c, level = chance.gauss(21, 2), chance.gauss(0, 0.4)
        readings = []
        for hour in (8.0, 13.0, 19.0):
            rise_c = chance.gauss(3.5, 1.5) * (hour - 8) / 11
            wanted = level + 0.6 * (hour - 8) / 11 + per_c * (level_c + rise_c - 21)
            readings.append(RoomReading(temperature_c=level_c + rise_c + chance.gauss(0, 0.2), pulls=12, setting=20.0, hour=hour,
                                        humidity_percent=chance.gauss(50, 6), off_s=2.0 * (wanted + chance.gauss(0, 0.12))))
        yield SimpleNamespace(readings=tuple(readings))


def claimed(month) -> bool:
    temperature = next(effect for effect in _room(tuple(month), WORTH) if effect.name == "temperature")
    return temperature.claimed


def test_a_grinder_that_warms_with_the_hours_is_not_put_down_to_the_room():
    assert sum(claimed(a_month(seed, 0.0)) for seed in range(60)) <= 3


def test_a_true_effect_of_half_a_notch_in_five_degrees_is_found():
    assert sum(claimed(a_month(seed, 0.1)) for seed in range(100, 160)) >= 48


def test_the_hours_of_an_evening_rise_past_midnight():
    times = [f"2026-10-{day}T{hour:02}:{minute}:00+02:00" for day, hour in ((23, 19), (23, 23), (24, 0), (24, 3)) for minute in (15, 30, 45)]
    pulls = [Pull(id=at, at=at, grinder="Left", coffee="House", setting=20, recipe=usual("House", "double"), time_s=25.0) for at in times]
    rooms = [Noted(id=at, at=at, what="room", facts={"temperature_c": 21.0, "humidity_percent": 50}) for at in times[1::3]]
    found = grinder_days("2026-10-23", pulls, [], rooms)["Left", "House"]
    assert [reading.hour for reading in found.readings] == [19.5, 23.5, 24.5, 27.5]
