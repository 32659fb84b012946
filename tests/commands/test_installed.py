"""What `pip install .` puts on a machine, run outside the checkout."""

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

HERE = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def installed(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("installed")
    subprocess.run([sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--wheel-dir", str(folder), str(HERE)],
                   check=True, capture_output=True)
    (wheel,) = folder.glob("*.whl")
    zipfile.ZipFile(wheel).extractall(folder / "site")
    return folder / "site"


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
