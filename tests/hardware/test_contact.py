"""A group's signal on a modem line: debounced, dated, and not taken for the pump when its port is opened."""

import time

import pytest

from hardware.contact import CHATTER, STEADY_S, Contact, Debounced, Wired
from tests.support.modem_lines import Adapter, Served


def looks(line, *spans, every_s=0.02):
    """(state, seconds) after each other; what the line told."""
    t_s, told = 0.0, []
    for on, seconds in spans:
        for _ in range(round(seconds / every_s)):
            edge = line.look(t_s, on)
            told += [edge] if edge else []
            t_s += every_s
    return told


def test_an_edge_is_dated_to_its_first_look_and_a_bounce_is_none():
    told = looks(Debounced(), (False, 1), (True, 0.02), (False, 0.02), (True, 2), (False, 1))
    assert told == [(pytest.approx(1.04), True), (pytest.approx(3.04), False)]


def test_opening_the_port_again_is_no_edge():
    line = Debounced()
    assert looks(line, (False, 1), (True, 1)) == [(pytest.approx(1.0), True)]
    line.reopened()
    assert looks(line, (False, 1)) == [] and line.on is False


def test_scene_26_a_line_that_chatters_is_said_to():
    line = Debounced()
    for n in range(CHATTER + 2):
        looks(line, (bool(n % 2), STEADY_S + 0.04))
    assert line.chatters


def wait_for(holds, seconds=6.0):
    until = time.monotonic() + seconds
    while not holds() and time.monotonic() < until:
        time.sleep(0.01)
    assert holds()


def test_two_groups_on_one_adapter_are_told_apart_and_either_sense_is_read():
    adapter, edges = Adapter(), []
    adapter.dsr = True
    contact = Contact("fake", (Wired(1, "cts"), Wired(2, "dsr", closed_is_on=False)),
                      lambda *edge: edges.append((edge[0], edge[2])), opens=lambda *_, **__: adapter)
    contact.start()
    try:
        wait_for(lambda: contact.health.on == {1: False, 2: False})
        adapter.cts = True
        wait_for(lambda: edges == [(1, True)])
        adapter.dsr = False
        wait_for(lambda: edges == [(1, True), (2, True)])
    finally:
        contact.close()
    assert adapter.closed


def test_a_signal_is_read_over_a_real_rfc_2217_port():
    edges = []
    with Served() as port:
        contact = Contact(port.url, (Wired(1, "cts"),), lambda *edge: edges.append((edge[0], edge[2])))
        contact.start()
        try:
            wait_for(lambda: contact.health.connected and contact.health.on[1] is False, 15)
            port.adapter.cts = True
            wait_for(lambda: edges == [(1, True)])
            port.adapter.cts = False
            wait_for(lambda: edges == [(1, True), (1, False)])
        finally:
            contact.close()
