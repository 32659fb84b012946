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
    assert adjusted_time_s(replace(PULL, dose_g=RECIPE.dose_g + 1)) < 24.0 < adjusted_time_s(replace(PULL, dose_g=RECIPE.dose_g - 1))


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
