"""Where the pictures, sounds and demo data are: beside the code in a checkout, inside the package once installed. And
where a folder is that the bar has named, and how a file is written that is nobody else's business."""

import os
from errno import ENOENT
from pathlib import Path

HERE = Path(__file__).resolve().parent


def shipped(*parts: str) -> Path:
    """A file or folder that came with the program, such as shipped("assets", "pictures", "dose.png")."""
    for base in (HERE, HERE.parent):
        if (base / parts[0]).is_dir():
            return base.joinpath(*parts)
    raise FileNotFoundError(f"Part of the program is missing: {'/'.join(parts)}. Install it again.")


def named(folder: str) -> Path:
    """The folder that a setting names, "~" being somebody's home. Raises OSError where there is no such user."""
    try:
        return Path(folder).expanduser()
    except RuntimeError:
        raise OSError(ENOENT, "there is no such user", folder) from None


def private(path: Path, text: str) -> None:
    """A file for its owner alone, since it may name people. Raises OSError."""
    with open(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | os.O_CLOEXEC, 0o600), "w", encoding="utf-8", newline="") as file:
        os.fchmod(file.fileno(), 0o600)
        file.write(text)
