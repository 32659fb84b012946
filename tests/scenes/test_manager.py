"""What a manager asks of the evening, from the command line: several bars, people switched off, names that are words."""

import json
import re
from datetime import datetime, timedelta, timezone
from html import unescape

import pytest

from kiosk.__main__ import main
from kiosk.bar.drift import HANDS
from kiosk.bar.model import Corrected, FlagRaised, NotchMoved, Noted, Pull, usual
from kiosk.book import Book
from kiosk.book.exchange import export, take_in
from kiosk.station.certificates import named_after
from kiosk.station.clock import Clock
from kiosk.station.station import Station

OPENS = datetime(2026, 10, 23, 7, 0, tzinfo=timezone(timedelta(hours=2)))
RECIPE = usual("House", "double")


def a_bar(folder, seed: int, setting: int, off_s: float):
    """One day of a bar whose grinder is called Left like any other's."""
    from random import Random

    chance = Random(seed)
    with Book.open(folder, now=lambda: OPENS + timedelta(hours=10)) as book:
        for n in range(60):
            at = (OPENS + timedelta(minutes=8 * n)).isoformat()
            if n == 30:
                book.keep(NotchMoved(id=book.new_id(), at=at, grinder="Left", coffee="House", before=setting, after=setting + 1,
                                     by="Ada"))
            book.keep(Pull(id=book.new_id(), at=at, grinder="Left", coffee="House", setting=setting + (n >= 30), recipe=RECIPE,
                           barista=chance.choice(("Ada", "Ben")), dose_g=round(chance.gauss(16, 0.2), 1),
                           yield_g=round(chance.gauss(50, 1), 1), time_s=25 + off_s + chance.gauss(0, 1.5), order_id="o"))
        return book.station


def told(capsys, *argv) -> dict:
    assert main(["report", "--json", *map(str, argv)]) == 0
    return json.loads(capsys.readouterr().out)


@pytest.mark.parametrize("bars", [2, 20])
def test_scene_53_bars_with_equal_grinder_names_in_one_book_are_each_reported_alone(tmp_path, capsys, bars):
    alone = {}
    with Book.open(tmp_path / "chain", now=lambda: OPENS + timedelta(hours=11)) as chain:
        for n in range(bars):
            name = a_bar(tmp_path / str(n), n, 10 + n, off_s=n - 1.0)
            alone[name] = told(capsys, "--book", tmp_path / str(n))
            with Book.open(tmp_path / str(n), read_only=True) as book:
                export(book, tmp_path / f"{n}.jsonl", "jsonl")
            assert take_in(chain, tmp_path / f"{n}.jsonl").added == 61
    for name, figures in alone.items():
        assert told(capsys, "--book", tmp_path / "chain", "--station", name) == figures
    assert main(["report", "--book", str(tmp_path / "chain")]) == 2
    assert f"holds {bars} stations. Name one with --station" in capsys.readouterr().err
    assert main(["report", "--book", str(tmp_path / "chain"), "--station", "nobody"]) == 2
    assert main(["export", str(tmp_path / "all.csv"), "--book", str(tmp_path / "chain")]) == 0
    rows = (tmp_path / "all.csv").read_text().splitlines()
    column = rows[0].split(",").index("station")
    assert {row.split(",")[column] for row in rows[1:]} == set(alone)


def test_scene_54_with_people_switched_off_no_name_is_in_any_form(tmp_path, capsys):
    a_bar(tmp_path / "book", 1, 20, 0.0)
    with Book.open(tmp_path / "book") as book:
        book.set_setting("manager", {"people": False})
    for form in ([], ["--json"], ["--csv"], ["--html", str(tmp_path / "page.html")], ["--weeks", "--json"],
                 ["--folder", str(tmp_path / "all")]):
        assert main(["report", "--book", str(tmp_path / "book"), "--day", "2026-10-23", *form]) == 0
        out = capsys.readouterr().out
        assert "Ada" not in out and "Ben" not in out, form
    for path in (tmp_path / "page.html", *(tmp_path / "all").iterdir()):
        assert "Ada" not in path.read_text() and "Ben" not in path.read_text(), path
    assert main(["report", "--book", str(tmp_path / "book"), "--day", "2026-10-23"]) == 0


