"""An adapter's modem lines, set by hand, and a real RFC 2217 port that serves them.

No pseudo-terminal has modem lines: the adapter's ioctl is replaced. The port is a socket of this machine, the server
pyserial's own (RFC 2217, Telnet Com Port Control: NOTIFY-MODEMSTATE carries CTS, DSR, RI and CD).
"""

import socket
import threading
from contextlib import suppress

from serial import rfc2217


class Adapter:
    def __init__(self):
        self.cts = self.dsr = self.cd = self.ri = False
        self.dtr = self.rts = True
        self.baudrate, self.bytesize, self.parity, self.stopbits = 9600, 8, "N", 1
        self.xonxoff = self.rtscts = self.dsrdtr = False
        self.in_waiting, self.closed = 0, False

    def close(self):
        self.closed = True

    def reset_input_buffer(self):
        pass

    reset_output_buffer = reset_input_buffer


class Served:
    """An `adapter` behind `url`. Use with `with`."""

    def __init__(self):
        self.adapter, self._done = Adapter(), threading.Event()
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.url = f"rfc2217://127.0.0.1:{self._listener.getsockname()[1]}"

    def __enter__(self) -> "Served":
        threading.Thread(target=self._serve, daemon=True).start()
        return self

    def __exit__(self, *_):
        self._done.set()
        self._listener.close()

    def _serve(self) -> None:
        with suppress(OSError):
            peer, _ = self._listener.accept()
            peer.settimeout(0.05)
            manager = rfc2217.PortManager(self.adapter, _Writer(peer))
            while not self._done.is_set():
                with suppress(TimeoutError):
                    data = peer.recv(1024)
                    if not data:
                        return
                    list(manager.filter(data))
                manager.check_modem_lines()


class _Writer:
    def __init__(self, peer: socket.socket):
        self._peer = peer

    def write(self, data: bytes) -> None:
        self._peer.sendall(data)
