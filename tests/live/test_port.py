"""The port: every way in which opening and reading fails has its own words. One opt-in test."""

from __future__ import annotations

import errno
import os
import socket
import threading
import time

import pytest
import serial

from leakdown.errors import GaugeError, UsageError
from leakdown.live.capture import port as port_module
from leakdown.live.capture.port import GaugePort, explain, ports
from leakdown.live.profiles.profile import Framing
from tests.live.fakes import Pty

FRAMING = Framing()


def test_a_missing_port():
    with pytest.raises(GaugeError, match="no such port") as caught:
        GaugePort("/dev/ttyUSB_none", FRAMING)
    assert "leakdown gauges" in caught.value.remedy


def test_a_second_program_is_kept_out():
    with Pty() as pty:
        first = GaugePort(pty.name, FRAMING)
        with pytest.raises(GaugeError, match="another program is using this port"):
            GaugePort(pty.name, FRAMING)
        first.close()
        GaugePort(pty.name, FRAMING).close()


def test_a_file_is_not_a_port(tmp_path):
    path = tmp_path / "readings.csv"
    path.write_text("x")
    with pytest.raises(GaugeError, match="not a serial device") as caught:
        GaugePort(str(path), FRAMING)
    assert "leakdown analyse" in caught.value.remedy


def test_no_permission_names_the_group():
    error = explain(serial.SerialException(errno.EACCES, "could not open port"), "/dev/ttyUSB0")
    assert "no permission" in error.what and "dialout" in error.remedy


def test_an_unknown_scheme():
    with pytest.raises(UsageError, match="cannot open 'carrier://pigeon'"):
        GaugePort("carrier://pigeon", FRAMING)


def test_nobody_listens():
    with socket.create_server(("127.0.0.1", 0)) as server:
        number = server.getsockname()[1]
    with pytest.raises(GaugeError, match="nothing answers"):
        GaugePort(f"socket://127.0.0.1:{number}", FRAMING)


def test_loop_gives_back_what_was_written():
    loop = GaugePort("loop://", FRAMING)
    loop.write(b"12.3 kPa\r\n")
    assert loop.read() == b"12.3 kPa\r\n"
    assert loop.read() == b""
    loop.close()


def test_a_closed_socket_is_a_lost_gauge():
    with socket.create_server(("127.0.0.1", 0)) as server:
        opened = GaugePort(f"socket://127.0.0.1:{server.getsockname()[1]}", FRAMING)
        server.accept()[0].close()
        with pytest.raises(GaugeError, match="unplugged or its port closed"):
            for _ in range(50):
                opened.read()
        opened.close()


def test_the_last_words_before_a_socket_closes_are_heard():
    with socket.create_server(("127.0.0.1", 0)) as server:
        opened = GaugePort(f"socket://127.0.0.1:{server.getsockname()[1]}", FRAMING)
        client = server.accept()[0]
        client.sendall(b"12.3 kPa\r\n" * 50)
        client.close()
        time.sleep(0.1)
        heard = b""
        with pytest.raises(GaugeError):
            while True:
                heard += opened.read()
        opened.close()
    assert heard == b"12.3 kPa\r\n" * 50


@pytest.mark.parametrize("act", ["read", "write", "blocked"])
def test_unplugging_is_one_error_wherever_it_strikes(act):
    pty = Pty()
    opened = GaugePort(pty.name, FRAMING)
    if act == "blocked":
        threading.Timer(0.02, pty.unplug).start()
    else:
        pty.unplug()
    with pytest.raises(GaugeError, match="unplugged"):
        for _ in range(50):
            opened.write(b"?") if act == "write" else opened.read()
    opened.close()


def test_ports_are_listed_within_their_time(monkeypatch):
    assert all(p.device for p in ports())
    release = threading.Event()

    def hang() -> list[object]:
        release.wait(5.0)
        return []

    monkeypatch.setattr(port_module.list_ports, "comports", hang)
    monkeypatch.setattr(port_module, "LIST_TIMEOUT_S", 0.1)
    begin = time.monotonic()
    with pytest.raises(GaugeError, match="does not list"):
        ports()
    assert time.monotonic() - begin < 2.0
    release.set()


@pytest.mark.skipif(
    "LEAKDOWN_TEST_PORT" not in os.environ, reason="set LEAKDOWN_TEST_PORT to a port with a gauge on it"
)
def test_a_real_gauge_sends_something():
    opened = GaugePort(os.environ["LEAKDOWN_TEST_PORT"], Framing(int(os.environ.get("LEAKDOWN_TEST_BAUD", "115200"))))
    end, got = time.monotonic() + 10.0, b""
    while time.monotonic() < end and got.count(b"\n") < 3:
        got += opened.read()
    opened.close()
    assert got
