"""One line of a scale's text to a reading in grams, or why not.

    18.2   +  18,20 g   ST,GS,+00018.2 g   N -0.0182kg S   <STX>US  18.2 g<ETX>5A   18.2,g,ST,0F

A line is: words of status, a sign (attached or apart), a number with a point or a comma, a unit (attached, apart, in
the next field, or none), more words, and further fields behind commas. What could be read in two ways is refused with
its reason, never guessed: a wrong weight costs more than a missing one. Two readings are by decree: a comma between
digits is a decimal comma (so whole grams followed by a comma and a number need a pattern), and a line that names no
unit is in the station's `unit`.
"""

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache, partial
from typing import NamedTuple

from hardware.pattern import Pattern
from hardware.port_message import PortMessage

LONGEST = 256            # bytes of one line
HEAVIEST_G = 20_000.0    # either way; far above what stands on a bar's scale, far below what noise makes up
OVERLOAD = PortMessage("the scale says that it is overloaded; take something off")
UNDERLOAD = PortMessage("the scale says that it is below its range; set its plate right, then tare")
FAULT = PortMessage("the scale reports a fault; switch it off and on")
TOO_LONG = PortMessage("longer than {bytes:d} bytes; the bit rate may be wrong", bytes=LONGEST)
NOT_TEXT = PortMessage("not plain text; the bit rate or the parity may be wrong")
NO_NUMBER = PortMessage("no number in it")
ABSURD = PortMessage("more than {kg:.0f} kg; not believed", kg=HEAVIEST_G / 1000)
TWO_NUMBERS = PortMessage("more than one number; set a pattern that says which is the weight")
TWO_UNITS = PortMessage("more than one unit; set a pattern that says which to take")
OTHER_UNIT = PortMessage("its unit is none of g, kg, mg, oz, lb; switch the scale to grams")
TARE = PortMessage("it tells the tare, not what stands on the scale")
STRANGE = PortMessage("not a shape that is known; set a pattern for it")
NOT_ITS_PATTERN = PortMessage("not what the station's pattern describes")

# grams in each unit: NIST Handbook 44, Appendix C, gives the avoirdupois pound as exactly 453.592 37 g
GRAMS = {"g": Fraction(1), "kg": Fraction(1000), "mg": Fraction(1, 1000),
         "lb": Fraction("453.59237"), "oz": Fraction("453.59237") / 16}
_SHIFT = {"g": b"", "kg": b"e3", "mg": b"e-3"}
_STEP_G = {unit: tuple(float(grams / 10**places) for places in range(LONGEST)) for unit, grams in GRAMS.items()}

_STABLE = frozenset("S ST STABLE STAB".split())
_MOVING = frozenset("? U US UN UNST UNSTABLE M MO MOTION D SD DYN".split())
_SILENT = frozenset("* N NT NET G GS GR GROSS B P W WT WEIGHT Z ZERO H HD HOLD L OK Q QT HI LO".split())
_BAD = {**dict.fromkeys("OL OVER OVERLOAD OVERLD".split(), OVERLOAD),
        **dict.fromkeys("UL UNDER UNDERLOAD".split(), UNDERLOAD),
        **dict.fromkeys("E EE ERR ERROR FAULT".split(), FAULT)}
_TARE = frozenset("T TR TARE PT".split())
_OTHER = frozenset("t ct ozt troy dwt gn gr tl ml l fl pcs pc".split())
_KNOWN = _STABLE | _MOVING | _SILENT | _TARE | _BAD.keys()

# Possessive throughout: no line, however hostile, makes it go back over what it has taken.
_SHAPE = re.compile(rb"([A-Za-z ,:;=?*]*+)(?:([+-]) *+)?(\d++(?:[.,]\d++|\.)?+|\.\d++)([ -~]*+)")
_PLAIN = re.compile(rb"[A-Za-z ,:;=?]*(?:\*[0-9A-F]{0,4})?")
_ENDS = bytes.maketrans(b"\r\x8d\x8a\x82\x83", b"\n\n\n\x02\x03")   # a parity bit may be set on any of them
_WORD = re.compile(r"[A-Za-z]+|[?*]")
_WORDS = re.compile(r"[A-Za-z ?*:;]*")
_WEIGHT = re.compile(r"\s*([+-]?)\s*(\d++(?:[.,]\d++|\.)?+|\.\d++)\s*")
_NAMED = re.compile(r"[\d.]\s*(?:g|kg|mg|oz|lb)\b", re.IGNORECASE)    # a field that is a weight more surely than
_FINER = re.compile(r"[+-]\s*\d|\d\.\d")                            # a bare number, or than one without a point


