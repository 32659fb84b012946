"""The manager's PIN: hashed slowly, guessed slowly, never in the way of service, and found again only at the
machine."""

import errno
import hashlib
import zipfile

import pytest

from kiosk.bar.model import Noted, Unfit
from kiosk.bar.model import pin as hashes
from kiosk.book import Book
from kiosk.book.backup import back_up
from kiosk.book.exchange import export
from kiosk.commands import pin as command
from kiosk.station.clock import Clock
from kiosk.station.pin import FILE
from kiosk.station.station import Station
from tests.support.bar_of_the_book import WallClock
from tests.support.failing_disk import Refusing


@pytest.fixture(autouse=True)
def quick(monkeypatch):
    """The cost of a hash is looked at once, below; elsewhere a cheap one does."""
    monkeypatch.setattr(hashes, "COST", 2 ** 10)


class FakeStation:
    def __init__(self, folder):
        self.t_s, self.folder, self.wall = 100.0, folder, WallClock()
        self.open()

    def open(self):
        self.book = Book.open(self.folder, now=self.wall)
        self.service = Station.open(self.book, Clock(monotonic=lambda: self.t_s, wall=self.wall))
        self.pin = self.service.pin

    def noted(self, what):
        return [note for note in self.book.today().of(Noted) if note.what == what]


@pytest.fixture
def station(tmp_path):
    station = FakeStation(tmp_path / "book")
    yield station
    station.book.close()


def test_the_hash_is_scrypt_as_rfc_7914_has_it():
    vector = hashlib.scrypt(b"password", salt=b"NaCl", n=1024, r=8, p=16, maxmem=2 ** 26, dklen=64)     # its section 12
    assert vector.hex().startswith("fdbabe1c9d3472007856e7190d01e9fe7c6ad7cbc8237830e77376634b373162")
    kept = hashes.hashed("2580", b"s" * 16)
    assert bytes.fromhex(kept["hash"]) == hashlib.scrypt(b"2580", salt=b"s" * 16, n=2 ** 10, r=8, p=1, dklen=32)


def test_a_hash_costs_at_least_a_quarter_of_what_owasp_asks_of_scrypt(monkeypatch):
    monkeypatch.undo()
    # OWASP Password Storage Cheat Sheet (from memory): N 2^17, r 8, p 1. A small board cannot wait so long: a quarter
    # of it, since guessing goes through the waits and the file is its owner's alone.
    assert hashes.COST * hashes.BLOCK * hashes.LANES >= 2 ** 17 * 8 / 4


def test_the_same_pin_is_kept_differently_each_time_and_nowhere_in_the_clear(station):
    station.pin.set("2580")
    first = (station.folder / FILE).read_bytes()
    station.pin.set("2580")
    assert (station.folder / FILE).read_bytes() != first
    assert b"2580" not in first
    assert (station.folder / FILE).stat().st_mode & 0o077 == 0


@pytest.mark.parametrize("typed", ["", "123", "123456789", "12a4", "１２３４"])
def test_a_pin_that_is_none_is_refused(station, typed):
    with pytest.raises(Unfit):
        station.pin.set(typed)
    assert not station.pin.there


def test_without_a_pin_the_rooms_are_open_and_with_one_only_it_opens_them(station):
    assert station.pin.opens("")
    station.pin.set("2580")
    assert not station.pin.opens("2581") and not station.pin.opens("") and station.pin.opens("2580")


def test_wrong_tries_slow_down_and_are_recorded(station):
    station.pin.set("2580")
    for _n in range(3):
        assert station.pin.left_s == 0
        assert not station.pin.opens("1111")
    assert station.pin.left_s == 5
    assert not station.pin.opens("2580")                # right, and too early: not looked at
    station.t_s += 5
    assert not station.pin.opens("1111")
    assert station.pin.left_s == 10
    assert [note.facts["wrong"] for note in station.noted("pin refused")] == [1, 2, 3, 4]
    station.t_s += 10
    assert station.pin.opens("2580") and station.pin.left_s == 0
    assert not station.pin.opens("1111") and station.pin.left_s == 0       # the right one began the count anew


def test_the_waits_double_up_to_a_quarter_of_an_hour():
    waits = [hashes.wait_s(wrong) for wrong in range(12)]
    assert waits == [0, 0, 0, 5, 10, 20, 40, 80, 160, 320, 640, 900]
    assert hashes.wait_s(10_000) == 900


def test_guessing_four_figures_takes_a_thief_seven_weeks():
    """10,000 PINs, half of them on average (arithmetic)."""
    assert sum(hashes.wait_s(n) for n in range(5000)) > 50 * 86400


def test_pulling_the_plug_does_not_begin_the_count_anew(station):
    station.pin.set("2580")
    for _ in range(5):
        station.pin.opens("1111")
        station.t_s += 1000
    station.pin.opens("1111")
    left_s = station.pin.left_s
    station.book.close()
    station.t_s += 0.5
    station.open()
    assert station.pin.left_s == left_s == 40


def test_a_pin_is_in_no_export_and_no_backup(station, tmp_path):
    station.pin.set("2580")
    kept = (station.folder / FILE).read_bytes()
    digest = kept.split(b'"hash":"')[1][:20]
    export(station.book, tmp_path / "all.jsonl", "jsonl")
    assert digest not in (tmp_path / "all.jsonl").read_bytes()
    made = back_up(station.folder, tmp_path, station.wall())
    with zipfile.ZipFile(made) as file:
        assert not [name for name in file.namelist() if digest in file.read(name) or FILE in name]


def test_a_lost_pin_is_taken_away_at_the_machine_while_the_kiosk_runs(station, capsys):
    station.pin.set("2580")
    assert command.run(["--book", str(station.folder)]) == 0
    assert "have a PIN" in capsys.readouterr().out
    assert command.run(["--book", str(station.folder), "--remove"]) == 0
    assert "Set a new one" in capsys.readouterr().out
    assert station.pin.opens("") and not station.pin.there
    assert command.run(["--book", str(station.folder / "nowhere"), "--remove"]) == 2


def test_a_damaged_pin_file_keeps_the_rooms_closed_until_it_is_taken_away(station):
    station.pin.set("2580")
    data = bytearray((station.folder / FILE).read_bytes())
    data[30] ^= 1                                           # one flipped bit
    (station.folder / FILE).write_bytes(data)
    assert station.pin.there and station.pin.damaged
    assert not station.pin.opens("2580") and not station.pin.opens("")
    station.pin.remove()
    assert not station.pin.there and station.pin.opens("")


def test_on_a_full_disk_the_right_pin_opens_and_wrong_ones_are_counted_all_the_same(station):
    station.pin.set("2580")
    station.pin._disk = Refusing(errno.ENOSPC)
    for _ in range(4):
        assert not station.pin.opens("1111")
    assert station.pin.left_s == 5
    station.t_s += 5
    assert station.pin.opens("2580") and station.pin.left_s == 0
    assert not station.pin.opens("1111") and station.pin.left_s == 0       # the right one began the count anew
    station.pin._disk.cause = None
    assert not station.pin.opens("1111")
    station.book.close()
    station.open()
    assert station.pin._wrong == 2                      # what was in memory is on the disk again
    assert station.pin.opens("2580")
