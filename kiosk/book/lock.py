"""One writer to a book: held by the kernel, so that it goes with the process that held it, however that ended."""

import fcntl
import os
from pathlib import Path


class BookBusy(RuntimeError):
    """Another kiosk, or a restore, is writing to this book."""

    def __init__(self, folder: Path):
        super().__init__(f"Another Evenpull is already open on {folder}. Use that one, or close it and start again.")


class Lock:
    """Raises BookBusy where another process, or another book of this one, holds it."""

    def __init__(self, folder: Path):
        self._file = None
        try:
            self._file = os.open(folder / "lock", os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
        except OSError:
            return   # a disk that cannot be written has no second writer either
        try:
            fcntl.flock(self._file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            os.close(self._file)
            raise BookBusy(folder) from None

    def release(self) -> None:
        if self._file is not None:
            os.close(self._file)
            self._file = None
