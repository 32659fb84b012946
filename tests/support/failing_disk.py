"""Disks that fail the way real ones do, to be passed to a book."""

import errno
import os
import threading
import time
from pathlib import Path

from kiosk.book.disk import Disk


def refusing(number: int) -> OSError:
    return OSError(number, os.strerror(number))


class Unwaited(Disk):
    """A sound one that is never waited for: where the test is not about the power."""

    def sync(self, file):
        pass

    def sync_folder(self, path):
        pass


class Refusing(Disk):
    """Takes nothing while `cause` is an errno; of the write that meets it, the first `part_written` bytes."""

    def __init__(self, cause: int | None = None, part_written: int = 0):
        self.cause, self.part_written = cause, part_written

    def open(self, path):
        if self.cause == errno.EROFS:
            raise refusing(self.cause)
        return super().open(path)

    def folder(self, path):
        if self.cause == errno.EROFS and not path.is_dir():
            raise refusing(self.cause)
        super().folder(path)

    def write(self, file, data):
        if self.cause is not None:
            super().write(file, data[:self.part_written])
            raise refusing(self.cause)
        super().write(file, data)

    def replace(self, path, data, *, durable=True):
        if self.cause is not None:
            raise refusing(self.cause)
        super().replace(path, data, durable=durable)


class Slow(Disk):
    """Each sync takes `takes_s`; while `hangs`, none comes back."""

    def __init__(self, takes_s: float = 0.0):
        self.takes_s, self.answers = takes_s, threading.Event()
        self.answers.set()

    @property
    def hangs(self) -> bool:
        return not self.answers.is_set()

    @hangs.setter
    def hangs(self, hangs: bool) -> None:
        (self.answers.clear if hangs else self.answers.set)()

    def sync(self, file):
        time.sleep(self.takes_s)
        self.answers.wait()
        super().sync(file)


class Forgetful(Disk):
    """Holds what was written but not synced in a cache of its own: a failed sync, or the power, takes it.

    After a failed sync the next one succeeds and yet brings nothing back, as Linux may do (Rebello et al., "Can
    Applications Recover from fsync Failures?", USENIX ATC 2020). `fails` is asked before each sync.
    """

    def __init__(self, fails=lambda: False):
        self._fails = fails
        self._synced: dict[Path, int] = {}
        self._unnamed: set[Path] = set()
        self._paths: dict[int, Path] = {}

    def open(self, path):
        new = not path.exists()
        if new:
            self._unnamed.add(path)
        file = super().open(path)
        self._paths[file] = path
        self._synced.setdefault(path, self.size(file))
        return file

    def sync_folder(self, path):
        super().sync_folder(path)
        self._unnamed = {each for each in self._unnamed if each.parent != path}

    def truncate(self, file, size):
        super().truncate(file, size)
        path = self._paths[file]
        self._synced[path] = min(self._synced[path], size)

    def sync(self, file):
        path = self._paths.get(file)
        if self._fails():
            if path is not None:
                self._forget(path)
            raise refusing(errno.EIO)
        super().sync(file)
        if path is not None and self._holds_all(path):
            self._synced[path] = self.size(file)

    def _holds_all(self, path: Path) -> bool:
        return b"\0" not in path.read_bytes()[self._synced[path]:]

    def _forget(self, path: Path) -> None:
        """The pages are called clean and hold nothing that will reach the medium."""
        size, kept = path.stat().st_size, self._synced[path]
        with open(path, "r+b") as file:
            file.seek(kept)
            file.write(b"\0" * (size - kept))

    def power_cut(self) -> None:
        """What was never synced is gone, files whose names were never synced with it."""
        for path, size in self._synced.items():
            if path in self._unnamed:
                path.unlink(missing_ok=True)
            elif path.exists():
                os.truncate(path, min(size, path.stat().st_size))
