"""A small dictionary kept whole in one file, replaced whole: `CHECKSUM JSON`."""

import json
from pathlib import Path
from typing import Any
from zlib import crc32

from kiosk.book.disk import Disk


def put(disk: Disk, path: Path, value: dict[str, Any], *, durable: bool = True) -> None:
    """Replace `path`. Raises OSError where the disk refuses; the old one is then still whole."""
    body = json.dumps(value, separators=(",", ":")).encode()
    disk.replace(path, b"%08x %s\n" % (crc32(body), body), durable=durable)


def get(path: Path) -> dict[str, Any] | None:
    """What was put last; None where there is none, or where it is damaged."""
    try:
        data = path.read_bytes()
        checksum, body = data[:8], data[9:].rstrip(b"\n")
        return json.loads(body) if int(checksum, 16) == crc32(body) else None
    except (OSError, ValueError):
        return None
