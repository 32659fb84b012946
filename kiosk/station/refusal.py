"""Why a kiosk will not start: the book is not for it. And how long to wait before the next try."""

import os
from pathlib import Path

from kiosk.bar.messages import Message
from kiosk.book import BookNewer, Disk, Identity, not_mounted, snapshot

FIRST_S, LONGEST_S = 5.0, 120.0


def refusal(folder: Path) -> str | None:
    """The sentence, with what to do, where the book in `folder` cannot be opened for writing by this user; else None.

    A book that another kiosk has open is told by the opening itself.
    """
    try:
        if point := not_mounted(folder):
            return Message("The book lies on a disk that is not there: nothing is mounted at {point}. Put the disk in and mount it: "
                           "sudo mount {point}", point=str(point))
        nearest = next(each for each in (folder, *folder.parents) if each.exists())
        if not nearest.is_dir():
            return Message("{path} is a file, where a folder should be. Move it away, or say with --book where the book is.",
                           path=str(nearest))
        if not os.access(nearest, os.R_OK | os.W_OK | os.X_OK):
            return _closed(nearest)
        Identity(folder, Disk())
    except BookNewer as newer:
        return newer.message
    except PermissionError:
        return _closed(folder)
    return None


def _closed(folder: Path) -> Message:
    return Message("The kiosk may not write in {folder}. Nothing is lost. Give the folder back to its user: "
                   "sudo chown -R evenpull: {folder}", folder=str(folder))


def language(folder: Path) -> str:
    """The bar's own, read without opening the book; English where that cannot be read."""
    named = ((snapshot.get(folder / "settings.json") or {}).get("settings") or {}).get("language")
    return named if isinstance(named, str) else "en"


def wait_s(tries: int) -> float:
    """Before the next one, after so many: 5, 10, 20 … at most 120 s."""
    return min(LONGEST_S, FIRST_S * 2 ** min(tries, 10))
