"""What a manager never reads, whatever the day was like: 0.0 s, -0.0, a negative worth of a notch, more grams than were ground."""

import re
from dataclasses import replace
from datetime import date, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from kiosk.bar.drift import Watch
from kiosk.bar.evening import groups
from kiosk.bar.evening.evening import evening
from kiosk.bar.evening.span import span, span_groups
from kiosk.bar.model import FlagRaised, GroundsPurged, NotchMoved, Pull, usual
from kiosk.book.sums import day_sums
from kiosk.commands.report import GivenDay

DAY = "2026-10-23"
RECIPES = (usual("House", "double"), usual("House", "single"))
NOTHING = re.compile(r"(?<![\d.,])[+\-−]?0([.,]0+)? (s|g|h)\b|-0\b(?!\.\d*[1-9])|\bnan\b|\binf\b")


@st.composite
def days(draw):
    """Up to 40 pulls by three people, measured or not, sunk or not, with the collar turned and grounds purged between."""
    chance = draw(st.randoms(use_true_random=False))
    kept, setting, grams = [], 20, 0.0
    wild = draw(st.booleans())
    for n in range(draw(st.integers(1, 40))):
        minutes = 420 + n * draw(st.integers(1, 20))
        at = f"{DAY}T{minutes // 60 % 24:02}:{minutes % 60:02}:00+02:00"
        recipe = chance.choice(RECIPES)
        time_s = chance.uniform(1, 120) if wild else chance.uniform(20, 30)
        dose_g = recipe.dose_g + chance.choice((0.0, 0.0, chance.uniform(-0.6, 0.6), recipe.dose_window_g[1] - recipe.dose_g + 0.02))
        pull = Pull(
            id=f"p{n:02}", at=at, grinder="Left", coffee="House", setting=setting, recipe=recipe, order_id="o",
            barista=chance.choice(("Ada", "Ben", "Cleo")), time_s=chance.choice((time_s, time_s, None)),
            dose_g=chance.choice((dose_g, dose_g, None)), yield_g=chance.choice((recipe.yield_g, None)),
            sink=chance.choice((None,) * 8 + ("tastes off",)))
        kept.append(pull)
        grams += max(dose_g, recipe.dose_g)
        if chance.random() < 0.15:
            turned = chance.choice((-1, 1))
            kept.append(NotchMoved(id=f"m{n}", at=at, grinder="Left", coffee="House", before=setting, after=setting + turned))
            setting += turned
            if chance.random() < 0.7:
                purged_g = chance.choice((0.02, 6.0))
                kept.append(GroundsPurged(id=f"g{n}", at=at, grinder="Left", coffee="House", grams=purged_g))
                grams += purged_g
    watch = Watch("Left", "House")
    for each in [each for each in kept if isinstance(each, Pull | NotchMoved)]:
        if isinstance(each, NotchMoved):
            watch.moved(each)
        elif (flag := watch.update(each).flag) is not None:
            kept.append(FlagRaised(id=f"f{each.id}", at=each.at, grinder="Left", coffee="House", setting=each.setting,
                                   what=flag.kind, direction=flag.direction, sentence=flag.sentence, evidence=flag.evidence))
    return kept, grams, watch


@settings(max_examples=25, deadline=None)
@given(days())
def test_no_day_is_told_with_nothing_in_it(day):
    kept, ground_g, watch = day
    found = evening(kept, DAY)
    said = [found.summary.sentence, *(words for thing in found.summary.to_do for words in (thing.what, thing.because)),
            *(each.sentence for each in kept if isinstance(each, FlagRaised))]
    for words in said:
        assert not NOTHING.search(words), words
    assert found.summary.figures.waste_g() <= ground_g + 1e-6
    for row in (row for group in groups(found) for row in group.rows):
        assert "-0.0 " not in f"{row.text} " and "nan" not in row.text
        if row.key == "worth" and row.value is not None:
            assert 0 < row.value and 0 <= row.low <= row.value <= row.high, row.text
        if row.unit == "g" and row.value is not None:
            assert row.value <= ground_g + 1e-6, row.text
    assert watch.known.worth > 0


def on(day, record):
    return replace(record, id=f"{day}-{record.id}", at=f"{day}{record.at[10:]}")


@settings(max_examples=15, deadline=None)
@given(st.lists(days(), min_size=1, max_size=4), st.integers(1, 9), st.sampled_from((0.0, 28.0)))
def test_no_span_of_weeks_is_told_with_nothing_in_it(drawn, apart, price):
    """Each day is told three times, `apart` days from the one before."""
    sums, ground_g = [], 0.0
    for n, (kept, grams, _) in enumerate(drawn * 3):
        day = (date.fromisoformat(DAY) + timedelta(days=n * apart)).isoformat()
        sums.append(day_sums(GivenDay(day, tuple(on(day, each) for each in kept))))
        ground_g += grams
    found = span(sums, sums[0].day, sums[-1].day, price_per_kg=price or None, currency="EUR", burrs_kg=0.05)
    for words in (found.sentence, *(said for thing in found.to_do for said in (thing.what, thing.because))):
        assert not NOTHING.search(words), words
    for row in (row for group in span_groups(found, price or None, "EUR") for row in group.rows):
        assert "-0.0 " not in f"{row.text} " and "nan" not in row.text and "inf" not in row.text.split(), row.text
        if row.key == "worth" and row.value is not None:
            assert 0 < row.value and 0 <= row.low <= row.value <= row.high, row.text
        if row.unit == "g" and row.value is not None:
            assert abs(row.value) <= ground_g + 1e-6, row.text
