"""`leakdown log`, `simulate` and `gauges` as programs: output, exit status, what is on disk."""

from __future__ import annotations

import contextlib
import json
import os
import signal
import subprocess
import sys
import time

import pytest

from leakdown.sheets.file import read
from tests.live.fakes import Pty

pytestmark = pytest.mark.slow

# The three commands on the program's own entry point, whether or not it knows them already.
_PROGRAM = """
import leakdown.cli.app as program
from leakdown.cli import gauges, log, simulate
known = {command.name for command in program.app.registered_commands}
for module, name in ((log, "log"), (simulate, "simulate"), (gauges, "gauges")):
    if name not in known:
        module.register(program.app)
program.main()
"""


def start(*arguments: str) -> subprocess.Popen[str]:
    environment = os.environ | {"NO_COLOR": "1", "COLUMNS": "100"}
    return subprocess.Popen(
        [sys.executable, "-c", _PROGRAM, *arguments],
        text=True,
        env=environment,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )


def finish(process: subprocess.Popen[str], seconds: float = 40.0) -> tuple[int, str, str]:
    try:
        out, err = process.communicate(timeout=seconds)
    except subprocess.TimeoutExpired:
        process.kill()
        out, err = process.communicate()
        pytest.fail(f"still running after {seconds:g} s: {err}")
    return process.returncode, out, err


def run(*arguments: str) -> tuple[int, str, str]:
    return finish(start(*arguments))


def wait_for_file(path, text="time_s", seconds=10.0):
    end = time.monotonic() + seconds
    while time.monotonic() < end and not (path.exists() and text in path.read_text()):
        time.sleep(0.02)


@pytest.fixture
def gauge():
    """A running virtual gauge and its port."""
    started = []

    def play(*arguments: str) -> str:
        process = start("simulate", "--seed", "4", *arguments)
        started.append(process)
        assert process.stdout is not None
        return process.stdout.readline().strip()

    yield play
    for process in started:
        process.terminate()
        process.communicate(timeout=10)


def test_simulate_names_its_port_first_and_log_records_it(gauge, tmp_path):
    port = gauge("--zero", "0.5 s", "--fill", "0.5 s", "--hold", "60 s", "--rate", "20", "--style", "labelled")
    out = tmp_path / "a.csv"
    status, said, told = run(
        "log",
        port,
        "--out",
        str(out),
        "--duration",
        "3 s",
        "--volume",
        "250 cm3",
        "--circuit",
        "crankcase",
        "--includes",
        "intake, seals",
        "--json",
    )
    assert status == 0, told
    summary = json.loads(said)
    recording = read(out)
    assert summary["circuit"] == "crankcase" and summary["hold"]["readings"] > 10
    assert recording.time_s.size > 40
    assert recording.conditions.circuit == "crankcase" and recording.conditions.includes == ("intake", "seals")
    assert recording.conditions.volume_m3 == pytest.approx(250e-6)
    assert recording.conditions.started is not None
    assert recording.pressure_pa.max() == pytest.approx(40e3, rel=0.02)


def test_tcp_too(gauge, tmp_path):
    port = gauge("--tcp", "0", "--zero", "0.5 s", "--target", "-30 kPa", "--style", "json")
    assert port.startswith("socket://127.0.0.1:")
    status, _, told = run("log", port, "--out", str(tmp_path / "a.csv"), "--duration", "2 s", "--quiet")
    assert (status, told) == (0, "")
    assert read(tmp_path / "a.csv").pressure_pa.size > 10


def test_what_cannot_be_analysed_is_a_planned_end_with_a_reason(tmp_path):
    """One reading is no decay: the counts for a program, a sentence for a person, status 0."""
    out = tmp_path / "a.csv"
    with Pty() as port:
        process = start("log", port.name, "--out", str(out), "--duration", "1.2 s", "--json")
        wait_for_file(out, "started")
        time.sleep(0.2)
        port.send(b"P 12.3 kPa\r\n")
        status, said, told = finish(process)
    assert status == 0 and "No result: one reading is no decay" in told
    counts = json.loads(said)
    assert (counts["readings"], counts["unreadable"], counts["file"]) == (1, 0, str(out))


def test_a_kill_while_the_gauge_is_still_being_understood_loses_nothing(tmp_path):
    """Bare numbers are held back until their shape is sure; meanwhile they stand in the file."""
    out = tmp_path / "a.csv"
    with Pty() as port:
        process = start("log", port.name, "--out", str(out), "--unit", "kPa")
        wait_for_file(out, "started")
        time.sleep(0.2)
        port.send(b"12.3\r\n")
        time.sleep(0.1)
        port.send(b"12.2\r\n")
        time.sleep(0.3)
        process.kill()
        process.communicate()
    assert read(out).pressure_pa.tolist() == [12300.0, 12200.0]
    status, said, _ = run("convert", str(out))
    assert status == 0 and said.count("12.3") >= 1


@pytest.mark.parametrize("polite", [signal.SIGINT, signal.SIGTERM])
def test_an_interrupt_is_a_planned_end(gauge, tmp_path, polite):
    out = tmp_path / "a.csv"
    process = start("log", gauge("--rate", "50"), "--out", str(out))
    wait_for_file(out)
    time.sleep(0.5)
    process.send_signal(polite)
    status, said, told = finish(process)
    assert status == 0
    assert f"{out}: " in told and "readings in" in told
    if said:  # a moment of open air may be too little to analyse
        assert f"Next: leakdown analyse {out} --report page.html" in told
    else:
        assert "No result: " in told
    assert out.read_text().endswith("\n")


