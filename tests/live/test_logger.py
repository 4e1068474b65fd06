"""The live log end to end on pseudo-terminals: nothing lost, killed, unplugged, silent, refused."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from leakdown.errors import GaugeError, OutputError, UsageError
from leakdown.live.capture.logger import Ended, LiveLog, LogPlan
from leakdown.live.capture.session import Remark, Row
from leakdown.live.profiles.files import read_profile
from leakdown.live.profiles.profile import Conversion
from leakdown.quantities import PRESSURE_PA, PressureUnit
from leakdown.sheets.file import read
from tests.live.fakes import Conversation, Pty

pytestmark = pytest.mark.slow

KPA = PressureUnit("kPa", PRESSURE_PA["kPa"])


def collect(log: LiveLog, until: int = 10**9, seconds: float = 8.0) -> list:
    """Events until the end, `until` readings or `seconds`."""
    events, begin = [], time.monotonic()
    for event in log.events(0.05):
        if event is not None:
            events.append(event)
        taken = sum(isinstance(e, Row) and e.pressure_pa is not None for e in events)
        if taken >= until or time.monotonic() - begin > seconds:
            log.stop()
    return events


def readings(events: list) -> list[Row]:
    return [e for e in events if isinstance(e, Row) and e.pressure_pa is not None]


def send_later(port: Pty, lines: list[bytes], every_s: float = 0.01) -> threading.Thread:
    def run() -> None:
        time.sleep(0.2)
        for line in lines:
            port.send(line)
            time.sleep(every_s)

    thread = threading.Thread(target=run, daemon=True)
    thread.start()
    return thread


def test_every_line_arrives_in_the_file_and_in_the_events(tmp_path):
    out = tmp_path / "a.csv"
    lines = [b"P: %.2f kPa T: 22.1 C\r\n" % (40 - 0.01 * i) for i in range(60)]
    lines.insert(30, b"P: OL kPa T: 22.1 C\r\n")
    keys = (("circuit", "crankcase"), ("note", "two\nlines"))
    with Pty() as port, LiveLog(LogPlan(port.name, out, keys=keys)) as log:
        send_later(port, lines)
        events = collect(log, until=60)
    assert isinstance(events[-1], Ended) and events[-1].error is None
    recording = read(out)
    assert recording.conditions.circuit == "crankcase"
    assert recording.conditions.note == "two lines"
    assert recording.pressure_pa / 1e3 == pytest.approx([40 - 0.01 * i for i in range(60)])
    assert recording.temperature_k == pytest.approx([295.25] * 60)
    assert recording.unreadable == 1
    assert [r.pressure_pa for r in readings(events)] == pytest.approx(list(recording.pressure_pa))


def test_what_waited_in_the_buffer_before_opening_is_stale(tmp_path):
    with Pty() as port:
        port.send(b"99.99 kPa\r\n" * 5)
        with LiveLog(LogPlan(port.name, tmp_path / "a.csv")) as log:
            send_later(port, [b"12.3 kPa\r\n"] * 6)
            events = collect(log, until=6)
    assert {r.pressure_pa for r in readings(events)} == {12300.0}


def test_a_mark_stands_at_its_moment(tmp_path):
    out = tmp_path / "a.csv"
    with Pty() as port, LiveLog(LogPlan(port.name, out)) as log:
        sender = send_later(port, [b"12.3 kPa\r\n"] * 80)
        threading.Timer(0.6, log.mark, ["boot moved"]).start()
        events = collect(log, until=80)
        sender.join()
    marks = read(out).marks
    assert [m.text for m in marks] == ["boot moved"]
    assert marks[0].time_s == pytest.approx(0.6, abs=0.15)
    assert any(isinstance(e, Row) and e.mark == "boot moved" for e in events)


def test_an_unplugged_gauge_ends_with_one_clear_error_and_all_on_disk(tmp_path):
    out = tmp_path / "a.csv"
    port = Pty()
    with LiveLog(LogPlan(port.name, out, wait_s=0.5)) as log:
        send_later(port, [b"%.1f kPa\r\n" % i for i in range(1, 31)]).join()
        time.sleep(0.2)
        begin = time.monotonic()
        port.unplug()
        events = collect(log)
    error = events[-1].error
    assert isinstance(error, GaugeError) and error.exit_status == 1
    assert "\n" not in str(error) and "0.5 s" in str(error) and str(out) in str(error)
    assert time.monotonic() - begin < 2.5
    assert list(read(out).pressure_pa) == [1e3 * i for i in range(1, 31)]


class Flaky:
    """A port that is lost once and comes back."""

    opened = 0

    def __init__(self, address: str, framing: object) -> None:
        Flaky.opened += 1
        self._first = Flaky.opened == 1
        self._count = 0
        if Flaky.opened == 2:
            raise GaugeError("not yet")

    def read(self) -> bytes:
        time.sleep(0.01)
        self._count += 1
        if self._first and self._count > 10:
            raise GaugeError("the gauge was unplugged")
        return b"%.1f kPa\r\n" % (10.0 if self._first else 11.0)

    def write(self, command: bytes) -> None: ...

    def close(self) -> None: ...


def test_a_gauge_that_comes_back_is_read_on(tmp_path):
    Flaky.opened = 0
    with LiveLog(LogPlan("fake", tmp_path / "a.csv", wait_s=5.0), opener=Flaky) as log:
        events = collect(log, until=25)
    assert Flaky.opened == 3
    assert events[-1].error is None
    remarks = " ".join(e.text for e in events if isinstance(e, Remark))
    assert "gauge lost" in remarks and "gauge is back" in remarks
    assert {r.pressure_pa for r in readings(events)} == {10e3, 11e3}


def test_silence_has_its_own_words(tmp_path):
    with Pty() as port, LiveLog(LogPlan(port.name, tmp_path / "a.csv", silence_s=0.4)) as log:
        error = collect(log)[-1].error
    assert isinstance(error, GaugeError) and "nothing came" in error.what and "--baud" in error.remedy


def test_numbers_without_a_unit_stop_the_log_and_stay_on_disk(tmp_path):
    out = tmp_path / "a.csv"
    with Pty() as port, LiveLog(LogPlan(port.name, out)) as log:
        send_later(port, [b"12.%d\r\n" % i for i in range(8)])
        error = collect(log)[-1].error
    assert isinstance(error, UsageError) and "--unit" in error.remedy
    assert ",12.0\n" in out.read_text() and ",12.2\n" in out.read_text()


def test_an_existing_file_is_never_touched(tmp_path):
    out = tmp_path / "a.csv"
    out.write_text("mine")
    with Pty() as port, pytest.raises(UsageError, match="never overwritten"):
        LiveLog(LogPlan(port.name, out))
    assert out.read_text() == "mine"


def test_no_file_is_left_behind_when_the_port_cannot_be_opened(tmp_path):
    with pytest.raises(GaugeError, match="no such port"):
        LiveLog(LogPlan("/dev/ttyUSB_none", tmp_path / "a.csv"))
    assert not (tmp_path / "a.csv").exists()


def test_an_absolute_gauge_is_converted_with_the_barometer(tmp_path):
    plan = Conversion(KPA, absolute=True, barometer_pa=98_000.0)
    with Pty() as port, LiveLog(LogPlan(port.name, tmp_path / "a.csv", conversion=plan)) as log:
        send_later(port, [b"138.0\r\n"] * 6)
        events = collect(log, until=6)
    assert {r.pressure_pa for r in readings(events)} == {40_000.0}


def test_a_polled_gauge_is_asked_and_all_answers_are_used(tmp_path):
    profile = tmp_path / "asks.toml"
    profile.write_text('mode = "poll"\nunit = "kPa"\n[poll]\ncommand = "READ?\\r\\n"\ninterval_s = 0.05\n')
    with Pty() as port, LiveLog(LogPlan(port.name, tmp_path / "a.csv", read_profile(profile))) as log:
        talk = Conversation(port, [(b"READ?\r\n", b"%.1f\r\n" % (30 + i)) for i in range(8)])
        events = collect(log, until=8)
        talk.join()
    assert talk.done and talk.surprise == b""
    assert [r.pressure_pa for r in readings(events)] == [30e3 + 1e3 * i for i in range(8)]


def test_a_full_disk_is_named_and_the_file_stays_whole(tmp_path):
    """A size limit on files stands in for a full disk; run in a child so that it can be set."""
    out = tmp_path / "a.csv"
    code = (
        "import resource, signal, sys\n"
        "from pathlib import Path\n"
        "from leakdown.errors import OutputError\n"
        "from leakdown.live.capture.recording_file import RecordingFile\n"
        "from leakdown.live.capture.session import Row\n"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000))\n"
        f"file = RecordingFile(Path({str(out)!r}), ())\n"
        "try:\n"
        "    for i in range(100): file.write([Row(0.1 * i, 1000.0 * i, 'x' * 20)])\n"
        "except OutputError as error: print(error)\n"
    )
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=30)
    assert "the disk is full" in said.stdout, said.stderr
    lines = out.read_text().splitlines()
    assert out.read_text().endswith("\n") and len(lines) > 20
    assert all(line.count(",") == 3 for line in lines)


def test_a_folder_that_does_not_exist_is_named(tmp_path):
    with Pty() as port, pytest.raises(OutputError, match="cannot write here"):
        LiveLog(LogPlan(port.name, tmp_path / "none" / "a.csv"))


_CHILD = """
import sys
from pathlib import Path
from leakdown.live.capture.logger import LiveLog, LogPlan
with LiveLog(LogPlan(sys.argv[1], Path(sys.argv[2]))) as log:
    print("ready", flush=True)
    for event in log.events(): pass
