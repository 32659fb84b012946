"""Where the kiosk keeps its book, unless told otherwise; and what the command is called here."""

import argparse
import os
import sys
from pathlib import Path

STATION = Path("/var/lib/evenpull/book")        # of a kiosk set up as hardware/station/README.md says


def usual() -> Path:
    """`EVENPULL_BOOK`; else the station's own, where one is set up on this machine; else the user's data folder, as the
    XDG Base Directory Specification has it."""
    named = os.environ.get("EVENPULL_BOOK")
    if named:
        return Path(named)
    if _is_there(STATION):
        return STATION
    base = os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share"
    return Path(base) / "evenpull"


def _is_there(folder: Path) -> bool:
    """Whether it is there, be it for others to read: then the command says that it may not."""
    try:
        return folder.is_dir()
    except PermissionError:
        return True


def called() -> str:
    """The command as it was called: "evenpull" once installed."""
    return "evenpull" if Path(sys.argv[0]).name == "evenpull" else "python -m kiosk"


def unreadable(book: Path, wrong: OSError) -> str:
    """What to say of a book that is there, for somebody else."""
    return f"{book} may not be read by this user ({wrong.strerror}). Run this as the user that the kiosk runs as, or with sudo."


def add_book(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--book", type=Path, default=usual(), metavar="FOLDER",
                        help="the folder with the station's book (default: %(default)s)")
