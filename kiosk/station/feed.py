r"""A recorded feed: what the scale sent and what hands did, as plain text that an editor opens and `replay` runs again.

One thing a line, in UTF-8, in order of time:

    # evenpull feed 1
    # recipe {"coffee": "house", "basket": "double", "dose_g": 16.0, …}
    # portafilters [["left", 520.3], ["right", 531.0]]
    # habits {"pulls": […]}
    # 12.345 dose
    # 40.100 pump on
    40.203 ST,GS,+   0.1 g

A line that begins with a number is a reading: seconds, one space, then the line just as the scale sent it. Where there
are several scales, seconds carry the scale's number: `40.203@2 ST,GS,+   0.1 g`; without one it is scale 1. Bytes that
do not print are written `\x02`, a backslash `\\`; the line's own CR and LF are left off. A line that begins with `#`
is a remark, and a reader that only wants the readings skips it. The kiosk understands `# evenpull feed 1`,
`# NAME JSON` for the names in `TOLD`, `# seconds DEED` for the deeds in `DEEDS`, and `# seconds contact GROUP on` (or
`off`) for an edge of a group's own signal; other remarks mean nothing.
Seconds count from any start and do not go back, but for the blink by which a reading may be written after a tap.
"""

import json
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

OPENING = "# evenpull feed 1"
TOLD = ("recipe", "portafilters", "habits", "pattern", "unit")
BLINK_S = 1.0
DEEDS = ("dose", "tare", "lock in", "pump on", "pump off", "scale lost")


@dataclass(frozen=True, slots=True)
class HeardLine:
    """One line of the `scale`th scale (1, 2, …), as it came, arrived at `t_s`."""

    t_s: float
    raw: bytes
    scale: int = 1


@dataclass(frozen=True, slots=True)
class Done:
    """What a hand did, or what befell the scale: one of DEEDS."""

    t_s: float
    deed: str


@dataclass(frozen=True, slots=True)
class Edge:
    """A group's own signal went on or off at `t_s`; groups count from 1."""

    t_s: float
    group: int
    on: bool


@dataclass(frozen=True, slots=True)
class Header:
    """What the recording says about itself: one of TOLD, and its JSON value."""

    name: str
    value: Any


@dataclass(frozen=True, slots=True)
class BadLine:
    """Line `number` (from 1) is none of these; `why` says what is wrong with it."""

    number: int
    text: str
    why: str


def written(item: HeardLine | Done | Edge | Header) -> str:
    """The item as one line of a feed, without its line end."""
    match item:
        case HeardLine(t_s, raw, scale):
            number = "" if scale == 1 else f"@{scale}"
            return f"{t_s:.3f}{number} " + "".join(_shown(byte) for byte in raw.rstrip(b"\r\n"))
        case Edge(t_s, group, on):
            return f"# {t_s:.3f} contact {group} {'on' if on else 'off'}"
        case Done(t_s, deed):
            return f"# {t_s:.3f} {deed}"
        case Header(name, value):
            return f"# {name} {json.dumps(value, ensure_ascii=False)}"


def read(lines: Iterable[str]) -> Iterator[HeardLine | Done | Edge | Header | BadLine]:
    """The feed's items, one by one; nothing is kept, so a day's feed takes no more memory than a pull's."""
    last_s = float("-inf")
    for number, text in enumerate(lines, 1):
        text = text.rstrip("\r\n")
        if not text.strip() or text == OPENING:
            continue
        item = _remark(text) if text.startswith("#") else _reading(text)
        if isinstance(item, str):
            yield BadLine(number, text, item)
        elif isinstance(item, (HeardLine, Done, Edge)) and item.t_s < last_s - BLINK_S:
            yield BadLine(number, text, "its time goes back")
        elif item is not None:
            last_s = max(last_s, getattr(item, "t_s", last_s))
            yield item


class Recorder:
    """Writes the feed of one pull to `path`. A disk that refuses ends the recording, not the service: see `failed`."""

    def __init__(self, path: Path, told: dict[str, Any]):
        self.failed: OSError | None = None
        self._file = None
        try:
            self._file = Path(path).open("w", encoding="utf-8", newline="\n")
        except OSError as refused:
            self.failed = refused
        self._put(OPENING)
        for name, value in told.items():
            self._put(written(Header(name, value)))

    def observe(self, t_s: float, raw: bytes) -> None:
        self._put(written(HeardLine(t_s, raw)))

    def edge(self, t_s: float, group: int, on: bool) -> None:
        self._put(written(Edge(t_s, group, on)))

    def done(self, t_s: float, deed: str) -> None:
        self._put(written(Done(t_s, deed)))

    def close(self) -> None:
        if self._file:
            try:
                self._file.close()
            except OSError as refused:
                self.failed = refused
            self._file = None

    def _put(self, line: str) -> None:
        if self._file:
            try:
                self._file.write(line + "\n")
            except OSError as refused:
                self.failed = refused
                self.close()


def _shown(byte: int) -> str:
    if byte == 0x5C:
        return "\\\\"
    return chr(byte) if 0x20 <= byte < 0x7F else f"\\x{byte:02x}"


def _raw(shown: str) -> bytes:
    plain = re.sub(r"\\(x[0-9a-fA-F]{2}|\\)", lambda m: "\\" if m[1] == "\\" else chr(int(m[1][1:], 16)), shown)
    return plain.encode("latin-1", "replace")


def _seconds(word: str) -> float | None:
    return float(word) if re.fullmatch(r"-?\d{1,12}(\.\d{1,9})?", word) else None


def _reading(text: str) -> HeardLine | str:
    word, _, rest = text.partition(" ")
    seconds, _, number = word.partition("@")
    t_s = _seconds(seconds)
    if t_s is None or (number and not re.fullmatch(r"[1-9]\d?", number)):
        return "it does not begin with seconds"
    return HeardLine(t_s, _raw(rest), int(number or 1))


def _remark(text: str) -> Done | Edge | Header | str | None:
    word, _, rest = text[1:].strip().partition(" ")
    t_s = _seconds(word)
    if t_s is not None and (edge := re.fullmatch(r"contact +([1-9]\d?) +(on|off)", rest)):
        return Edge(t_s, int(edge[1]), edge[2] == "on")
    if t_s is not None and rest in DEEDS:
        return Done(t_s, rest)
    if word not in TOLD:
        return None
    try:
        return Header(word, json.loads(rest))
    except (ValueError, RecursionError):
        return f"what follows {word!r} is not JSON"