class Reading(NamedTuple):   # a tuple, for it is made for every line, ten hours a day, at half a dataclass's cost
    """Grams (negative below the tare), whether at rest (None: not said), the unit sent, the last digit's worth."""

    grams: float
    stable: bool | None
    unit: str
    resolution_g: float


_reading = partial(tuple.__new__, Reading)


@dataclass(frozen=True, slots=True)
class Refused:
    """A line that gave no weight: why, in words fit to show, and the bytes themselves."""

    why: PortMessage
    line: bytes


def read(line: bytes, pattern: Pattern | None = None, unit: str = "g") -> Reading | Refused:
    """The weight that `line` (its line end on or off) tells; never raises for any bytes.

    `pattern` is the station's own, used instead of the known shapes; `unit` (a key of GRAMS) is that of lines which
    name none. Grams are the nearest float to the decimal number sent.

    >>> read(b"ST,NT,+  16.20 g")
    Reading(grams=16.2, stable=True, unit='g', resolution_g=0.01)
    >>> read(b"hello").why
    'no number in it'
    """
    if len(line) > LONGEST:
        return Refused(TOO_LONG, line[:LONGEST])
    if pattern is not None:
        return _by_pattern(line, pattern, unit)
    shape = _SHAPE.fullmatch(line)
    if shape is None:
        bare = _bare(line)
        return _no_number(line, bare) if bare in (None, line) else _kept(read(bare, None, unit), line)
    head, sign, number, tail = shape.groups()
    point = number.find(b".")
    shift, steps_g, stable, named, why = _around(head, tail, point >= 0, unit)
    if why is not None:
        return Refused(why, line)
    if point < 0 and (point := number.find(b",")) >= 0:
        number = number.replace(b",", b".")
    grams = float(number + shift) if shift is not None else _grams(number, named)
    if grams > HEAVIEST_G:
        return Refused(ABSURD, line)
    if sign == b"-":
        grams = 0.0 - grams
    return _reading((grams, stable, named, steps_g[len(number) - point - 1 if point >= 0 else 0]))


def _grams(number: bytes, unit: str) -> float:
    return float(Fraction(number.decode()) * GRAMS[unit])


def _kept(read_: Reading | Refused, line: bytes) -> Reading | Refused:
    return Refused(read_.why, line) if isinstance(read_, Refused) else read_


def _bare(line: bytes) -> bytes | None:
    """The text alone: no parity bits, framing, check characters or line end. None where it is not text."""
    if not line.isascii():
        odd = {byte.bit_count() & 1 for byte in line}
        if len(odd) > 1 and min(line) < 0x80:     # neither even, odd nor mark parity: noise
            return None
        line = bytes(byte & 0x7F for byte in line)
    return line.rpartition(b"\x02")[2].partition(b"\x03")[0].replace(b"\t", b" ").strip(b"\r\n\x00 ")


def _no_number(line: bytes, bare: bytes | None) -> Refused:
    if bare is None or not bare.isascii() or not bare.decode().isprintable():
        return Refused(NOT_TEXT, line)
    text = bare.decode()
    said = [why for word in _WORD.findall(text) if (why := _BAD.get(word.upper()))]
    return Refused(said[0] if said else STRANGE if re.search(r"\d", text) else NO_NUMBER, line)


@lru_cache(maxsize=512)   # a scale repeats its words for ever; only the number changes
def _around(head: bytes, tail: bytes, pointed: bool, unit: str) -> tuple:
    """How to read a number between `head` and `tail`: (decimal shift, worth of its digits, at rest, unit, why not)."""
    named, stable, why = _words(head, tail, pointed, unit)
    return _SHIFT.get(named), _STEP_G[named], stable, named, why


