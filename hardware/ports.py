"""Which port the scale is on: the address that was set, the one used last, or any that is plugged in by USB."""

import os
from dataclasses import dataclass
from typing import Any

import serial
from serial.tools import list_ports

from hardware.port_message import PortMessage, WordedError

SCHEMES = ("socket", "rfc2217", "loop")


class RefusedPort(WordedError):
    """An address that is not opened, whatever pyserial would make of it: some of its schemes write files or search."""


def allowed(url: str) -> bool:
    """Whether the address may be opened: a device of this computer, or one of SCHEMES."""
    scheme, there, _ = url.partition("://")
    return scheme.lower() in SCHEMES if there else "\0" not in url and (not os.path.exists(url) or not os.path.isfile(url))


def opened(url: str, **about: Any) -> "serial.SerialBase":
    """What pyserial opens at `url`. Raises RefusedPort for an address that is not `allowed`."""
    if not allowed(url):
        raise RefusedPort(PortMessage("{url} is not opened: a port is a device such as /dev/ttyUSB0, or begins with socket://, "
                                      "rfc2217:// or loop://. Choose one of these in Setup; service goes on by taps.", url=url))
    return serial.serial_for_url(url, **about)


@dataclass(frozen=True, slots=True)
class SerialPort:
    """`device` is what pyserial opens; `usb` is "vendor:product:serial number" in hexadecimal, None where not USB."""

    device: str
    usb: str | None = None
    words: str = ""


def plugged_in() -> list[SerialPort]:
    """The serial ports of this computer, in the order of their names."""
    return sorted((SerialPort(info.device, _usb(info), info.description or info.device) for info in list_ports.comports()),
                  key=lambda port: port.device)


def candidates(url: str, usb: str | None, ports: list[SerialPort]) -> list[SerialPort]:
    """Where to try, best first. An empty `url` means any of `ports` on USB; `usb` is the port used last. A built-in
    port is tried only where it is named: it may be the computer's own console.

    A port comes back under another name when its cable is pulled and put back quickly; its USB numbers stay. So a
    device that is gone is looked for by them.
    """
    known = [port for port in ports if usb and port.usb == usb]
    if not url:
        return known + [port for port in ports if port.usb and port not in known]
    named = [port for port in ports if port.device == url]
    if named or "://" in url or os.path.exists(url):
        return named or [SerialPort(url)]
    return known


def has_bit_rate(url: str) -> bool:
    """Whether a bit rate means anything there: not on a socket, a loop or a pseudo-terminal."""
    scheme, _, _rest = url.rpartition("://")
    return scheme == "rfc2217" if scheme else not os.path.realpath(url).startswith("/dev/pts/")


def _usb(info: Any) -> str | None:
    return None if info.vid is None else f"{info.vid:04x}:{info.pid or 0:04x}:{info.serial_number or ''}"
