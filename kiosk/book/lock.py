"""One writer to a book: held by the kernel, so that it goes with the process that held it, however that ended."""

import fcntl
import os
from pathlib import Path

from kiosk.bar.messages import Message


class BookBusy(RuntimeError):
    """Another kiosk, or a command that writes, has this book."""

    def __init__(self, folder: Path):
        self.message = Message("Another Evenpull is already open on {folder}. Use that one, or close it and start again.",
                               folder=str(folder))
        super().__init__(self.message)


class Lock:
    """Nothing is locked until `take`."""

    def __init__(self, folder: Path):
        self._folder = folder
        self._file: int | None = None

    def take(self) -> None:
        """Take it, or keep it. Raises BookBusy where another process, or another book of this one, has it; OSError
        where the disk does not even take the lock's file, and so has no other writer either."""
        if self._is_there():
            return
        self.release()                  # its file was taken away, or another was put there: ask again
        file = os.open(self._folder / "lock", os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            os.close(file)
            raise BookBusy(self._folder) from None
        self._file = file

    def _is_there(self) -> bool:
        """Whether the file that is locked is still the one that another kiosk would ask."""
        if self._file is None:
            return False
        try:
            mine, named = os.fstat(self._file), os.stat(self._folder / "lock")
        except FileNotFoundError:
            return False
        return (mine.st_dev, mine.st_ino) == (named.st_dev, named.st_ino)

    def release(self) -> None:
        if self._file is not None:
            os.close(self._file)
            self._file = None
