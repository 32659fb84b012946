"""The evening out of the kiosk: any day, week or span, in four forms; and written at each closing by itself."""

import csv
import io
import json
from datetime import timedelta
from errno import EACCES

import pytest

from kiosk.bar.evening import groups
from kiosk.bar.evening.evening import evening
from kiosk.bar.model import Noted, Pull, usual
from kiosk.book import Book
from kiosk.commands import pin, report, shift
from kiosk.station.clock import Clock
from kiosk.station.evenings import evening_of
from kiosk.station.reports import COLUMNS, Alone, table
from kiosk.station.station import Station
from tests.support.bar_of_the_book import MORNING, WallClock, pulled

DEMO_DAY = "2026-10-24"


def run(capsys, *argv):
    code = report.run(list(argv))
    said = capsys.readouterr()
    return code, said.out, said.err


@pytest.fixture
def station(tmp_path):
    clock, t_s = WallClock(), [0.0]
    with Book.open(tmp_path / "book", now=clock) as book:
        yield Station.open(book, Clock(monotonic=lambda: t_s[0], wall=clock)), clock, t_s


def close_through(closing, t_s):
    """A minute of ticks, and the thread that they may have begun."""
    t_s[0] += 61
    closing.tick()
    if closing._at_work:
        closing._at_work.join()


def test_a_day_is_told_as_text_json_csv_and_a_page(capsys, tmp_path):
    text = run(capsys, "--demo", "--day", DEMO_DAY)[1]
    for words in ("247 pulls", "Start tomorrow at: 18", "Emil: doses spread by", "Busiest hour", "A notch is worth"):
        assert words in text
    plain = json.loads(run(capsys, "--demo", "--day", DEMO_DAY, "--json")[1])
    assert (plain["format"], plain["totals"]["pulls"]) == (1, 247)
    rows = list(csv.DictReader(io.StringIO(run(capsys, "--demo", "--day", DEMO_DAY, "--csv")[1])))
    assert tuple(rows[0]) == COLUMNS
    assert {row["group"] for row in rows} >= {"Left, Dusk", "Right, Meadow", "Team", "Waste", "Service", "Noted"}
    code, out, _ = run(capsys, "--demo", "--day", DEMO_DAY, "--html", str(tmp_path / "page.html"))
    assert code == 0 and "Written" in out
    assert (tmp_path / "page.html").read_text("utf-8").startswith("<!DOCTYPE html>")


def test_the_table_and_the_object_hold_the_same_figures(capsys):
    plain = json.loads(run(capsys, "--demo", "--day", DEMO_DAY, "--json")[1])
    table = list(csv.DictReader(io.StringIO(run(capsys, "--demo", "--day", DEMO_DAY, "--csv")[1])))
    rows = [(group["name"], row) for group in plain["groups"] for row in group["rows"]]
    assert len(rows) == len(table)
    for (group, row), cells in zip(rows, table):
        assert (cells["group"], cells["figure"]) == (group, row["key"])
        for name in ("value", "low", "high", "of"):
            assert (float(cells[name]) if cells[name] else None) == row[name]
        assert cells["records"].split() == row["record_ids"]


def test_no_cell_of_the_table_is_run_by_a_spreadsheet(capsys):
    _, out, _ = run(capsys, "--demo", "--day", DEMO_DAY, "--csv", "--weeks")
    for cells in csv.DictReader(io.StringIO(out)):
        assert not [cell for name in ("group", "name", "text") if (cell := cells[name])[:1] in ("=", "+", "-", "@")]


def test_a_week_by_its_name_is_the_span_of_its_days(capsys):
    week = json.loads(run(capsys, "--demo", "--week", "2026-W43", "--json")[1])
    span = json.loads(run(capsys, "--demo", "--day", "2026-10-19", "--to", "2026-10-25", "--json")[1])
    assert week == span and week["first_day"] == "2026-10-19" and week["totals"]["pulls"] == 1307


def test_the_weeks_are_added_on_demand(capsys):
    _, out, _ = run(capsys, "--demo", "--day", "2026-11-01", "--weeks")
    assert "Through its burrs" in out and "% more humidity" in out and "2026-W44 against 2026-W43" in out
    assert "Through its burrs" not in run(capsys, "--demo", "--day", "2026-11-01")[1]


def test_text_and_page_are_in_the_language_asked_for_and_what_programs_read_in_english(capsys, tmp_path):
    text = run(capsys, "--demo", "--day", DEMO_DAY, "--language", "de")[1]
    for words in ("Samstag, 24. Oktober 2026", "247 Bezüge, 95 % im Zielbereich", "Morgen zu tun", "+0,1 s",
                  "Emil: Dosen streuen um: 0,31 g", "Left auf 18 driftet"):
        assert words in text
    for form in ("--json", "--csv"):
        assert run(capsys, "--demo", "--day", DEMO_DAY, form, "--language", "de") == run(capsys, "--demo", "--day",
                                                                                         DEMO_DAY, form)
    run(capsys, "--demo", "--day", DEMO_DAY, "--language", "de", "--html", str(tmp_path / "page.html"))
    assert '<html lang="de">' in (tmp_path / "page.html").read_text("utf-8")


