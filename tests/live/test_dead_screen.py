"""A recording outlives its screen: real processes whose output, error stream or terminal goes away."""

from __future__ import annotations

import io
import os
import pty
import signal
import subprocess
import sys
import threading
import time

import pytest

from leakdown.cli.lasting import lasting_streams
from leakdown.sheets.file import read
from tests.live.fakes import Pty

pytestmark = pytest.mark.slow

PLANNED_S = 1.6


@pytest.fixture
def gauge():
    """A gauge of ten lines a second, for as long as the test runs."""
    with Pty() as port:
        stop = threading.Event()

        def talk() -> None:
            i = 0
            while not stop.wait(0.05):
                port.send(b"p=%.2f kPa\r\n" % (40 - 0.01 * i))
                i += 1

        thread = threading.Thread(target=talk, daemon=True)
        thread.start()
        yield port.name
        stop.set()
        thread.join()


def command(port: str, out: object, *more: str) -> list[str]:
    return [sys.executable, "-m", "leakdown", "log", port, "--out", str(out), "--duration", f"{PLANNED_S} s", *more]


def lasted_s(out) -> float:
    recording = read(out)
    return float(recording.time_s[-1] - recording.time_s[0])


def recording_begun(out) -> None:
    end = time.monotonic() + 10.0
    while time.monotonic() < end and not (out.exists() and out.stat().st_size > 60):
        time.sleep(0.02)


@pytest.mark.parametrize("closed", ["both", "all from the start"])
def test_a_closed_stream_ends_nothing(tmp_path, gauge, closed):
    out = tmp_path / "test.csv"
    if closed != "both":
        shut = ["sh", "-c", '"$@" <&- >&- 2>&-', "sh", *command(gauge, out)]
        assert subprocess.run(shut, timeout=20, check=False).returncode == 0
    else:
        with subprocess.Popen(command(gauge, out), stdout=subprocess.PIPE, stderr=subprocess.PIPE) as child:
            recording_begun(out)
            for stream in (child.stdout, child.stderr):
                stream.close()
            assert child.wait(20) == 0
    assert lasted_s(out) > PLANNED_S - 0.5


def test_a_closed_terminal_ends_nothing(tmp_path, gauge):
    """SIGHUP, and input and output errors on what was the terminal."""
    out = tmp_path / "test.csv"
    pid, terminal = pty.fork()
    if pid == 0:
        os.execv(sys.executable, command(gauge, out))
    recording_begun(out)
    os.kill(pid, signal.SIGHUP)
    os.close(terminal)
    assert os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]) == 0
    assert lasted_s(out) > PLANNED_S - 0.5


def test_streams_that_break_swallow_what_is_written(monkeypatch):
    """A pipe whose reader is gone, a stream that is closed, and none at all; put back at the end."""
    read_end, write_end = os.pipe()
    os.close(read_end)
    broken, shut = os.fdopen(write_end, "w"), io.StringIO()
    shut.close()
    monkeypatch.setattr("sys.stdout", broken)
    monkeypatch.setattr("sys.stderr", shut)
    monkeypatch.setattr("sys.stdin", None)
    with lasting_streams():
        for _ in range(2):
            print("nobody reads this", flush=True)
            print("nor this", file=sys.stderr, flush=True)
        assert sys.stdin.readline() == "" and not sys.stderr.isatty()
    assert sys.stdout is broken and sys.stderr is shut and sys.stdin is None
    broken.close()
