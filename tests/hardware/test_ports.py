"""Which addresses are opened: devices, sockets, RFC 2217, a loop. Whatever else pyserial knows is refused unopened."""

import threading

import pytest

from hardware import ports
from hardware.contact import Contact, Wired
from hardware.scale import Scale
from kiosk.bar.model import Setup, read
from kiosk.bar.model.setup import PORT_SCHEMES
from tests.bench.ports import REFUSED


def test_setup_and_hardware_agree():
    assert PORT_SCHEMES == ports.SCHEMES and len(REFUSED) == 50


@pytest.mark.parametrize("url", REFUSED)
def test_a_scheme_that_is_not_allowed_is_refused_where_it_is_set_and_where_it_is_opened(url, tmp_path):
    victim = tmp_path / "victim"
    victim.write_bytes(b"a past day")
    url = url.format(path=victim)
    setup, complaints = read({"scale": {"url": url}})
    assert any("begins with socket://" in each for each in complaints) and setup.scale == Setup().scale
    with pytest.raises(ports.RefusedPort, match="Choose one of these in Setup"):
        ports.opened(url)
    assert victim.read_bytes() == b"a past day"


def test_a_plain_file_is_no_port(tmp_path):
    victim = tmp_path / "pin.json"
    victim.write_text("{}")
    with pytest.raises(ports.RefusedPort):
        ports.opened(str(victim))
    assert victim.read_text() == "{}"


def test_a_scale_and_a_signal_at_a_refused_address_say_so_and_end(tmp_path):
    url = f"spy:///dev/null?file={tmp_path / 'victim'}"
    scale = Scale(url)
    scale.start()
    contact = Contact(url, (Wired(1, "cts"),), lambda *_: None)
    contact.start()
    pause = threading.Event()
    for _ in range(100):
        if "begins with socket://" in scale.health.words and "does not answer" in contact.health.trouble:
            break
        pause.wait(0.02)
    assert "begins with socket://" in scale.health.words and not contact.health.connected
    scale.close()
    contact.close()
    assert not (tmp_path / "victim").exists()


@pytest.mark.parametrize("url", ["socket://127.0.0.1:9", "rfc2217://127.0.0.1:9", "loop://", "/dev/ttyUSB7", "COM3"])
def test_what_a_station_uses_is_let_through(url):
    assert ports.allowed(url) and not any("begins with" in each for each in read({"scale": {"url": url}})[1])
