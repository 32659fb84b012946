"""The whole book in one file, and back: neither is believed before it has been read again.

A backup is a ZIP file of the book's files with `manifest.json`, which gives the store's version, the station, the
moment, and for each file its SHA-256 and, for a day, the number of its records.
"""

import hashlib
import json
import os
import re
import shutil
import zipfile
import zlib
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import IO

from kiosk.book.disk import Disk
from kiosk.book.identity import BookNewer, Identity
from kiosk.book.lock import Lock
from kiosk.book.mounts import not_mounted
from kiosk.book.stored_record import FORMAT, LOST, as_written, found

MANIFEST = "manifest.json"
PARTS = ("book.json", "settings.json", "settings.before.json", "days/*.log", "sums/*.log", "memory/*.json", "aside/*")
RESTORING = ".restoring"
OWN = {pattern.split("/")[0] for pattern in PARTS} | {"last", "lock", "forgetting.json"}   # made anew, or of that book
SAFE = re.compile(r"(book|settings|settings\.before)\.json|(days|sums|memory|aside)/[\w.-]+")
NAME = re.compile(r"evenpull-(\w+)-(\d{8}T\d{6})\.zip")


class BackupFailed(RuntimeError):
    """A backup could not be made, or is not one; its text says why and what to do, in the user's words."""


@dataclass(frozen=True, slots=True)
class Contents:
    """What a proved backup holds: days (first and last, None where there are none) and records."""

    station: str
    at: str
    days: int
    first_day: str | None
    last_day: str | None
    records: int


def back_up(book: Path, to: Path, at: datetime, disk: Disk | None = None) -> Path:
    """Write the book in folder `book` to a new file in folder `to`, read it again, and only then give it its name.

    The kiosk may be serving meanwhile: days only grow, and what is kept during the backup may or may not be in it.
    Raises BackupFailed.
    """
    disk = disk or Disk()
    station = Identity(book, disk).station
    done = to / f"evenpull-{station}-{at.strftime('%Y%m%dT%H%M%S')}.zip"
    part = done.with_suffix(".part")
    if not (book / "days").is_dir():
        raise BackupFailed(f"There is no book in {book}. Say where it is with --book.")
    if point := not_mounted(to):
        raise BackupFailed(f"Nothing is mounted at {point}. Put the stick in, or choose another folder.")
    try:
        to.mkdir(parents=True, exist_ok=True)
        with open(os.open(part, os.O_RDWR | os.O_CREAT | os.O_TRUNC, 0o600), "wb") as file:
            _write(book, file, station, at)
            file.flush()
            disk.sync(file.fileno())
        prove(part)
        os.replace(part, done)
        disk.sync_folder(to)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise BackupFailed(f"The backup was not written: {error.strerror} ({to}). Free some space there, or choose "
                           "another folder or stick.") from error
    except BackupFailed:
        part.unlink(missing_ok=True)
        raise
    return done


def back_up_when_due(book: Path, to: Path, now: datetime, every: timedelta = timedelta(days=1),
                     keep: int = 14) -> Path | None:
    """A backup, where this station has none in `to` that is younger than `every`; else None.

    Older ones beyond the newest `keep` are removed, once the new one is proved. Raises BackupFailed.
    """
    def moment(path: Path) -> datetime:
        named = NAME.fullmatch(path.name)
        return datetime.strptime(named[2], "%Y%m%dT%H%M%S") if named else datetime.min

    station = Identity(book, Disk()).station
    mine = sorted((path for path in to.glob(f"evenpull-{station}-*.zip") if NAME.fullmatch(path.name)), key=moment)
    # One that lies ahead was made before the clock was set back: it neither holds the next one up nor asks for one each minute.
    if any(timedelta(0) <= now.replace(tzinfo=None) - moment(path) < every for path in mine):
        return None
    made = back_up(book, to, now)
    for old in [path for path in mine if path != made][:-(keep - 1) or None]:
        old.unlink(missing_ok=True)
    return made


def prove(path: Path) -> Contents:
    """Read the whole backup and check every file and every record of every day. Raises BackupFailed, BookNewer."""
    if path.exists() and not (path.is_file() or path.is_dir()):      # a pipe would never end
        raise BackupFailed(f"{path} is no file. Choose another backup.")
    try:
        with zipfile.ZipFile(path) as archive:
            manifest = json.loads(archive.read(MANIFEST))
            if manifest["version"] > FORMAT:
                raise BookNewer(path, manifest["version"])
            names = set(archive.namelist()) - {MANIFEST}
            if names != set(manifest["files"]) or not all(map(SAFE.fullmatch, names)):
                raise BackupFailed(f"{path.name} does not hold what it says it holds. Take another backup.")
            records = {name: _proved(name, archive.read(name), about) for name, about in manifest["files"].items()}
    except (BackupFailed, BookNewer):
        raise
    except OSError as error:
        raise BackupFailed(f"{path} cannot be read: {error.strerror or error}. Choose another backup.") from error
    except (ValueError, LookupError, TypeError, AttributeError, EOFError, RuntimeError, zlib.error,
            zipfile.BadZipFile) as error:
        raise BackupFailed(f"{path.name} is damaged or no backup ({error}). Take another backup.") from error
    days = sorted(Path(name).stem for name in records if name.startswith("days/"))
    return Contents(station=manifest["station"], at=manifest["at"], days=len(days), first_day=days[0] if days else None,
                    last_day=days[-1] if days else None, records=sum(records.values()))


