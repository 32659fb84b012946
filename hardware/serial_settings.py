"""How a station's scale is spoken to: every field has a default, so nothing needs to be filled in."""

import re
from dataclasses import dataclass

from hardware.frames import GRAMS
from hardware.pattern import BadPattern, Pattern
from hardware.port_message import PortMessage


@dataclass(frozen=True, slots=True, kw_only=True)
class SerialSettings:
    """A station's settings. Raises BadPattern, with the sentence to show, for what cannot be worked with.

    `bit_rate` None: guessed. `request` is sent every `request_every_s` to a scale that only answers when asked,
    `tare` to tare it; both as typed (see `typed`). `pattern`: see Pattern; empty: the known shapes. `unit` is that of
    lines which name none. `usb` is the port used last, "vendor:product:serial number", from `Health.usb`.
    """

    bit_rate: int | None = None
    data_bits: int = 8
    parity: str = "N"
    stop_bits: int = 1
    request: str = ""
    request_every_s: float = 0.1
    tare: str = ""
    pattern: str = ""
    unit: str = "g"
    usb: str | None = None

    def __post_init__(self) -> None:
        def need(holds: bool, sentence: PortMessage) -> None:
            if not holds:
                raise BadPattern(sentence)

        need(self.bit_rate is None or 50 <= self.bit_rate <= 4_000_000,
             PortMessage("A bit rate is 50 to 4000000. Leave it empty and it is guessed."))
        need(self.data_bits in (7, 8), PortMessage("There are 7 or 8 data bits. Choose one."))
        need(self.parity in tuple("NEOMS"), PortMessage("Parity is N, E, O, M or S. Choose one."))
        need(self.stop_bits in (1, 2), PortMessage("There are 1 or 2 stop bits. Choose one."))
        need(0.02 <= self.request_every_s <= 10, PortMessage("A scale is asked every 0.02 to 10 s. Set it again."))
        need(self.unit in GRAMS, PortMessage("The unit is one of {units}. Choose one.", units=", ".join(GRAMS)))
        typed(self.request)
        typed(self.tare)
        if self.pattern:
            Pattern(self.pattern)


def typed(text: str) -> bytes:
    r"""The bytes that `text` stands for as typed on a screen, where \r, \n, \t, \\ and \x1B stand for one byte each.

    Raises BadPattern for letters that a serial line cannot carry.
    """
    kept = {"r": "\r", "n": "\n", "t": "\t", "\\": "\\"}
    plain = re.sub(r"\\(?:([rnt\\])|x([0-9A-Fa-f]{2}))", lambda m: kept[m[1]] if m[1] else chr(int(m[2], 16)), text)
    try:
        return plain.encode("latin-1")
    except UnicodeEncodeError:
        raise BadPattern(PortMessage("A scale is sent plain letters only. Write others as \\x and two hexadecimal digits.")) from None
