"""A station set up, taken off and updated, on a machine made of a folder and of commands that are written down."""

import logging
import re
from datetime import datetime
from pathlib import Path

import pytest

from kiosk.book import Book, mounts, snapshot
from kiosk.book.backup import BackupFailed, back_up
from kiosk.book.disk import Disk
from kiosk.commands import folders, serve, station
from kiosk.commands.station import NEEDED, Machine, NotDone
from kiosk.station import refusal

HERE = Path(__file__).parents[2]
AT = datetime(2026, 3, 14, 8)


class Made:
    """Runs what concerns files on the made machine, and answers for its service manager."""

    def __init__(self, root: Path):
        self.root, self.ran, self.seconds = root, [], 0
        self.states = lambda second: (True, 0)
        self.fails: str | None = None
        self.machine = Machine(root, self.run, self.second, lambda: AT)
        (root / "etc").mkdir(parents=True)
        (root / "etc/passwd").write_text("root:x:0:0::/root:/bin/sh\n")
        (root / "run/udev").mkdir(parents=True)
        (root / "run/udev/control").write_text("")
        for path in NEEDED.values():
            there = root / path.replace("*", "3")
            there.parent.mkdir(parents=True, exist_ok=True)
            there.write_text("")

    def second(self, seconds: float) -> None:
        self.seconds += 1

    def run(self, *command: str) -> str:
        self.ran.append(" ".join(command))
        if self.fails and self.fails in self.ran[-1]:
            raise NotDone("no room on the disk.")
        if command[0] == "useradd":
            with (self.root / "etc/passwd").open("a") as users:
                users.write("evenpull:x:999:999::/var/lib/evenpull:/bin/sh\n")
        if command[:2] == ("systemctl", "enable"):
            wants = self.root / "etc/systemd/system/multi-user.target.wants"
            wants.mkdir(exist_ok=True)
            (wants / "evenpull.service").unlink(missing_ok=True)
            (wants / "evenpull.service").symlink_to("/etc/systemd/system/evenpull.service")
        if command[:2] == ("systemctl", "disable"):
            (self.root / "etc/systemd/system/multi-user.target.wants/evenpull.service").unlink()
        if "venv" in command:
            (Path(command[-1]) / "bin").mkdir(parents=True)
            (Path(command[-1]) / "bin/evenpull").write_text("")
        if command[0] == "cp":
            import shutil
            shutil.copytree(command[2], command[3])
        if command[:2] == ("systemctl", "show"):
            serves, restarts = self.states(self.seconds)
            return f"ActiveState={'active' if serves else 'activating'}\nNRestarts={restarts}"
        return ""


@pytest.fixture
def made(tmp_path):
    return Made(tmp_path / "machine")


@pytest.fixture
def wheel(tmp_path):
    (tmp_path / "evenpull-9-py3-none-any.whl").write_text("")
    return tmp_path / "evenpull-9-py3-none-any.whl"


def told(made, *argv):
    return station.run([str(each) for each in argv], made.machine)


def files(root: Path) -> set[str]:
    return {str(path.relative_to(root)) for path in root.rglob("*")}


def test_a_dry_run_says_everything_and_does_nothing(made, capsys):
    before = files(made.root)
    assert told(made, "install", HERE, "--dry-run") == 0
    said = capsys.readouterr().out
    assert all(word in said for word in ("user evenpull", "/opt/evenpull", "evenpull.service", "70-evenpull-scale.rules",
                                         "evenpull-stick@.service", "/var/lib/evenpull", "Nothing was done"))
    assert files(made.root) == before and made.ran == []


def test_a_station_is_set_up_once_and_taken_off_with_its_book_kept(made, capsys):
    assert told(made, "install", HERE) == 0
    link = made.machine.link
    assert link.is_symlink() and (link / "bin/evenpull").exists()
    assert (made.root / "etc/systemd/system/evenpull.service").read_bytes() == \
        (HERE / "hardware/station/evenpull.service").read_bytes()
    # every rule takes hold at once: each is for another kind of device
    assert {each for each in made.ran if "trigger" in each} == {
        f"udevadm trigger --action=add --subsystem-match={kind}" for kind in ("usb", "usb-serial", "tty", "block")}
    made.ran.clear()
    assert told(made, "install", HERE) == 0 and "Nothing is left to do" in capsys.readouterr().out and made.ran == []
    (made.root / "etc/systemd/system/evenpull.service").write_text("[Unit]\n")
    assert told(made, "install", HERE) == 0 and "put evenpull.service" in capsys.readouterr().out
    with Book.open(made.machine.book):
        pass
    assert told(made, "remove") == 0
    left = files(made.root)
    assert "var/lib/evenpull/book/book.json" in left and not any(each.endswith((".service", ".rules")) or "opt/evenpull/" in each
                                                                 or "usr/local/bin/" in each for each in left)
    assert told(made, "remove") == 0 and "Nothing is left to do" in capsys.readouterr().out


