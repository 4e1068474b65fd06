"""A sheet of runs: one a row, and a row "change" for what was changed in between.

| column | what it holds |
|---|---|
| run | how long it ran, in any usual form; `change`: the next column says what was changed |
| ended | died, stopped, bogged or would-not-start |
| fuel, start, with, note | the level at the start; warm or cold; what was fitted; anything else |
"""

from __future__ import annotations

import csv
from collections.abc import Iterable
from dataclasses import dataclass
from typing import cast

from leakdown.errors import UsageError
from leakdown.runs.durations import parse_duration
from leakdown.runs.run import Ended, Run

_COLUMNS = ("run", "ended", "fuel", "start", "with")


@dataclass(frozen=True)
class RunSheet:
    """The runs in order, and what was changed: the first before the runs of period 1."""

    runs: tuple[Run, ...]
    changes: tuple[str, ...]


def read_runs(lines: Iterable[str]) -> RunSheet:
    """Raises UsageError, which names the row."""
    rows = csv.DictReader(line for line in lines if not line.startswith("#"))
    if not set(_COLUMNS) <= set(rows.fieldnames or ()):
        raise UsageError("the sheet of runs has other columns", remedy=f"Name them {', '.join(_COLUMNS)}.")
    runs: list[Run] = []
    changes: list[str] = []
    for row in rows:
        cells = {name: (row[name] or "").strip() for name in _COLUMNS}
        if cells["run"] == "change":
            changes.append(cells["ended"])
            continue
        warm = {"warm": True, "cold": False}.get(cells["start"])
        lasted = parse_duration(cells["run"], f"run {len(runs) + 1}")
        runs.append(Run(lasted, cast(Ended, cells["ended"]), cells["fuel"], warm, cells["with"], "", len(changes)))
    return RunSheet(tuple(runs), tuple(changes))
