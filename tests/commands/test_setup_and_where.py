"""A second station out of the first's setup, and where a station keeps what."""

import json
from dataclasses import fields

import pytest

from kiosk.__main__ import main
from kiosk.bar.model import Setup
from kiosk.book import Book
from kiosk.commands import folders
from kiosk.commands.setup import PARTS
from kiosk.station.backups import STICK


def a_first_station(folder):
    with Book.open(folder) as book:
        book.set_setting("bar", "The Tin Lantern")
        book.set_setting("grinders", {"Left": {"coffee": "Dusk", "setting": 18}, "Right": {"coffee": "Meadow", "setting": 10}})
        book.set_setting("staff", {"Ada": {}})
        (folder / "pin.json").write_text("secret")
    return folder


@pytest.fixture
def first(tmp_path):
    return a_first_station(tmp_path / "first")


def command(*argv) -> int:
    return main([str(each) for each in argv])


@pytest.mark.parametrize("change, said", [
    ({"groups": 9}, "1 to 4 groups"), ({"grinders": {"Left": {"setting": 5000}}}, "between -999 and 999"),
    ({"colour": "red"}, "There is no setting “colour”"), ({"scale": {"url": "spy://x?file=/etc/passwd"}}, "A port is a device")])
def test_a_setup_that_does_not_fit_is_told_and_changes_nothing(first, tmp_path, capsys, change, said):
    path = tmp_path / "setup.json"
    command("setup", "export", path, "--book", first)
    told = json.loads(path.read_text())
    path.write_text(json.dumps(told | {"settings": told["settings"] | change}))
    assert command("setup", "import", path, "--book", tmp_path / "second") == 2
    err = capsys.readouterr().err
    assert said in err and "nothing was changed" in err and not (tmp_path / "second").exists()


def test_a_card_that_is_only_slow_has_taken_the_setup_all_the_same(first, tmp_path, monkeypatch, capsys):
    monkeypatch.setattr("kiosk.book.trouble.SLOW_S", 0.0)
    assert command("setup", "export", tmp_path / "setup.json", "--book", first) == 0
    assert command("setup", "import", tmp_path / "setup.json", "--book", tmp_path / "second") == 0
    assert "taken in" in capsys.readouterr().out


@pytest.mark.parametrize("text", ["", "[1, 2]", '{"evenpull": "setup"}', '{"evenpull": "setup", "format": 99, "settings": {}}', "{"])
def test_what_is_no_setup_is_refused_in_a_sentence(tmp_path, capsys, text):
    (tmp_path / "f.json").write_text(text)
    assert command("setup", "import", tmp_path / "f.json", "--book", tmp_path / "b") == 2
    assert capsys.readouterr().err.strip().endswith(("setup export FILE", "again.", "first."))


def test_all_of_a_stations_setup_goes_to_the_next_one_but_its_people_and_what_is_closed_today():
    assert {field.name for field in fields(Setup)} - {"staff", "closed"} == set(PARTS)


def test_every_command_finds_the_book_that_the_stations_unit_names(first, monkeypatch, capsys):
    monkeypatch.setenv("EVENPULL_BOOK", str(first))
    assert command("where", "--json") == 0
    told = json.loads(capsys.readouterr().out)
    assert told["format"] == 1 and told["book"] == str(first) and told["there"] and told["station"]
    assert command("pin") == 0
    assert command("report") == 0 and "The Tin Lantern" in capsys.readouterr().out


def test_a_folder_is_told_where_the_kiosk_writes_to_it(tmp_path, monkeypatch, capsys):
    """Setup takes "reports" and "~/backups" as well as a whole path."""
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    with Book.open(tmp_path / "book") as book:
        book.set_setting("manager", {"evenings": "reports"})
        book.set_setting("backups", "~/backups")

    def told():
        assert command("where", "--json", "--book", str(tmp_path / "book")) == 0
        return json.loads(capsys.readouterr().out)

    assert (told()["evenings"], told()["backups"]) == (str(tmp_path / "book/reports"), str(tmp_path / "home/backups"))
    with Book.open(tmp_path / "book") as book:
        book.set_setting("backups", "")
    assert told()["backups"] is None
    monkeypatch.setattr("pathlib.Path.is_mount", lambda self: self == STICK)
    assert told()["backups"] == str(STICK)


def test_a_station_set_up_on_this_machine_is_found_by_whoever_asks(tmp_path, monkeypatch):
    monkeypatch.delenv("EVENPULL_BOOK", raising=False)
    (tmp_path / "book").mkdir()
    monkeypatch.setattr(folders, "STATION", tmp_path / "book")
    assert folders.usual() == tmp_path / "book"


def test_the_version_is_told(capsys):
    assert command("--version") == 0
    assert capsys.readouterr().out.startswith("evenpull 0.")


def test_a_device_or_a_pipe_is_no_export_and_nothing_hangs(tmp_path, capsys):
    import os

    os.mkfifo(tmp_path / "pipe")
    for source in (tmp_path / "pipe", "/dev/zero"):
        assert command("import", source, "--book", tmp_path / "b") == 2
        assert "is no file or folder" in capsys.readouterr().err
        assert command("restore", source, "--book", tmp_path / "b") == 2
        assert "is no file. Choose another backup." in capsys.readouterr().err


def test_scene_60_a_backup_put_on_a_second_machine_asks_whether_it_is_the_same_station_or_a_new_one(first, tmp_path, capsys):
    assert command("backup", tmp_path / "stick", "--book", first) == 0
    (made,) = (tmp_path / "stick").glob("*.zip")
    assert command("restore", made, "--book", tmp_path / "second") == 2
    assert "--same" in capsys.readouterr().err and not (tmp_path / "second").exists()
    assert command("restore", made, "--new", "--book", tmp_path / "second") == 0
    assert command("restore", made, "--same", "--book", tmp_path / "moved") == 0
    assert command("restore", made, "--book", first) == 0              # its own book: nothing to ask
    with Book.open(first, read_only=True) as old, Book.open(tmp_path / "second", read_only=True) as new, \
            Book.open(tmp_path / "moved", read_only=True) as moved:
        assert moved.station == old.station != new.station
        assert new.settings["grinders"] == old.settings["grinders"] and "staff" not in new.settings
