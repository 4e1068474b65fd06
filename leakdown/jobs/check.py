"""Is the folder still what the record says? Checksums, and a zip with everything in it."""

from __future__ import annotations

import io
import os
import zipfile
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from leakdown.disk import digest, plain_folder, read_plain, write_whole
from leakdown.errors import OutputError, RecordError, UsageError
from leakdown.jobs.customer_page import SUMMARY
from leakdown.jobs.form import BROKEN, SEAL_KEY
from leakdown.jobs.page import LIBRARY, PICTURES, REPORT
from leakdown.jobs.record import Job, StoredRecording
from leakdown.jobs.runs_on_page import RUNS_PICTURE
from leakdown.jobs.store import LARGEST_RECORDING, PHOTOS, RECORD, RECORDINGS

State = Literal["ok", "changed", "missing", "unreadable"]
_WORDS: dict[State, str] = {
    "ok": "as received",
    "changed": "NOT the file that was added: its checksum differs",
    "missing": "MISSING",
    "unreadable": "cannot be read",
}


@dataclass(frozen=True)
class Checked:
    """One recording or photograph of the record."""

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
    edited: bool = False  # the record itself is not as leakdown wrote it

    @property
    def sound(self) -> bool:
        """Record and recordings are as they were written and received."""
        return not self.edited and all(c.state == "ok" for c in self.recordings)


def check(folder: Path, job: Job) -> Check:
    """Read every recording again. Never raises for what it is there to find."""
    place = folder / RECORDINGS
    photos = folder / PHOTOS
    known = {t.recording.file for t in job.tests} | {f"{PHOTOS}/{p.recording.file}" for p in job.photos}
    there = _names(place) + [f"{PHOTOS}/{name}" for name in _names(photos)]
    try:
        stale = os.lstat(folder / REPORT).st_mtime_ns < os.lstat(folder / RECORD).st_mtime_ns
    except OSError:
        stale = False
    return Check(
        (
            *(Checked(t.number, t.recording.file, _state(place, t.recording)) for t in job.tests),
            *(Checked(p.number, f"{PHOTOS}/{p.recording.file}", _state(photos, p.recording)) for p in job.photos),
        ),
        tuple(name for name in there if name not in known),
        stale,
        job.document.get(SEAL_KEY) == BROKEN,
    )


def _names(place: Path) -> list[str]:
    return sorted(name for name in os.listdir(place) if name[0] != ".") if plain_folder(place) else []


def _state(place: Path, recording: StoredRecording) -> State:
    if place.is_symlink():
        return "unreadable"
    try:
        data = read_plain(place / recording.file, LARGEST_RECORDING)
    except FileNotFoundError:
        return "missing"
    except RecordError:
        return "unreadable"
    return "ok" if digest(data) == recording.sha256 else "changed"


_LEFT_OUT: dict[State, str] = {
    "changed": "is not the file that was added",
    "missing": "is missing",
    "unreadable": "cannot be read",
}
_DAY = (1980, 1, 1, 0, 0, 0)  # the same job gives the same zip


def export(folder: Path, job: Job, target: Path) -> tuple[str, ...]:
    """Write the zip in one step and return the names in it.

    Only plain files of the job go in, links never. Raises as `checked_target` does, and RecordError, with
    nothing written, when a recording of the record is missing, changed or cannot be read.
    """
    checked_target(folder, target)
    bad = [c for c in check(folder, job).recordings if c.state != "ok"]
    if bad:
        what = "; ".join(f"{c.file} {_LEFT_OUT[c.state]}" for c in bad)
        raise RecordError(what, where=str(folder / RECORDINGS), remedy="No zip was written. Restore it from a copy.")
    packed, names = io.BytesIO(), []
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for path in _files(folder):
            inside = f"{job.reference}/{path.relative_to(folder).as_posix()}"
            info = zipfile.ZipInfo(inside, _DAY)
            info.external_attr = 0o644 << 16
            info.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(info, read_plain(path, LARGEST_RECORDING))
            names.append(inside)
    write_whole(target, packed.getvalue())
    return tuple(names)


def checked_target(folder: Path, target: Path) -> None:
    """Raises UsageError for another ending or a place inside the job, OutputError for a missing folder."""
    if target.suffix.lower() != ".zip":
        raise UsageError(f"{target}: unknown kind of file", remedy="Name it FILE.zip.")
    if folder.resolve() in (target.resolve(), *target.resolve().parents):
        raise UsageError(f"{target} lies inside the job's own folder", remedy="Put the zip somewhere else.")
    if not target.parent.is_dir():
        raise OutputError("no such folder", where=str(target.parent), remedy="Make it first.")


def _files(folder: Path) -> list[Path]:
    own = [folder / name for name in (RECORD, REPORT, LIBRARY, SUMMARY, *PICTURES, RUNS_PICTURE)]
    inside = [folder / name / inner for name in (RECORDINGS, PHOTOS) for inner in _names(folder / name)]
    return [path for path in (*own, *inside) if path.is_file() and not path.is_symlink()]