def everything_told(book, folder, capsys):
    """What every command that reads the book says and writes, as {what was asked: text}; of a backup, what a restore of it
    would hold is the book itself and stays private."""
    day = ("--day", "2026-10-23")
    asked = {
        **{f"report {form}": ("report", *day, f"--{form}") for form in ("json", "csv", "weeks")},
        **{f"report {form}": ("report", *day, f"--{form}", str(folder / f"page.{form}")) for form in ("html", "mail", "folder")},
        "report": ("report", *day), "german": ("report", *day, "--language", "de"),
        "span": ("report", *day, "--to", "2026-12-31", "--json"), "month": ("report", *day, "--to", "2026-11-15", "--json"),
        **{f"export {form}": ("export", str(folder / f"export-{form}"), "--as", form) for form in ("csv", "jsonl", "folders", "chain")},
        "setup": ("setup", "export", str(folder / "setup.json")), "where": ("where", "--json")}
    told = {}
    for name, argv in asked.items():
        argv = [*argv, "--book", str(book)]
        assert main(argv) == 0, argv
        said = capsys.readouterr()
        told[name] = said.out + said.err
    assert main(["drift", str(folder / "export-csv"), "--json"]) == 0
    told["drift"] = capsys.readouterr().out
    for path in (path for path in folder.rglob("*") if path.is_file()):
        told[str(path.relative_to(folder))] = path.read_text("utf-8", "replace")
    return told


def names_in(told, *names):
    return sorted(f"{name} in {what}" for what, text in told.items() for name in names if name in text)


def a_named_bar(tmp_path):
    """Two people wherever a name can stand: pulls, turns, notes, flags with their evidence, corrections, staff, nightly files."""
    book = tmp_path / "book"
    a_bar(book, 1, 20, 0.0)
    with Book.open(book, now=lambda: OPENS + timedelta(hours=10)) as opened:
        first = opened.today().of(Pull)[0]
        opened.keep_all([
            FlagRaised(id=opened.new_id(), at=opened.at(), grinder="Left", coffee="House", setting=20, what=HANDS, direction=None,
                       sentence="", evidence={"who": "Ada", "own_before_s": 0.0, "own_after_s": -3.0}),
            Noted(id=opened.new_id(), at=opened.at(), what="beans", facts={"coffee": "House"}, by="Ben"),
            Corrected(id=opened.new_id(), at=opened.at(), of=first.id, changes={"barista": "Ada"}, by="Ben")])
        opened.set_setting("staff.Ada", {"new": True}, by="Ben")
        opened.set_setting("staff.Ben", {"new": False})
    return book


def test_off_is_off_in_every_output_of_every_command_and_in_the_files_of_the_night(tmp_path, capsys):
    book = a_named_bar(tmp_path)
    (tmp_path / "on").mkdir()
    on = everything_told(book, tmp_path / "on", capsys)
    for name in ("report", "report json", "page.html", "page.mail", "export-csv", "export-jsonl"):
        assert names_in({name: on[name]}, "Ada", "Ben"), name       # the search finds what there is to find
    with Book.open(book) as opened:
        opened.set_setting("manager", {"people": False})
        station = Station(opened, Clock(monotonic=lambda: 0.0, wall=lambda: OPENS + timedelta(hours=10)))
        assert station.set_setting(("manager", "evenings"), str(tmp_path / "off" / "nightly")) == ()
        station.closing.write("2026-10-23", wait=True)
    off = everything_told(book, tmp_path / "off", capsys)
    assert any(what.startswith("nightly/") for what in off) and not names_in(off, "Ada", "Ben")
    assert set(on) <= set(off)


