"""What the service manager is told, at a socket of its kind: sd_notify(3)."""

import socket

import pytest

from kiosk.station.watched import Watched


@pytest.mark.parametrize("abstract", [False, True])
def test_it_is_told_once_that_the_kiosk_is_ready_and_then_that_it_draws(tmp_path, abstract):
    now_s = [0.0]
    path = "@evenpull-test" if abstract else str(tmp_path / "notify")
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
        manager.bind("\0" + path[1:] if abstract else path)
        manager.settimeout(1)
        watched = Watched({"NOTIFY_SOCKET": path, "WATCHDOG_USEC": "10000000"}, lambda: now_s[0])
        for _ in range(240):                            # twelve seconds of frames
            watched.alive()
            now_s[0] += 0.05
        assert [manager.recv(64) for _ in range(4)] == [b"READY=1", b"WATCHDOG=1", b"WATCHDOG=1", b"WATCHDOG=1"]
        manager.setblocking(False)
        with pytest.raises(BlockingIOError):
            manager.recv(64)


@pytest.mark.parametrize("environ", [{}, {"NOTIFY_SOCKET": "/nowhere/at/all", "WATCHDOG_USEC": "x"}])
def test_without_a_manager_the_bar_is_served_all_the_same(environ):
    Watched(environ).alive()
