"""Which function of the project called which, while something was done: what a map of the code is held against."""

import sys
import threading
from collections import deque
from pathlib import Path
from types import FrameType

ROOT = Path(__file__).parents[2]
ROOMS = tuple(f"{ROOT / room}/" for room in ("kiosk", "hardware"))


class Traced:
    """Listens to this thread, and to those that begin meanwhile, as long as it is entered; `calls` is caller → those called."""

    def __init__(self) -> None:
        self.calls: dict[str, set[str]] = {}
        self._names: dict[object, str | None] = {}

    def __enter__(self) -> "Traced":
        threading.setprofile(self._heard)
        sys.setprofile(self._heard)
        return self

    def __exit__(self, *_: object) -> None:
        sys.setprofile(None)
        threading.setprofile(None)

    def _heard(self, frame: FrameType, event: str, _what: object) -> None:
        if event != "call" or (name := self._name(frame)) is None:
            return
        self.calls.setdefault(name, set())
        before = frame.f_back
        while before is not None and (caller := self._name(before)) is None:
            before = before.f_back
        if before is not None:
            self.calls.setdefault(caller, set()).add(name)

    def _name(self, frame: FrameType) -> str | None:
        """`module.function` of the project's own; a comprehension or a lambda is its function's; None for anything else."""
        code = frame.f_code
        if code not in self._names:
            of_ours = code.co_filename.startswith(ROOMS)
            module = ".".join(Path(code.co_filename).relative_to(ROOT).with_suffix("").parts) if of_ours else ""
            self._names[code] = f"{module.removesuffix('.__init__')}.{code.co_qualname.partition('.<')[0]}" if of_ours else None
        return self._names[code]

    def way(self, start: str, end: str) -> tuple[str, ...] | None:
        """The shortest way of calls from one to the other, both included; None where there is none."""
        before: dict[str, str | None] = {start: None}
        ahead = deque([start])
        while ahead:
            here = ahead.popleft()
            if here == end:
                way = [here]
                while (back := before[way[-1]]) is not None:
                    way.append(back)
                return tuple(reversed(way))
            for each in sorted(self.calls.get(here, ())):
                if each not in before:
                    before[each] = here
                    ahead.append(each)
        return None
