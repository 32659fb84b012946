"""A recorded feed: written by the kiosk, read by a person or a program, and run again as it ran live."""

import json
import tracemalloc
from dataclasses import asdict
from math import exp
from pathlib import Path
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kiosk.bar.model import usual
from kiosk.bar.weighing import DoseWatch, Habits, Poured, PourWatch, Sample, StopNow
from kiosk.commands.replay import Replay, run, verdict
from kiosk.station.feed import (
    DEEDS,
    OPENING,
    BadLine,
    Done,
    Header,
    HeardLine,
    Recorder,
    read,
    written,
)
from tests.bench.balance import Balance, Shown
from tests.bench.feed import replayed
from tests.bench.group import DT_S, Group, Pour

DOUBLE = usual("house", "double")
HABITS = Habits((Poured(reaction_s=0.4, flow_g_per_s=2.2, after_g=2.5, bend_s=0.6),))
EMPTIES = (("left", 540.0),)


def live_pull(path: Path) -> list:
    """One pull on a simulated group and scale through the live watches, recorded to `path`; the sightings it gave."""
    told = {"recipe": asdict(DOUBLE), "portafilters": EMPTIES, "habits": asdict(HABITS)}
    recorder, chance = Recorder(path, told), Random(6)
    pour, shown = Pour(Group.drawn(chance), chance), Shown(Balance.drawn(chance), chance)
    deeds = {1.0: "dose", 8.0: "lock in", 12.0: "pump on"}
    sightings, watch, stop_s, t_s = [], None, None, 0.0
    for step in range(round(55 / DT_S)):
        t_s = round(step * DT_S, 3)
        if t_s in deeds:
            recorder.done(t_s, deeds[t_s])
            watch = (DoseWatch(DOUBLE, EMPTIES, t_s) if t_s == 1.0 else PourWatch(DOUBLE, HABITS, t_s) if t_s == 8.0
                     else watch)
            sightings += watch.pump_on(t_s) if t_s == 12.0 else ()
        if t_s > 12.0:
            pour.step()
        if stop_s is not None and t_s >= stop_s:
            pour.stop()
            recorder.done(t_s, "pump off")
            sightings += watch.pump_off(t_s)
            stop_s = float("inf")
        load_g = 540.0 + 16.2 if 2 <= t_s < 7 else 155.0 + pour.cup_g if t_s > 9 else 0.0
        arrived = shown.step(t_s, load_g, 12.0 < t_s and stop_s is None)
        if arrived and watch is not None:
            raw = f"ST,GS,{arrived[1]:+9.1f} g\r\n".encode()
            recorder.observe(arrived[0], raw)
            found = watch.observe(Sample(round(arrived[0], 3), arrived[1], True))
            sightings += found
            stop_s = next((s.t_s + 0.45 for s in found if isinstance(s, StopNow)), stop_s)
    recorder.close()
    assert recorder.failed is None
    return sightings


def replay(path: Path, capsys, *more: str) -> dict:
    assert run([str(path), "--json", *more]) == 0
    return json.loads(capsys.readouterr().out)


@settings(deadline=None)
@given(t_s=st.floats(0, 1e6), raw=st.binary(max_size=80))
def test_any_bytes_a_scale_sends_come_back_from_the_feed_as_they_were(t_s, raw):
    raw = raw.rstrip(b"\r\n")
    line = written(HeardLine(t_s, raw))
    assert line.isprintable() and line.isascii()
    assert list(read([line + "\n"])) == [HeardLine(round(t_s, 3), raw)]


def test_a_pull_replayed_from_its_feed_gives_what_it_gave_live(tmp_path, capsys):
    live = live_pull(tmp_path / "pull.feed")
    (again,) = replay(tmp_path / "pull.feed", capsys)["pulls"]
    assert again["sightings"] == [json.loads(json.dumps({"sighting": type(s).__name__, **asdict(s)})) for s in live]
    assert {"DoseRead", "CupSet", "FirstDrop", "StopNow", "Settled"} <= {s["sighting"] for s in again["sightings"]}


