"""What goes wrong at a bar: service goes on, and whoever is there is told in words what to do next."""

import errno
import os
import subprocess
import sys
from dataclasses import fields
from itertools import chain
from pathlib import Path
from types import SimpleNamespace

import pytest

from hardware.scale import CONNECTED
from kiosk import display
from kiosk.bar.model import OrderTaken, Pull, Setup, read
from kiosk.commands import shift
from kiosk.practice.unseen import UnseenBarista
from tests.station.test_orders_through_the_kiosk import serve
from tests.support.at_work import AtWork
from tests.support.failing_disk import Refusing


def station(work: AtWork):
    work._drawn_until = work._frames + 3
    work.frames(3)
    return work.kiosk.root.room("station")


def test_nonsense_on_the_serial_line_is_counted_and_shown_and_the_pull_goes_on(tmp_path):
    with AtWork(tmp_path, settings={"groups": 1}) as work:
        sound = work.scale.line
        every = [0]

        def noisy(now_s):
            every[0] += 1
            return sound(now_s) if every[0] % 3 else bytes(range(0x90, 0xA0)) + b"\r\n"       # one line

        work.scale.line = noisy
        _, pull = serve(work, ("Double espresso",))
        assert pull.yield_g == pytest.approx(work.hand.in_cup_g, abs=0.2)
        assert work.kiosk.port.health.rejected > 50
        work.kiosk.root.go("scale")
        work.frames(10)
        assert "refused" in work.kiosk.root.room("scale").health


def test_a_port_that_is_not_there_is_told_and_taps_do(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 1}) as work:
        assert work.service.set_setting(("scale", "url"), str(tmp_path / "no-such-port")) == ()
        _, pull = serve(work, ("Latte",))
        assert pull.sink is None
        assert "No scale" in station(work).weighed
        work.kiosk.root.go("scale")
        work.frames(10)
        told = work.kiosk.root.room("scale").health
        assert "no-such-port" in told and "Traceback" not in told


@pytest.mark.parametrize("absurd", [b"ST,-00512.0 g\r\n", b"ST,+99999999 g\r\n", b"OL,+99999.9 g\r\n"])
def test_a_negative_or_absurd_weight_is_never_taken_for_a_dose(tmp_path, absurd):
    with AtWork(tmp_path, settings={"groups": 1}) as work:
        work.play(work.hand.order("Double espresso"))
        work.hand.tap(1)
        work.scale.line = lambda now_s: absurd
        work.frames(100)
        guide = work.service.lanes[1].work.guide
        assert guide.dose_g is None and str(guide.step) == "dose"
        work.hand.tap(1)
        work.frames(2)
        assert str(guide.step) == "dose" and str(work.service.lanes[1].work.guide.step) == "tamp"


@pytest.mark.parametrize("cause, word", [(errno.ENOSPC, "full"), (errno.EROFS, "")])
def test_a_disk_that_takes_nothing_is_told_once_and_written_when_it_can_be(tmp_path, cause, word):
    disk = Refusing()
    with AtWork(tmp_path, scale=False, settings={"groups": 1}, disk=disk) as work:
        disk.cause = cause
        _, pull = serve(work, ("Latte",))
        told = station(work).trouble
        assert told and word in told.lower()
        assert work.book.today().of(Pull) == (pull,)
        disk.cause = None
        _, second = serve(work, ("Mocha",))
        assert station(work).trouble == ""
    with AtWork(tmp_path, scale=False) as work:
        assert work.book.today().of(Pull) == (pull, second)
        assert len(work.book.today().of(OrderTaken)) == 2


def test_a_damaged_day_is_set_aside_by_name_and_what_can_be_read_is_served(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 1}) as work:
        pulls = [serve(work, (drink,))[1] for drink in ("Latte", "Mocha", "Americano")]
    (day,) = (tmp_path / "days").glob("*.log")
    data = bytearray(day.read_bytes())
    place = data.index(b'"drinks":["Mocha"]')
    data[place + 12] ^= 0x10
    day.write_bytes(data)
    with AtWork(tmp_path, scale=False, settings={"groups": 1}) as work:
        kept = work.book.today().of(Pull)
        assert pulls[0] in kept and pulls[2] in kept and pulls[1] not in kept
        assert any("aside" in notice for notice in work.book.notices)
        assert any(notice in station(work).trouble for notice in work.book.notices)
        serve(work, ("Latte",))


