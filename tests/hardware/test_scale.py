"""A scale on a real port: heard, lost, found again, asked, tared."""

import os
import queue
import socket
import termios
import threading
import tty
from contextlib import suppress

import pytest
import serial
from serial import rfc2217

from hardware import ports
from hardware.frames import NOT_ITS_PATTERN
from hardware.pattern import BadPattern
from hardware.ports import SerialPort
from hardware.scale import CONNECTED, LOST, SEARCHING, Scale
from hardware.serial_settings import SerialSettings, typed
from tests.bench import replug

SOON_S = 10.0     # never waited for where all is well: the longest a test stays for something that does not come


class Terminal:
    """The far end of a pseudo-terminal, behind a name that stays: what is unplugged and plugged in again."""

    def __init__(self, name):
        self.name, self.far = str(name), None

    def plug_in(self):
        self.far, near = os.openpty()
        tty.setraw(near)
        os.symlink(os.ttyname(near), self.name)
        self._near = near            # kept open, so that the far end can write before anyone has opened this one
        return self

    def unplug(self):
        os.unlink(self.name)
        os.close(self._near)
        os.close(self.far)
        self.far = None

    def send(self, *lines):
        for line in lines:
            os.write(self.far, line)


class Ears:
    """Keeps what a scale tells, to be waited for."""

    def __init__(self):
        self.readings, self.healths, self.heards = queue.Queue(), queue.Queue(), queue.Queue()

    def hook(self):
        return {"on_reading": lambda *came: self.readings.put(came), "on_health": self.healths.put, "on_heard": self.heards.put}

    def weight(self):
        """When the next one came, and the reading."""
        return self.readings.get(timeout=SOON_S)

    def until(self, holds):
        for _ in range(100):
            if holds(health := self.healths.get(timeout=SOON_S)):
                return health
        raise AssertionError(f"the scale went on saying {health.words!r}")


@pytest.fixture
def terminal(tmp_path):
    terminal = Terminal(tmp_path / "scale").plug_in()
    yield terminal
    if terminal.far is not None:
        terminal.unplug()


@pytest.fixture
def listening():
    """A way to start scales that are closed, and checked to have left nothing behind, when the test is over."""
    started, before = [], left_over()

    def start(*given, **hooks):
        ears = Ears()
        scale = Scale(*given, **{**ears.hook(), **hooks})
        started.append(scale)
        scale.start()
        return scale, ears

    yield start
    for scale in started:
        scale.close()
    assert left_over()[1] <= before[1]


def left_over():
    return len(os.listdir("/proc/self/fd")), {thread.name for thread in threading.enumerate()}


def quiet_first(ears):
    """Until the port is open and has been quiet long enough for the next line to be taken as whole."""
    ears.until(lambda health: health.state == CONNECTED)


def converse(terminal, ears, *turns):
    """Each turn is (sent by the scale, grams and rest that must arrive, or None where nothing may)."""
    for sent, wanted in turns:
        terminal.send(sent)
        heard = ears.heards.get(timeout=SOON_S)
        assert heard.raw == sent.strip(b"\r\n")
        if wanted is None:
            assert ears.readings.empty()
        else:
            t_s, reading = ears.weight()
            assert (reading.grams, reading.stable) == wanted and (t_s, reading) == (heard.t_s, heard.read)


def test_a_scale_on_a_port_is_read_line_by_line_and_what_is_no_weight_is_counted(terminal, listening):
    scale, ears = listening(terminal.name)
    quiet_first(ears)
    converse(terminal, ears,
             (b"ST,GS,+   18.2 g\r\n", (18.2, True)),
             (b"US,GS,-    0.3 g\r\n", (-0.3, False)),
             (b"$GARBAGE\r\n", None),
             (b"ST,OL,+99999 g\r\n", None),
             (b"250000 g\r\n", None),
             (b"  0.0184 kg\r\n", (18.4, None)))
    health = scale.health
    assert (health.accepted, health.rejected, health.unit, health.resolution_g) == (3, 3, "kg", 0.1)
    assert health.last_rejected == b"250000 g" and "20 kg" in health.why_rejected
    assert [heard.raw for heard in scale.recent()][-1] == b"  0.0184 kg"


def test_each_reading_carries_the_time_it_arrived_and_health_its_age_and_rate(terminal, listening):
    now_s = [100.0]
    scale, ears = listening(terminal.name, clock=lambda: now_s[0])
    quiet_first(ears)
    now_s[0] = 101.0
    for tick in range(5):
        now_s[0] = 101.0 + 0.1 * tick
        terminal.send(b"18.2 g\r\n")
        assert ears.weight()[0] == now_s[0]
    now_s[0] = 102.0
    assert scale.health.age_s == pytest.approx(0.6)
    assert scale.health.rate_hz == pytest.approx(10.0)
    now_s[0] = 110.0
    assert scale.health.rate_hz == 0.0