def test_replay_tells_first_drop_flow_cue_yield_and_verdict(tmp_path, capsys):
    live_pull(tmp_path / "pull.feed")
    told = replay(tmp_path / "pull.feed", capsys)
    assert told["format"] == 2 and told["unread"] == []
    (pull,) = told["pulls"]
    assert pull["dose_g"] == pytest.approx(16.2, abs=0.15)
    assert 0 < pull["first_drop_s"] < pull["stop_cue_s"] < pull["time_s"]
    assert pull["yield_g"] == pytest.approx(DOUBLE.yield_g, abs=1.5) and 0.5 < pull["flow_g_per_s"] < 6
    assert pull["verdict"]["in_window"] in (True, False) and pull["verdict"]["findings"]
    assert pull["recipe"]["coffee"] == "house"


def test_each_reading_is_shown_kept_or_refused_with_its_reason(tmp_path, capsys):
    path = tmp_path / "mixed.feed"
    path.write_text("\n".join((OPENING, "0.1 ST,+ 18.2 g", "0.2 OL", "0.3 \\x02  18,3 g\\x03", "0.4 rhubarb", "rhubarb",
                               "# lunch", "9.0 1 g", "2 2 g", "")))
    told = replay(path, capsys)
    kept = [(reading["t_s"], reading["grams"]) for reading in told["readings"] if reading["kept"]]
    assert kept == [(0.1, 18.2), (0.3, 18.3), (9.0, 1.0)]
    refused = [(reading["t_s"], reading["why"]) for reading in told["readings"] if not reading["kept"]]
    assert [t_s for t_s, _ in refused] == [0.2, 0.4] and "overload" in refused[0][1] and refused[1][1]
    assert [(line["line"], line["why"]) for line in told["unread"]] == [
        (6, "it does not begin with seconds"), (9, "its time goes back")]

    assert run([str(path)]) == 0
    text = capsys.readouterr().out
    assert "0.100  kept         18.20 g at rest" in text
    assert "0.200  refused  the scale says that it is overloaded" in text
    assert "line 6 skipped: it does not begin with seconds" in text


def bare(t_s: float, cup_g: float = 0.0) -> float:
    """A straight stream from 9 s to 30 s, on a scale 0.2 s late, and the valve's tail."""
    return cup_g + 2.2 * max(0.0, min(t_s, 30.2) - 9.2) + 0.9 * (1 - exp(-max(0.0, t_s - 30.2) / 0.4))


def test_a_feed_without_any_deed_is_worked_back_from_its_first_drop(tmp_path, capsys):
    path = tmp_path / "bare.feed"
    path.write_text("".join(f"{i / 10:.1f} {bare(i / 10):.1f} g\n" for i in range(370)))
    (pull,) = replay(path, capsys, "--basket", "double")["pulls"]
    on, off = pull["pump_on"], pull["pump_off"]
    assert on["from"] == "scale" and on["t_s"] + pull["first_drop_s"] == pytest.approx(9.0, abs=0.5)
    assert 2.5 < pull["first_drop_s"] < 8 and 0.5 < on["within_s"] <= 4
    assert off["from"] == "scale" and off["t_s"] == pytest.approx(30.0, abs=0.6)
    assert pull["yield_g"] == pytest.approx(47.1, abs=0.2) and pull["group"] is None


def test_a_feed_in_which_nothing_pours_holds_no_pull(tmp_path, capsys):
    path = tmp_path / "still.feed"
    path.write_text("".join(f"{i / 10:.1f} {120.0 if i > 100 else 0.0} g\n" for i in range(400)))
    assert replay(path, capsys)["pulls"] == []


