"""The bit rate of a scale, guessed from what can be read."""

import pytest

from hardware import bitrate
from hardware.ports import SerialPort
from hardware.serial_settings import SerialSettings
from hardware.stay import Stay


class Wire:
    """A port whose far end sends at one bit rate; read at another, its bytes come out as other bytes."""

    in_waiting = 1

    def __init__(self, right, baudrate, line=b"ST,GS,+   18.2 g\r\n", answers_only=False):
        self.right, self.baudrate, self.line, self.answers_only = right, baudrate, line, answers_only
        self.now_s, self.asked, self.tried = 0.0, False, [baudrate]

    def read(self, size):
        self.now_s += 0.05
        if self.baudrate != self.tried[-1]:
            self.tried.append(self.baudrate)
        if self.answers_only and not (self.asked and self.baudrate == self.right):
            return b""
        self.asked = False
        if self.baudrate == self.right:
            return self.line
        return bytes(byte * self.baudrate // 1200 % 127 | (0x80 if i % 3 else 0) for i, byte in enumerate(self.line))

    def write(self, data):
        self.asked = True

    def reset_input_buffer(self):
        pass


@pytest.mark.parametrize("right", bitrate.USUAL)
@pytest.mark.parametrize("answers_only", [False, True])
def test_the_bit_rate_is_guessed_among_the_usual_ones_and_wrong_ones_give_no_weight(right, answers_only):
    wire = Wire(right, bitrate.USUAL[0], answers_only=answers_only)
    line = SerialSettings(request="P" if answers_only else "")
    stay = Stay(wire, SerialPort("/dev/ttyUSB0"), line, wire.baudrate, lambda: wire.now_s)
    trusted = []
    while wire.now_s < 12.0 and len(trusted) < 5:
        heard = stay.turn()
        if stay.trusted:
            trusted += [each.read.grams for each in heard]
    assert stay.bit_rate == right and trusted == [18.2] * 5


def test_lines_of_plain_text_that_cannot_be_read_hold_the_bit_rate_so_that_they_can_be_looked_at():
    wire = Wire(19200, bitrate.USUAL[0], line=b"weight=heavy;batt=ok\r\n")
    stay = Stay(wire, SerialPort("/dev/ttyUSB0"), SerialSettings(), wire.baudrate, lambda: wire.now_s)
    while wire.now_s < 12.0:
        stay.turn()
    assert stay.bit_rate == 19200 and not stay.proven


def test_silence_says_nothing_about_the_bit_rate_of_a_scale_that_sends_by_itself():
    guess = bitrate.Guess(9600, asked=False, now_s=0.0)
    assert not any(guess.moves(now_s) for now_s in range(100))


def test_a_bit_rate_that_was_right_is_doubted_when_the_scale_was_changed_for_another():
    guess = bitrate.Guess(9600, asked=False, now_s=0.0)
    for tick in range(5):
        guess.observe(True, True, 0.1 * tick)
    assert guess.settled and not guess.moves(1.0)
    for tick in range(70):
        guess.received(10)
        guess.observe(False, False, 1.0 + 0.1 * tick)
        moved = guess.moves(1.0 + 0.1 * tick)
        if moved:
            break
    assert moved and guess.rate != 9600 and not guess.settled
