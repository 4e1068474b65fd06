"""A process that has imported the libraries already and forks for each run of the program: `python -m tests.cli.warm`.

Each run is a process of its own with its own arguments, environment, folder and streams, and ends as any other; only
the second or so of imports is saved. That imports stay lazy and complete is for the tests that start it afresh.
One request a line on standard input (JSON), one exit status a line on standard output. Needs `os.fork`.
"""

from __future__ import annotations

import atexit
import gc
import io
import json
import os
import runpy
import sys
import threading
import traceback
from typing import Any


def _imported() -> None:
    """What most commands need, and nothing that keeps threads."""
    import matplotlib.figure
    import numpy
    import pandas
    import scipy.optimize
    import scipy.stats
    import typer.main

    import leakdown.cli.app
    import leakdown.jobs.store
    import leakdown.report.page
    import leakdown.where.locate

    assert matplotlib.figure and numpy and pandas and scipy.optimize and scipy.stats and typer.main and leakdown


def _request() -> dict[str, Any] | None:
    """The request of the child that this has become; None at the end, in the parent."""
    for line in sys.stdin.buffer:
        child = os.fork()
        if child == 0:
            return dict(json.loads(line))
        status = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
        sys.stdout.write(f"{status}\n")
        sys.stdout.flush()
    return None


def _become(request: dict[str, Any]) -> None:
    """Arguments, environment, folder and streams of the run, as `python -m leakdown` would have them."""
    os.chdir(request["cwd"])
    os.environ.clear()
    os.environ.update(request["env"])
    for number, name in enumerate(("/dev/null", request["out"], request["err"])):
        flags = os.O_RDONLY if number == 0 else os.O_WRONLY | os.O_APPEND
        opened = os.open(name, flags)
        os.dup2(opened, number)
        os.close(opened)
    sys.stdin = open(0, encoding="utf-8", closefd=False)  # noqa: SIM115
    sys.stdout = io.TextIOWrapper(io.FileIO(1, "wb", closefd=False), "utf-8")
    sys.stderr = io.TextIOWrapper(io.FileIO(2, "wb", closefd=False), "utf-8", "backslashreplace", line_buffering=True)
    sys.argv = ["leakdown", *request["words"]]
    sys.path[0] = request["cwd"]


def _run() -> int:
    """The exit status of the program, after all that an interpreter does at its end but taking itself to pieces."""
    status = 0
    try:
        runpy.run_module("leakdown", run_name="__main__", alter_sys=True)
    except SystemExit as done:
        status = done.code if isinstance(done.code, int) else int(done.code is not None)
    except BaseException:
        traceback.print_exc()
        status = 1
    threading._shutdown()
    atexit._run_exitfuncs()
    for stream in (sys.stdout, sys.stderr):
        stream.flush()
    return status


if __name__ == "__main__":
    _imported()
    gc.collect()
    gc.freeze()  # or the collector of every child copies each page
    found = _request()
    if found is not None:
        _become(found)
        os._exit(_run())
