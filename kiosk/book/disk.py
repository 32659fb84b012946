"""Every touch of the disk that the book's promises rest on, in one object, so that a failing disk can be passed in."""

import errno
import os
import stat
from contextlib import suppress
from pathlib import Path

PRIVATE_FILE, PRIVATE_FOLDER = 0o600, 0o700


class Disk:
    """The real disk. Each call raises OSError where the disk refuses; nothing here retries or hides."""

    def folder(self, path: Path) -> None:
        """Make `path` and what leads to it, open to its owner alone, and durable."""
        if path.is_dir():
            if path.stat().st_mode & stat.S_ISVTX:
                return                              # everybody's: it was named by mistake, and is not ours to close
            with suppress(PermissionError):   # a stick without owners has no private folders
                path.chmod(PRIVATE_FOLDER)
            return
        path.parent.mkdir(parents=True, exist_ok=True)
        path.mkdir(mode=PRIVATE_FOLDER, exist_ok=True)
        self.sync_folder(path.parent)

    def open(self, path: Path) -> int:
        """A descriptor for appending to `path`; a new file is durable, by name, before this returns."""
        new = not path.exists()
        file = os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT | os.O_CLOEXEC, PRIVATE_FILE)
        if new:
            try:
                self.sync_folder(path.parent)
            except OSError:
                os.close(file)
                raise
        return file

    def size(self, file: int) -> int:
        """Raises OSError too where the file lost its name: what is written to it would go with it."""
        about = os.fstat(file)
        if not about.st_nlink:
            raise OSError(errno.ENOENT, os.strerror(errno.ENOENT))
        return about.st_size

    def write(self, file: int, data: bytes) -> None:
        """Write all of `data`. Where this raises, any part of it may have been written."""
        while data:
            data = data[os.write(file, data):]

    def sync(self, file: int) -> None:
        """Return once what was written is on the medium (its length too, which fdatasync includes)."""
        os.fdatasync(file)

    def truncate(self, file: int, size: int) -> None:
        os.ftruncate(file, size)

    def close(self, file: int) -> None:
        os.close(file)

    def sync_folder(self, path: Path) -> None:
        file = os.open(path, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
        try:
            os.fsync(file)
        finally:
            os.close(file)

    def replace(self, path: Path, data: bytes, *, durable: bool = True) -> None:
        """Put `data` where `path` is: a reader, or a power cut, finds the old or the new, whole."""
        part = path.with_name(path.name + ".part")
        file = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | os.O_CLOEXEC, PRIVATE_FILE)
        try:
            self.write(file, data)
            if durable:
                self.sync(file)
        except OSError:
            part.unlink(missing_ok=True)   # its room may be what is lacking
            raise
        finally:
            self.close(file)
        os.replace(part, path)
        if durable:
            self.sync_folder(path.parent)
