"""From when a grinder drifted, on days whose truth is known; the fit beside a search over every place with numpy."""

from random import Random

import numpy
import pytest

from kiosk.bar.evening.onset import change_at
from tests.bench.headline import ramp

PULLS, HOURS, SPREAD_S = 160, 10.0, 1.3


def day(seed, shape):
    chance = Random(seed)
    hours = sorted(chance.uniform(0, HOURS) for _ in range(PULLS))
    begins = chance.uniform(2, 7)
    rise = {"step": lambda h: 2.0 * (h >= begins), "ramp": lambda h: 2.0 * max(0.0, h - begins) / (HOURS - begins)}[shape]
    return hours, [SPREAD_S * (rise(h) + chance.gauss(0, 1)) for h in hours], begins


@pytest.mark.parametrize("shape, least", [("step", 0.90), ("ramp", 0.70)])
def test_a_change_of_two_spreads_is_dated_within_an_hour(shape, least):
    days = [day(seed, shape) for seed in range(100)]
    assert numpy.mean([abs(hours[change_at(hours, values)] - begins) <= 1 for hours, values, begins in days]) >= least


@pytest.mark.parametrize("shape", ["step", "ramp"])
def test_a_clean_change_begins_where_least_squares_over_every_place_has_it(shape):
    hours = numpy.arange(40) / 4
    values = {"step": 3.0 * (hours >= 5), "ramp": 1.5 * numpy.maximum(0, hours - 5)}[shape] + 0.01 * numpy.sin(7 * hours)
    cost = []
    for begins in hours[3:-3]:
        column = hours >= begins if shape == "step" else numpy.maximum(0, hours - begins)
        cost.append(numpy.linalg.lstsq(numpy.column_stack([numpy.ones(40), column]), values, rcond=None)[1][0])
    assert change_at(list(hours), list(values)) == 3 + int(numpy.argmin(cost))


@pytest.mark.parametrize("seed", [2, 6, 20])
def test_a_ramp_that_the_watch_could_not_tell_from_hands_yet_is_told_where_the_day_can_tell_it(seed):
    assert ramp(seed)[0].drifted
