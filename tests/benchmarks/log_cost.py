"""CPU of the whole `leakdown log` at 1000 lines a second: `python -m tests.benchmarks.log_cost`. Prints, never fails.

A gauge of a few lines of code writes to a pseudo-terminal; the share of a core is taken from the process's own clock
between the fifth and the fifteenth second, start-up apart. Beside it, what `cat` needs for the same lines.
"""

from __future__ import annotations

import contextlib
import os
import pty
import subprocess
import sys
import tempfile
import threading
import time
import tty
from collections.abc import Callable
from pathlib import Path

SHAPES: dict[str, Callable[[int], bytes]] = {
    "stamped": lambda k: b"%d,%.3f\r\n" % (k, 39.875 + 0.001 * (k % 7)),
    "named": lambda k: b"Pressure: %.3f kPa\r\n" % (39.875 + 0.001 * (k % 7)),
    "JSON": lambda k: b'{"t_ms": %d, "pressure_kpa": %.3f}\r\n' % (k, 39.875 + 0.001 * (k % 7)),
    "bare": lambda k: b"%.3f\r\n" % (39.875 + 0.001 * (k % 7)),
}
RATE = 1000.0


def share_of_a_core(shape: Callable[[int], bytes], command: Callable[[str], list[str]], seconds: float = 10.0) -> float:
    """CPU seconds a second of a command that reads the port of such a gauge."""
    outer, inner = pty.openpty()
    tty.setraw(outer)
    tty.setraw(inner)
    os.set_blocking(outer, False)
    ended = threading.Event()

    def send() -> None:
        begun, sent = time.perf_counter(), 0
        while not ended.wait(0.01):
            due = int((time.perf_counter() - begun) * RATE)
            with contextlib.suppress(BlockingIOError):  # nobody reads
                os.write(outer, b"".join(shape(k) for k in range(sent, due)))
            sent = due

    program = subprocess.Popen(
        command(os.ttyname(inner)), stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    gauge = threading.Thread(target=send, daemon=True)
    gauge.start()
    try:
        time.sleep(5.0)
        before, begun = _cpu_s(program.pid), time.perf_counter()
        time.sleep(seconds)
        return (_cpu_s(program.pid) - before) / (time.perf_counter() - begun)
    finally:
        program.terminate()
        program.wait()
        ended.set()
        gauge.join()
        os.close(outer)
        os.close(inner)


def _cpu_s(pid: int) -> float:
    """User and system time of a process and its threads (proc(5): fields 14 and 15, in clock ticks)."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def main() -> list[tuple[str, str]]:
    """(what, figure) of each shape."""
    found = []
    with tempfile.TemporaryDirectory() as folder:
        for name, shape in SHAPES.items():
            out = Path(folder, f"{name}.csv")
            words = ["log", "--out", str(out), "--duration", "60 s", "--unit", "kPa", "--no-prompt"]
            ours = share_of_a_core(shape, lambda port, words=words: [sys.executable, "-m", "leakdown", *words, port])
            cat = share_of_a_core(shape, lambda port: ["cat", port])
            found.append(
                (f"`log` at 1000 {name} lines a second", f"{100 * ours:.1f} % of a core (`cat`: {100 * cat:.1f} %)")
            )
    return found


if __name__ == "__main__":
    for row in main():
        print(": ".join(row))
