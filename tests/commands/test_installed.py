"""What `pip install .` puts on a machine, run outside the checkout."""

import os
import shutil
import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path

import pytest

from kiosk.__main__ import main

HERE = Path(__file__).parents[2]


STALE = "kiosk/gone_since.py"       # a module of an earlier version


@pytest.fixture(scope="module")
def built(tmp_path_factory) -> Path:
    """A wheel and an sdist, out of a checkout in which an earlier version was built; what was said is in `said`."""
    folder = tmp_path_factory.mktemp("built")
    shutil.copytree(HERE, folder / "checkout", ignore=shutil.ignore_patterns(".git", ".*_cache", "__pycache__", ".venv*"))
    (folder / "checkout/build/lib/kiosk").mkdir(parents=True)
    (folder / "checkout/build/lib" / STALE).write_text("")
    done = subprocess.run([sys.executable, "-m", "hatchling", "build", "-d", str(folder)], cwd=folder / "checkout", check=True,
                          capture_output=True, text=True)
    (folder / "said").write_text(done.stdout + done.stderr)
    return folder


@pytest.fixture(scope="module")
def installed(built) -> Path:
    (wheel,) = built.glob("*.whl")
    zipfile.ZipFile(wheel).extractall(built / "site")
    return built / "site"


def test_nothing_of_an_earlier_build_comes_along_and_nothing_is_warned_of(built, installed):
    assert not (installed / STALE).exists() and "arn" not in (built / "said").read_text().replace("evenpull", "")


def test_the_sdist_holds_all_that_its_tests_and_its_readers_need(built):
    (sdist,) = built.glob("*.tar.gz")
    with tarfile.open(sdist) as held:
        names = {name.partition("/")[2] for name in held.getnames()}
    folders = ("kiosk", "hardware", "assets", "demo_data", "tests")
    wanted = {str(path.relative_to(HERE)) for folder in folders for path in (HERE / folder).rglob("*")
              if path.is_file() and "__pycache__" not in path.parts}
    assert {"README.md", "DEVELOPERS.md", "pyproject.toml", *wanted} <= names
    assert not any(name.startswith("build/") for name in names)


def test_the_wheel_says_what_it_is(installed):
    (about,) = installed.glob("evenpull-*.dist-info/METADATA")
    told = about.read_text()
    assert told.count("Classifier:") > 5 and "License" not in told      # the owner has chosen none
    assert all((installed / room / "py.typed").is_file() for room in ("kiosk", "hardware"))


@pytest.mark.parametrize("called, name", [("/usr/local/bin/evenpull", "evenpull"), ("/x/kiosk/__main__.py", "python -m kiosk")])
def test_help_names_the_command_as_it_was_called(called, name, monkeypatch, capsys):
    monkeypatch.setattr(sys, "argv", [called])
    with pytest.raises(SystemExit):
        main(["where", "--help"])
    assert capsys.readouterr().out.startswith(f"usage: {name} where")


def test_pictures_sounds_languages_and_demo_data_come_along(installed):
    for source, there in (("assets", "kiosk/assets"), ("demo_data", "kiosk/demo_data"), ("hardware", "hardware")):
        for kind in ("png", "wav", "po", "mo", "jsonl", "json", "service", "rules", "sql"):
            wanted = {str(path.relative_to(HERE / source)) for path in (HERE / source).rglob(f"*.{kind}")}
            assert wanted <= {str(path.relative_to(installed / there)) for path in (installed / there).rglob(f"*.{kind}")}
    assert list((installed / "kiosk/assets").rglob("*.png"))


def test_every_module_comes_along(installed):
    for room in ("kiosk", "hardware"):
        wanted = {str(path.relative_to(HERE)) for path in (HERE / room).rglob("*.py")}
        assert wanted <= {str(path.relative_to(installed)) for path in installed.rglob("*.py")}


def test_the_demo_report_and_the_pictures_are_found_outside_the_checkout(installed, tmp_path):
    environ = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"} | {"PYTHONPATH": str(installed)}
    told = subprocess.run([sys.executable, "-m", "kiosk", "report", "--demo"], cwd=tmp_path, env=environ, text=True,
                          capture_output=True, check=True)
    assert "To do tomorrow" in told.stdout
    code = "from kiosk.places import shipped; print(shipped('assets', 'pictures', 'dose.png').is_file())"
    found = subprocess.run([sys.executable, "-c", code], cwd=tmp_path, env=environ, text=True, capture_output=True, check=True)
    assert found.stdout.strip() == "True"


def test_the_questions_about_a_chain_come_along(installed):
    assert len(list((installed / "kiosk/commands/questions").glob("*.sql"))) == 7
