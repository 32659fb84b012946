"""A bar that reads German: no room of the kiosk has English left in it, over a whole day of the demo bar."""

import json
import re
from datetime import datetime, timedelta, timezone

import pytest

from assets.languages.catalogue import read_po
from assets.languages.gather import ROOT
from kiosk.bar.model.record import from_json
from kiosk.languages import catalogue
from kiosk.screens.ui import words
from kiosk.screens.ui.touch import Words
from tests.support import tour
from tests.support.at_work import AtWork

DAY = "2026-10-24"
CLOSING = datetime(2026, 10, 25, 3, 30, tzinfo=timezone(timedelta(hours=1)))
ENGLISH = re.compile(r"\b(the|of|to|pulls?|and|ran|from|not|them|before|each|at|with|no|it|by|than|is|for|on|this|"
                     r"notch|flag|window|dose|yield|moved|slow|order|served|grinder)\b", re.I)
GERMAN = read_po((ROOT / "assets" / "languages" / "de" / "evenpull.po").read_text("utf-8"))
POINT = re.compile(r"\d\.\d")


@pytest.fixture(autouse=True)
def spoken_after():
    yield
    words.speak(catalogue("en"))


def left_in_english(root, names):
    """What stands on the screen as it is written in the code, or has an English word in it; names left out."""
    for shown in root.walk(restrict=True):
        if isinstance(shown, Words) and tour.shown(shown):
            for text in shown.text.split("\n"):
                own = re.sub("|".join(map(re.escape, names)), "", text)
                if text and GERMAN.get(text, text) != text and text not in names or ENGLISH.search(own):
                    yield text


def points(root):
    return [shown.text for shown in root.walk(restrict=True) if isinstance(shown, Words) and POINT.search(shown.text)]


def demo_bar():
    about = json.loads((ROOT / "demo_data" / "bar.json").read_text("utf-8"))
    days = [day for day in about["days"] if day <= DAY]
    return about["settings"], [from_json(json.loads(line)) for day in days for line in
                               (ROOT / "demo_data" / f"{day}.jsonl").read_text("utf-8").splitlines()]


def evening_rooms(work):
    """Every page of every room that the manager sees in the evening."""
    rooms = work.kiosk.root

    def go(name):
        rooms.go(name)
        work.settle_threads()
        return rooms.open

    day = go("today").evening
    yield "today"
    for thing in day.summary.to_do:
        rooms.open_pulls(words._(thing.what), thing.record_ids, day, "today")
        yield "pulls"
    for pull in day.summary.figures.pulls[::60]:
        rooms.open_pull(pull.id)
        yield "pull"
    go("today")
    rooms.open_figures(day, "")
    figures = rooms.open
    for n, group in enumerate(figures._groups):
        figures.choose(n)
        for _page in range(0, len(group.rows), 4):
            yield f"figures, {group.name}"
            figures.turn()
    for row in (row for group in figures._groups for row in group.rows if row.key in ("flag", "move", "beans", "room")):
        rooms.open_pulls(words._(row.name), row.record_ids, day, "figures")
        yield "pulls"
    weeks = go("weeks")
    for _group in weeks._groups:
        for _page in range(0, 8, 2):
            yield f"weeks, {weeks.title}"
            weeks.turn()
        weeks.next_group()
    notes = go("notes")
    yield "notes"
    for what, facts in (("beans", {"coffee": "Dusk", "roasted": "2026-10-12"}), ("room", notes.service.notes.room_now()),
                        ("cleaned", {"part": "groups and shower screens"}), ("burrs", {"grinder": "Left"})):
        notes._note(what, **facts)
        yield f"notes, {what}"
    setup = go("setup")
    for n in range(setup._tabs.count):
        setup.choose(n)
        for inside in ("", *setup._names.values()):
            setup.look_inside(inside)
            for _page in range(setup._rows.pages):
                yield f"setup {n} {inside}"
                setup.turn()


def test_the_manager_reads_a_demo_day_and_its_weeks_in_german_down_to_the_last_figure(tmp_path):
    settings, records = demo_bar()
    names = {"Left", "Right", "Dusk", "Meadow", settings["bar"], *settings["staff"]}
    with AtWork(tmp_path, scale=False, settings=settings | {"language": "de"}, day=CLOSING) as work:
        work.book.keep_all(records)
        seen = 0
        for place in evening_rooms(work):
            work.frames(1)
            assert not [*left_in_english(work.kiosk.root, names)], place
            assert not points(work.kiosk.root), place
            seen += 1
        assert work.book.day_now() == DAY and seen > 80


def test_nobody_at_work_reads_english_at_a_german_station(tmp_path, monkeypatch):
    monkeypatch.setattr(tour, "COLLAR", {"finer": "finer"})      # a collar's own words are the bar's
    names = {"Left", "Right", "House", "Decaf", *tour.SETTINGS["staff"], "First week at the bar", str(tmp_path)}      # the bar's own
    with AtWork(tmp_path, scale=False, settings=tour.SETTINGS | {"language": "de"}) as work:
        for place in tour.visit(work):
            assert not [*left_in_english(work.kiosk.root, names)], place
            assert not points(work.kiosk.root), place