def test_a_name_forgotten_is_in_no_output_of_any_command(tmp_path, capsys):
    book = a_named_bar(tmp_path)
    assert main(["forget", "Ada", "--book", str(book)]) == 0
    assert "Backups, exports and reports made before may still have it" in capsys.readouterr().out
    (tmp_path / "after").mkdir()
    told = everything_told(book, tmp_path / "after", capsys)
    assert not names_in(told, "Ada") and names_in(told, "Ben")


def test_scene_51_a_day_without_a_scale_is_no_reason_to_buy_one_each_evening(tmp_path, capsys):
    with Book.open(tmp_path / "book", now=lambda: OPENS + timedelta(hours=10)) as book:
        for n in range(40):
            book.keep(Pull(id=book.new_id(), at=(OPENS + timedelta(minutes=8 * n)).isoformat(), grinder="Left", coffee="House",
                           setting=20, recipe=RECIPE, time_s=25.0 + (n % 5) / 2, order_id="o"))
        book.set_setting("scale", {"url": ""})
    assert "Weigh the doses" not in json.dumps(told(capsys, "--book", tmp_path / "book", "--day", "2026-10-23")["to_do"])


def test_a_figure_leads_to_the_pulls_that_made_it_and_to_no_others(tmp_path, capsys):
    a_bar(tmp_path / "book", 3, 20, 0.0)
    found = told(capsys, "--book", tmp_path / "book", "--day", "2026-10-23")
    row = next(row for group in found["groups"] for row in group["rows"] if row["key"] == "doses_off")
    assert len(row["record_ids"]) == row["value"]


def test_scene_55_a_name_forgotten_is_in_no_evening_that_was_written(tmp_path, capsys):
    a_bar(tmp_path / "book", 3, 20, 0.0)
    folder = tmp_path / "book" / "evenings"
    assert main(["report", "--book", str(tmp_path / "book"), "--day", "2026-10-23", "--folder", str(folder)]) == 0
    assert any("Ada" in path.read_text() for path in folder.iterdir())
    assert main(["forget", "Ada", "--book", str(tmp_path / "book")]) == 0
    assert not any("Ada" in path.read_text() for path in folder.iterdir())
    assert not any("Ada" in path.read_text(errors="replace") for path in (tmp_path / "book").rglob("*") if path.is_file())


@pytest.mark.parametrize("name", ["Zoë", "Siân O'Neil", 'Jo "Max" & Co', "An"])
def test_a_name_is_forgotten_however_a_page_a_table_or_a_file_writes_it(tmp_path, name):
    """Letters that are not English, signs that HTML, CSV and JSON write in ways of their own; a certificate lies there, too."""
    with Book.open(tmp_path / "book", now=lambda: OPENS + timedelta(hours=10)) as book:
        book.set_setting("staff", {name: {}, "Anna": {}})
        for n in range(10):
            book.keep(Pull(id=book.new_id(), at=(OPENS + timedelta(minutes=8 * n)).isoformat(), grinder="Left", coffee="House",
                           setting=20, recipe=RECIPE, time_s=25.0, order_id="o", barista=(name, "Anna")[n % 2]))
    folder = tmp_path / "book" / "evenings"
    assert main(["report", "--book", str(tmp_path / "book"), "--day", "2026-10-23", "--folder", str(folder)]) == 0
    assert main(["certificate", name, "--book", str(tmp_path / "book"), "--html", str(folder / named_after(name))]) == 0
    kept = {path: path.read_text("utf-8") for path in folder.iterdir()}
    assert main(["forget", name, "--book", str(tmp_path / "book")]) == 0
    told = {path: unescape(path.read_text("utf-8")).replace('""', '"').replace('\\"', '"') for path in folder.iterdir()}
    assert len(told) == len(kept) and folder / named_after(name) not in told
    assert not [path.name for path, text in told.items() if re.search(rf"(?<![^\W_]){re.escape(name)}(?![^\W_])", text)]
    assert all("Anna" in text for path, text in told.items() if path.stem == "2026-10-23")
    json.loads((folder / "2026-10-23.json").read_text("utf-8"))


