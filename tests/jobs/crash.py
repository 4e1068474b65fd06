"""Kill a writer at every step it takes on disk, in a process of its own.

`python -m tests.jobs.crash add|report JOBS FILE`. Page, pictures and findings are worked out once and then
given out again, for only the writing is under test. A child is forked for each step; it dies there as a
killed process does, with no clean-up. What the folder says afterwards is printed, one JSON object a step.
"""

from __future__ import annotations

import gc
import json
import os
import shutil
import sys
from pathlib import Path
from typing import Any

from leakdown.jobs import adding
from leakdown.jobs import page as drawing
from leakdown.jobs.check import check
from leakdown.jobs.record import TestInputs
from leakdown.jobs.store import load, writing
from leakdown.sheets.file import read_bytes

STEPS = ("open", "write", "fsync", "replace")


def added(root: Path, file: Path) -> None:
    """What `leakdown job add` writes."""
    with writing(root, "j") as at:
        data = file.read_bytes() + b"\n" * len(at.job.tests)  # the same bytes would be refused
        recording = read_bytes(data, file.name)
        adding.add_test(at, data, recording, TestInputs(recording.conditions), "before")
        drawing.attach(at.folder, at.job)


def reported(root: Path, file: Path) -> None:
    """What `leakdown job report` writes."""
    with writing(root, "j") as at:
        drawing.attach(at.folder, at.job)


def _die_at(step: int, folder: Path) -> None:
    """Make the step-th call that touches the disk the last one."""
    seen = 0

    def deadly(name: str, real: Any) -> Any:
        def call(*given: Any, **more: Any) -> Any:
            nonlocal seen
            seen += 1
            if seen == step:
                if name == "write":  # half of it arrives
                    real(given[0], given[1][: len(given[1]) // 2])
                os._exit(9)
            return real(*given, **more)

        return call

    for name in STEPS:
        setattr(os, name, deadly(name, getattr(os, name)))


def _draw_once(folder: Path) -> None:
    """What was found and drawn before stands in for doing it again."""
    page = (folder / "report.html").read_text("utf-8")
    drawn = {kind: (folder / f"chart.{kind}").read_bytes() for kind in ("png", "pdf", "svg")}
    test = load(folder).tests[0]
    again = drawing.analysed_again(folder, test)
    adding.examine = lambda recording, settings: None
    adding.stored_result = lambda analysis: test.result
    adding.place_found = lambda *given: test.place
    drawing.analysed_again = lambda folder, test: again
    drawing.job_page = lambda *given, **more: page
    drawing.picture = lambda chart, kind: drawn[kind]


def run(action: Any, root: Path, file: Path, step: int) -> int:
    """Fork, do it, die at the step; the child's exit status."""
    child = os.fork()
    if child == 0:
        _die_at(step, root / "j")
        action(root, file)
        os._exit(0)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def state(root: Path) -> dict[str, Any]:
    """What is in the folder: tests in the record, soundness, and whole files."""
    folder = root / "j"
    job = load(folder)
    names = ("report.html", "chart.png", "chart.pdf", "chart.svg")
    there = {name: (folder / name).read_bytes() for name in names if (folder / name).exists()}
    whole = {
        "report.html": lambda data: data.rstrip().endswith(b"</html>"),
        "chart.png": lambda data: data[:4] == b"\x89PNG" and data.endswith(b"IEND\xaeB`\x82"),
        "chart.pdf": lambda data: data[:4] == b"%PDF" and data.rstrip().endswith(b"%%EOF"),
        "chart.svg": lambda data: data.rstrip().endswith(b"</svg>"),
    }
    torn = [name for name, data in there.items() if not whole[name](data)]
    return {"tests": len(job.tests), "sound": check(folder, job).sound, "torn": torn, "there": sorted(there)}


def main(what: str, base: Path, file: Path) -> None:
    """Every step in turn, until the writer lives through all of them; then once more without a crash."""
    action = {"add": added, "report": reported}[what]
    _draw_once(base / "j")
    gc.freeze()  # or the collector of every child copies each page
    for step in range(1, 200):
        root = base.parent / f"step-{step}"
        shutil.copytree(base, root)
        status = run(action, root, file, step)
        after = state(root)
        if status:
            assert run(action, root, file, 10_000) == 0  # the next one is not hindered
        then = state(root)
        print(json.dumps(after | {"step": step, "status": status, "then": then}), flush=True)
        left = [p.name for p in (root / "j").rglob(".tmp-*")]
        assert not left, left
        shutil.rmtree(root)
        if status == 0:
            return


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]), Path(sys.argv[3]))
