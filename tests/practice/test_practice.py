"""The practice bar behaves as a real one does, as far as published figures and common practice say."""

import os
import threading
from random import Random
from statistics import mean, pstdev

import pytest
import serial
from iapws import IAPWS97

from hardware.practice import (
    DARCY,
    DISSOLVING,
    FINES,
    LAWS,
    Faults,
    Platform,
    PracticeBar,
    PracticeGrinder,
    PracticeGroup,
    PracticeScale,
    Puck,
    permeability_for,
    pull,
)
from hardware.practice.puck import DT_S
from hardware.practice.water import density_kg_per_m3, viscosity_pa_s

by_every_law = pytest.mark.parametrize("law", LAWS)
DOUBLE_G, SINGLE_G = 50.4, 25.2      # 60 and 30 ml, a fifth of them crema


class Clock:
    def __init__(self):
        self.s = 100.0

    def __call__(self):
        return self.s


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def scale(clock):
    return Platform(clock=clock, noise_g=0, shake_g=0)


def weigh(scale, clock, until_s, every_s=0.1):
    """The lines of the seconds until `until_s` by the scale's clock, as (seconds, at rest, grams)."""
    seen = []
    while clock.s < until_s - every_s / 2:
        clock.s += every_s
        words = scale.line(clock.s).decode()
        seen.append((clock.s, words.startswith("ST"), float(words[3:-4])))
    return seen


# water and puck

@pytest.mark.parametrize("water_c", range(80, 101, 2))
def test_water_is_as_thick_and_as_heavy_as_iapws_if97_says(water_c):
    published = IAPWS97(T=water_c + 273.15, P=1.0)      # 1 MPa: a pull's pressure
    assert viscosity_pa_s(water_c) == pytest.approx(published.mu, rel=0.01)
    assert density_kg_per_m3(water_c) == pytest.approx(published.rho, rel=0.01)


@by_every_law
def test_a_double_in_25_s_asks_for_a_published_permeability(law):
    # 1e-14 to 1e-13 m²: Corrochano et al., J. Food Eng. 150 (2015) 106–116; within a factor of ten
    assert 1e-15 <= permeability_for(law) <= 1e-12


@by_every_law
@pytest.mark.parametrize("basket, dose_g, yield_g", [("double", 16.0, DOUBLE_G), ("single", 8.0, SINGLE_G)])
def test_the_right_grind_gives_the_recipe_inside_the_sca_window(law, basket, dose_g, yield_g):
    pulls = [pull(Puck(basket=basket, dose_g=dose_g, law=law), seed=seed) for seed in range(20)]
    # 20–30 s: Specialty Coffee Association, definition of espresso (2018 wording); first drop 3–5 s is common practice
    assert mean(poured.stopped(25.0).settled_g for poured in pulls) == pytest.approx(yield_g, abs=0.3)
    assert all(20 <= poured.stop_for(yield_g) <= 30 for poured in pulls)
    assert all(3 <= poured.first_drop_s <= 5 for poured in pulls)


def seconds(law=DARCY, group=PracticeGroup(), **puck):
    return pull(Puck(law=law, **puck), group).stop_for(DOUBLE_G)


def test_a_notch_is_worth_about_two_seconds_and_a_gram_about_three():
    assert 1.5 <= seconds(coarser=-1) - seconds() <= 2.5
    assert 1.5 <= seconds() - seconds(coarser=1) <= 2.5
    assert 2.5 <= seconds(dose_g=17.0) - seconds() <= 3.5     # common practice


@by_every_law
def test_finer_more_coffee_a_firmer_tamp_and_colder_water_all_run_slower(law):
    usual_s = seconds(law)
    for slower_s in (seconds(law, coarser=-1), seconds(law, dose_g=17.0), seconds(law, tamp_n=200.0),
                     seconds(law, PracticeGroup(first_water_c=80.0)), seconds(law, PracticeGroup(pressure_pa=8e5))):
        assert slower_s > usual_s + 0.3


@by_every_law
@pytest.mark.parametrize("spoilt", [{"tilt": 0.7}, {"tamp_n": 40.0}])
def test_a_tilted_or_a_soft_tamp_drops_early_and_its_flow_runs_away(law, spoilt):
    even, uneven = pull(Puck(law=law)), pull(Puck(law=law, **spoilt), seed=3)
    assert uneven.first_drop_s < even.first_drop_s - 1

    def growth(poured):
        return poured.flow_g_per_s(22.0) / poured.flow_g_per_s(8.0)

    assert growth(uneven) > growth(even) + 0.005


def test_a_group_that_was_not_purged_gives_steam_and_an_early_drop():
    skipped, purged = pull(Puck(), PracticeGroup(first_water_c=103.0)), pull(Puck())
    assert skipped.first_drop_s < purged.first_drop_s - 1
    assert skipped.stop_for(DOUBLE_G) < purged.stop_for(DOUBLE_G) - 1


def test_the_laws_differ_in_how_the_flow_goes_on():
    growth = {law: pull(Puck(law=law)).flow_g_per_s(22) / pull(Puck(law=law)).flow_g_per_s(9) for law in LAWS}
    assert growth[FINES] < 0.9 < 0.99 < growth[DARCY] < 1.01 < 1.2 < growth[DISSOLVING]


