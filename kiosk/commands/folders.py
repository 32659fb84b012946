"""Where the kiosk keeps its book, unless told otherwise."""

import argparse
import os
from pathlib import Path


def usual() -> Path:
    """The user's data folder, as the XDG Base Directory Specification has it."""
    base = os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share"
    return Path(base) / "evenpull"


def add_book(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--book", type=Path, default=usual(), metavar="FOLDER",
                        help="the folder with the station's book (default: %(default)s)")
