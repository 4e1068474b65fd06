"""`python -m tests.fuzz [TARGET...] --minutes N`: each target in a process of its own, one after the other."""

from __future__ import annotations

import argparse
import hashlib
import json
import re
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.fuzz.engine import BROKEN, fuzzed

NAMES = (
    "sheets",
    "workbooks",
    "recordings",
    "analyses",
    "runs",
    "lines",
    "profiles",
    "settings",
    "knowledge",
    "complaints",
    "rigs",
    "jobs",
    "photos",
)


def main() -> int:
    """Exit status: 1 when anything failed."""
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    parser.add_argument("targets", nargs="*", metavar="TARGET", help=", ".join(NAMES))
    parser.add_argument("--minutes", type=float, default=1.0, help="for each target")
    parser.add_argument("--seed", type=int, default=int(time.time()))
    parser.add_argument("--report", type=Path, help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.report is not None:
        fuzzed(given.targets[0], 60.0 * given.minutes, given.seed, given.report)
        return 0
    wrong = [name for name in given.targets if name not in NAMES]
    if wrong:
        parser.error(f"unknown: {', '.join(wrong)}; known: {', '.join(NAMES)}")
    found = [_one(name, given.minutes, given.seed) for name in given.targets or NAMES]
    return int(not all(found))


def _one(name: str, minutes: float, seed: int) -> bool:
    with tempfile.TemporaryDirectory() as folder:
        report = Path(folder) / "report.json"
        command = [
            sys.executable,
            "-m",
            "tests.fuzz",
            name,
            f"--minutes={minutes}",
            f"--seed={seed}",
            f"--report={report}",
        ]
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        if not report.is_file():
            print(f"{name}: did not run\n{done.stderr[-2000:]}", flush=True)
            return False
        told = json.loads(report.read_text("utf-8"))
    print(
        f"{name}: {told['tried']} inputs in {told['seconds']:.0f} s, {told['answered']} answered, "
        f"slowest {told['slowest_s']} s, {len(told['faults'])} faults",
        flush=True,
    )
    for place, fault in told["faults"].items():
        data = bytes.fromhex(fault["input"])
        kept = BROKEN / name / f"{re.sub(r'[^A-Za-z0-9]+', '-', place)[:60]}-{hashlib.sha256(data).hexdigest()[:6]}"
        kept.parent.mkdir(parents=True, exist_ok=True)
        kept.write_bytes(data)
        print(f"  {place}: {data[:200]!r}\n    kept in {kept}\n{fault['trace'][-900:]}", flush=True)
    ended = done.returncode == 0
    if not ended:
        print(f"  ended with {done.returncode}: {done.stderr[-1500:]}", flush=True)
    return ended and not told["faults"]


if __name__ == "__main__":
    raise SystemExit(main())