def test_darcys_law_gives_the_flow_worked_out_by_hand():
    puck = Puck()
    water = IAPWS97(T=93 + 273.15, P=0.9)
    by_hand = puck.permeability_m2 * puck.area_m2 * 9e5 / (water.mu * puck.depth_m) * water.rho * 1000
    assert pull(puck).flow_g_per_s(15.0) == pytest.approx(by_hand, rel=0.005)


def test_the_cup_goes_on_filling_after_the_pump_stops_and_never_empties():
    for seed in range(10):
        poured = pull(Puck(), seed=seed).stopped(25.0)
        cup_g = [poured(i * 0.01) for i in range(4500)]
        assert all(later >= earlier - 1e-12 for earlier, later in zip(cup_g, cup_g[1:]))
        assert max(b - a for a, b in zip(cup_g, cup_g[1:])) < 0.2          # no jump at the stop
        assert 0.8 < poured.settled_g - poured(25.0) < 2.5
        assert poured(45.0) == pytest.approx(poured.settled_g, abs=0.01)


def test_what_left_the_puck_before_the_stop_all_reaches_the_cup():
    for at_s in (6.0, 12.5, 25.0):
        poured = pull(Puck(), PracticeGroup(relief_s=1e-4)).stopped(at_s)
        left_g = poured.left_g[round(at_s / DT_S)]
        dripped_g = sum(grams for _, grams in poured.drips)
        assert poured.settled_g == pytest.approx(left_g + dripped_g, abs=0.01)


def test_a_pump_stopped_before_the_first_drop_leaves_the_cup_empty():
    assert pull(Puck()).stopped(2.0).settled_g == 0


def test_a_choked_puck_never_gets_there():
    choked = pull(Puck(coarser=-30))
    assert choked.stop_for(DOUBLE_G) == float("inf")


def test_the_same_seed_gives_the_same_pull_and_another_gives_another():
    spoilt = Puck(tilt=0.5)
    assert pull(spoilt, seed=5) == pull(spoilt, seed=5) != pull(spoilt, seed=6)


# grinder and bar

def test_a_purge_clears_the_old_setting_out_of_the_next_dose():
    grinder = PracticeGrinder().moved(-2)
    _, unpurged = grinder.ground(16.0)
    purged_grinder, _ = grinder.ground(8.0)
    _, purged = purged_grinder.ground(16.0)
    assert -1.6 < unpurged < -1.4 and -2.0 < purged < -1.9


def test_grinding_in_two_goes_gives_what_grinding_at_once_gives():
    grinder = PracticeGrinder().moved(3)
    half_way, first = grinder.ground(6.0)
    end, second = half_way.ground(10.0)
    at_once, together = grinder.ground(16.0)
    assert (6 * first + 10 * second) / 16 == pytest.approx(together)
    assert end.chute_coarser == pytest.approx(at_once.chute_coarser)


def test_a_warming_grinder_drifts_fast_at_first_and_then_by_the_hour():
    grinder = PracticeGrinder(per_hour=0.3, warm_up=1.5)
    assert grinder.coarser(0) == 0
    assert grinder.coarser(1) - grinder.coarser(0) > 1.5
    assert grinder.coarser(6) - grinder.coarser(5) == pytest.approx(0.3, abs=0.01)


def test_hidden_faults_show_in_what_the_bar_can_see():
    def shown(faults):
        times, drops, doses = [], [], []
        for seed in range(8):
            bar = PracticeBar(faults=faults, seed=seed)
            doses.append(bar.dose(16.0))
            bar.purge_group()
            poured = bar.begin_pull()
            times.append(poured.stop_for(DOUBLE_G))
            drops.append(poured.first_drop_s)
        return mean(times), mean(drops), mean(doses)

    time_s, drop_s, dose_g = shown(Faults())
    assert shown(Faults(coarser=3))[0] < time_s - 4 and shown(Faults(coarser=3))[2] == dose_g
    assert shown(Faults(dose_g=-1.5))[2] == pytest.approx(dose_g - 1.5)
    assert shown(Faults(tilt=0.8))[1] < drop_s - 1.5
    assert shown(Faults(purge_skipped=True))[1] < drop_s - 1.5


def test_a_shift_at_the_bar_is_the_same_for_the_same_seed():
    def shift(seed):
        bar = PracticeBar(seed=seed, grinder=PracticeGrinder(per_hour=0.2))
        settled = []
        for i in range(5):
            bar.running_h = i / 2
            bar.dose(16.0)
            bar.purge_group()
            bar.begin_pull()
            settled.append(bar.stop_pump(25.0).settled_g)
        return settled

    assert shift(1) == shift(1) != shift(2)


def test_a_bar_will_not_pull_an_empty_basket_nor_stop_a_pump_that_is_off():
    with pytest.raises(RuntimeError, match="dose first"):
        PracticeBar().begin_pull()
    with pytest.raises(RuntimeError, match="no pump is running"):
        PracticeBar().stop_pump(25.0)


