"""A pull that was recorded is run again through the very code that ran it live, and comes out the same."""

import json

import pytest

from kiosk.__main__ import main
from kiosk.bar.guide import begin
from kiosk.bar.model import PlannedPull, Pull, ScaleSetup, usual
from kiosk.station.lane import Waiting, Work
from kiosk.station.recording import Recording
from tests.station.test_orders_through_the_kiosk import serve
from tests.support.at_work import AtWork


def test_a_recorded_pull_replays_to_the_dose_yield_and_time_that_the_book_holds(tmp_path, capsys):
    with AtWork(tmp_path, settings={"groups": 1, "feeds": True}) as work:
        _, pull = serve(work, ("Double espresso",))
    (feed,) = (tmp_path / "feeds").glob("*.feed")
    assert main(["replay", str(feed), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    (again,) = told["pulls"]
    assert again["dose_g"] == pytest.approx(pull.dose_g, abs=0.05)
    assert again["yield_g"] == pytest.approx(pull.yield_g, abs=0.05)
    assert again["time_s"] == pytest.approx(pull.time_s, abs=0.05)
    assert again["first_drop_s"] == pytest.approx(pull.first_drop_s, abs=0.05)
    assert told["format"] == 2 and all(reading["kept"] for reading in told["readings"])


def test_where_no_feed_can_be_kept_the_pull_is_and_its_lane_goes_on(tmp_path):
    (tmp_path / "feeds").write_text("in the way, as a full disk is")
    with AtWork(tmp_path, settings={"groups": 1, "feeds": True}) as work:
        _, first = serve(work, ("Double espresso",))
        _, second = serve(work, ("Latte",))
        assert work.book.today().of(Pull) == (first, second)
        assert work.service.lanes[1].work is None


def test_of_the_feeds_the_two_hundred_latest_are_kept(tmp_path):
    """They are named by their pulls' keys, which sort as they were made."""
    recipe, recording = usual("House", "double"), Recording(tmp_path / "feeds")
    recording.folder.mkdir()
    for n in range(199):
        (recording.folder / f"000001-abcde-{n:06d}.0.1.feed").write_text("kept before")
    (recording.folder / "a-note.txt").write_text("the bar's own")
    for n in range(199, 203):
        planned = PlannedPull(coffee="House", basket="double", drinks=())
        work = Work(key=f"000001-abcde-{n:06d}.0.1", group=1, waiting=Waiting("o", 0, planned),
                    guide=begin(recipe, 10.0 * n), grinder="Left", setting=20)
        recording.observe(10.0 * n + 5, b"ST,GS,+   0.1 g\r\n")
        assert recording.save(work, ScaleSetup()) == recording.folder / f"{work.key}.feed"
    names = sorted(path.name for path in recording.folder.glob("*.feed"))
    assert names == [f"000001-abcde-{n:06d}.0.1.feed" for n in range(3, 203)]
    assert (recording.folder / "a-note.txt").exists()


def test_of_a_day_s_lines_the_last_quarter_of_an_hour_is_remembered(tmp_path):
    """At ten a second an hour's lines are 5 MB, and a pull is over in two minutes."""
    recording, planned = Recording(tmp_path / "feeds"), PlannedPull(coffee="House", basket="double", drinks=())
    for n in range(36_000):
        recording.observe(n / 10, b"%d\r\n" % n)
    work = Work(key="000001-abcde-000001.0.1", group=1, waiting=Waiting("o", 0, planned),
                guide=begin(usual("House", "double"), 0.0), grinder="Left", setting=20)
    lines = [line for line in recording.save(work, ScaleSetup()).read_text().splitlines() if not line.startswith("#")]
    assert (lines[0], lines[-1], len(lines)) == ("2699.900 26999", "3599.900 35999", 9001)