def test_missing_packages_are_named_and_nothing_is_begun(made, capsys):
    (made.root / NEEDED["cage"]).unlink()
    assert told(made, "install", HERE) == 2
    assert capsys.readouterr().err.strip().endswith("apt-get install cage") and made.ran == []


def test_a_step_that_fails_is_told_and_the_next_run_goes_on_from_there(made, capsys):
    made.fails = "pip"
    assert told(made, "install", HERE) == 1
    assert "no room on the disk" in capsys.readouterr().err and not made.machine.link.exists()
    made.fails = "daemon-reload"                        # the very last step is done again too
    assert told(made, "install", HERE) == 1
    made.fails = None
    assert told(made, "install", HERE) == 0
    assert sum("useradd" in each for each in made.ran) == 1


def unit() -> dict[str, list[str]]:
    """The unit's settings, each with its values in turn."""
    found: dict[str, list[str]] = {}
    for line in (HERE / "hardware/station/evenpull.service").read_text().splitlines():
        name, is_setting, value = line.partition("=")
        if is_setting and not line.startswith("#"):
            found.setdefault(name, []).append(value)
    return found


def test_the_unit_and_every_command_have_one_book_and_the_journal_has_what_the_kiosk_says():
    given = unit()
    (book,) = [each.partition("=")[2] for each in given["Environment"] if each.startswith("EVENPULL_BOOK=")]
    assert book == str(folders.STATION) == "/var/lib/evenpull/book"
    assert given["StandardError"] == ["journal"] and given["SyslogIdentifier"] == ["evenpull"]
    assert "PAMName" not in given                       # a login session would own what it says


def test_what_the_instructions_install_is_what_a_station_needs():
    (line,) = re.findall(r"^sudo apt-get install (.*)$", (HERE / "hardware/station/README.md").read_text(), re.MULTILINE)
    assert line.split() == list(NEEDED)


def test_a_full_disk_is_no_traceback_a_line_in_the_journal(tmp_path, capsys, monkeypatch):
    root = logging.getLogger()
    handlers, level = root.handlers[:], root.level
    try:
        monkeypatch.setattr(logging, "raiseExceptions", True)
        serve.keep_log(Path("/dev/full"))
        for _ in range(3):
            root.warning("No room.")
    finally:
        for each in root.handlers:
            if each not in handlers:
                monkeypatch.setattr(each, "flush", lambda: None)
        root.handlers[:] = handlers
        root.setLevel(level)
    assert capsys.readouterr().err == ""


def test_a_frozen_panel_is_ended_and_started_again_within_fifteen_seconds_however_often_it_froze():
    given = unit()
    assert given["Type"] == ["notify"] and given["Restart"] == ["always"] and given["StartLimitIntervalSec"] == ["0"]
    assert int(given["WatchdogSec"][0]) + int(given["RestartSec"][0]) <= 7      # and a start takes a few seconds more
    assert not {"RestartSteps", "RestartMaxDelaySec"} & set(given)      # they count hangs that are long past


def set_up(made) -> Path:
    assert told(made, "install", HERE) == 0
    with Book.open(made.machine.book) as book:
        book.set_setting("bar", "The Tin Lantern")
    old = made.machine.link.resolve()
    new = old.rename(old.with_name("program-old"))
    made.machine.point_to(new)
    made.ran.clear()
    return new


def test_an_update_that_serves_for_a_minute_is_kept(made, wheel, capsys):
    old = set_up(made)
    assert told(made, "update", wheel) == 0
    assert made.machine.link.resolve() != old and old.exists() and made.seconds >= 60
    assert all("--no-index" in each for each in made.ran if "pip" in each)
    (copy,) = made.machine.book.parent.glob("book.before-*")
    assert (copy / "settings.json").read_bytes() == (made.machine.book / "settings.json").read_bytes()


