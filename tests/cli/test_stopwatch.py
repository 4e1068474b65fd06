"""The stopwatch on a real (pseudo) terminal: a key starts it, a key ends it and says how."""

from __future__ import annotations

import json
import os
import pty
import subprocess
import sys
import time

import pytest

from tests.cli.program import leakdown

pytestmark = pytest.mark.slow


def test_one_key_starts_the_clock_and_one_says_how_it_ended(tmp_path):
    folder = ("--folder", str(tmp_path))
    assert leakdown("job", "new", "R1", *folder).status == 0
    assert leakdown("job", "run", "R1", "20 s", "--ended", "died", *folder).status == 0
    main, end = pty.openpty()
    command = [sys.executable, "-m", "leakdown", "job", "run", "R1", "--clock", *folder]
    env = os.environ | {"TERM": "xterm", "COLUMNS": "80", "LINES": "24"}
    with subprocess.Popen(command, stdin=end, stderr=end, stdout=subprocess.DEVNULL, env=env) as run:
        os.close(end)
        seen = b""
        while b"Ready" not in seen:
            seen += os.read(main, 4096)
        os.write(main, b" ")
        while b"it died" not in seen:
            seen += os.read(main, 4096)
        time.sleep(0.5)
        os.write(main, b"xb")  # x is no key
        try:
            while os.read(main, 4096):
                pass
        except OSError:  # the other end is closed
            pass
        assert run.wait(20) == 0
    os.close(main)
    last = json.loads(leakdown("job", "runs", "R1", "--json", *folder).out)["runs"][-1]
    assert last["ended"] == "bogged" and 0.4 <= last["ran_s"] < 5.0


def test_without_a_terminal_the_clock_is_refused(tmp_path):
    leakdown("job", "new", "R1", "--folder", str(tmp_path))
    done = leakdown("job", "run", "R1", "--clock", "--folder", str(tmp_path))
    assert done.status == 2 and "needs a terminal" in done.err
