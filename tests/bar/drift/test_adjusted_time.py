"""Even time: what a dose, a yield, a basket and a person do to the time, and how that is learned."""

from dataclasses import replace
from random import Random

import numpy as np
import pandas
import pytest
import statsmodels.formula.api as smf
from scipy import stats

from kiosk.bar.drift import DOSE_POWER, Effects, adjusted, adjusted_time_s
from kiosk.bar.drift import adjusted_time as even
from kiosk.bar.model import Pull, usual

RECIPE = usual("house", "double")
PULL = Pull(id="p", at="2026-01-05T09:00:00+01:00", grinder="left", coffee="house", setting=12, recipe=RECIPE,
            dose_g=RECIPE.dose_g, yield_g=RECIPE.yield_g, time_s=24.0, first_drop_s=4.0)


def test_a_pull_right_in_dose_and_yield_has_its_own_time_for_even_time():
    assert adjusted_time_s(PULL) == pytest.approx(24.0)


def test_half_the_yield_took_half_the_pour_so_the_other_half_is_added():
    half = replace(PULL, yield_g=RECIPE.yield_g / 2, time_s=14.0)
    assert adjusted_time_s(half) == pytest.approx(4.0 + 2 * 10.0)


def test_a_gram_too_much_slowed_the_pull_so_its_even_time_is_shorter():
    assert adjusted_time_s(replace(PULL, dose_g=RECIPE.dose_g + 1)) < 24.0 < adjusted_time_s(replace(PULL,
        dose_g=RECIPE.dose_g - 1))


def test_what_was_not_measured_is_not_corrected_for():
    assert adjusted_time_s(replace(PULL, dose_g=None, yield_g=None)) == 24.0


@pytest.mark.parametrize("pull", [replace(PULL, time_s=None), replace(PULL, time_s=0.0), replace(PULL, yield_g=0.0),
                                  replace(PULL, yield_g=RECIPE.yield_g * 3)])
def test_without_a_time_or_with_another_drinks_yield_there_is_no_telling(pull):
    assert adjusted_time_s(pull) is None


def test_a_dose_that_nobody_weighed_counts_with_less_weight():
    effects = Effects()
    assert adjusted(replace(PULL, dose_g=None), effects).blur > adjusted(replace(PULL, dose_g=16.2), effects).blur > 0


def test_the_weight_of_a_gram_is_learned_as_scipy_finds_it():
    rng, effects = Random(5), Effects()
    doses = [rng.gauss(0, 0.03) for _ in range(300)]
    times = [0.02 + 2.4 * dose + rng.gauss(0, 0.07) for dose in doses]
    for dose, time in zip(doses, times):
        effects.learn({"centre": 1.0, "dose": dose}, time, 0.07)
    line = stats.linregress(doses, times)
    assert abs(effects["dose"] - 2.4) < abs(DOSE_POWER - 2.4) / 3
    assert effects["dose"] == pytest.approx(line.slope, abs=2 * line.stderr)
    assert effects.sd("dose") == pytest.approx(line.stderr, rel=0.15)     # the prior still tells a little


def test_gross_pulls_hardly_move_what_was_learned():
    def learned(odd: float) -> float:
        rng, effects = Random(6), Effects()
        for _ in range(200):
            dose = rng.gauss(0, 0.03)
            gross = rng.choice((-1, 1)) * 0.8 if rng.random() < odd else 0.0
            effects.learn({"centre": 1.0, "dose": dose}, 2.4 * dose + rng.gauss(0, 0.07) + gross, 0.07)
        return effects["dose"]

    assert learned(0.0) == pytest.approx(2.4, abs=0.3)
    assert learned(0.05) == pytest.approx(2.4, abs=0.5)


