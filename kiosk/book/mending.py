"""A damaged day: set aside as it was found, its whole records kept, the lost ones named."""

import json
from pathlib import Path

from kiosk.bar.messages import Message, joined
from kiosk.book.disk import Disk
from kiosk.book.journal import Journal
from kiosk.book.stored_record import LOST, StoredRecord


def mend(journal: Journal, due: int, disk: Disk, aside: Path, keep: bool) -> tuple[Journal, Message | None]:
    """A journal that reads cleanly, and a sentence about what was found.

    `due` is the number of the last record that is known to have been written (0 where none is). Where `keep` is False,
    or the disk refuses, the file stays as it is and what can be read of it is served from memory.
    """
    found_here, path, day = journal.found, journal.path, journal.day
    missing = list(found_here.missing)
    if journal.last_number < due:
        missing.append((journal.last_number + 1, due))
    if found_here.torn and not missing:
        if not keep:
            return journal, None   # most likely a line that the kiosk is writing just now
        try:
            journal.write_out()
        except OSError:
            pass   # cut off again before the next record is written
        return journal, Message("{day}: the last line was cut short, as by a power cut, and dropped. It was not yet confirmed as "
                                "kept; all {n:d} records before it are whole.", day=day, n=len(found_here.lines))
    name = free_name(aside, day)
    lines = _with_lost(found_here.lines, missing, name)
    data = b"".join(each.encoded(day) for each in lines)
    saved = sum(each.kind != LOST for each in found_here.lines)
    found = Message("{day}: the file was damaged. {n:d} records are whole and kept; {lost}.", day=day, n=saved,
                    lost=_named(missing, found_here.lines))
    if not keep:
        return Journal(path, disk, data), found
    try:
        if path.exists():
            disk.replace(aside / name, path.read_bytes())
        disk.replace(path, data)
    except OSError:
        return Journal(path, disk), joined(" ", (found, Message("It could not be set aside, since the disk cannot be written.")))
    return Journal(path, disk, data), joined(" ", (found, Message("The file as it was found is set aside as {file}.",
                                                                  file=f"{aside.name}/{name}")))


def free_name(aside: Path, day: str) -> str:
    return next(name for n in range(1, 10_000) if not (aside / (name := f"{day}.{n}.log")).exists())


def _with_lost(lines: tuple[StoredRecord, ...], missing: list[tuple[int, int]], name: str) -> list[StoredRecord]:
    lost = [StoredRecord(first, LOST, json.dumps({"to": last, "aside": name}).encode()) for first, last in missing]
    return sorted((*lines, *lost), key=lambda each: each.number)


def _named(missing: list[tuple[int, int]], lines: tuple[StoredRecord, ...]) -> Message:
    """Which are lost, by number and by the times of the whole records around them."""
    if not missing:
        return Message("none is known to be lost")
    runs = []
    for first, last in missing:
        before = next((each for each in reversed(lines) if each.number < first), None)
        after = next((each for each in lines if each.number > last), None)
        parts = [Message("number {n:d}", n=first) if first == last else Message("numbers {first:d} to {last:d}", first=first, last=last)]
        parts += [Message("after {time}", time=_clock(before))] if before else []
        parts += [Message("before {time}", time=_clock(after))] if after else []
        runs.append(joined(" ", parts))
    count = sum(last - first + 1 for first, last in missing)
    which = joined("; ", runs)
    return Message("1 is lost: {which}", which=which) if count == 1 else Message("{n:d} are lost: {which}", n=count, which=which)


def _clock(line: StoredRecord) -> str:
    return str(line.fields.get("at", "an unknown time"))[11:19]