def test_settings_that_do_not_fit_are_told_and_leave_the_rest_as_it_was(tmp_path):
    with AtWork(tmp_path, scale=False) as work:
        said = work.service.set_setting(("recipes", "House", "double", "first_drop_from_s"), 9.0)
        assert "ends before it begins" in said[0]
        assert work.service.setup.recipe("House", "double").first_drop_from_s == 3.0
        assert "full stop" in work.service.set_setting(("staff", "A. B"), {"new": False})[0]
        assert "1 to 4 groups" in work.service.set_setting(("groups",), 9)[0]


def test_settings_of_any_shape_give_a_setup_to_serve_with():
    setup, complaints = read({"groups": "two", "menu": [], "grinders": {"L": {"setting": 5000}}, "scale": 3, "limits": None,
                              "recipes": {"House": {"double": {"dose_g": "much"}}}, "staff": {"Ana": {"new": True}}})
    assert setup.groups == Setup().groups and setup.menu == Setup().menu and setup.grinders == Setup().grinders
    assert [person.name for person in setup.staff] == ["Ana"]
    assert len(complaints) == 3 and all(complaint.endswith(".") for complaint in complaints)


PLACES = {"grinders": {"Left": {"coffee": "House", "setting": 20, "finer_words": "turn left", "purge_g": 6.0}},
          "recipes": {"House": {"double": {"dose_g": 16.0, "unit": "g", "amount": 40.0}}},
          "staff": {"Ana": {"new": True, "language": "de", "help": "every"}},
          "menu": {"Latte": {"shot": "double", "cup": "glass", "beside": "", "may_share": True, "coffee": "House"}},
          "scale": {"url": "", "second": "", "baud": 9600, "request": "", "pattern": "", "portafilters": {"a": 500.0}},
          "limits": {"lock_to_pump_s": 5.0}, "manager": {"currency": "EUR", "people": True, "burrs_kg": 400.0}}


def ill_typed(setup: Setup):
    """Every (kind, field) of the setup and its parts that is not of the plain type it is annotated with."""
    for part in (setup, setup.scale, setup.limits, setup.manager, *setup.grinders, *setup.recipes, *setup.staff,
                 *setup.menu):
        for field in fields(part):
            value, kind = getattr(part, field.name), {float: (int, float)}.get(field.type, field.type)
            if field.type in (str, bool, int, float) and not isinstance(value, kind):
                yield type(part).__name__, field.name


@pytest.mark.parametrize("junk", [None, 5, 1.5, "x", [], {"a": 1}, ["x"], 1e300])
def test_a_setting_of_another_type_is_told_and_the_usual_one_serves(junk):
    """As an older program, a restored backup or a hand may leave it: no room ends in an exception of Python's."""
    assert read(PLACES)[1] == ()
    for part, field in [(part, field) for part, given in PLACES.items() for field in given]:
        inside = PLACES[part][field]
        spoilt = [{field: junk}]
        if isinstance(inside, dict):
            spoilt += [{field: {**inside, name: junk}} for name in inside]
        for each in spoilt:
            setup, complaints = read({**PLACES, part: {**PLACES[part], **each}})
            assert list(ill_typed(setup)) == []
            assert all(isinstance(name, str) and 0 <= grams < 1e6 for name, grams in setup.scale.portafilters)
            assert all(told.endswith(".") and "'" not in told for told in complaints)
    assert len(read({**PLACES, "menu": {"Latte": {"cup": junk}}})[1]) == (junk != "x")


def test_the_last_drink_and_the_last_grinder_cannot_be_taken_away(tmp_path):
    with AtWork(tmp_path, scale=False) as work:
        assert work.service.set_setting(("menu",), {"Latte": {"shot": "double"}}) == ()
        assert "needs a grinder and a drink" in work.service.set_setting(("menu", "Latte"), None)[0]
        assert [drink.name for drink in work.service.setup.menu] == ["Latte"]
        assert "needs a grinder and a drink" in work.service.set_setting(("grinders",), {})[0]