def test_each_pull_of_a_feed_of_readings_alone_is_found_with_its_dose(tmp_path, capsys):
    path, lines = tmp_path / "bare.feed", []
    for n in range(3):
        for i in range(1000):
            t_s = i / 10
            load_g = (0.0 if t_s < 5 else 541.0 if t_s < 10 else 541.0 + min(16.2, (t_s - 10) * 3) if t_s < 20
                      else 0.0 if t_s < 30 else bare(t_s - 25, 120.0) if t_s < 62 else 0.0)
            lines.append(f"{100 * n + t_s:.1f} ST,{load_g:.1f} g")
    path.write_text("\n".join(lines))
    pulls = replay(path, capsys)["pulls"]
    assert [round(pull["pump_off"]["t_s"]) for pull in pulls] == [55, 155, 255]
    assert [pull["dose_g"] for pull in pulls] == [pytest.approx(16.2, abs=0.1)] * 3


def test_a_groups_own_signal_tells_its_pulls_from_its_purges(tmp_path, capsys):
    path, lines = tmp_path / "contact.feed", []
    for i in range(1200):                   # a purge of 3 s, then a pull of 25 s on each of two groups in turn
        t_s = i / 10
        for began, group in ((10.0, 2), (30.0, 2), (75.0, 1)):
            long_s = 3.0 if began == 10.0 else 25.0
            if t_s == began:
                lines.append(f"# {t_s:.1f} contact {group} on")
            if t_s == began + long_s:
                lines.append(f"# {t_s:.1f} contact {group} off")
        load_g = 0.0 if t_s < 20 or 64 < t_s < 70 or t_s > 112 else 120.0
        for began in (30.0, 75.0):
            if began <= t_s and load_g and t_s < began + 35:
                load_g = 120.0 + 2.2 * max(0.0, min(t_s, began + 25.2) - began - 5.2)
        lines.append(f"{t_s:.1f}@1 {load_g:.1f} g")
    path.write_text("\n".join(lines))
    told = replay(path, capsys)
    assert told["unread"] == []
    assert [(pull["group"], pull["pump_on"], pull["pump_off"]["t_s"]) for pull in told["pulls"]] == [
        (2, {"t_s": 30.0, "from": "contact", "within_s": 0.1}, 55.0),
        (1, {"t_s": 75.0, "from": "contact", "within_s": 0.1}, 100.0)]
    assert [pull["yield_g"] for pull in told["pulls"]] == [pytest.approx(44.0, abs=0.3)] * 2


def test_two_scales_are_told_apart_by_their_number(tmp_path, capsys):
    path, lines = tmp_path / "two.feed", []
    for i in range(500):
        t_s = i / 10
        lines += [f"{t_s:.1f} {bare(t_s, 110.0):.1f} g", f"{t_s:.1f}@2 {bare(t_s - 7, 240.0):.1f} g"]
    path.write_text("\n".join(lines))
    told = replay(path, capsys)
    assert {reading["scale"] for reading in told["readings"]} == {1, 2}
    assert [round(pull["pump_off"]["t_s"]) for pull in told["pulls"]] == [30, 37]
    assert [pull["yield_g"] for pull in told["pulls"]] == [pytest.approx(47.1, abs=0.2)] * 2


def test_pulls_after_a_told_one_are_found_too(tmp_path, capsys):
    live_pull(tmp_path / "pull.feed")
    lines = (tmp_path / "pull.feed").read_text().splitlines()
    lines += [f"{60 + i / 10:.1f} 0.0 g" for i in range(50)]
    lines += [f"{65 + i / 10:.1f} {bare(i / 10, 130.0):.1f} g" for i in range(370)]
    (tmp_path / "pull.feed").write_text("\n".join(lines))
    first, second = replay(tmp_path / "pull.feed", capsys)["pulls"]
    assert first["pump_on"] == {"t_s": 12.0, "from": "tap", "within_s": 1.0}
    assert second["pump_on"]["from"] == "scale" and second["yield_g"] == pytest.approx(47.1, abs=0.2)
    assert first["yield_g"] == pytest.approx(DOUBLE.yield_g, abs=1.5)


def test_a_station_with_a_pattern_of_its_own_is_replayed_by_it(tmp_path, capsys):
    path = tmp_path / "pattern.feed"
    pattern = r"W(?P<weight>\d+)/(?P<unit>mg|g)"
    path.write_text(f"{written(Header('pattern', pattern))}\n0.1 W18200/mg\n0.2 18.2 g\n")
    readings = replay(path, capsys)["readings"]
    assert [(reading["kept"], reading.get("grams")) for reading in readings] == [(True, 18.2), (False, None)]


