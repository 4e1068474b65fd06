"""The real program in a process of its own: what a script or a mechanic meets."""

from __future__ import annotations

import atexit
import json
import os
import signal
import subprocess
import sys
import threading
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

ROOT = Path(__file__).parents[2]
LONGEST_S = 120.0


@dataclass(frozen=True)
class Ran:
    """Exit status and both streams of one run."""

    status: int
    out: str
    err: str

    @property
    def objects(self) -> list[dict[str, Any]]:
        """Every line of standard output as JSON; NaN and Infinity are refused."""

        def refuse(text: str) -> None:
            raise AssertionError(f"{text} is no JSON number")

        return [json.loads(line, parse_constant=refuse) for line in self.out.splitlines()]


def leakdown(*words: str | Path, cwd: Path | None = None, afresh: bool = False, **environment: str) -> Ran:
    """Run `leakdown WORDS`, standard input closed, forked from a process that has the libraries imported.

    afresh: by an interpreter of its own, as everywhere without `os.fork`, or where its own variables are given.
    """
    env = {**os.environ, "COLUMNS": "100", **environment}
    told = [str(word) for word in words]
    if afresh or not hasattr(os, "fork") or any(name.startswith(("PYTHON", "LC_", "LANG")) for name in environment):
        return _afresh(told, cwd, env)
    with TemporaryDirectory() as folder:
        out, err = Path(folder, "out"), Path(folder, "err")
        out.touch()
        err.touch()
        request = {"words": told, "cwd": str(cwd or Path.cwd()), "env": env, "out": str(out), "err": str(err)}
        status = _asked(_warm(), json.dumps(request))
        return Ran(status, *(path.read_text("utf-8") for path in (out, err)))


def _afresh(words: list[str], cwd: Path | None, env: dict[str, str]) -> Ran:
    done = subprocess.run(
        [sys.executable, "-m", "leakdown", *words],
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        cwd=cwd,
        env=env,
        check=False,
        timeout=LONGEST_S,
    )
    return Ran(done.returncode, done.stdout, done.stderr)


@cache
def _warm() -> subprocess.Popen[str]:
    """The process that forks, one for each process of tests; it ends when its input does."""
    env = {**os.environ, "OPENBLAS_NUM_THREADS": "1"}  # no threads before a fork
    command = [sys.executable, "-m", "tests.cli.warm"]
    started = subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=ROOT, env=env, start_new_session=True
    )

    def end() -> None:
        assert started.stdin and started.stdout
        started.stdin.close()
        started.wait()
        started.stdout.close()

    atexit.register(end)
    return started


def _asked(warm: subprocess.Popen[str], request: str) -> int:
    """The exit status of one run; all of them are killed where it takes too long."""
    assert warm.stdin and warm.stdout
    too_long = threading.Timer(LONGEST_S, lambda: os.killpg(warm.pid, signal.SIGKILL))
    too_long.start()
    try:
        warm.stdin.write(request + "\n")
        warm.stdin.flush()
        return int(warm.stdout.readline())
    finally:
        too_long.cancel()
