"""`python -m kiosk pin`: whether the manager's rooms have a PIN, and the way back when it is lost.

With --remove the PIN is gone and the rooms are open until a new one is set under Setup, Evening; the kiosk may be
running. Whoever can run this sits at the machine itself: that is the only key to it.
"""

import argparse
import sys

from kiosk.book import snapshot
from kiosk.commands import folders
from kiosk.station.pin import FILE, remove


def run(argv: list[str]) -> int:
    parser = argparse.ArgumentParser(prog=f"{folders.called()} pin", description=__doc__,
                                     formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--remove", action="store_true", help="take the PIN away")
    folders.add_book(parser)
    asked = parser.parse_args(argv)
    if not asked.book.is_dir():
        print(f"There is no book in {asked.book}. Name its folder with --book.", file=sys.stderr)
        return 2
    try:
        there = remove(asked.book) if asked.remove else (asked.book / FILE).exists()
    except OSError as wrong:
        print(f"The PIN could not be {'removed' if asked.remove else 'looked for'} ({wrong.strerror}). Run this as the user that the "
              "kiosk runs as, or with sudo.", file=sys.stderr)
        return 2
    if asked.remove:
        print("The PIN is removed. Set a new one under Setup, Evening." if there else "There was no PIN.")
    elif there and "hash" not in (snapshot.get(asked.book / FILE) or {}):
        print("The PIN's file is damaged, so the manager's rooms stay closed. Take it away with --remove, then set a new one.")
    else:
        print("The manager's rooms have a PIN." if there else "The manager's rooms have no PIN: they are open.")
    return 0
