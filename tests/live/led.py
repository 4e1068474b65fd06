"""Somebody at a terminal who goes through `leakdown test` with the virtual gauge: answers questions, presses keys.

`python -m tests.live.led` leads through both directions of a crankcase with `simulate`'s own times (four minutes) and
prints what was seen; the suite does one direction of a float bowl.
"""

from __future__ import annotations

import contextlib
import fcntl
import os
import pty
import re
import select
import struct
import subprocess
import sys
import tempfile
import termios
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

_STEERING = re.compile(r"\x1b\[[0-9;?]*[a-zA-Z]|\r|\x07")
_OWN_SCREEN = re.compile(r"\x1b\[\?1049h.*?(\x1b\[\?1049l|$)", re.S)


@dataclass(frozen=True)
class Sat:
    """What came of it: exit status, the lines that stayed, and all that was on the screen of the log."""

    status: int
    said: str
    screens: str


def sit(arguments: list[str], answers: list[tuple[str, str]], cwd: Path, limit_s: float = 60.0) -> Sat:
    """Run the program on a terminal of 80x24. answers: in order, (what to wait for, what to type)."""
    outer, inner = pty.openpty()
    fcntl.ioctl(inner, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
    environment = os.environ | {"TERM": "xterm-256color", "LEAKDOWN_SETTINGS": str(cwd / "none.toml")}
    command = [sys.executable, "-m", "leakdown", *arguments]
    program = subprocess.Popen(
        command, stdin=inner, stdout=inner, stderr=inner, cwd=cwd, env=environment, start_new_session=True
    )
    os.close(inner)
    out, seen, left, end = b"", 0, list(answers), time.monotonic() + limit_s
    while time.monotonic() < end:
        if select.select([outer], [], [], 0.1)[0]:
            try:
                out += os.read(outer, 65536)
            except OSError:  # the program and its terminal are gone
                break
        if left and left[0][0] in _STEERING.sub("", out[seen:].decode("utf-8", "ignore")):
            seen = len(out)
            os.write(outer, left.pop(0)[1].encode())
    if program.poll() is None and time.monotonic() >= end:
        program.kill()
    status = program.wait(10.0)
    os.close(outer)
    text = out.decode("utf-8", "replace")
    screens = "".join(part.group(0) for part in _OWN_SCREEN.finditer(text))
    return Sat(status, _STEERING.sub("", _OWN_SCREEN.sub("", text)), _STEERING.sub("", screens))


@contextlib.contextmanager
def gauge(*arguments: str) -> Iterator[str]:
    """The port of a virtual gauge."""
    command = [sys.executable, "-m", "leakdown", "simulate", *arguments]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True) as program:
        assert program.stdout is not None
        yield program.stdout.readline().strip()
        program.terminate()


def main() -> None:
    """Both directions, to the page."""
    targets = "-50 kPa, 45 kPa"
    with gauge("--target", targets, "--seed", "1") as port, tempfile.TemporaryDirectory() as folder:
        answers = [
            ("known): ", "a pump\n"),
            ("crankcase]: ", "\n"),
            ("known): ", "250 cm3\n"),
            ("both ways? [Y/n]: ", "\n"),
        ]
        answers += [
            ("to air? [Y/n]: ", "\n"),
            *[("Start? [Y/n]: ", "\n"), ("open: the reading must fall ", "o"), ("Start? [Y/n]: ", "\n")],
        ]
        answers += [("open: the reading must fall ", "o")]
        found = sit(["test", "J1", "--port", port], answers, Path(folder), 400.0)
        print(found.said, "\nstatus", found.status, "page", (Path(folder) / "jobs/J1/report.html").exists())


if __name__ == "__main__":
    main()