@pytest.mark.parametrize("states, said", [
    (lambda second: (False, 0), "it did not start"), (lambda second: (False, int(second > 3)), "it did not start"),
    (lambda second: (second < 40, int(second >= 40)), "it ended in its first minute")])
def test_an_update_that_fails_goes_back_by_itself(made, wheel, capsys, states, said):
    old = set_up(made)
    made.states = states
    assert told(made, "update", wheel) == 1
    err = capsys.readouterr().err
    assert said in err and "The old one serves again" in err and made.machine.link.resolve() == old
    assert made.ran[-1] == "systemctl start evenpull.service"
    with Book.open(made.machine.book, read_only=True) as book:
        assert book.settings["bar"] == "The Tin Lantern"


def test_a_program_that_cannot_be_put_beside_leaves_the_station_as_it_serves(made, wheel, capsys):
    old = set_up(made)
    made.fails = "--find-links"
    assert told(made, "update", wheel) == 1
    assert made.machine.link.resolve() == old and not any("systemctl stop" in each for each in made.ran)
    assert list(made.machine.programs.glob("program-2*")) == []


def test_what_is_no_wheel_or_has_no_station_is_refused_in_a_sentence(made, tmp_path, capsys):
    assert told(made, "update", tmp_path / "none.whl") == 2 and "Set it up first" in capsys.readouterr().err
    set_up(made)
    assert told(made, "update", tmp_path / "none.whl") == 2 and "is no wheel" in capsys.readouterr().err
    assert told(made, "update") == 2 and "Name the wheel" in capsys.readouterr().err


def test_the_check_before_a_start_says_why_it_will_be_refused(tmp_path, capsys):
    with Book.open(tmp_path / "book") as book:
        book.set_setting("language", "de")
    assert station.run(["check", "--book", str(tmp_path / "book")]) == 0
    about = snapshot.get(tmp_path / "book/book.json")
    snapshot.put(Disk(), tmp_path / "book/book.json", about | {"version": 99})
    assert station.run(["check", "--book", str(tmp_path / "book")]) == 2
    assert "kept by a newer Evenpull" in capsys.readouterr().err
    assert refusal.language(tmp_path / "book") == "de" and refusal.language(tmp_path) == "en"
    (tmp_path / "file").write_text("")
    assert "is a file" in refusal.refusal(tmp_path / "file")


def test_a_book_or_a_backup_on_a_disk_that_is_not_mounted_is_refused_and_nothing_is_written_in_its_place(tmp_path, monkeypatch):
    (tmp_path / "a card").mkdir()
    (tmp_path / "fstab").write_text(f"# UUID=1 {tmp_path} ext4 noauto 0 0\nproc /proc proc defaults 0 0\n"
                                    f"LABEL=CARD {tmp_path}/a\\040card ext4 noauto,nofail 0 2\n")
    monkeypatch.setattr(mounts, "TABLE", tmp_path / "fstab")
    Book.open(tmp_path / "elsewhere").close()
    with pytest.raises(BackupFailed, match="Nothing is mounted at .*/a card. Put the stick in"):
        back_up(tmp_path / "elsewhere", tmp_path / "a card" / "backups", AT)
    assert "nothing is mounted at" in refusal.refusal(tmp_path / "a card" / "book") and not list((tmp_path / "a card").iterdir())
    assert refusal.refusal(tmp_path / "elsewhere") is None and mounts.not_mounted(Path("/proc/1")) is None
    monkeypatch.setattr(mounts, "TABLE", tmp_path / "no such table")
    assert refusal.refusal(tmp_path / "a card" / "book") is None


def test_a_refused_start_waits_longer_each_time_and_never_gives_up():
    waits = [refusal.wait_s(tries) for tries in range(1000)]
    assert waits[:4] == [5, 10, 20, 40] and waits == sorted(waits) and waits[-1] == 120


def test_a_folder_that_may_not_be_written_is_told(tmp_path, monkeypatch):
    monkeypatch.setattr("os.access", lambda path, mode: False)      # the superuser may write everywhere
    assert "may not write" in refusal.refusal(tmp_path / "book")
