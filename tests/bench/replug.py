"""Pulls the scale's cable and puts it back at random moments.

    python -m tests.bench.replug [how many times, default 100]

Half of the times on a pseudo-terminal behind a name that stays, half on a socket. The far end sends 20 lines a second,
each in two pieces, so that it is often pulled, and often met, in the middle of a line. Every weight it sends has three
digits before the point: a shorter one was made of half a line.
"""

import logging
import os
import random
import socket
import sys
import tempfile
import threading
import time
import tty

from hardware.scale import Scale
from tests.bench.bars import Bars

RESUME_S = 2.0        # from the port's return to the next reading
EVERY_S = 0.05


class Terminal:
    """A pseudo-terminal behind a symbolic link."""

    def __init__(self, folder: str):
        self.url = os.path.join(folder, "scale")

    def plug_in(self) -> None:
        self._far, near = os.openpty()
        tty.setraw(near)
        os.set_blocking(self._far, False)
        os.symlink(os.ttyname(near), self.url)
        os.close(near)

    def send(self, piece: bytes) -> None:
        try:
            os.write(self._far, piece)
        except OSError:       # nobody has opened it yet, or nobody reads
            pass

    def unplug(self) -> None:
        os.unlink(self.url)
        os.close(self._far)


class Server:
    """A scale behind a network socket, one listener at a time, at an address that stays."""

    def __init__(self):
        with socket.create_server(("127.0.0.1", 0)) as free:
            self._port = free.getsockname()[1]
        self.url = f"socket://127.0.0.1:{self._port}"

    def plug_in(self) -> None:
        self._door = socket.create_server(("127.0.0.1", self._port))
        self._door.setblocking(False)
        self._guest = None

    def send(self, piece: bytes) -> None:
        try:
            if self._guest is None:
                self._guest, _ = self._door.accept()
                self._guest.setblocking(False)
            self._guest.sendall(piece)
        except OSError:
            pass

    def unplug(self) -> None:
        for each in (self._guest, self._door):
            if each is not None:
                each.close()


class Resumed:
    """Notes when readings come again; fails at every fifth call, as a screen might."""

    def __init__(self):
        self.came, self.wrong, self.calls = threading.Event(), 0, 0
        self.at_s = 0.0

    def __call__(self, _t_s, reading) -> None:
        self.calls += 1
        if not 100 <= reading.grams < 1000:
            self.wrong += 1
        if not self.came.is_set():
            self.at_s = time.monotonic()
            self.came.set()
        if self.calls % 5 == 0:
            raise RuntimeError("a callback that fails on purpose")


def left_over() -> tuple[int, int]:
    return threading.active_count(), len(os.listdir("/proc/self/fd"))


def send_for(far, seconds: float, chance: random.Random) -> None:
    """Sends until a random moment, mostly inside a line."""
    until_s = time.monotonic() + seconds
    while True:
        line = b"ST,GS,+%8.1f g\r\n" % chance.uniform(100, 999.9)
        cut = chance.randrange(1, len(line) - 1)
        far.send(line[:cut])
        time.sleep(EVERY_S / 4)
        if time.monotonic() >= until_s:
            return
        far.send(line[cut:])
        time.sleep(EVERY_S * 3 / 4)


def campaign(cycles: int, seed: int, hurry: bool = False) -> dict:
    """`cycles` of unplugging and plugging in again, in `hurry` with short gaps and on the pseudo-terminal alone."""
    chance = random.Random(seed)
    figures = {"resumed_s": [], "wrong": 0, "calls": 0, "threads_left": 0, "files_left": 0}
    with tempfile.TemporaryDirectory() as folder:
        for far, share in ((Terminal(folder), cycles if hurry else cycles - cycles // 2),
                           (Server(), 0 if hurry else cycles // 2)):
            if share:
                _run(far, share, chance, hurry, figures)
    return figures


def _run(far, cycles: int, chance: random.Random, hurry: bool, figures: dict) -> None:
    before, resumed = left_over(), Resumed()
    scale = Scale(far.url, on_reading=resumed, on_health=lambda health: 1 / 0)
    scale.start()
    for cycle in range(cycles + 1):
        far.plug_in()
        begun_s = time.monotonic()
        resumed.came.clear()
        while not resumed.came.is_set() and time.monotonic() - begun_s < 3 * RESUME_S:
            send_for(far, EVERY_S, chance)
        if cycle:      # the first time it was not plugged back in, but in
            figures["resumed_s"].append(resumed.at_s - begun_s if resumed.came.is_set() else float("inf"))
        send_for(far, chance.uniform(0, 0.1 if hurry else 0.8), chance)
        far.unplug()
        time.sleep(chance.uniform(0, 0.2 if hurry else 1.0))
    scale.close()
    after = left_over()
    figures["threads_left"] += after[0] - before[0]
    figures["files_left"] += after[1] - before[1]
    figures["wrong"] += resumed.wrong
    figures["calls"] += resumed.calls


def main() -> int:
    logging.disable(logging.ERROR)      # the callbacks fail on purpose
    bars = Bars("Unplugged and plugged in again")
    figures = campaign(int(sys.argv[1]) if len(sys.argv) > 1 else 100, seed=11)
    resumed_s = sorted(figures["resumed_s"])
    print(f"{len(resumed_s)} times; {figures['calls']} readings; resumed after {resumed_s[len(resumed_s) // 2]:.2f} s "
          f"in the middle of them, {resumed_s[-1]:.2f} s at the longest")
    bars.below("longest wait for a reading after the port's return, s", resumed_s[-1], RESUME_S)
    bars.below("weights made of half a line", figures["wrong"], 0)
    bars.below("threads left over", figures["threads_left"], 0)
    bars.below("files left open", figures["files_left"], 0)
    return bars.end()


if __name__ == "__main__":
    sys.exit(main())