def test_a_lost_gauge_is_status_1_and_one_line(gauge, tmp_path):
    out = tmp_path / "a.csv"
    port = gauge("--zero", "0.5 s", "--unplug-at", "1 s")
    status, said, told = run("log", port, "--out", str(out), "--wait", "0.3 s", "--quiet")
    assert (status, said) == (1, "")
    assert len(told.strip().splitlines()) == 1 and "did not come back" in told and "Traceback" not in told
    assert read(out).pressure_pa.size >= 8


def test_until_decided_ends_early_with_the_verdict(gauge, tmp_path):
    port = gauge("--zero", "1 s", "--fill", "2 s", "--hold", "100 s", "--hole", "0.3 mm")
    begin = time.monotonic()
    status, said, told = run(
        "log",
        port,
        "--out",
        str(tmp_path / "a.csv"),
        "--until-decided",
        "--verdict-status",
        "--volume",
        "250 cm3",
        "--limit",
        "7 kPa in 60 s",
        "--json",
        "--barometer",
        "101.325 kPa",
    )
    assert status == 10, told
    assert json.loads(said)["verdict"] == "fail"
    assert time.monotonic() - begin < 40.0


@pytest.mark.parametrize(
    ("arguments", "status", "needle"),
    [
        (["/dev/ttyUSB_none", "--out", "x.csv"], 1, "no such port"),
        (["socket://bench", "--out", "x.csv"], 2, "host and port"),
        (["PTY", "--out", "x.csv", "--unit", "furlong"], 2, "unknown unit"),
        (["PTY", "--out", "x.csv", "--absolute"], 2, "--barometer"),
        (["PTY", "--out", "x.csv", "--gauge", "nothing"], 2, "no gauge profile"),
        (["PTY", "--out", "x.csv", "--duration", "90"], 2, "--duration"),
        (["PTY", "--out", "x.csv", "--circuit", "wheel"], 2, "unknown circuit"),
        (["PTY", "--out", "exists.csv"], 2, "never overwritten"),
        (["PTY", "--out", "none/x.csv"], 1, "cannot write here"),
        (["PTY", "--out", "x.csv", "--volume-uncertainty", "10 %"], 2, "without a volume"),
    ],
)
def test_what_cannot_work_is_said_in_words(tmp_path, monkeypatch, arguments, status, needle):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "exists.csv").write_text("mine")
    with Pty() as port:
        got, said, told = run("log", *[port.name if a == "PTY" else a for a in arguments])
    assert (got, said) == (status, ""), told
    assert needle in told and "Traceback" not in told
    assert not (tmp_path / "x.csv").exists()
    assert (tmp_path / "exists.csv").read_text() == "mine"


# Lines of one shape, options, and the gauge pressures in kPa that must be on disk.
_THROUGH = [
    ([b"P 12.3 kPa\r\n", b"OL\r\n", b"P 12.2 kPa\r\n"], [], [12.3, None, 12.2]),
    ([b"vacuum: 12.3 inHg\n", b"vacuum: 12.0 inHg\n"], [], [-41.6526, -40.6367]),
    ([b"-0,712 bar\r\n", b"-0,709 bar\r\n"], [], [-71.2, -70.9]),
    ([b"508\r\n", b"507\r\n", b"506\r\n"], ["--unit", "mbar"], [50.8, 50.7, 50.6]),
    (
        [b"press: 138.0\r\n", b"press: 137.9\r\n"],
        ["--unit", "kPa", "--absolute", "--barometer", "98 kPa"],
        [40.0, 39.9],
    ),
]


def test_shapes_through_the_whole_program(tmp_path):
    """All at once, each with its own port and program."""
    with contextlib.ExitStack() as stack:
        logs = []
        for number, (_, options, _) in enumerate(_THROUGH):
            port, out = stack.enter_context(Pty()), tmp_path / f"{number}.csv"
            ending = ["--duration", "4.5 s", "--no-prompt"]
            logs.append((start("log", port.name, "--out", str(out), *ending, *options), port, out))
        for (_, port, out), (lines, _, _) in zip(logs, _THROUGH, strict=True):
            wait_for_file(out, "started")
            time.sleep(0.1)
            for line in lines:
                port.send(line)
                time.sleep(0.1)
        for (process, _, out), (_, _, expected_kpa) in zip(logs, _THROUGH, strict=True):
            status, _, told = finish(process)
            assert status == 0, told
            rows = [row.split(",") for row in out.read_text().splitlines() if row[:1].isdigit()]
            shown = [float(row[1]) if row[1] else None for row in rows]
            assert shown == [pytest.approx(v, abs=1e-3) if v is not None else None for v in expected_kpa]


def test_gauges_lists_ports_and_profiles():
    status, said, _ = run("gauges")
    assert status == 0 and "leakdown-line" in said and "Ports" in said
    status, said, _ = run("gauges", "--json")
    listed = json.loads(said)
    assert status == 0 and {"auto", "counts"} <= {p["name"] for p in listed["profiles"]}
    assert isinstance(listed["ports"], list)
