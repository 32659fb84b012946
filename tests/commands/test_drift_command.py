"""`python -m kiosk drift FILE.csv`: for anyone to check, with a table of their own."""

import csv
import io
import json
import re
import xml.etree.ElementTree as xml
from dataclasses import replace
from random import Random

import pytest

from kiosk.bar.drift import Watch
from kiosk.bar.model import Pull, usual
from kiosk.book.rows import COLUMNS, row
from kiosk.commands import drift as drift_command

RECIPE = usual("house", "double")


def a_shift(moves_at: int = 20, pulls: int = 40) -> list[Pull]:
    rng = Random(3)
    return [Pull(id=f"p{n}", at=f"2026-01-05T{9 + n // 20:02d}:{n % 20 * 3:02d}:00+01:00", grinder="left", coffee="house",
                 setting=12, recipe=RECIPE, barista="AB"[n % 2], dose_g=round(rng.gauss(16, 0.2), 1),
                 yield_g=round(rng.gauss(RECIPE.yield_g, 1), 1), first_drop_s=4.0,
                 time_s=round(25 + (5 if n >= moves_at else 0) + rng.gauss(0, 1.5), 1)) for n in range(pulls)]


@pytest.fixture
def table(tmp_path):
    def written(text: str):
        path = tmp_path / "pulls.csv"
        path.write_text(text, encoding="utf-8")
        return str(path)
    return written


def exported(pulls: list[Pull]) -> str:
    out = io.StringIO()
    writer = csv.DictWriter(out, COLUMNS)
    writer.writeheader()
    writer.writerows(row(pull, "2026-01-05", "bar") for pull in pulls)
    return out.getvalue()


