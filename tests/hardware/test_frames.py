"""What a scale sends, and what is read from it."""

import random
import re
import time
from decimal import Decimal

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from hardware import frames
from hardware.frames import Lines, Reading, Refused, read
from hardware.pattern import LARGEST, BadPattern, Pattern
from tests.bench import lines as campaign

# Grams in a unit: NIST SP 811 (2008), appendix B.8: 1 lb (avoirdupois) = 0.453 592 37 kg exactly, 1 oz a sixteenth.
NIST_GRAMS = {"g": Decimal(1), "kg": Decimal(1000), "mg": Decimal("0.001"),
              "lb": Decimal("453.59237"), "oz": Decimal("28.349523125")}

STATUS = [(word, True) for word in ("ST", "S", "STABLE")] + [(word, False) for word in ("US", "U", "MOTION", "?")] + [
    (word, None) for word in ("", "NT", "N", "GS", "G", "NET")]
FRAMES = ("{}\r", "{}\n", "{}\r\n", "\x02{}\x03", "\x02{}\x035A\r\n", "\x02{}\r\n")


@st.composite
def sent(draw):
    """(a line's bytes as they go over the wire, its grams, at rest or not, its unit, its last digit in grams)"""
    def one_of(*choices):
        return draw(st.sampled_from(choices))

    unit = one_of("g", "kg", "mg", "oz", "lb")
    named = one_of("", unit, unit.upper())
    unit = unit if named else "g"
    places = draw(st.integers(3 if unit in ("kg", "oz", "lb") else 0, 4))
    value = Decimal(draw(st.integers(0, 99_999))).scaleb(-places)
    sign, point = one_of("", "+", "-"), one_of(".", ",")
    apart, padding = one_of("", " ", "   ") if sign else "", one_of("", "  ", "0", "000")
    number = sign + apart + padding + f"{value:f}".replace(".", point)
    weight = number + (one_of("", " ", ",") + named if named else "")

    status, stable = one_of(*STATUS)
    if status and draw(st.booleans()):
        text = weight + one_of(" ", ",") + status
    else:
        text = (status + one_of(" ", ",", ", ", ",GS,") if status else "") + weight
    # further fields are told apart from the weight by its point or its unit
    further = one_of("", ",0F", ",ST1,7", ",*7F", ", T 3.0" if named or point == "." else "") if named or places else ""
    line = one_of(*FRAMES).format(one_of("", " ", "  ") + text + one_of("", " ") + further)

    grams = float(value * NIST_GRAMS[unit]) * (-1 if sign == "-" else 1)
    step_g = float(Decimal(1).scaleb(-places) * NIST_GRAMS[unit])
    return with_parity(line.encode(), one_of("space", "even", "odd", "mark")), grams, stable, unit, step_g


def with_parity(line: bytes, parity: str) -> bytes:
    """Seven data bits and a parity bit, as a port set to eight data bits receives them."""
    wants = {"space": lambda byte: 0, "mark": lambda byte: 1, "even": lambda byte: byte.bit_count() % 2,
             "odd": lambda byte: 1 - byte.bit_count() % 2}[parity]
    return bytes(byte | wants(byte) << 7 for byte in line)


@settings(max_examples=800, deadline=None)
@given(sent())
def test_whatever_plain_shape_a_scale_sends_its_weight_is_read_back_exactly(case):
    wire, grams, stable, unit, step_g = case
    lines = Lines().feed(wire)
    assert len(lines) == 1
    for got in (read(lines[0]), read(wire)):
        if abs(grams) > frames.HEAVIEST_G:
            assert got.why == frames.ABSURD
        else:
            assert got == Reading(grams, stable, unit, step_g)


@settings(max_examples=120, deadline=None)
@given(st.lists(sent(), min_size=1, max_size=6), st.randoms(use_true_random=False))
def test_however_the_bytes_are_cut_up_on_their_way_the_same_lines_come_out(cases, chance):
    wire = b"".join(case[0] for case in cases)
    lines, at, came = Lines(), 0, []
    while at < len(wire):
        step = chance.randint(1, 9)
        came += lines.feed(wire[at:at + step])
        at += step
    whole = Lines().feed(wire)
    assert came == whole
    assert len([line for line in whole if isinstance(read(line), Reading)]) == sum(
        abs(case[1]) <= frames.HEAVIEST_G for case in cases)


