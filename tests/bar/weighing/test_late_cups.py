"""Cups that come as the stream begins, cups that are looked at, cups that leave together: each rule of the plate at its edge."""

from math import exp

import numpy as np
import pytest

from kiosk.bar.model import CupTaken, DoseSeen, DropSeen, Missed, PourOver, StopSeen, YieldSeen
from kiosk.bar.weighing import Sample, event_of, sightings
from kiosk.bar.weighing.plate import Plate, Shifted, _keeps_pace
from kiosk.bar.weighing.sightings import CupLifted, CupSet
from kiosk.bar.weighing.untold import PourSeen, UntoldPour


def plate_with(points, odd=(), base_g: float | None = 100.0, cups_g=()) -> Plate:
    plate = Plate()
    plate.points, plate._odd, plate._base_g, plate.cups_g = list(points), list(odd), base_g, list(cups_g)
    return plate


# ---- the scale's own way up -----------------------------------------------------------------------------------------

@pytest.mark.parametrize("filter_s", [0.15, 0.3, 0.6])
@pytest.mark.parametrize("flow", [0.5, 2.0, 8.0])
@pytest.mark.parametrize("hz", [5, 10, 25])
def test_the_way_up_is_left_out_as_long_as_it_is_steeper_than_the_stream_and_six_grams_a_second(filter_s, flow, hz):
    """Steeper by a tenth, over a quarter of a second; the last second and four tenths count in any case."""
    odd = [(n / hz, 80.0 * (1 - exp(-n / hz / filter_s)) + flow * n / hz) for n in range(4 * hz)]
    steady = [p for p in odd if odd[-1][0] - p[0] <= 2.15]
    times, grams = np.array(odd).T
    least = max(6.0, 1.1 * np.polyfit(*np.array(steady).T, 1)[0])

    def still_on_its_way(t: float, g: float) -> bool:
        soon = times >= t + 0.25
        soon_s, soon_g = (times[soon][0], grams[soon][0]) if soon.any() else odd[-1]
        return (soon_g - g) / max(soon_s - t, 1e-9) >= least and t < times[-1] - 1.4

    left = plate_with([], odd)._risen(steady)
    first = next(n for n, (t, g) in enumerate(odd) if not still_on_its_way(t, g))
    assert left == odd[first:] and left[-1] == odd[-1]


def test_a_load_that_is_on_its_way_for_all_it_was_seen_has_its_last_second_and_four_tenths():
    odd = [(n / 8, 20.0 * (n / 8) - 2.0 * (n / 8)**2) for n in range(25)]
    assert plate_with([], odd)._risen(odd[-18:])[0][0] == 1.625


@pytest.mark.parametrize("readings, stepped", [(3, True), (2, False)])
def test_three_readings_are_enough_for_a_step(readings, stepped):
    odd = [(10.0, 500.0), *((10.9 + n / 5, 112.0) for n in range(readings))]
    assert plate_with([(0.0, 2.0)], odd)._stepped(10.0, 10.0) is stepped


# ---- a cup that was looked at ---------------------------------------------------------------------------------------

@pytest.mark.parametrize("left_g, for_s, away", [(59.0, 0.625, True), (61.0, 0.625, False), (59.0, 0.5, False), (0.0, 0.75, True)])
def test_a_cup_was_away_where_half_of_it_and_its_coffee_were_gone_for_six_tenths_of_a_second(left_g, for_s, away):
    """100 g of cup, 20 g in it."""
    gone = [(10.125 + n / 8, left_g) for n in range(round(for_s * 8) + 1)]
    plate = plate_with([(10.0, 20.0)], [(10.05, 90.0), *gone, (11.5, 119.0)], cups_g=[100.0])
    plate.pouring = True
    assert plate._away() == ((Shifted(10.05),) if away else ())


@pytest.mark.parametrize("in_it_g, away", [(19.5, False), (20.5, True)])
def test_so_light_a_cup_that_a_hand_could_hide_it_was_not_seen_to_be_away(in_it_g, away):
    plate = plate_with([(10.0, in_it_g)], [(10.1 + n / 10, 90.0) for n in range(9)], cups_g=[5.0])
    plate.pouring = True
    assert bool(plate._away()) is away


def test_where_nothing_pours_or_nothing_was_weighed_no_cup_is_looked_at():
    gone = [(10.1 + n / 10, 0.0) for n in range(9)]
    still = plate_with([(10.0, 20.0)], gone, cups_g=[100.0])
    assert still._away() == ()
    unseen = plate_with([], gone, cups_g=[100.0])
    unseen.pouring = True
    assert unseen._away() == ()


# ---- what stands under the cups -------------------------------------------------------------------------------------

