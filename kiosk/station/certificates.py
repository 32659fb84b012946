"""A certificate of what a hire was shown, as a page in a file."""

from pathlib import Path

from kiosk.bar.model import Setup, filed_as
from kiosk.bar.training import Training
from kiosk.languages import catalogue
from kiosk.page import certificate
from kiosk.places import private


def write(of: Training, day: str, setup: Setup, file: Path, language: str | None = None) -> None:
    """Write it, for its owner alone: it names people. Raises OSError."""
    file.parent.mkdir(parents=True, exist_ok=True)
    private(file, certificate(of, day, setup.bar, catalogue(language or setup.evening_language)))


def named_after(person: str) -> str:
    """A file's name for the certificate of `person`."""
    return filed_as(person) + ".html"
