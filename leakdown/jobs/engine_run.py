"""A run of the engine as a record keeps it."""

from __future__ import annotations

from dataclasses import dataclass

from leakdown.runs.run import Ended


@dataclass(frozen=True)
class EngineRun:
    """ran_s, ended, fuel, warm, fitted: as `leakdown.runs.run.Run` has them. text: a note.

    started: when, ISO 8601, where it was not just before `at`. corrects: number of the run whose place it takes.
    """

    number: int
    at: str
    ran_s: float
    ended: Ended
    fuel: str = ""
    warm: bool | None = None
    fitted: str = ""
    text: str = ""
    started: str = ""
    corrects: int | None = None

    kind = "run"  # of entry; not a field