def test_missing_graphics_libraries_are_one_sentence_with_the_packages_to_install():
    def load(name):
        raise OSError(name)

    said = display.gl_missing(load)
    assert "apt-get install libgl1" in said and "\n" not in said
    assert display.gl_missing(lambda name: object()) is None


def test_without_graphics_libraries_the_shift_says_which_packages_bring_pictures_and_is_played_without(tmp_path, monkeypatch, capsys):
    monkeypatch.setattr(display, "gl_missing", lambda: display.GL_MISSING.format(missing="libGL.so.1"))
    monkeypatch.setattr(shift, "unseen", lambda hand, service: chain(
        hand.until(lambda: service.scales.first.there, "the scale to answer"), hand.order("Espresso")))      # the whole takes a minute
    assert shift.run(["--folder", str(tmp_path)]) == 0
    told = capsys.readouterr()
    assert "apt-get install libgl1 libegl1 libgl1-mesa-dri. The practice shift is played without" in told.err
    assert "no pictures" in told.out and "0 orders and 0 pulls" in told.out


def test_a_computer_that_draws_slowly_plays_the_same_shift_later():
    now_s, port = 100.0, SimpleNamespace(health=SimpleNamespace(state=CONNECTED, age_s=0.1))
    pace = shift.Pace(lambda: now_s)
    for tick_s, passed_s in ((0.02, 0.1), (0.1, 0.5), (3.0, 0.5), (0.04, 0.2)):
        before_s = pace.s()
        now_s += tick_s
        assert pace.s() - before_s == pytest.approx(passed_s)
        pace.tick(port)
        assert pace.s() - before_s == pytest.approx(passed_s)
    port.health.age_s = 0.6                 # a line was due: no second passes until it is here
    pace.tick(port)
    before_s, now_s = pace.s(), now_s + 2.0
    assert pace.s() == before_s
    port.health.age_s = 0.0
    pace.tick(port)
    now_s += 0.1
    assert pace.s() - before_s == pytest.approx(0.5)


def test_a_hand_that_no_screen_is_drawn_for_makes_a_pull_by_telling_the_station(tmp_path):
    with AtWork(tmp_path) as work:
        hand = UnseenBarista(work.service, work.bar, work.scale)
        for _ in chain(hand.order("Espresso"), hand.pull(1)):
            work.frame()
        (pull,) = work.book.today().of(Pull)
        assert pull.time_from and pull.yield_g and not work.finger.taps and not work.service.at_work


def test_missing_graphics_libraries_end_the_command_with_2_and_no_traceback(tmp_path):
    (tmp_path / "sitecustomize.py").write_text(
        "import ctypes\n"
        "class Missing(ctypes.CDLL):\n"
        "    def __init__(self, name=None, *given, **more):\n"
        "        if name and 'libGL' in str(name): raise OSError(name)\n"
        "        super().__init__(name, *given, **more)\n"
        "ctypes.CDLL = Missing\n")
    ended = subprocess.run([sys.executable, "-m", "kiosk", "--book", str(tmp_path / "book")], capture_output=True, text=True,
                           cwd=Path(__file__).parents[2],
                           env=os.environ | {"PYTHONPATH": str(tmp_path), "SDL_VIDEODRIVER": "offscreen"})
    assert ended.returncode == 2
    assert "apt-get install" in ended.stderr and "Traceback" not in ended.stderr


@pytest.mark.parametrize("argv, says", [
    (["brew"], "There is no command 'brew'"),
    (["report", "--day", "yesterday"], "is no day"),
    (["report", "--book", "/nowhere/at/all"], "There is no book"),
    (["report", "--demo", "--day", "2026-10-25", "--to", "2026-10-20"], "before it begins"),
])
def test_a_command_that_cannot_be_followed_says_why_and_ends_with_2(argv, says, capsys):
    from kiosk.__main__ import main

    try:
        code = main(argv)
    except SystemExit as left:
        code = left.code
    assert code == 2
    assert says in capsys.readouterr().err