def test_what_names_people_is_private_and_steers_no_terminal(tmp_path, capsys):
    a_bar(tmp_path / "book", 3, 20, 0.0)
    page = tmp_path / "page.html"
    page.touch(0o644)
    assert main(["report", "--book", str(tmp_path / "book"), "--day", "2026-10-23", "--html", str(page)]) == 0
    assert page.stat().st_mode & 0o077 == 0
    (tmp_path / "t.csv").write_text("grinder,time_s\n\x1b[31mleft,25\nleft,24\n")
    assert main(["drift", str(tmp_path / "t.csv"), "--chart", str(tmp_path / "c.html")]) == 0
    assert (tmp_path / "c.html").stat().st_mode & 0o077 == 0
    (tmp_path / "setup.json").write_text(json.dumps({"evenpull": "setup", "format": 1, "settings": {"\x1b]0;x\x07\u202e": 5}}))
    assert main(["setup", "import", str(tmp_path / "setup.json"), "--book", str(tmp_path / "book")]) == 2
    assert main(["where", "--book", str(tmp_path / "\x1b[2J"), "--json"]) == 0
    told = capsys.readouterr()
    assert not set("\x1b\x07\u202e") & set(told.out + told.err) and r"\u001b]0;x\u0007\u202e" in told.err
    assert json.loads(told.out[told.out.index("{"):])["book"].endswith("\x1b[2J")


def test_a_shared_folder_named_by_mistake_keeps_its_mode(tmp_path):
    (tmp_path / "shared").mkdir()
    (tmp_path / "shared").chmod(0o1777)
    with Book.open(tmp_path / "shared"):
        pass
    assert (tmp_path / "shared").stat().st_mode & 0o7777 == 0o1777


def test_an_export_has_nothing_where_a_list_is_empty(tmp_path):
    a_bar(tmp_path / "book", 3, 20, 0.0)
    main(["export", str(tmp_path / "all.csv"), "--book", str(tmp_path / "book")])
    assert ",'," not in (tmp_path / "all.csv").read_text()


EVERY = 3


@pytest.fixture(scope="module")
def long_book(tmp_path_factory):
    """A year and more, six pulls on every third day."""
    from tests.support.failing_disk import Unwaited

    folder, now = tmp_path_factory.mktemp("long") / "book", [OPENS]
    with Book.open(folder, now=lambda: now[0], disk=Unwaited()) as book:
        for day in range(0, 400, EVERY):
            now[0] = OPENS + timedelta(days=day)
            book.keep_all([Pull(id=book.new_id(), at=(now[0] + timedelta(minutes=9 * n)).isoformat(), grinder="Left", coffee="House",
                                setting=20, recipe=RECIPE, dose_g=16.0, yield_g=50.0, time_s=24.0 + n / 3, order_id="o")
                           for n in range(6)])
    return folder


def test_a_span_of_any_length_has_its_text_json_table_and_page(long_book, tmp_path, capsys):
    for days in (1, 7, 28, 105, 365, 400):
        last = (OPENS + timedelta(days=days - 1)).date().isoformat()
        for form in ([], ["--json"], ["--csv"], ["--html", str(tmp_path / f"{days}.html")]):
            assert main(["report", "--book", str(long_book), "--day", "2026-10-23", "--to", last, *form]) == 0, (days, form)
            out = capsys.readouterr().out
            if not form:
                assert len(out.splitlines()) < 120          # of a long span, a line a week
            if form == ["--json"]:
                assert json.loads(out)["totals"]["pulls"] == 6 * -(-days // EVERY)
        html = (tmp_path / f"{days}.html").read_text()
        assert "</html>" in html and html.count("<tr") < 240
        assert ("grams a week" in html) == (days > 14)