def test_a_file_that_is_not_there_or_a_spoilt_head_is_said_in_a_sentence(tmp_path, capsys):
    assert run([str(tmp_path / "none.feed")]) == 2
    assert "cannot be read" in capsys.readouterr().err
    bucket = '# recipe {"coffee": "house", "basket": "bucket", "dose_g": 8, "amount": 30}'
    for head in ('# recipe {"coffee": "house"}', bucket,
                 "# portafilters 7", '# habits {"pulls": 7}', '# pattern "("', '# unit "stone"'):
        (tmp_path / "spoilt.feed").write_text(head + "\n")
        assert run([str(tmp_path / "spoilt.feed")]) == 2
        said = capsys.readouterr().err
        assert "Correct the remark" in said and "Traceback" not in said


def test_a_remark_that_is_not_json_is_skipped_and_named():
    (told,) = read(["# recipe {coffee"])
    assert isinstance(told, BadLine) and told.number == 1 and "not JSON" in told.why


@pytest.mark.parametrize("deed", DEEDS)
def test_each_deed_of_a_hand_comes_back_from_the_feed(deed):
    assert list(read([written(Done(12.5, deed))])) == [Done(12.5, deed)]


def test_a_scale_lost_in_the_feed_is_lost_in_the_replay():
    feed = [Done(0.0, "pump on"), *(HeardLine(i / 10, b"0.0 g") for i in range(1, 30)), Done(3.0, "scale lost")]
    pull = list(Replay(DOUBLE).items(feed))[-1]
    assert [type(sighting).__name__ for sighting in pull.sightings] == ["YieldLost"]
    assert verdict(pull).in_window is None


def test_a_disk_that_refuses_the_recording_does_not_stop_the_service(tmp_path):
    recorder = Recorder(tmp_path / "no such folder" / "pull.feed", {})
    recorder.observe(1.0, b"1.0 g")
    recorder.done(2.0, "pump on")
    recorder.close()
    assert isinstance(recorder.failed, OSError)


def test_a_longer_feed_takes_no_more_memory_to_replay():
    # A slice of the whole day that `python -m tests.bench.feed` replays.
    peaks = []
    for minutes in (1.5, 4.5):
        tracemalloc.start()
        _, kept, pulls, _ = replayed(minutes / 60, seed=2, deeds=True)
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
        assert (kept, pulls) == (minutes * 1200, minutes * 60 // 90)
    assert peaks[1] <= peaks[0] + 100_000      # 3,600 readings kept would be twice that; when the collector runs is chance


@pytest.mark.parametrize("feed", ["", OPENING + "\n", "# recipe " + "[" * 100_000 + "\n", "\x00\xff no feed\n"])
def test_a_file_with_no_reading_in_it_is_told_apart_from_a_feed(tmp_path, capsys, feed):
    (tmp_path / "no.feed").write_text(feed)
    assert run([str(tmp_path / "no.feed")]) == 2
    assert "holds no reading of a scale. Give the path of a recorded feed." in capsys.readouterr().err


@pytest.mark.parametrize("head", ['# recipe {"coffee": "h", "basket": "double", "dose_g": "16", "amount": 30}',
                                  '# recipe {"coffee": "h", "basket": "double", "dose_g": 300, "amount": 30}',
                                  "# recipe null", "# pattern 5", '# habits {"pulls": [{"reaction_s": "x"}]}',
                                  "# portafilters [[1, 2]]"])
def test_a_spoilt_remark_is_told_in_the_bars_words_with_one_full_stop(tmp_path, capsys, head):
    (tmp_path / "spoilt.feed").write_text(head + "\n1.0 10 g\n")
    assert run([str(tmp_path / "spoilt.feed")]) == 2
    said = capsys.readouterr().err
    assert said.endswith(". Correct the remark, or take it out.\n") and ".." not in said
    assert not any(word in said for word in ("object", "argument", "__init__", "NoneType", "instances"))