def test_a_pulled_cable_is_told_in_words_and_readings_go_on_by_themselves_when_it_is_back(terminal, listening):
    scale, ears = listening(terminal.name)
    quiet_first(ears)
    converse(terminal, ears, (b"18.2 g\r\n", (18.2, None)))
    terminal.unplug()
    lost = ears.until(lambda health: health.state == LOST)
    assert "Plug" in lost.words and not scale.tare()
    terminal.plug_in()
    ears.until(lambda health: health.state == CONNECTED)
    converse(terminal, ears, (b"18.3 g\r\n", (18.3, None)))
    assert scale.health.accepted == 2


def test_where_nothing_is_plugged_in_it_is_told(listening, monkeypatch):
    monkeypatch.setattr(ports, "plugged_in", lambda: [SerialPort("/dev/ttyS0")])
    _, ears = listening("")
    assert ears.until(lambda health: "No scale is plugged in" in health.words).state == SEARCHING


@pytest.mark.parametrize("url, told", [
    ("/dev/no_such_port", "is not there. Plug the scale in"),
    ("socket://127.0.0.1:1", "does not answer. Check its cable and address"),
    ("nonsense://x", "begins with socket://"),
    (__file__, "begins with socket://"),
])
def test_a_port_that_is_not_there_is_told_in_one_sentence_and_service_goes_on(url, told, listening):
    scale, ears = listening(url)
    health = ears.until(lambda health: told in health.words)
    assert health.state == SEARCHING and "go" in health.words and url in health.words
    assert not scale.tare() and scale.health.age_s is None


def test_a_port_that_another_program_holds_is_told_and_taken_when_it_is_free(terminal, listening):
    first, ears = listening(terminal.name)
    quiet_first(ears)
    _, others = listening(terminal.name)
    others.until(lambda health: "Another program holds" in health.words)
    first.close()
    others.until(lambda health: health.state == CONNECTED)


def test_a_scale_that_answers_only_when_asked_is_asked_and_tared(terminal, listening):
    scale, ears = listening(terminal.name, SerialSettings(request=r"P\r\n", request_every_s=0.02, tare=r"T\r"))
    script = [(b"P\r\n", b"18.2 g\r\n"), (b"P\r\n", b"18.3 g\r\n"), (b"P\r\n", b"18.4 g\r\n")]
    for asked, answer in script:
        assert os.read(terminal.far, len(asked)) == asked
        terminal.send(answer)
        assert ears.weight()[1].grams == float(answer.split()[0])
    assert scale.tare()
    said = b""
    while b"T\r" not in said:
        said += os.read(terminal.far, 1)
        if said.endswith(b"P\r\n"):
            terminal.send(b"18.4 g\r\n")


def test_a_scale_without_a_tare_string_says_that_it_was_not_tared(terminal, listening):
    scale, ears = listening(terminal.name)
    quiet_first(ears)
    assert scale.tare() is False


def test_what_is_sent_on_a_loop_comes_back_as_a_reading(listening):
    scale, ears = listening("loop://", SerialSettings(request=r"18.2 g\r\n"))
    assert ears.weight()[1].grams == 18.2
    assert scale.health.port == "loop://" and scale.health.bit_rate is None


@pytest.fixture
def far_away():
    """A serial port shared over the network by RFC 2217: its address, and a function that sends from its far end."""
    door, port = socket.create_server(("127.0.0.1", 0)), serial.serial_for_url("loop://", timeout=0)
    guest, ready = [], threading.Event()

    def serve():
        connection, _ = door.accept()
        writer = connection.makefile("wb", buffering=0)
        shared = rfc2217.PortManager(port, writer)
        guest[:] = [connection, writer, shared]
        ready.set()
        with suppress(OSError):
            while data := connection.recv(1024):
                b"".join(shared.filter(data))

    def send(line):
        assert ready.wait(SOON_S)
        guest[0].sendall(b"".join(guest[2].escape(line)))

    server = threading.Thread(target=serve, name="far away", daemon=True)
    server.start()
    yield f"rfc2217://127.0.0.1:{door.getsockname()[1]}", send
    server.join(SOON_S)
    for each in (*guest[1::-1], door, port):
        each.close()


@pytest.mark.filterwarnings("ignore:set(Daemon|Name):DeprecationWarning")     # pyserial's own
def test_a_scale_on_a_port_shared_over_the_network_is_read(far_away, listening):
    url, send = far_away
    scale, ears = listening(url, SerialSettings(bit_rate=19200))
    quiet_first(ears)
    send(b"18.2 g\r\n")
    assert ears.weight()[1].grams == 18.2 and scale.health.bit_rate == 19200


def test_a_station_pattern_reads_what_nothing_else_can(terminal, listening):
    scale, ears = listening(terminal.name, SerialSettings(pattern=r"#\d+#(?P<weight>\d+)#.*", unit="mg"))
    quiet_first(ears)
    converse(terminal, ears, (b"#7#18200#x\r\n", (18.2, None)), (b"18.2 g\r\n", None))
    assert scale.health.why_rejected == NOT_ITS_PATTERN