def test_the_evening_is_written_in_the_managers_language_else_the_stations(station):
    service, _, _ = station
    closing = service.closing
    pulled(service.book, 6)

    def written():
        closing.write(service.book.day_now(), wait=True)
        text, html, json_ = ((closing.folder / f"{service.book.day_now()}.{form}").read_text("utf-8")
                             for form in ("txt", "html", "json"))
        assert '"sentence": "6 pulls' in json_
        return text, html

    assert "6 pulls" in written()[0] and '<html lang="en">' in written()[1]
    assert service.set_setting(("language",), "de") == ()
    assert "6 Bezüge" in written()[0] and '<html lang="de">' in written()[1]
    assert service.set_setting(("manager", "language"), "en") == ()
    assert "6 pulls" in written()[0] and '<html lang="en">' in written()[1]


def test_people_can_be_left_out(capsys):
    _, out, _ = run(capsys, "--demo", "--day", DEMO_DAY, "--csv", "--no-people")
    assert "Chidi" not in out and "Chidi" in run(capsys, "--demo", "--day", DEMO_DAY, "--csv")[1]


@pytest.mark.parametrize("argv",
                         [["--day", "yesterday"], ["--week", "W43"], ["--week", "2026-W43", "--day", "2026-10-19"],
                                  ["--json", "--csv"]])
def test_what_cannot_be_meant_is_refused_with_the_way_to_write_it(capsys, argv):
    with pytest.raises(SystemExit) as ended:
        report.run(["--demo", *argv])
    assert ended.value.code == 2 and capsys.readouterr().err


def test_a_span_that_ends_before_it_begins_and_a_folder_that_is_none_are_told(capsys, tmp_path):
    code, _, err = run(capsys, "--demo", "--day", "2026-10-24", "--to", "2026-10-20")
    assert code == 2 and "before it begins" in err
    (tmp_path / "file").write_text("")
    code, _, err = run(capsys, "--demo", "--folder", str(tmp_path / "file" / "evenings"))
    assert code == 2 and "Check that the folder" in err


def test_the_evening_is_written_once_its_day_is_over_in_four_forms_for_its_owner_alone(station):
    service, clock, t_s = station
    closing = service.closing
    pulled(service.book, 6)
    close_through(closing, t_s)
    assert not closing.folder.exists()                  # the day is not over
    clock.pass_by(days=1)
    close_through(closing, t_s)
    names = sorted(path.name for path in closing.folder.iterdir())
    assert names == [f"2026-03-02.{form}" for form in ("csv", "html", "json", "txt")]
    assert all(path.stat().st_mode & 0o077 == 0 for path in closing.folder.iterdir())
    assert "6 pulls" in (closing.folder / "2026-03-02.txt").read_text("utf-8")
    written = (closing.folder / "2026-03-02.html").stat().st_mtime_ns
    close_through(closing, t_s)
    assert (closing.folder / "2026-03-02.html").stat().st_mtime_ns == written


def test_what_is_served_after_the_day_was_closed_is_in_its_evening_the_next_morning(station):
    service, clock, t_s = station
    closing = service.closing
    pulled(service.book, 6)
    closing.write(service.book.day_now(), wait=True)            # "Close the day", with one more order to come
    pulled(service.book, 2)
    clock.pass_by(days=1)
    close_through(closing, t_s)
    assert "8 pulls" in (closing.folder / "2026-03-02.txt").read_text("utf-8")
    written = (closing.folder / "2026-03-02.html").stat().st_mtime_ns
    close_through(closing, t_s)
    assert (closing.folder / "2026-03-02.html").stat().st_mtime_ns == written       # once


def test_a_closing_at_two_in_the_night_belongs_to_the_day_before(station):
    service, clock, t_s = station
    closing = service.closing
    clock.moment = MORNING + timedelta(hours=18)        # 02:00 of the next date: still the same service day
    pulled(service.book, 3)
    close_through(closing, t_s)
    assert not closing.folder.exists()
    clock.pass_by(hours=3)
    close_through(closing, t_s)
    assert (closing.folder / "2026-03-02.html").exists()


def test_a_folder_that_cannot_be_written_is_told_and_tried_again(station, tmp_path):
    service, clock, t_s = station
    (tmp_path / "stick").write_text("a file where the folder should be")
    assert service.set_setting(("manager", "evenings"), str(tmp_path / "stick")) == ()
    closing = service.closing
    pulled(service.book)
    clock.pass_by(days=1)
    close_through(closing, t_s)
    assert "Check that the folder is there" in closing.trouble
    (tmp_path / "stick").unlink()
    close_through(closing, t_s)
    assert closing.trouble is None and (tmp_path / "stick" / "2026-03-02.html").exists()


