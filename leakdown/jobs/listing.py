"""All jobs at once. A small index beside the job folders spares reading every record every time.

The index is only a memory: each row is used as long as its job.json has the same inode, size and time; a
missing, damaged or unwritable index costs time and nothing else.
"""

from __future__ import annotations

import contextlib
import json
import os
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from leakdown.errors import LeakdownError, RecordError
from leakdown.jobs.disk import read_plain, write_whole
from leakdown.jobs.row import COLUMNS, Row, row_from, row_of
from leakdown.jobs.store import RECORD, job_names, load

INDEX = ".leakdown-index.json"
_LARGEST = 200_000_000
_FORM = [2, *COLUMNS]  # another set of columns makes an old index unusable
Stamp = list[int]


@dataclass(frozen=True)
class Listing:
    """Rows by reference, and the records that could not be read, in words."""

    rows: tuple[Row, ...]
    troubles: tuple[LeakdownError, ...]


def listing(root: Path) -> Listing:
    """Every job in `root`. Raises RecordError when `root` itself cannot be read."""
    known, top = _remembered(root / INDEX), str(root)
    rows: dict[str, tuple[Stamp, Row]] = {}
    troubles: list[LeakdownError] = []
    for name in job_names(root):
        record = os.path.join(top, name, RECORD)  # ten thousand Path objects are a tenth of the time
        stamp = _stamp(record)
        if stamp is None:
            if os.path.lexists(record):
                troubles.append(RecordError("is not a plain file", where=record))
            continue  # a folder without a record is no job
        old = known.get(name)
        if old is not None and old[0] == stamp:
            rows[name] = old
            continue
        try:
            rows[name] = (stamp, row_of(load(root / name, brief=True)))
        except LeakdownError as error:
            troubles.append(error)
    if rows != known:
        _remember(root / INDEX, rows)
    return Listing(tuple(row for _, row in rows.values()), tuple(troubles))


def _stamp(path: str) -> Stamp | None:
    try:
        about = os.lstat(path)
    except OSError:
        return None
    if about.st_mode & 0o170000 != 0o100000:
        return None
    return [about.st_ino, about.st_size, about.st_mtime_ns]


def _remembered(path: Path) -> dict[str, tuple[Stamp, Row]]:
    try:
        value = json.loads(read_plain(path, _LARGEST))
        if value["form"] != _FORM:
            return {}
        found = {name: (stamp, row_from(row)) for name, (stamp, row) in value["jobs"].items()}
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError, LeakdownError):
        return {}
    return {name: (stamp, row) for name, (stamp, row) in found.items() if row is not None}


def _remember(path: Path, rows: dict[str, tuple[Stamp, Row]]) -> None:
    value: dict[str, Any] = {
        "form": _FORM,
        "jobs": {n: [s, [getattr(r, c) for c in COLUMNS]] for n, (s, r) in rows.items()},
    }
    with contextlib.suppress(LeakdownError):
        write_whole(path, json.dumps(value, ensure_ascii=False, separators=(",", ":")).encode("utf-8"))