def test_the_kiosks_own_export_is_judged_as_the_kiosk_judged_it(table, capsys):
    pulls, watch = a_shift(), Watch("left", "house")
    live = [watch.update(pull) for pull in pulls]
    assert drift_command.run([table(exported(pulls)), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["format"] == 2 and told["unread"] == []
    assert [each["kind"] for each in told["pulls"]] == [verdict.kind for verdict in live]
    assert [each["value"] for each in told["pulls"]] == pytest.approx([verdict.value for verdict in live], abs=1e-3)
    assert [each["flag"]["sentence"] for each in told["pulls"] if each["flag"]] == [v.flag.sentence for v in live if v.flag]
    assert told["advice"][0]["act"] == live[-1].advice.act == "notch"


def test_only_grinder_and_time_are_needed(table, capsys):
    assert drift_command.run([table("time_s,grinder\n25,left\n24.5,left\n26,right\n")]) == 0
    out = capsys.readouterr().out
    assert out.count("steady") == 3 and "left, coffee" in out and "right, coffee" in out


def test_each_line_shows_even_time_chart_value_limits_and_verdict_and_the_advice_comes_last(table, capsys):
    drift_command.run([table(exported(a_shift()))])
    lines = capsys.readouterr().out.splitlines()
    assert lines[0].split() == ["line", "at", "grinder", "at", "time", "even", "off", "level", "chart", "limits", "verdict"]
    assert "drifting" in lines[-4] and "has drifted" in "\n".join(lines)
    assert "One notch coarser" in lines[-2] and "A notch is worth" in lines[-1]


def flags_of(text: str, table, capsys) -> list[dict]:
    assert drift_command.run([table(text), "--json"]) == 0
    return [each["flag"] for each in json.loads(capsys.readouterr().out)["pulls"] if each["flag"]]


def test_three_late_taps_raise_nothing_and_a_few_more_are_asked_about(table, capsys):
    quiet = "grinder,time_s\n" + "".join(f"left,{s}\n" for s in (25, 24, 26, 25, 24, 26, 25, 25, 24, 26))
    assert flags_of(quiet + "left,44\nleft,45\nleft,43\n", table, capsys) == []
    flags = flags_of(quiet + "".join(f"left,{s}\n" for s in (44, 45, 43, 44, 46, 44, 45)), table, capsys)
    assert [flag["kind"] for flag in flags] == ["late_stops"] and "Were these stopped late?" in flags[0]["sentence"]
    assert flags[0]["direction"] is None


def test_a_time_that_a_contact_told_is_believed_where_a_tap_is_not(table, capsys):
    rows = [f"left,{s},contact\n" for s in (25, 24, 26, 25, 24, 26, 25, 25, 24, 26, 44, 45, 43)]
    flags = flags_of("grinder,time_s,time_from\n" + "".join(rows), table, capsys)
    assert flags and flags[0]["kind"] == "drifting" and flags[0]["direction"] == "coarser"


def test_a_late_tap_named_as_such_says_nothing_of_the_grinder(table, capsys):
    rows = [f"left,{s},{how}\n" for s, how in [(25, "tap")] * 10 + [(60, "late tap")] * 8]
    assert flags_of("grinder,time_s,time_from\n" + "".join(rows), table, capsys) == []


def test_the_numbers_of_a_flag_are_those_of_the_pulls_it_names(table, capsys):
    assert drift_command.run([table(exported(a_shift())), "--json"]) == 0
    pulls = json.loads(capsys.readouterr().out)["pulls"]
    at = next(n for n, each in enumerate(pulls) if each["flag"])
    found = pulls[at]["flag"]["evidence"]
    offs = [each["deviation_s"] for each in pulls[:at + 1]]
    last, before = offs[-found["last_pulls"]:], offs[:-found["last_pulls"]]
    assert len(before) == found["before_pulls"]
    assert sum(last) / len(last) == pytest.approx(found["after_s"], abs=0.01)
    assert sum(before) / len(before) == pytest.approx(found["before_s"], abs=0.01)
    by_s = abs(found["after_s"] - found["before_s"])
    assert f"the last {len(last)} pulls ran {by_s:.1f} s slower" in pulls[at]["flag"]["sentence"]
    assert sum(each["probability"] for each in pulls[at]["causes"]) == pytest.approx(1.0)


@pytest.mark.parametrize("cells, said", [
    ("left,abc,,", "time_s is 'abc'. Write a number"), ("left,,,", "Fill in the column time_s"), (",25,,", "names no grinder"),
    ("left,-4,,", "between 0.5 and 300"), ("left,nan,,", "Write a number"), ("left,25,1e9,", "dose_g is 1e9"),
    ("left,25,,triple", "Write single or double"), ("left,inf,,", "Write a number")])
def test_a_bad_row_is_named_with_what_to_do_and_the_others_are_judged(table, capsys, cells, said):
    assert drift_command.run([table(f"grinder,time_s,dose_g,basket\nleft,25,16,double\n{cells}\nleft,24,16,double\n"),
                              "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert [each["line"] for each in told["pulls"]] == [2, 4]
    assert [each["line"] for each in told["unread"]] == [3] and said in told["unread"][0]["why"]


@pytest.mark.parametrize("text, said", [
    ("a,b\n1,2\n", "no column grinder and no column time_s"), ("grinder,time_s\n", "holds no pull"), ("", "no column"),
    ("grinder,time_s\nleft,x\n", "Line 2 was left out")])
def test_a_table_with_nothing_to_judge_ends_with_2_and_says_why(table, capsys, text, said):
    assert drift_command.run([table(text)]) == 2
    assert said in capsys.readouterr().err


def test_what_to_do_next_is_called_as_it_is_on_a_station(table, capsys, monkeypatch):
    monkeypatch.setattr("sys.argv", ["/usr/local/bin/evenpull"])
    drift_command.run([table("grinder,time_s\n")])
    assert "Export some: evenpull export pulls.csv" in capsys.readouterr().err


def test_a_file_that_is_not_there_ends_with_2_and_says_so(tmp_path, capsys):
    assert drift_command.run([str(tmp_path / "none.csv")]) == 2
    assert "cannot be read" in capsys.readouterr().err


def test_semicolons_and_decimal_commas_are_read(table, capsys):
    assert drift_command.run([table("grinder;time_s;dose_g\nleft;25,3;16,1\n"), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["pulls"][0]["time_s"] == 25.3


def test_rows_out_of_order_are_judged_in_the_order_of_their_times(table, capsys):
    pulls = a_shift()
    drift_command.run([table(exported(pulls)), "--json"])
    ordered = json.loads(capsys.readouterr().out)
    drift_command.run([table(exported(pulls[::-1])), "--json"])
    reversed_ = json.loads(capsys.readouterr().out)
    assert [each["kind"] for each in reversed_["pulls"]] == [each["kind"] for each in ordered["pulls"]]


def test_bytes_of_any_kind_end_in_a_sentence_and_not_in_a_traceback(tmp_path, capsys):
    path, rng = tmp_path / "noise.csv", Random(5)
    for n in range(60):
        path.write_bytes(b"grinder,time_s\n" * (n % 2) + rng.randbytes(rng.randint(0, 300)))
        assert drift_command.run([str(path)]) in (0, 2)
    capsys.readouterr()


def test_the_chart_is_one_page_that_fetches_nothing_with_a_mark_for_every_pull(table, tmp_path, capsys):
    pulls = a_shift() + [replace(pull, grinder="<b>right</b>", id=f"r{pull.id}") for pull in a_shift(pulls=10)]
    assert drift_command.run([table(exported(pulls)), "--chart", str(tmp_path / "chart.html")]) == 0
    text = (tmp_path / "chart.html").read_text(encoding="utf-8")
    assert "<script" not in text and "http" not in text.replace("http-equiv", "") and "<b>" not in text
    charts = [xml.fromstring(part) for part in text.split("<figure>\n")[1:] for part in [part.split("\n<figcaption")[0]]]
    assert len(charts) == 2
    marks = sum(len([mark for mark in chart if mark.tag in ("circle", "rect") or mark.get("fill") or mark.get("stroke")])
                for chart in charts)
    assert marks >= 50
    assert "<h1>Drift: pulls.csv</h1>" in text and str(tmp_path) not in text
    for chart in charts:
        across = [each.text for each in chart.iter() if re.fullmatch(r"(\d\d-\d\d )?\d\d:\d\d", each.text or "")]
        assert len(across) >= 3 and len(across[0]) == 11 and across == sorted(across[:1]) + sorted(across[1:])
        assert any("when each pull was made" in (each.text or "") for each in chart.iter())


def test_help_names_every_column_that_is_read(capsys):
    with pytest.raises(SystemExit) as ended:
        drift_command.run(["--help"])
    assert ended.value.code == 0
    out = capsys.readouterr().out
    for name in (*drift_command.NEEDED, *drift_command.RANGES, "at", "coffee", "basket", "setting", "barista", "sink", "practice",
                 "purged", "target_dose_g", "target_yield_g", "target_time_s"):
        assert name in out


@pytest.mark.parametrize("at", ["0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-14:00", "2026-01-01T08:05:00"])
def test_a_row_of_another_age_or_of_no_known_place_is_left_out_by_its_line_and_the_rest_is_judged(tmp_path, capsys, at):
    (tmp_path / "pulls.csv").write_text(f"grinder,time_s,at\nG,25,2026-01-01T08:00:00+01:00\nG,27,{at}\n")
    assert drift_command.run([str(tmp_path / "pulls.csv"), "--chart", str(tmp_path / "page.html")]) == 0
    told = capsys.readouterr().out
    assert "Line 3 was left out: its time of day" in told and " -0.0" not in told