@pytest.mark.parametrize("line, why", [
    (b"OL", frames.OVERLOAD),
    (b"ST,OL,+99999 g", frames.OVERLOAD),
    (b"UNDER", frames.UNDERLOAD),
    (b"ERR 05", frames.FAULT),
    (b"", frames.NO_NUMBER),
    (b"-----", frames.NO_NUMBER),
    (b"25000 g", frames.ABSURD),
    (b"-25000 g", frames.ABSURD),
    (b"9" * 200, frames.ABSURD),
    (b"18.2 g" + b" " * 251, frames.TOO_LONG),
    (b"\xff\x18\xe3\x00g8", frames.NOT_TEXT),
    (b"18.2 \xb0g", frames.NOT_TEXT),
    (b"T  3.0 g", frames.TARE),
    (b"ST,TR,+    3.0 g", frames.TARE),
    (b"1 lb 2.3 oz", frames.TWO_NUMBERS),
    (b"1.234 kg, lb", frames.TWO_UNITS),
    (b"01,ST,18.2 g", frames.TWO_NUMBERS),
    (b"12:30:45", frames.TWO_NUMBERS),
    (b"1,234.5", frames.TWO_NUMBERS),
    (b"18.2 ozt", frames.OTHER_UNIT),
    (b"18.2 oz t", frames.OTHER_UNIT),
    (b"18.2 ml", frames.OTHER_UNIT),
    (b"18.2 PCS", frames.OTHER_UNIT),
    (b"18.2-", frames.STRANGE),
    (b"VER 1.23", frames.STRANGE),
    (b"18.2e3", frames.TWO_NUMBERS),
    (b"+-18.2", frames.STRANGE),
    (b"nan", frames.NO_NUMBER),
    (b"__import__('os')", frames.NO_NUMBER),
])
def test_a_line_that_is_no_weight_is_refused_with_its_reason(line, why):
    assert read(line).why == why


@pytest.mark.parametrize("line", [b"18.2 g,", b"18.2,g,kg", b"1.234,ST,lb", b"kg 1.234", b"G 1.234 kg"])
def test_a_unit_is_never_overlooked_wherever_it_stands(line):
    got = read(line)
    assert isinstance(got, Refused) or got.unit == ("lb" if b"lb" in line else "kg" if b"kg" in line else "g")


def test_a_scale_that_names_no_unit_is_read_in_the_unit_the_station_sets():
    assert read(b"0.0182", unit="kg").grams == 18.2
    assert read(b"0.0182 g", unit="kg").grams == 0.0182


def test_a_line_too_long_is_counted_once_and_its_end_is_never_taken_for_a_weight():
    lines = Lines()
    came = [line for _ in range(100) for line in lines.feed(b"x" * 97)] + lines.feed(b" 18.2 g\r\n 18.3 g\r\n")
    assert [read(line) if b"g" in line else read(line).why for line in came] == [
        frames.TOO_LONG, Reading(18.3, None, "g", 0.1)]


def test_noise_without_end_takes_no_memory():
    lines, chance = Lines(), random.Random(7)
    for _ in range(2000):
        lines.feed(bytes(chance.choice(b"\x7fabc\xff ") for _ in range(50)))
        assert len(lines._tail) <= frames.LONGEST


def test_a_stream_met_inside_a_line_gives_no_half_weight():
    assert Lines(midway=True).feed(b"8.2 g\r\n118.2 g\r\n") == [b"118.2 g"]


def test_a_slice_of_the_campaign_of_random_bytes_raises_nothing_and_hangs_nothing():
    figures = campaign.random_bytes(10_000, seed=20)
    assert figures["raised"] == 0 and figures["slowest_s"] < campaign.SLOWEST_S
    assert figures["read"] + figures["refused"] == 10_000 and figures["read"] > 0 < figures["refused"]


# The station's own pattern


def test_a_pattern_says_which_number_is_the_weight():
    pattern = Pattern(r"ID\d+\s+(?P<sign>[+-])?\s*(?P<weight>\d+,\d{2})(?P<unit>k?g)\s(?P<stable>S)?.*")
    assert read(b"ID07  -  0,01kg S 99\r\n", pattern) == Reading(-10.0, True, "kg", 10.0)
    assert read(b"ID07  1,25g  99", pattern) == Reading(1.25, False, "g", 0.01)
    assert read(b"18.2 g", pattern) == Refused(frames.NOT_ITS_PATTERN, b"18.2 g")
    assert read(b"ID07  99,25kg S", pattern).why == frames.ABSURD


