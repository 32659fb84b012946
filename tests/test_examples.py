"""The examples in the docstrings: the reader of a line, the drift watch, the guide, the book, a setting changed, the taste."""

import doctest
import re
from importlib import import_module
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
NEWCOMERS = {"hardware.frames", "kiosk.bar.drift.watch", "kiosk.bar.guide.guide", "kiosk.book.book", "kiosk.bar.model.setup"}
WITH_EXAMPLES = sorted(".".join(path.relative_to(ROOT).with_suffix("").parts) for room in ("kiosk", "hardware")
                       for path in (ROOT / room).rglob("*.py") if re.search(r"^ +>>> ", path.read_text("utf-8"), re.MULTILINE))


def test_what_a_newcomer_would_try_first_has_an_example():
    assert set(WITH_EXAMPLES) >= NEWCOMERS


@pytest.mark.parametrize("name", WITH_EXAMPLES)
def test_the_examples_come_out_as_they_say(name):
    found = doctest.testmod(import_module(name))
    assert found.attempted and not found.failed
