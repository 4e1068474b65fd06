"""Is the folder still what the record says? Each recording against its checksum, and what else lies there."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from leakdown.errors import RecordError
from leakdown.jobs.disk import plain_folder
from leakdown.jobs.record import Job
from leakdown.jobs.store import RECORD, RECORDINGS, recording_bytes

State = Literal["ok", "changed", "missing", "unreadable"]
_WORDS: dict[State, str] = {
    "ok": "as received",
    "changed": "NOT the file that was added: its checksum differs",
    "missing": "MISSING",
    "unreadable": "cannot be read",
}


@dataclass(frozen=True)
class Checked:
    """One recording of the record."""

    number: int
    file: str
    state: State

    @property
    def words(self) -> str:
        """The state in words."""
        return _WORDS[self.state]


@dataclass(frozen=True)
class Check:
    """All of them; `strangers` lie among the recordings without being in the record; `stale`: old report."""

    recordings: tuple[Checked, ...]
    strangers: tuple[str, ...]
    stale: bool

    @property
    def sound(self) -> bool:
        """Every recording is as it was received."""
        return all(c.state == "ok" for c in self.recordings)


def check(folder: Path, job: Job) -> Check:
    """Read every recording again. Never raises for what it is there to find."""
    place = folder / RECORDINGS
    known = {t.kept.file for t in job.tests}
    there = sorted(os.listdir(place)) if plain_folder(place) else []
    return Check(
        tuple(Checked(t.number, t.kept.file, _state(folder, t.kept)) for t in job.tests),
        tuple(name for name in there if name not in known and not name.startswith(".")),
        _older(folder / "report.html", folder / RECORD),
    )


def _state(folder: Path, kept: object) -> State:
    try:
        recording_bytes(folder, kept)  # type: ignore[arg-type]
    except RecordError as error:
        if "missing" in error.what:
            return "missing"
        return "changed" if "checksum" in error.what else "unreadable"
    return "ok"


def _older(file: Path, record: Path) -> bool:
    """Whether a file is there and older than the record."""
    try:
        return os.lstat(file).st_mtime_ns < os.lstat(record).st_mtime_ns
    except OSError:
        return False
