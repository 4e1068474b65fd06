"""How long `job list` takes on many folders: `python -m tests.benchmarks.job_list [FOLDERS]`.

Prints the cost per folder with no index (every record is read) and with one (nothing has changed).
"""

from __future__ import annotations

import shutil
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

from leakdown.jobs.form import dumped
from leakdown.jobs.listing import INDEX, listing
from tests.jobs.records import full_job


def make(root: Path, count: int) -> int:
    """Write `count` job folders with five tests each; the size of one record in bytes."""
    job = full_job()
    for i in range(count):
        folder = root / f"job-{i:05d}"
        folder.mkdir()
        engine = replace(job.engine, serial=f"S{i % 500:04d}", engine=f"pump type {i % 40}")
        data = dumped(replace(job, reference=folder.name, engine=engine))
        (folder / "job.json").write_bytes(data)
    return len(data)


def seconds(root: Path) -> float:
    """One listing."""
    start = time.perf_counter()
    found = listing(root)
    assert not found.troubles
    return time.perf_counter() - start


def main(count: int) -> None:
    """Make the folders, list them cold and warm, print."""
    root = Path(tempfile.mkdtemp(prefix="leakdown-list-"))
    try:
        size = make(root, count)
        print(f"{count} folders, job.json of {size} bytes")
        for name in ("without index", "with index", "with index again"):
            took = seconds(root)
            print(f"{name:<18}{took:7.3f} s {took / count * 1e6:9.1f} us a folder")
        print(f"index: {(root / INDEX).stat().st_size / 1e6:.1f} MB")
    finally:
        shutil.rmtree(root)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 10_000)