@pytest.mark.parametrize("tray_g", [0.0, 300.0])
def test_two_cups_that_one_hand_lifts_are_both_gone_whatever_stands_under_them(tray_g):
    plate, seen, n = plate_with([], base_g=tray_g), [], 0
    for raw_g in (tray_g, tray_g + 100.0, tray_g + 200.0, tray_g):
        for _ in range(20):
            n += 1
            seen += plate.observe(n / 10, raw_g, False)[1]
    assert [type(each) for each in seen] == [CupSet, CupSet, CupLifted] and plate.cups_g == []
    assert plate.points[-1][1] == pytest.approx(0.0)


@pytest.mark.parametrize("tray_g", [0.0, 300.0])
def test_a_light_cup_that_creeps_up_is_weighed_from_what_stood_there(tray_g):
    plate = plate_with([(n / 10, 8.0 * min(1.0, max(0.0, n / 10 - 2.0))) for n in range(39)], base_g=tray_g)
    cup, = plate._crept_up(3.8)
    assert cup.grams == pytest.approx(8.0) and plate._base_g == pytest.approx(tray_g + 8.0)
    assert plate.points[-1][1] == pytest.approx(0.0)


@pytest.mark.parametrize("from_g, gushes", [(5.9, True), (6.1, False)])
def test_a_gush_rises_from_where_it_stood(from_g, gushes):
    """Not from six grams above it: that is a cup's weight already. On an empty scale as on any other."""
    for tray_g in (0.0, 300.0):
        odd = [(10.0 + n / 10, tray_g + from_g + 15.0 * n / 10) for n in range(15)]
        for points, below_g in (([(9.9, 0.0)], 0.0), ([(9.8, 1.0), (9.9, 3.0)], 3.0), ([], 0.0)):
            shown = [(t, g + below_g) for t, g in odd]
            assert plate_with(points, shown, base_g=tray_g)._gushes(11.4) is gushes


@pytest.mark.parametrize("flow, expected_g", [(2.0, 11.0), (0.3, 2.5), (-0.5, 1.0)])
def test_a_stream_is_foreseen_to_go_on_and_never_to_fall_back(flow, expected_g):
    points = [(n / 10, 1.0 + flow * (n / 10 - 2.0)) for n in range(21)]
    grams, paced = plate_with(points)._foreseen(7.0)
    assert grams == pytest.approx(expected_g) and paced == pytest.approx(max(0.0, flow))
    assert plate_with([(2.0, 1.0)])._foreseen(7.0) == (1.0, 0.0)


@pytest.mark.parametrize("early, late, keeps", [(2.0, 1.3, False), (2.0, 1.5, True)])
def test_a_pace_is_kept_from_the_first_half_to_the_second(early, late, keeps):
    rise = [(n / 10, early * min(n, 10) / 10 + late * max(0, n - 10) / 10) for n in range(21)]
    assert _keeps_pace(rise) is keeps


# ---- a pour that ran before its cup came ----------------------------------------------------------------------------

def told(cup_s: float) -> PourSeen:
    """A stream of 2 g a second from 9 s on, and a cup of 120 g that comes at `cup_s`."""
    watch = UntoldPour()
    return next(seen for n in range(1, 300) if (seen := watch.observe(Sample(n / 10, round(
        (n / 10 >= cup_s) * (120.0 + 2.0 * max(0.0, n / 10 - max(9.0, cup_s))), 1)))))


def test_a_drop_is_as_open_as_it_is_where_its_cup_came_under_the_stream():
    early, late = told(3.0), told(12.0)
    assert early.earlier_s == 0.0 and early.drop_at_s == pytest.approx(9.0, abs=0.6)
    assert late.earlier_s == 5.0 and late.drop_at_s == pytest.approx(12.0, abs=0.6) and late.drop_at_s < late.t_s


# ---- what the guide is told -----------------------------------------------------------------------------------------

@pytest.mark.parametrize("sighting, event", [
    (sightings.DoseRead(9.0, 16.1, "left"), DoseSeen(10.0, 16.1)),
    (sightings.FirstDrop(9.0, 0.4), DropSeen(10.0, 9.0)),
    (sightings.FlowEnded(9.0, 0.6), StopSeen(10.0, 9.0, 0.6)),
    (sightings.CupGone(9.0), PourOver(10.0, 9.0)),
    (sightings.Settled(9.0, 50.2), YieldSeen(10.0, 50.2)),
    (sightings.CupLifted(9.0), CupTaken(10.0)),
    (sightings.YieldLost(9.0, "why"), Missed(10.0, "why")),
    (sightings.CupSet(9.0, 120.0), None), (sightings.StopNow(9.0, 50.4), None),
    (sightings.PortafilterSet(9.0, 540.0), None), (sightings.DoseUnclear(9.0, ("left", "right")), None)])
def test_the_guide_is_told_when_it_happened_and_when_it_was_heard(sighting, event):
    assert event_of(sighting, 10.0) == event
