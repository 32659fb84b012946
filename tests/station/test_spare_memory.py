"""What the heap keeps though nothing holds it is handed back, seldom."""

import os
from pathlib import Path
from random import Random

import pytest

from kiosk.station.spare_memory import EVERY_S, SpareMemory, c_librarys_trim


def test_it_is_handed_back_once_a_minute_and_not_each_time():
    now_s, given = [0.0], []
    spare = SpareMemory(given.append, lambda: now_s[0])
    for _ in range(400):                            # 2,000 s of one call in five
        now_s[0] += 5.0
        spare.at_rest()
    assert len(given) == 2000 // EVERY_S


def test_a_c_library_without_it_is_left_alone():
    SpareMemory(None, iter((0.0, 1e9)).__next__).at_rest()


def resident_mb() -> float:
    return int(Path("/proc/self/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 2**20


@pytest.mark.skipif(c_librarys_trim() is None, reason="this C library keeps what it has")
def test_a_heap_left_in_pieces_gives_its_empty_pages_back():
    chance, now_s = Random(1), [0.0]
    spare = SpareMemory(ticks=lambda: now_s[0])
    pieces = [bytes(chance.choice((3000, 20000, 60000))) for _ in range(2000)]
    held = pieces[::9]
    del pieces
    before = resident_mb()
    now_s[0] = EVERY_S
    spare.at_rest()
    assert held and resident_mb() < before - 10