def test_told_the_spreads_it_finds_the_mixed_effects_of_statsmodels(monkeypatch):
    """A person's own time is a random effect: best linear unbiased prediction, statsmodels MixedLM (REML)."""
    rng = np.random.default_rng(3)
    people = {name: rng.normal(0, 0.15) for name in "ABCDEF"}
    rows = []
    for _ in range(240):
        who, dose = rng.choice(list(people)), rng.normal(0, 0.03)
        rows.append((str(who), dose, 0.01 + 2.1 * dose + people[str(who)] + rng.normal(0, 0.07)))
    table = pandas.DataFrame(rows, columns=["who", "dose", "off"])
    fit = smf.mixedlm("off ~ dose", table, groups=table["who"]).fit()

    monkeypatch.setattr(even, "DOUBTED_AT", 1e9)
    monkeypatch.setattr(Effects, "BEFORE", {"by": float(fit.cov_re.iloc[0, 0]) ** 0.5})
    effects = Effects(value=[0.0, 0.0], covariance=[[1e4, 0.0], [0.0, 1e4]])
    for who, dose, off in rows:
        effects.learn({"centre": 1.0, "dose": dose, f"by {who}": 1.0}, off, float(fit.scale) ** 0.5)

    assert effects["dose"] == pytest.approx(fit.fe_params["dose"], abs=1e-3)
    assert effects["centre"] == pytest.approx(fit.fe_params["Intercept"], abs=1e-4)
    assert effects.sd("dose") == pytest.approx(fit.bse_fe["dose"], rel=1e-2)
    for name, effect in fit.random_effects.items():
        assert effects[f"by {name}"] == pytest.approx(float(effect.iloc[0]), abs=1e-4)


# ---- the same by a Kalman filter in matrices -----------------------------------------------------------------------

def test_each_pull_moves_the_coefficients_as_a_kalman_filter_in_matrices_would():
    """numpy's own update of a fixed state; a gross pull counts as if its noise were wider, by how far past two spreads it
    lies (Huber)."""
    chance, effects = Random(12), Effects()
    names, state, spread = ["centre", "dose"], np.array([0.0, even.DOSE_POWER]), np.diag([0.09, even.DOSE_POWER_SD**2])
    for n in range(30):
        given = {"centre": 1.0, "dose": chance.gauss(0, 0.03),
                 f"by {'ABC'[n % 3]}": 1.0} | ({"single": 1.0} if n % 5 == 4 else {})
        response, sd, wander = chance.gauss(0, 0.08) + (0.9 if n in (7, 20) else 0.0), 0.07, 0.01 * (n % 2)
        for name in given:
            if name not in names:
                names.append(name)
                state = np.append(state, 0.0)
                spread = np.pad(spread, (0, 1))
                spread[-1, -1] = Effects.BEFORE[name.split()[0]]**2
        x = np.array([given.get(name, 0.0) for name in names])
        spread[0, 0] += wander**2
        known, surprise = x @ spread @ x, response - x @ state
        noise = sd * max(1.0, abs(surprise) / np.sqrt(known + sd**2) / 2.0)
        gain = spread @ x / (known + noise**2)
        state, spread = state + gain * surprise, spread - np.outer(gain, x @ spread)
        effects.learn(given, response, sd, wander)
        assert [effects[name] for name in names] == pytest.approx(list(state))
        assert [effects.sd(name) for name in names] == pytest.approx(list(np.sqrt(np.diag(spread))))
    for one, other in (("by A", "by B"), ("dose", "single"), ("by C", "by C")):
        contrast = np.array([(name == one) - (name == other) for name in names], float)
        assert effects.apart_variance(one, other) == pytest.approx(contrast @ spread @ contrast)
    unmet = effects.apart_variance("by A", "by D")          # of one never met: what is known of the other, and a lean of its own
    assert unmet == pytest.approx(effects.sd("by A")**2 + 0.03**2) and effects["by D"] == 0.0 and effects.sd("single") < 0.04
    assert Effects().apart_variance("single", "by A") == pytest.approx(0.04**2 + 0.03**2)
    dose = effects["dose"], effects.sd("dose")
    effects.forget("centre", 0.2, 0.3)
    assert (effects["centre"], effects.sd("centre")) == (0.2, pytest.approx(0.3))
    assert (effects["dose"], effects.sd("dose")) == dose
    assert effects.apart_variance("centre", "dose") == pytest.approx(0.09 + dose[1]**2)       # nothing in common any more


@pytest.mark.parametrize("first_drop_s, first_s", [(4.0, 4.0), (None, 0.16 * 24), (0.0, 0.16 * 24), (24.0, 0.16 * 24),
                                                   (23.9, 23.9)])