"""


def test_kill_9_loses_at_most_two_readings(tmp_path):
    out = tmp_path / "a.csv"
    with Pty() as port:
        child = subprocess.Popen([sys.executable, "-c", _CHILD, port.name, str(out)], stdout=subprocess.PIPE)
        assert child.stdout is not None and child.stdout.readline() == b"ready\n"
        sent = 0
        for sent in range(1, 151):
            port.send(b"P: %.2f kPa\r\n" % (50 - 0.01 * sent))
            time.sleep(0.01)
        os.kill(child.pid, signal.SIGKILL)
        child.wait()
        child.stdout.close()
    recording = read(out)
    assert sent - 2 <= recording.pressure_pa.size <= sent
    assert recording.pressure_pa / 1e3 == pytest.approx(
        [50 - 0.01 * i for i in range(1, recording.pressure_pa.size + 1)]
    )


def _cpu_s(pid: int) -> float:
    fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="needs /proc to read another process's CPU time")
def test_a_thousand_lines_a_second_are_all_kept_for_little_of_a_core(tmp_path, request):
    """Short by default, 15 s with --full. The share of a core is printed; a busy machine must not fail it."""
    seconds = 15.0 if request.config.getoption("--full", default=False) else 3.0
    out = tmp_path / "a.csv"
    with Pty() as port:
        child = subprocess.Popen([sys.executable, "-c", _CHILD, port.name, str(out)], stdout=subprocess.PIPE)
        assert child.stdout is not None and child.stdout.readline() == b"ready\n"
        before, begin, sent = _cpu_s(child.pid), time.monotonic(), 0
        while (now := time.monotonic() - begin) < seconds:
            while sent < now * 1000:
                port.send(b"t_ms=%d p_kpa=%.3f\r\n" % (sent, 40 - 1e-4 * sent))
                sent += 1
            time.sleep(0.002)
        used = _cpu_s(child.pid) - before
        time.sleep(0.3)
        child.kill()
        child.wait()
        child.stdout.close()
    recording = read(out)
    assert recording.pressure_pa.size == sent
    assert recording.pressure_pa / 1e3 == pytest.approx([40 - 1e-4 * i for i in range(sent)], abs=0.0006)
    assert used / seconds < 0.4, f"{used / seconds:.1%} of a core"
    print(f"{sent} lines in {seconds:g} s, {used / seconds:.1%} of a core")
