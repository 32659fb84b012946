"""What the watch found of a person, and a collar turned too often, among the things to do tomorrow."""

from datetime import datetime, timedelta, timezone
from random import Random

import pytest

from kiosk.bar.evening.evening import evening
from kiosk.bar.evening.trend import trend
from kiosk.bar.model import FlagRaised, GroundsPurged, NotchMoved, Pull, usual

DAY = "2026-10-23"
OPENS = datetime(2026, 10, 23, 7, 0, tzinfo=timezone(timedelta(hours=2)))
RECIPE = usual("House", "double")
ABOUT = {"grinder": "Left", "coffee": "House"}


def at(hours: float) -> str:
    return (OPENS + timedelta(hours=hours)).isoformat()


def a_pull(n: int, off_s: float = 0.0, who: str | None = None, **more) -> Pull:
    return Pull(**{"id": f"p{n}", "at": at(n / 8), **ABOUT, "setting": 20, "recipe": RECIPE, "barista": who,
                   "time_s": RECIPE.time_s + off_s, "dose_g": RECIPE.dose_g, "yield_g": RECIPE.yield_g, "order_id": "o", **more})


def things(records, **how) -> list[str]:
    return [f"{thing.what} {thing.because}" for thing in evening(records, DAY, **how).summary.to_do]


def a_soft_tamp() -> list:
    flag = FlagRaised(id="f", at=at(6), **ABOUT, setting=20, what="hands", direction=None, sentence="…", pull_id="p40",
                      evidence={"who": "Ada", "own_before_s": 0.1, "own_after_s": -2.3})
    return [*(a_pull(n) for n in range(80)), flag]


def test_a_persons_lean_reaches_the_evening_by_name_only_where_that_is_wanted():
    assert "From about 13:00 Ada's pulls ran 2.4 s faster; the others' did not." in " ".join(things(a_soft_tamp()))
    told = " ".join(things(a_soft_tamp(), show_people=False))
    assert "one person's pulls ran 2.4 s faster" in told and "Ada" not in told


def test_a_collar_turned_to_and_fro_without_a_flag_is_told_with_what_it_cost():
    records = [a_pull(n) for n in range(80)]
    for n in range(12):
        turn = 20 + n % 2
        records += [NotchMoved(id=f"m{n}", at=at(0.5 + n / 2), **ABOUT, before=turn, after=41 - turn,
                               flag_id="f" if n < 3 else None),
                    GroundsPurged(id=f"g{n}", at=at(0.5 + n / 2), **ABOUT, grams=6.0)]
    assert "turned 12 times, 9 of them without a flag; each cost 6 g" in " ".join(things(records))


def test_hands_that_change_at_noon_are_no_drift():
    """Two people in the morning, two others after noon, who lean 2 s apart; the grinder stands still."""
    chance, wrong = Random(4), 0
    for _ in range(40):
        records = [a_pull(n, (1.0 if n < 40 else -1.0) + chance.gauss(0, 1.5),
                          chance.choice(("Ada", "Ben") if n < 40 else ("Dot", "Eve"))) for n in range(80)]
        drift = evening(records, DAY).summary.figures.grinders[0].drift
        wrong += drift is not None and drift.sure
    assert wrong <= 3


def test_a_true_drift_is_found_with_people_in_the_regression():
    chance = Random(5)
    held = 0
    for _ in range(40):
        records = [a_pull(n, -0.4 * n / 8 + chance.gauss(0, 1.5), chance.choice(("Ada", "Ben", "Cleo"))) for n in range(80)]
        drift = evening(records, DAY).summary.figures.grinders[0].drift
        held += drift.low <= -0.4 <= drift.high
        assert drift.sure
    assert held >= 35


@pytest.mark.parametrize("seed", range(4))
def test_the_slope_is_that_of_statsmodels_with_people_and_runs_as_factors(seed):
    import statsmodels.formula.api as smf

    chance = Random(seed)
    rows = [(n / 8, chance.gauss(0, 1), chance.choice("ABC"), n // 30) for n in range(90)]
    points = [tuple((hours, off_s, (who,)) for hours, off_s, who, run in rows if run == which) for which in range(3)]
    found = trend(tuple(points))
    fitted = smf.ols("y ~ x + C(who) + C(run)", {"x": [r[0] for r in rows], "y": [r[1] for r in rows],
                                                  "who": [r[2] for r in rows], "run": [r[3] for r in rows]}).fit()
    assert found.s_per_hour == pytest.approx(fitted.params["x"])
    low, high = fitted.conf_int().loc["x"]
    assert found.high - found.low >= (high - low) * 0.999999
    assert found.low == pytest.approx(low) or found.high - found.low > high - low