def restore(backup: Path, book: Path, at: datetime, disk: Disk | None = None) -> tuple[Contents, Path | None]:
    """Put the book of `backup` in the place of the one in folder `book`; what it held, and where the old book is now.

    The backup is proved, unpacked beside the book and read again from there; only then do the two change places, and
    the old one stays under another name. What else lies in the folder (recorded feeds, reports, the log, a PIN) is the
    machine's: it is in no backup, and goes with the folder's name. Raises BackupFailed, BookNewer, and BookBusy where a
    kiosk has the book open.
    """
    disk = disk or Disk()
    contents = prove(backup)
    book = book.resolve()                           # a book behind a link changes places where it lies
    finish(book)
    new, old = book.with_name(f"{book.name}{RESTORING}"), None
    lock = Lock(book)
    try:
        if book.exists():
            lock.take()
            old = _free_beside(book, at)
        shutil.rmtree(new, ignore_errors=True)
        _unpack(backup, new, disk)
        if old:
            os.replace(book, old)
        try:
            os.replace(new, book)
        except OSError:
            if old:
                os.replace(old, book)
            raise
        if old is not None:
            _bring_over(old, book)
        disk.sync_folder(book.parent)
    except OSError as error:
        raise BackupFailed(f"The book was not restored, and is as it was: {error.strerror} ({book}). Free some space "
                           "and try again.") from error
    finally:
        lock.release()
        shutil.rmtree(new, ignore_errors=True)
    return contents, old


def _free_beside(book: Path, at: datetime) -> Path:
    """Where the book goes that another takes the place of. Two may be restored within one second."""
    named = f"{book.name}.before-{at:%Y%m%dT%H%M%S}"
    return next(path for n in range(1, 100) if not (path := book.with_name(named if n == 1 else f"{named}-{n:02}")).exists())


def finish(book: Path) -> None:
    """A restore that was cut between its two renames is completed: the proved book takes the place that is empty, and what
    is the machine's own comes over from the one before. Nothing where none was cut."""
    book = book.resolve()
    new = book.with_name(f"{book.name}{RESTORING}")
    if book.exists() or not new.is_dir():
        return
    os.replace(new, book)
    before = sorted(book.parent.glob(f"{book.name}.before-*"))
    if before:
        _bring_over(before[-1], book)


def _bring_over(old: Path, book: Path) -> None:
    """The recorded feeds, the log, a PIN: what is in no backup."""
    for kept in [each for each in old.iterdir() if each.name not in OWN]:
        with suppress(OSError):   # it is still where the old book is
            os.replace(kept, book / kept.name)


def _write(book: Path, file: IO[bytes], station: str, at: datetime) -> None:
    files = {}
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
        for path in (path for pattern in PARTS for path in sorted(book.glob(pattern)) if path.suffix != ".part"):
            if not path.is_file() or not SAFE.fullmatch(path.relative_to(book).as_posix()):
                continue                            # a stray folder, or a file that is none of the book's
            data = path.read_bytes()
            if path.suffix == ".log" and path.parent.name in ("days", "sums"):
                data = as_written(data)
                data = data[:data.rfind(b"\n") + 1]   # a line may be under way
            name = path.relative_to(book).as_posix()
            archive.writestr(name, data)
            files[name] = {"sha256": hashlib.sha256(data).hexdigest(), "records": _records(name, data)}
        archive.writestr(MANIFEST, json.dumps({"version": Identity(book, Disk()).version, "station": station,
                                               "at": at.isoformat(), "files": files}))


def _records(name: str, data: bytes) -> int:
    if not name.startswith("days/"):
        return 0
    return sum(line.kind != LOST for line in found(data, Path(name).stem).lines)


def _proved(name: str, data: bytes, about: dict) -> int:
    records = _records(name, data)
    if hashlib.sha256(data).hexdigest() != about["sha256"] or records != about["records"]:
        raise ValueError(f"{name} is not as it was written")
    return records


def _unpack(backup: Path, new: Path, disk: Disk) -> None:
    disk.folder(new)
    with zipfile.ZipFile(backup) as archive:
        about = json.loads(archive.read(MANIFEST))["files"]
        for name in about:
            disk.folder((new / name).parent)
            disk.replace(new / name, archive.read(name))
            if hashlib.sha256((new / name).read_bytes()).hexdigest() != about[name]["sha256"]:
                raise BackupFailed(f"{name} was not written as it was read. The disk fails: use another.")