def test_a_first_drop_that_was_not_seen_or_cannot_be_is_a_sixth_of_the_time(first_drop_s, first_s):
    """4 s of 25 (the recipe's own window), where nothing else is known; after it the stream runs as it runs."""
    pull = replace(PULL, first_drop_s=first_drop_s, yield_g=RECIPE.yield_g * 0.8)
    assert adjusted_time_s(pull) == pytest.approx(first_s + (24.0 - first_s) / 0.8)


@pytest.mark.parametrize("share, known", [(0.5, True), (0.499, False), (2.0, True), (2.001, False)])
def test_a_yield_of_half_to_twice_the_recipes_can_be_compared(share, known):
    assert (adjusted_time_s(replace(PULL, yield_g=RECIPE.yield_g * share)) is not None) is known


def test_a_gram_of_sixteen_is_worth_a_tenth_of_the_time_by_physics():
    """Time goes with dose to the power 1.6 (from memory): 1 g of 16 is 6.25 %, times 1.6 and 25 s."""
    assert adjusted_time_s(replace(PULL, dose_g=17.0)) == pytest.approx(24.0 - 1.6 * 25 / 16)
    assert adjusted_time_s(replace(PULL, dose_g=17.0), 2.0) == pytest.approx(24.0 - 2 * 25 / 16)
    assert adjusted_time_s(replace(PULL, time_from="late tap")) is None


def test_how_a_time_was_measured_widens_it_and_only_a_lone_tap_may_be_late():
    """A ± is 19 times in 20: 1.96 standard deviations."""
    assert even.time_sd_s(replace(PULL, time_within_s=1.96)) == pytest.approx(1.0)
    assert even.time_sd_s(replace(PULL, time_from="worked back")) == pytest.approx(2.5 / 1.96) and even.time_sd_s(PULL) == 0
    assert even.time_sd_s(replace(PULL, time_from="worked back", time_within_s=0.98)) == pytest.approx(0.5)
    assert even.tapped_unweighed(replace(PULL, yield_g=None))
    assert even.tapped_unweighed(replace(PULL, yield_g=None, time_from="tap"))
    assert not even.tapped_unweighed(PULL) and not even.tapped_unweighed(replace(PULL, yield_g=None, time_from="scale"))


def test_what_is_corrected_away_blurs_by_how_little_it_is_known():
    effects = Effects()
    weighed = adjusted(replace(PULL, dose_g=17.0, time_within_s=1.96 * 0.5), effects)
    assert weighed.deviation == pytest.approx(-1 / 25 - 1.6 / 16)
    assert weighed.even_s == pytest.approx(25 * (1 + weighed.deviation))
    assert weighed.blur == pytest.approx(((0.5 / 16)**2 + (0.5 / 25)**2)**0.5)
    unweighed = adjusted(replace(PULL, dose_g=None), effects)
    assert unweighed.deviation == pytest.approx(-1 / 25) and unweighed.blur == pytest.approx(1.6 * 0.5 / 16)


def test_a_pull_teaches_its_dose_its_basket_and_its_person_with_the_noise_that_is_its_own():
    one, other = Effects(), Effects()
    pull = replace(PULL, dose_g=17.0, barista="A", time_within_s=1.96)
    even.learn(pull, one, 0.08, 0.01)
    other.learn({"centre": 1.0, "dose": 1 / 16, "by A": 1.0}, -1 / 25, (0.08**2 + (1 / 25)**2)**0.5, 0.01)
    assert one.names == other.names and one.value == pytest.approx(other.value)
    assert one.sd("by A") == pytest.approx(other.sd("by A"))
    single = usual("house", "single")
    small = replace(PULL, recipe=single, dose_g=None, yield_g=None, time_s=26.0)
    even.learn(small, one, 0.08, 0.0)
    other.learn({"centre": 1.0, "single": 1.0}, 1 / 25, (0.08**2 + (other["dose"] * 0.5 / 8)**2)**0.5)
    assert one.names == other.names and one.value == pytest.approx(other.value)
    assert one.sd("single") == pytest.approx(other.sd("single"))
    before = replace(one)
    even.learn(replace(PULL, time_s=None), one, 0.08, 0.0)
    assert one == before