def test_money_stands_in_the_evening_once_a_price_is_set(station):
    service, _, _ = station
    pulled(service.book, 2, sink="spilt")
    day = service.book.day_now()
    assert "what it cost" not in Alone(evening_of(service.book, service.setup, day), service.setup).render("csv")
    assert service.set_setting(("manager", "price_per_kg"), 30.0) == () and service.set_setting(("manager", "currency"),
                                                                                      "EUR") == ()
    table = Alone(evening_of(service.book, service.setup, day), service.setup).render("csv")
    rows = {row["figure"]: row for row in csv.DictReader(io.StringIO(table))}
    assert float(rows["sink_money"]["value"]) == pytest.approx(2 * 16.1 * 30 / 1000)
    assert rows["sink_money"]["text"] == "0.97 EUR"


def test_what_is_noted_by_hand_stands_in_the_evening(station):
    service, _, _ = station
    book = service.book
    pulled(book, 2)
    book.keep(Noted(id=book.new_id(), at=book.at(), what="beans", facts={"coffee": "house", "roasted": "2026-02-20"}))
    table = Alone(evening_of(book, service.setup, book.day_now()), service.setup).render("csv")
    assert "new bag of house, roasted 2026-02-20" in table


@pytest.mark.parametrize("folder", ["n" * 300, "~nobody-of-this-name/evenings"])
def test_a_folder_that_may_not_be_looked_into_is_told_and_the_next_one_chosen_is_written_to(station, folder):
    service, clock, t_s = station
    closing = service.closing
    pulled(service.book, 2)
    clock.pass_by(days=1)
    assert service.set_setting(("manager", "evenings"), folder) == ()
    close_through(closing, t_s)
    assert "could not be written" in closing.trouble and "choose another under Setup" in closing.trouble
    assert str(closing.folder)                          # the screen names it all the same
    assert service.set_setting(("manager", "evenings"), "") == ()
    close_through(closing, t_s)
    assert closing.trouble is None and closing.written.exists()


def test_an_evening_that_does_not_add_up_is_told_and_the_next_one_is_written(station, monkeypatch):
    service, clock, t_s = station
    closing = service.closing
    pulled(service.book, 2)

    def no_sum(*_given, **_more):
        raise OverflowError("what nobody thought of")

    with monkeypatch.context() as broken:
        broken.setattr("kiosk.station.evenings.evening", no_sum)
        closing.write(service.book.day_now(), wait=True)
        assert "2026-03-02 could not be added up" in closing.trouble
    clock.pass_by(days=1)
    close_through(closing, t_s)
    assert closing.trouble is None and closing.written.name == "2026-03-02.html"


@pytest.mark.parametrize("asked", [["--day", "0001-01-01"], ["--day", "9999-12-31"], ["--week", "0001-W01"],
                                   ["--day", "2026-W10"]])
def test_a_day_of_another_age_is_told_how_to_be_written(capsys, asked):
    with pytest.raises(SystemExit) as ended:
        report.run(["--demo", "--weeks", *asked])
    assert ended.value.code == 2 and "write it like" in capsys.readouterr().err


@pytest.mark.parametrize("name", ["=1+1", " =1", "＝1", "\r=1", "-1", "@SUM(A1)"])
def test_no_cell_of_the_table_begins_like_a_formula(name):
    """The characters are those of OWASP's page on CSV injection, and spreadsheets that pass over blanks."""
    pull = Pull(id="p", at="2026-10-23T09:00:00+02:00", grinder=name, coffee="House", setting=20, recipe=usual("House", "double"),
                dose_g=16.0, yield_g=50.4, time_s=25.0, barista=name)
    rows = groups(evening([pull], "2026-10-23"))
    cells = [each[column] for each in csv.DictReader(io.StringIO(table([(name, rows), ("other", rows)])))
             for column in ("station", "group", "name", "text") if each[column]]
    assert any(name.strip() in each for each in cells)
    assert not [each for each in cells if each.lstrip()[:1] in tuple("=+-@＝＋－＠")]


def test_a_book_of_another_user_is_told_and_ends_in_no_traceback(tmp_path, monkeypatch, capsys):
    """The station's own user keeps it; a manager asks under another name."""
    def refused(*_given, **_more):
        raise PermissionError(EACCES, "Permission denied", str(tmp_path / "days"))

    monkeypatch.setattr(Book, "open", refused)
    code, _, err = run(capsys, "--book", str(tmp_path))
    assert code == 2 and "Run this as the user that the kiosk runs as, or with sudo." in err
    monkeypatch.setattr("kiosk.commands.pin.remove", refused)
    assert pin.run(["--remove", "--book", str(tmp_path)]) == 2 and "removed (Permission denied)" in capsys.readouterr().err


def test_a_practice_shift_that_may_not_write_says_where(tmp_path, capsys):
    (tmp_path / "a file").write_text("")
    assert shift.run(["--folder", str(tmp_path / "a file" / "shift")]) == 2
    assert "Name a folder that you may write in" in capsys.readouterr().err