# scale

def test_what_is_put_on_is_what_it_shows_once_at_rest(scale, clock):
    scale.put_on(180.25)
    seen = weigh(scale, clock, 103.0)
    assert not seen[0][1] and seen[-1] == (pytest.approx(103.0), True, pytest.approx(180.25, abs=0.051))


def test_its_filter_lags_as_it_is_told_to(scale, clock):
    scale.put_on(100.0)
    scale.lag_s = 0.5
    shown = {round(t - 100, 1): grams for t, _, grams in weigh(scale, clock, 101.0)}
    assert shown[0.5] == pytest.approx(63.2, abs=0.1)      # 1 − 1/e, the definition of a time constant


def test_noise_and_rounding_are_as_large_as_they_are_told_to_be(clock):
    scale = Platform(clock=clock, noise_g=0.3, resolution_g=0.01, seed=4)
    scale.put_on(50.0)
    weigh(scale, clock, 103.0)
    grams = [grams for _, _, grams in weigh(scale, clock, 203.0)]
    assert mean(grams) == pytest.approx(50.0, abs=0.04) and pstdev(grams) == pytest.approx(0.3, rel=0.1)


def test_a_knock_shakes_it_and_is_over_in_a_second(scale, clock):
    scale.put_on(50.0)
    weigh(scale, clock, 102.0)
    scale.knock(8.0)
    seen = weigh(scale, clock, 105.0)
    assert max(abs(grams - 50) for _, _, grams in seen) > 1
    assert all(abs(grams - 50) <= 0.1 for t, _, grams in seen if t > 103.6)


def test_what_is_poured_and_what_stood_there_add_up(scale, clock):
    bar = PracticeBar(scale=scale)
    scale.put_on(95.0)
    weigh(scale, clock, 102.0)
    scale.tare()
    bar.dose(16.0)
    bar.purge_group()
    bar.begin_pull()
    weigh(scale, clock, 127.0)
    poured = bar.stop_pump()
    assert poured.stop_s == pytest.approx(25.0)
    shown = weigh(scale, clock, 140.0)[-1]
    assert shown[1] and shown[2] == pytest.approx(poured.settled_g, abs=0.06)
    assert scale.truth_g == pytest.approx(poured.settled_g) and scale.load_g == pytest.approx(95 + poured.settled_g)


def test_a_cup_lifted_early_takes_its_coffee_along_and_a_late_one_catches_the_rest(scale, clock):
    poured = pull(Puck())
    scale.put_on(95.0)
    scale.pour(poured)
    clock.s += 15
    assert scale.load_g == pytest.approx(95 + poured(15.0))
    scale.lift_all()
    clock.s += 3
    assert scale.load_g == 0
    scale.put_on(95.0)
    clock.s += 4
    assert scale.load_g == pytest.approx(95 + poured(22.0) - poured(18.0))


def test_more_than_it_can_weigh_is_said_and_not_made_up(scale, clock):
    scale.put_on(9000.0)
    clock.s += 2
    assert scale.line(clock.s).startswith(b"OL")


def test_a_trickle_of_grounds_grows_evenly(scale, clock):
    scale.put_on(16.0, over_s=4.0)
    clock.s += 1
    assert scale.load_g == pytest.approx(4.0)
    clock.s += 9
    assert scale.load_g == pytest.approx(16.0)


def test_a_serial_port_reads_it_tares_it_and_sees_it_unplugged():
    with PracticeScale(speed=20, noise_g=0) as scale:
        with serial.Serial(scale.url, timeout=2) as port:
            scale.put_on(120.0)
            while (line := port.readline()) and not line.startswith(b"ST,+00120.0"):
                pass
            assert line == b"ST,+00120.0 g\r\n"
            port.write(b"T\r\n")
            while (line := port.readline()) and not line.startswith(b"ST"):
                pass
            assert line == b"ST,+00000.0 g\r\n" and scale.truth_g == 0 and scale.load_g == 120
            scale.unplug()
            with pytest.raises(serial.SerialException):
                for _ in range(1000):
                    port.read(100)
        assert not os.path.exists(scale.url)
        scale.replug()
        with serial.Serial(scale.url, timeout=2) as port:
            port.readline()
            assert port.readline().endswith(b" g\r\n")


def test_a_scale_that_answers_only_when_asked_keeps_quiet_until_then():
    with PracticeScale(speed=20, ask=b"W") as scale, serial.Serial(scale.url, timeout=0.2) as port:
        assert port.readline() == b""
        port.timeout = 2
        port.write(b"W\r\n")
        assert port.readline().endswith(b" g\r\n")


def test_many_unplugs_leave_no_file_and_no_thread_behind():
    def held():
        return len(os.listdir("/proc/self/fd"))

    before, threads, chance = held(), set(threading.enumerate()), Random(2)
    with PracticeScale(speed=50) as scale:
        for _ in range(30):
            scale.unplug()
            if chance.random() < 0.7:
                scale.replug()
        path = scale.url
    assert held() == before and set(threading.enumerate()) <= threads
    assert not os.path.exists(os.path.dirname(path))