def test_a_callback_that_fails_stops_nothing(terminal, listening):
    calls = queue.Queue()

    def fails(*what):
        calls.put(what[-1])
        raise RuntimeError("the screen fell over")

    scale, _ = listening(terminal.name, on_reading=fails, on_health=fails, on_heard=fails)
    while calls.get(timeout=SOON_S).state != CONNECTED:
        pass
    for _ in range(3):
        terminal.send(b"18.2 g\r\n")
        while getattr(calls.get(timeout=SOON_S), "grams", None) != 18.2:
            pass
    assert scale.health.accepted == 3


def test_closing_leaves_no_thread_and_no_file_open(terminal):
    before = left_over()
    for _ in range(3):
        ears = Ears()
        scale = Scale(terminal.name, **ears.hook())
        scale.start()
        scale.start()
        quiet_first(ears)
        scale.close()
        scale.close()
        scale.start()        # closed is closed
        assert left_over() == before


def test_a_slice_of_the_replug_campaign_resumes_within_its_bar():
    figures = replug.campaign(cycles=3, seed=5, hurry=True)
    assert len(figures["resumed_s"]) == 3 and max(figures["resumed_s"]) <= replug.RESUME_S
    assert figures["wrong"] == 0 and figures["threads_left"] == 0 and figures["files_left"] == 0


# Which port


def test_the_port_used_last_is_tried_first_and_found_under_its_new_name(tmp_path):
    seen = [SerialPort("/dev/ttyUSB0", "0001:0002:A"), SerialPort("/dev/ttyUSB1", "0001:0002:B"), SerialPort("/dev/ttyS0")]
    assert [port.device for port in ports.candidates("", "0001:0002:B", seen)] == [
        "/dev/ttyUSB1", "/dev/ttyUSB0"]
    assert ports.candidates("/dev/ttyS0", None, seen) == [SerialPort("/dev/ttyS0")]
    gone = str(tmp_path / "ttyUSB7")
    assert [port.device for port in ports.candidates(gone, "0001:0002:B", seen)] == ["/dev/ttyUSB1"]
    assert ports.candidates(gone, None, seen) == []
    assert ports.candidates("socket://scale:4001", None, seen) == [SerialPort("socket://scale:4001")]


def test_where_no_port_is_named_the_one_that_weighs_is_found(tmp_path, listening, monkeypatch):
    silent, weighing = Terminal(tmp_path / "silent").plug_in(), Terminal(tmp_path / "weighing")
    seen = [SerialPort(silent.name, "0001:0002:A")]
    monkeypatch.setattr(ports, "plugged_in", lambda: list(seen))
    scale, ears = listening("")
    ears.until(lambda health: silent.name in health.words and health.state == SEARCHING)
    weighing.plug_in()
    seen.append(SerialPort(weighing.name, "0001:0002:B"))
    ears.until(lambda health: weighing.name in health.words)
    for _ in range(40):
        weighing.send(b"18.2 g\r\n")
        if not ears.readings.empty() or scale.health.accepted:
            break
        ears.healths.get(timeout=SOON_S)        # a second apart at most
    assert ears.weight()[1].grams == 18.2 and scale.health.usb == "0001:0002:B"
    silent.unplug()
    weighing.unplug()


# Settings


def test_a_bit_rate_means_nothing_on_a_pseudo_terminal_or_a_socket(terminal):
    assert not any(map(ports.has_bit_rate, (terminal.name, "socket://scale:4001", "loop://")))
    assert all(map(ports.has_bit_rate, ("/dev/ttyUSB0", "rfc2217://scale:4001")))


def test_a_set_bit_rate_and_frame_reach_the_port(terminal, listening):
    _, ears = listening(terminal.name, SerialSettings(bit_rate=2400, data_bits=7, parity="E"))
    quiet_first(ears)
    flags = termios.tcgetattr(terminal.far)
    assert flags[4] == termios.B2400


@pytest.mark.parametrize("wrong", [
    {"bit_rate": 0}, {"data_bits": 9}, {"parity": "X"}, {"stop_bits": 3}, {"unit": "stone"}, {"request_every_s": 0},
    {"request": "€"}, {"tare": "→"}, {"pattern": "("},
])
def test_a_setting_that_cannot_be_worked_with_is_refused_with_a_sentence(wrong):
    with pytest.raises(BadPattern) as told:
        SerialSettings(**wrong)
    assert str(told.value)[0].isupper() and str(told.value).endswith(".")


def test_what_is_typed_stands_for_the_bytes_it_says():
    assert typed(r"P\r\n") == b"P\r\n" and typed(r"\x1BT\\") == b"\x1bT\\" and typed("") == b""
