"""The states for colour-blind eyes, held against a library's own: a slice of `python -m tests.bench.eyes`."""

import subprocess
import tarfile
from io import BytesIO
from pathlib import Path

import pytest

pytest.importorskip("coloraide", reason="it is in the test extra")

from PIL import Image

from kiosk.screens.ui.look import Colour
from tests.bench import eyes, since


@pytest.mark.parametrize("eye", ["", *eyes.EYES])
def test_the_states_stay_apart_for_each_kind_of_eye(eye):
    apart, one, other = eyes.nearest(eye)
    assert apart >= eyes.APART, (one, other)


@pytest.mark.parametrize("eye", eyes.EYES)
def test_a_picture_turns_as_the_library_turns_its_colours_and_greys_stay_grey(eye):
    for colour in (Colour.next, Colour.good, (0.5, 0.5, 0.5)):
        picture = Image.new("RGB", (1, 1), tuple(round(255 * c) for c in colour[:3]))
        found = eyes.through(picture, eyes.matrix(eye)).getpixel((0, 0))
        assert found == pytest.approx([255 * c for c in eyes.seen_by(eye, colour).coords()], abs=1.5)
    assert len(set(found)) == 1


def test_a_room_stands_beside_what_it_was_whatever_its_number_on_the_walk(tmp_path):
    for folder, number in (("before", 3), ("after", 14)):
        (tmp_path / folder).mkdir()
        for room in ("free", "dose"):
            Image.new("RGB", (800, 480)).save(tmp_path / folder / f"800x480-2-en-{number:02}-station-{room}.png")
    Image.new("RGB", (800, 480)).save(tmp_path / "after" / "800x480-2-de-15-new.png")
    was, now = eyes.rooms(tmp_path / "before"), eyes.rooms(tmp_path / "after")
    assert was.keys() == eyes.rooms(tmp_path / "after", "800x480-2-en").keys() and len(now) == 3
    for room, path in now.items():
        eyes.side_by_side(was.get(room), path, tmp_path / f"{room}.jpg")
    heights = {path.stem.rsplit("-", 1)[1]: Image.open(path).height for path in tmp_path.glob("*.jpg")}
    assert heights["free"] == heights["dose"] == 2 * heights["new"]


def git(command, **_given):
    """As it answers where there is a HEAD, and nothing in it; a machine that runs these tests need have none."""
    if command[-1] != "HEAD":
        return subprocess.CompletedProcess(command, 128, b"", b"fatal: not a valid object name: never")
    nothing = BytesIO()
    tarfile.open(fileobj=nothing, mode="w").close()
    return subprocess.CompletedProcess(command, 0, nothing.getvalue(), b"")


def test_a_revision_that_is_none_is_said_and_nothing_is_drawn(tmp_path, monkeypatch):
    monkeypatch.setattr(subprocess, "run", git)
    with pytest.raises(SystemExit, match="no revision 'never' here: fatal: not a valid"):
        since.main(["never", str(tmp_path)])
    monkeypatch.setattr(subprocess, "run", lambda *_given, **_how: open(tmp_path / "git"))
    with pytest.raises(SystemExit, match="git is not on this machine"):
        since.main(["HEAD", str(tmp_path)])
    assert not list(tmp_path.iterdir())


def test_a_walk_that_ended_before_its_end_fails_the_comparison_and_no_picture_of_an_earlier_one_counts(tmp_path, monkeypatch, capsys):
    room = "800x480-2-{}-01-station.png"
    (tmp_path / "after").mkdir()
    Image.new("RGB", (800, 480)).save(tmp_path / "after" / "800x480-2-en-02-of-an-earlier-comparison.png")

    def drawn(command, **given):
        if command[0] == "git":
            return git(command)
        *_one, folder, _wide, _high, _groups, language = command
        Image.new("RGB", (800, 480)).save(Path(folder) / room.format(language))
        broken = given["cwd"] == since.HERE and language == "de"
        return subprocess.CompletedProcess(command, int(broken), "", "ZeroDivisionError: of a room" if broken else "")

    monkeypatch.setattr(subprocess, "run", drawn)
    assert since.main(["HEAD", str(tmp_path), "800x480"]) == 1
    out = capsys.readouterr().out
    assert "ZeroDivisionError" in out and out.count("SHORT") == 1
    assert {path.name for path in (tmp_path / "after").iterdir()} == {room.format("en"), room.format("de")}
