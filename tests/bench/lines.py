"""Lines of a scale: nothing that comes raises or hangs, and reading them properly costs little.

    python -m tests.bench.lines [how many random lines, default 1000000]
"""

import gc
import random
import sys
import time

from serial.threaded import LineReader

from hardware.frames import Lines, Reading, read
from hardware.pattern import Pattern
from tests.bench.bars import Bars

SLOWEST_S = 0.1      # one line; a pause of the machine itself is not told apart, so this is generous
SHARE = 1 / 3        # of the lines a second that a bare float() manages
PIECES = (b"ST", b"US", b"GS", b",", b" ", b"+", b"-", b"0", b"18", b"18.2", b".", b"g", b"kg", b"mg", b"oz", b"lb",
          b"\x02", b"\x03", b"OL", b"*", b"?", b"\t", b"\x00", b"\xff", b"1e9", b"nan", b"T", b"x" * 60, b"9" * 60)
PATTERNS = (r"\s*(?P<weight>[+-]?\d+\.?\d*)\s*(?P<unit>k?g)?.*", r"(?P<weight>(.+)+)x", r"(?P<weight>(.|\d|\w)+)x",
            r".*.*.*.*(?P<weight>\d*).*.*.*x")


def random_bytes(count: int, seed: int) -> dict:
    """`count` lines through the cutter and the reader: half of them any bytes at all, half bits of real lines."""
    chance, lines = random.Random(seed), Lines()
    figures = {"lines": count, "raised": 0, "read": 0, "refused": 0, "slowest_s": 0.0, "cut": 0}
    for _ in range(count):
        if chance.random() < 0.5:
            line = chance.randbytes(chance.randrange(1, 64) if chance.random() < 0.95 else chance.randrange(300))
        else:
            line = b"".join(chance.choices(PIECES, k=chance.randrange(1, 9)))
        begun = time.perf_counter()
        try:
            figures["cut"] += len(lines.feed(line + chance.choice((b"", b"\r", b"\n", b"\r\n", b"\x8d"))))
            figures["read" if isinstance(read(line), Reading) else "refused"] += 1
        except Exception:
            figures["raised"] += 1
        figures["slowest_s"] = max(figures["slowest_s"], time.perf_counter() - begun)
    return figures


def own_patterns(count: int, seed: int) -> dict:
    """`count` lines, among them the longest there are, through each of PATTERNS, most of which mean harm."""
    chance, figures = random.Random(seed), {"lines": 0, "raised": 0, "slowest_s": 0.0}
    for pattern in map(Pattern, PATTERNS):
        for _ in range(count):
            line = bytes(chance.choices(b"aaaa1 .", k=chance.choice((8, 20, 256))))
            begun = time.perf_counter()
            try:
                read(line, pattern)
            except Exception:
                figures["raised"] += 1
            figures["slowest_s"] = max(figures["slowest_s"], time.perf_counter() - begun)
            figures["lines"] += 1
    return figures


class BareFloat(LineReader):
    """The least that reads a weight: pyserial's own line reader and float()."""

    def handle_line(self, line: str) -> None:
        self.grams = float(line)


def ours(lines: Lines, data: bytes) -> None:
    for line in lines.feed(data):
        read(line)


def speed(count: int, lines_at_once: int, status: bool, seed: int, rounds: int = 9) -> tuple[float, float]:
    """(ours, bare float()) in lines a second, the best of `rounds` taken in turn, on `count` weights all different.

    With `status` ours is given full lines with status and unit, which a bare float() cannot read; it then still gets
    the bare numbers.
    """
    chance = random.Random(seed)
    numbers = [f"{chance.uniform(-999, 999):8.2f}".encode() for _ in range(count)]
    plain = [number + b"\r\n" for number in numbers]
    full = [b"ST,GS," + number + b" g\r\n" for number in numbers] if status else plain
    groups = [[b"".join(lines[at:at + lines_at_once]) for at in range(0, count, lines_at_once)]
              for lines in (full, plain)]
    best = [0.0, 0.0]
    gc.disable()
    for _ in range(rounds):
        for who, chunks in enumerate(groups):
            cutter, bare = Lines(), BareFloat()
            begun = time.perf_counter()
            if who == 0:
                for chunk in chunks:
                    ours(cutter, chunk)
            else:
                for chunk in chunks:
                    bare.data_received(chunk)
            best[who] = max(best[who], count / (time.perf_counter() - begun))
    gc.enable()
    return best[0], best[1]


def main() -> int:
    bars = Bars("Lines of a scale")
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    noise = random_bytes(count, seed=1)
    print(f"{noise['lines']} random lines: {noise['read']} read, {noise['refused']} refused")
    bars.below("random lines that raised", noise["raised"], 0)
    bars.below("slowest random line, s", noise["slowest_s"], SLOWEST_S)
    own = own_patterns(500, seed=2)
    bars.below(f"of {own['lines']} lines through hostile patterns, raised", own["raised"], 0)
    bars.below("slowest of them, s", own["slowest_s"], SLOWEST_S)
    for words, at_once, status in (("number alone, a line at a time", 1, False),
                                   ("number alone, twenty lines at a time", 20, False),
                                   ("status, number and unit, a line at a time", 1, True)):
        mine, bare = speed(30_000, at_once, status, seed=3)
        bars.above(f"{words}: {mine:,.0f} a second beside {bare:,.0f} of a bare float(), share", mine / bare, SHARE)
    return bars.end()


if __name__ == "__main__":
    sys.exit(main())