def test_a_pattern_can_tell_overload_and_motion():
    pattern = Pattern(r"(?P<moving>D)?(?P<overload>HHH)?(?P<weight>-?\d+)?")
    assert read(b"HHH", pattern).why == frames.OVERLOAD
    assert read(b"D-12", pattern) == Reading(-12.0, False, "g", 1.0)
    assert read(b"12", pattern) == Reading(12.0, True, "g", 1.0)
    assert read(b"D", pattern).why == frames.NO_NUMBER


@pytest.mark.parametrize("text", [
    "", "(", ")", "(?P<weight>", "(?P<weight>\\d+))", "(?P<mass>\\d+)", "\\d+", "(?P<weight>\\d+)(?P<weight>\\d+)",
    "(?P<weight>(a*)*)", "(?P<weight>(a|)+)", "(?P<weight>a**)", "(?P<weight>a)\\1", "(?P<weight>a)(?P=weight)",
    "(?=a)(?P<weight>a)", "(?<!a)(?P<weight>a)", "(?i)(?P<weight>a)", "(?P<weight>[)", "(?P<weight>[z-a])",
    "(?P<weight>a{5,2})", "(?P<weight>a{999})", "(?P<weight>(a{99}){99})", "(?P<weight>" + "(" * 50 + "a" + ")" * 51,
    "(?P<weight>a)" + "b" * 300, "(?P<weight>é)", "(?P<weight>\\Z)", "*(?P<weight>a)", "(?P<weight>a)\\", "((((((((((",
])
def test_a_pattern_that_is_not_sound_is_refused_when_entered_with_a_sentence(text):
    with pytest.raises(BadPattern) as told:
        Pattern(text)
    assert str(told.value)[0].isupper() and str(told.value).endswith(".")


@pytest.mark.parametrize("text", [
    "(?P<weight>(a+)+b)", "(?P<weight>(a|a)+b)", "(?P<weight>(a|aa)+b)", "(?P<weight>.*.*.*.*.*.*.*.*b)",
    "(?P<weight>((a+)+)+b)", "(?P<weight>(.|a|\\w|[a-z])+b)", "(?P<weight>" + "a?" * 60 + "a{99}b)",
])
def test_a_hostile_pattern_cannot_hang_the_kiosk(text):
    pattern, begun = Pattern(text), time.perf_counter()
    assert read(b"a" * frames.LONGEST, pattern).why == frames.NOT_ITS_PATTERN
    assert time.perf_counter() - begun < 1.0      # the standard library's matcher needs years for the first of these


def test_no_pattern_takes_more_steps_than_its_bound_on_any_line():
    pattern = Pattern("(?P<weight>" + "a?" * 60 + "b)")
    steps, reach = [0], pattern._reach
    pattern._reach = lambda ways, at: (reached := reach(ways, at), steps.__setitem__(0, steps[0] + len(reached)))[0]
    pattern.match("a" * frames.LONGEST)
    assert 0 < steps[0] <= (frames.LONGEST + 1) * LARGEST


PIECES = st.sampled_from(["a", "b", ".", "[ab]", "[^a]", "\\d", "\\w", "(?:a|b)", "(?:a|ab)", "1", " ", "\\s"])
REPEATS = st.sampled_from(["", "", "*", "+", "?", "*?", "+?", "??", "{2}", "{1,3}", "{0,2}?", "{2,}"])
RUN = st.lists(st.tuples(PIECES, REPEATS).map("".join), min_size=1, max_size=4).map("".join)


@settings(max_examples=400, deadline=None)
@given(RUN, RUN, RUN, st.text(alphabet="ab1 ", max_size=9))
@example("a*", "a|ab", "b?", "aab")
def test_a_pattern_reads_a_line_as_the_standard_library_reads_it(before, weight, after, line):
    text = f"(?:{before})?(?P<weight>{weight})(?:{after}|b)?(?P<unit>a)?"
    reference = re.fullmatch(text, line, re.ASCII)      # Python's own matcher, on lines too short to hang it
    assert Pattern(text).match(line) == (reference and reference.groupdict())
