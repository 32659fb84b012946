"""What is due, and when: never while the bar is pulling, and gone once it was done."""

from datetime import datetime, timedelta

import pytest

from kiosk.bar.model import Noted, Pull, ScaleChecked, usual
from kiosk.bar.model.due import due

NOW = datetime.fromisoformat("2026-10-23T17:00:00+02:00")


def ago(minutes: float) -> str:
    return (NOW - timedelta(minutes=minutes)).isoformat()


def a_pull(minutes: float, **more) -> Pull:
    return Pull(id=f"p{minutes}", at=ago(minutes), grinder="Left", coffee="House", setting=20, recipe=usual("House", "double"), **more)


def noted(what: str, minutes: float) -> Noted:
    return Noted(id=what, at=ago(minutes), what=what, facts={})


def pulls(many: int, last: float, pace: float = 20.0) -> list[Pull]:
    """So many pulls, `pace` minutes apart, the last of them `last` minutes ago."""
    return [a_pull(last + n * pace) for n in range(many)]


def asked(records, **more) -> list[str]:
    return [each.what for each in due(records, NOW, **{"has_scale": False} | more)]


@pytest.mark.parametrize("quiet_minutes, asks", [(0, False), (29, False), (30, True), (31, True), (120, True)])
def test_cleaning_is_asked_for_once_the_bar_was_quiet_for_half_an_hour(quiet_minutes, asks):
    assert ("cleaned" in asked(pulls(10, quiet_minutes))) is asks


def test_a_few_pulls_ask_for_no_cleaning_and_practice_counts_for_none():
    assert "cleaned" not in asked(pulls(9, 45))
    assert "cleaned" not in asked([*pulls(9, 45), a_pull(50, practice=True)])
    assert "cleaned" in asked([*pulls(10, 45), a_pull(1, practice=True)])


def test_what_was_cleaned_is_asked_for_again_only_after_ten_more_pulls():
    before, after = pulls(12, 240), pulls(9, 40)
    assert "cleaned" not in asked([*before, noted("cleaned", 230), *after])
    assert "cleaned" in asked([*before, noted("cleaned", 230), *after, a_pull(35)])


def test_the_room_and_the_scale_are_asked_for_until_they_were_read():
    assert asked([], has_scale=True) == ["scale", "room"] and asked([]) == ["room"]
    checked = ScaleChecked(id="s", at=ago(300), nominal_g=100.0, read_g=100.1)
    assert asked([checked, noted("room", 300)], has_scale=True) == []


@pytest.mark.parametrize("days, asks", [(35, False), (36, True)])
def test_beans_are_asked_for_from_five_weeks_after_their_roast(days, asks):
    roasted = {"House": (NOW - timedelta(days=days)).date().isoformat()}
    assert ("beans" in asked([noted("room", 60)], roasted=roasted)) is asks


def test_what_was_left_at_closing_comes_first():
    first = due([], NOW, has_scale=True, left=("Backflush",))[0]
    assert first.what == "closing" and "Backflush" in first.words
