"""Forgetting a person: their name gives way to a pseudonym in all that is kept. The figures stay as they were.

The one time that kept records are written anew: each file whole, line by line, with its numbers as they were. What is
to be forgotten is noted beside the book until it is done, so that a power cut on the way is made good at the next
opening.
"""

import json
import re
from html import escape
from pathlib import Path
from typing import Any

from kiosk.bar.model import filed_as
from kiosk.book import snapshot
from kiosk.book.days import Days
from kiosk.book.disk import Disk
from kiosk.book.stored_record import LOST, StoredRecord, line

NOTE = "forgetting.json"
PEOPLE = {"barista", "by", "who"}       # the fields that hold a person's name, and nothing else, wherever they stand


def note(folder: Path, name: str, pseudonym: str, disk: Disk) -> None:
    snapshot.put(disk, folder / NOTE, {"name": name, "pseudonym": pseudonym})


def forget_noted(folder: Path, days: Days, disk: Disk) -> int:
    """Do what is noted, from the start where it was begun before; the number of records that held the name.

    Looks in people's places (PEOPLE, and the staff's settings), where the whole of what stands there is the name. The
    same letters in another word, a reason or an event of the guide are left. Raises OSError where the disk refuses.
    """
    due = snapshot.get(folder / NOTE)
    if due is None:
        (folder / NOTE).unlink(missing_ok=True)
        return 0
    person = ForgottenName(due["name"], due["pseudonym"])
    held = sum(days.rewrite(day, person.forgotten_in) for day in days.containing(person.bytes))
    for path in (folder / "settings.json", folder / "settings.before.json"):
        kept = snapshot.get(path)
        if kept is not None:
            settings = person.forgotten(kept["settings"])
            kept["settings"] = settings | ({"staff": person.forgotten_staff(settings["staff"])} if "staff" in settings else {})
            snapshot.put(disk, path, kept)
    for path in (folder / "memory").glob("*.json"):
        path.unlink()   # rebuilt without the name
    for path in (folder / "aside").glob("*"):
        disk.replace(path, path.read_bytes().replace(person.bytes, due["pseudonym"].encode()))
    for path in sorted((folder / "evenings").glob("*")):
        if path.is_file():
            data = path.read_bytes()
            if (told := person.forgotten_by_readers(data)) != data:
                disk.replace(path, told)
            if path.stem == filed_as(due["name"]):      # a certificate
                path.rename(path.with_stem(due["pseudonym"]))
    (folder / NOTE).unlink()
    disk.sync_folder(folder)
    return held


class ForgottenName:
    """Whose name is to go, and what stands in its place."""

    def __init__(self, name: str, pseudonym: str):
        self._name, self._pseudonym = name, pseudonym
        self.bytes = json.dumps(name)[1:-1].encode()   # as the lines have it

    def forgotten(self, value: Any) -> Any:
        """`value`, which JSON holds, without the name."""
        if isinstance(value, list):
            return [self.forgotten(each) for each in value]
        if isinstance(value, dict):
            return {key: self._pseudonym if key in PEOPLE and each == self._name else self.forgotten(each)
                    for key, each in value.items()}
        return value

    def forgotten_staff(self, value: Any) -> Any:
        """A setting of the staff: there a person's name is a key, or a value by itself."""
        if isinstance(value, dict):
            return {self._pseudonym if key == self._name else key: self.forgotten_staff(each) for key, each in value.items()}
        return self._pseudonym if value == self._name else value

    def forgotten_by_readers(self, data: bytes) -> bytes:
        """A page, a table, a text or an object that was written for somebody to read, each with its own way of writing a name;
        whole words alone, the key of a figure (Ada_pulls) among them."""
        ways = {self._name, escape(self._name), self._name.replace('"', '""'), json.dumps(self._name, ensure_ascii=False)[1:-1]}
        any_of_them = "|".join(re.escape(way) for way in sorted(ways, key=len, reverse=True))
        text = data.decode(errors="surrogateescape")
        return re.sub(rf"(?<![^\W_])({any_of_them})(?![^\W_])", self._pseudonym, text).encode(errors="surrogateescape")

    def forgotten_in(self, kept: StoredRecord) -> StoredRecord:
        if kept.kind == LOST or self.bytes not in kept.body:
            return kept
        fields = kept.fields
        if kept.kind == "SettingChanged" and fields["path"].split(".")[0] == "staff":
            head, *rest = fields["path"].split(".")
            fields |= {"path": ".".join((head, *(self._pseudonym if each == self._name else each for each in rest))),
                       "before": self.forgotten_staff(fields.get("before")), "after": self.forgotten_staff(fields.get("after"))}
        if kept.kind == "SettingChanged" and fields["path"].split(".")[-1] in PEOPLE:
            fields |= {when: self.forgotten_staff(fields.get(when)) for when in ("before", "after")}
        return line(kept.number, {"kind": kept.kind, **self.forgotten(fields)})

