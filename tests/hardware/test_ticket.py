"""A till's bytes as a ticket printer takes them: text kept, control bytes skipped, a ticket ends at a cut, feed or pause."""

import os
import time
from random import Random

import pytest

from hardware.ticket import CODE_PAGES, Paper, TillPort

BOLD, WIDE, CUT, INIT = b"\x1bE\x01", b"\x1b!\x30", b"\x1dV\x42\x00", b"\x1b@"
PICTURE = b"\x1dv0\x00\x02\x00\x03\x00" + b"abcdef"
BARS = b"\x1dk\x04123\x00" + b"\x1dk\x49\x05hello"


def tickets(data: bytes, page: str = "cp858", piece: int = 1) -> list[tuple[str, ...]]:
    paper, found = Paper(page), []
    for start in range(0, len(data), piece):
        found += paper.feed(data[start:start + piece])
    return found + list(paper.rest())


@pytest.mark.parametrize("piece", [1, 3, 1000])
def test_control_bytes_are_skipped_and_the_text_is_kept(piece):
    data = INIT + BOLD + b"Table 4\n" + WIDE + b"2 Latte\n" + PICTURE + BARS + b"\x1ba\x01Mocha\x1bd\x02" + CUT + b"Tea\x0c"
    assert tickets(data, piece=piece) == [("Table 4", "2 Latte", "Mocha"), ("Tea",)]


@pytest.mark.parametrize("page", CODE_PAGES)
def test_each_code_page_is_read(page):
    text = "Café au lait ü é" if page != "cp437" else "Café ü é"
    assert tickets(text.encode(page) + b"\n\x0c", page) == [(text,)]


def test_any_bytes_raise_nothing_and_give_no_line_that_cannot_be_shown():
    chance = Random(11)
    for _ in range(1500):
        data = bytes(chance.choice((27, 28, 29, 16, 10, 12, *range(256))) for _ in range(chance.randint(0, 60)))
        for lines in tickets(data, piece=chance.randint(1, 20)):
            assert all(line.isprintable() and line.strip() for line in lines)


def test_a_ticket_is_whole_where_nothing_more_comes_and_the_till_is_never_written_to():
    master, slave = os.openpty()
    got: list = []
    now = [0.0]
    port = TillPort(os.ttyname(slave), "cp858", got.append, clock=lambda: now[0])
    port.start()
    try:
        limit = time.monotonic() + 5
        while not port.listening and time.monotonic() < limit:
            time.sleep(0.01)
        os.write(master, b"2 Latte\nTable 4\n")
        while not got and time.monotonic() < limit:
            now[0] += 0.5
            time.sleep(0.02)
        assert got == [("2 Latte", "Table 4")]
        os.set_blocking(master, False)
        with pytest.raises(BlockingIOError):
            os.read(master, 1)
    finally:
        port.close()
        os.close(master)
        os.close(slave)