def _words(head: bytes, tail: bytes, pointed: bool, unit: str) -> tuple[str, bool | None, str | None]:
    first, *further = tail.split(b",")
    if not _PLAIN.fullmatch(first):
        return unit, None, TWO_NUMBERS if re.search(rb"\d", first) else STRANGE
    before = _WORD.findall(head.decode())
    after = [part for word in _WORD.findall(first.partition(b"*")[0].decode()) for part in _parted(word)]
    fields = [field.decode() for field in further]
    later = [part for field in fields if _WORDS.fullmatch(field) for word in _WORD.findall(field)
             for part in _parted(word)]
    words = before + after + later

    bad = next((_BAD[word.upper()] for word in words if word.upper() in _BAD), None)
    if bad:
        return unit, None, bad
    if any(word.upper() in _TARE for word in before):
        return unit, None, TARE
    if any(word in _OTHER or word.lower() in _OTHER and word.upper() not in _KNOWN for word in words):
        return unit, None, OTHER_UNIT
    units = [word.lower() for word in before if word.lower() in GRAMS and word != "G"]
    for word in after + later:
        if word.lower() in GRAMS and not (word == "G" and units):
            units.append(word.lower())
    if len(set(units)) > 1:
        return unit, None, TWO_UNITS
    if not units:
        if any(word.upper() not in _KNOWN for word in before + after):
            return unit, None, STRANGE
        if any(_NAMED.search(field) or not pointed and _FINER.match(field) for field in fields):
            return unit, None, TWO_NUMBERS
    said = {word.upper() for word in words}
    stable = False if said & _MOVING else True if said & _STABLE else None
    return units[0] if units else unit, stable, None


def _parted(word: str) -> tuple[str, ...]:
    """A unit run together with a status ("gS", "kgST") as its two parts; pounds by either name."""
    if word.lower() == "lbs":
        return ("lb",)
    for unit in GRAMS:
        if word.startswith(unit) and word[len(unit):] in _KNOWN:
            return unit, word[len(unit):]
    return (word,)


def _by_pattern(line: bytes, pattern: Pattern, unit: str) -> Reading | Refused:
    bare = _bare(line)
    if bare is None:
        return Refused(NOT_TEXT, line)
    found = pattern.match(bare.decode())
    if found is None:
        return Refused(NOT_ITS_PATTERN, line)
    if found.get("overload"):
        return Refused(OVERLOAD, line)
    weight = _WEIGHT.fullmatch(found.get("weight") or "")
    if weight is None:
        return Refused(NO_NUMBER, line)
    named = (found.get("unit") or unit).strip().lower()
    if named not in GRAMS:
        return Refused(OTHER_UNIT, line)
    number = weight[2].replace(",", ".")
    grams = _grams(number.encode(), named)
    if grams > HEAVIEST_G:
        return Refused(ABSURD, line)
    stable = None
    if "moving" in pattern.names and found["moving"]:
        stable = False
    elif "stable" in pattern.names:
        stable = bool(found["stable"])
    elif "moving" in pattern.names:
        stable = True
    minus = (weight[1] or (found.get("sign") or "").strip()) == "-"
    return Reading(0.0 - grams if minus else grams, stable, named, _STEP_G[named][len(number.partition(".")[2])])


class Lines:
    """Cuts bytes as they come into lines: by CR, LF, CRLF or STX … ETX, with or without parity bits.

    One or two check characters after an ETX are dropped. Of a line too long for `read` only its first 257 bytes are
    handed on, at once, so that it is refused and counted one time; the rest is passed over. Memory is bounded
    whatever comes.
    """

    def __init__(self, midway: bool = False):
        """`midway`: the bytes begin inside a line, whose end alone would read as another weight; it is passed over."""
        self._tail = b""
        self._passing = midway

    def feed(self, data: bytes) -> list[bytes]:
        """The lines that `data` completes, in turn, without their ends; empty ones left out."""
        data = self._tail + data.translate(_ENDS)
        framed = b"\x02" in data or b"\x03" in data
        if framed:
            data = data.replace(b"\x02", b"\n\x02").replace(b"\x03", b"\n\x03")
        lines = data.split(b"\n")
        self._tail = lines.pop()
        if self._passing and lines:
            del lines[0]
            self._passing = False
        if len(self._tail) > LONGEST:
            if not self._passing:
                lines.append(self._tail[:LONGEST + 1])
            self._tail, self._passing = b"", True
        if framed:
            lines = [line.lstrip(b"\x02\x03") for line in lines if line[:1] != b"\x03" or len(line) > 3]
        return list(filter(None, lines))
