"""Forgetting a person: their name gives way to a pseudonym in all that is kept. The figures stay as they were.

The one time that kept records are written anew: each file whole, line by line, with its numbers as they were. What is
to be forgotten is noted beside the book until it is done, so that a power cut on the way is made good at the next
opening.
"""

import json
import re
from pathlib import Path
from typing import Any

from kiosk.book import snapshot
from kiosk.book.days import Days
from kiosk.book.disk import Disk
from kiosk.book.stored_record import LOST, StoredRecord, line

NOTE = "forgetting.json"
THINGS = {"kind", "id", "at", "grinder", "coffee", "basket", "unit", "drinks", "order_id", "pull_id", "flag_id", "of",
          "station"}


def note(folder: Path, name: str, pseudonym: str, disk: Disk) -> None:
    snapshot.put(disk, folder / NOTE, {"name": name, "pseudonym": pseudonym})


def forget_noted(folder: Path, days: Days, disk: Disk) -> int:
    """Do what is noted, from the start where it was begun before; the number of records that held the name.

    Looks in people's places ("barista", "by", the staff's settings) and, as a whole word, in whatever was written
    freely; what names a thing (a coffee, a grinder, a drink) is left. Raises OSError where the disk refuses.
    """
    due = snapshot.get(folder / NOTE)
    if due is None:
        (folder / NOTE).unlink(missing_ok=True)
        return 0
    person = ForgottenName(due["name"], due["pseudonym"])
    held = sum(days.rewrite(day, person.forgotten_in) for day in days.containing(person.bytes))
    for path in (folder / "settings.json", folder / "settings.before.json"):
        kept = snapshot.get(path)
        if kept is not None and "staff" in kept["settings"]:
            kept["settings"]["staff"] = person.forgotten(kept["settings"]["staff"])
            snapshot.put(disk, path, kept)
    for path in (folder / "memory").glob("*.json"):
        path.unlink()   # rebuilt without the name
    for path in (folder / "aside").glob("*"):
        disk.replace(path, path.read_bytes().replace(person.bytes, due["pseudonym"].encode()))
    (folder / NOTE).unlink()
    disk.sync_folder(folder)
    return held


class ForgottenName:
    """Whose name is to go, and what stands in its place."""

    def __init__(self, name: str, pseudonym: str):
        self._name, self._pseudonym = name, pseudonym
        self._word = re.compile(rf"(?<!\w){re.escape(name)}(?!\w)")
        self.bytes = json.dumps(name)[1:-1].encode()   # as the lines have it

    def forgotten(self, value: Any) -> Any:
        """`value`, which JSON holds, without the name."""
        if isinstance(value, str):
            return self._word.sub(self._pseudonym, value)
        if isinstance(value, list):
            return [self.forgotten(each) for each in value]
        if isinstance(value, dict):
            return {self._pseudonym if key == self._name else key: each if key in THINGS else self.forgotten(each)
                    for key, each in value.items()}
        return value

    def forgotten_in(self, kept: StoredRecord) -> StoredRecord:
        if kept.kind == LOST or self.bytes not in kept.body:
            return kept
        fields = kept.fields
        if kept.kind == "SettingChanged" and fields["path"].split(".")[0] != "staff":
            fields["by"] = self.forgotten(fields["by"])
            return line(kept.number, {"kind": kept.kind, **fields})
        return line(kept.number, {"kind": kept.kind, **self.forgotten(fields)})

