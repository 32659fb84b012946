"""From the store of an earlier program to this one's, a version at a time.

A step rewrites files one by one, each whole, and can be run again from the start: a power cut in the middle costs a
second run. The version is written last, by the opening that follows.
"""

from collections.abc import Callable
from pathlib import Path

from kiosk.book.disk import Disk
from kiosk.book.stored_record import FORMAT, found, line


def upgrade(folder: Path, version: int, disk: Disk, upto: int = FORMAT) -> None:
    """Bring the store in `folder` from `version` to `upto`. Raises OSError where the disk refuses."""
    for step in range(version, upto):
        STEPS[step](folder, disk)


def _traces_apart(folder: Path, disk: Disk) -> None:
    """1 → 2: a pull's trace stands after its other fields, so that a day is summed without reading its curves.

    A damaged day is left as it is: it is mended when it is met, and read in either form.
    """
    for path in sorted((folder / "days").glob("*.log")):
        data = path.read_bytes()
        held = found(data, path.stem)
        made = (line(each.number, {"kind": each.kind, **each.fields}) for each in held.lines)
        apart = b"".join(each.encoded(path.stem) for each in made)
        if held.tidy and apart != data:
            disk.replace(path, apart)


STEPS: dict[int, Callable[[Path, Disk], None]] = {1: _traces_apart}
