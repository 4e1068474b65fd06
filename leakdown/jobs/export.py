"""A job folder -> one zip with everything in it: record, recordings, page and pictures."""

from __future__ import annotations

import io
import os
import zipfile
from pathlib import Path

from leakdown.errors import OutputError, UsageError
from leakdown.jobs.disk import plain_folder, read_plain, write_whole
from leakdown.jobs.record import Job
from leakdown.jobs.refresh import PICTURES, REPORT
from leakdown.jobs.store import LARGEST_RECORDING, RECORD, RECORDINGS

_DAY = (1980, 1, 1, 0, 0, 0)  # the same job gives the same zip


def export(folder: Path, job: Job, target: Path) -> tuple[str, ...]:
    """Write the zip in one step and return the names in it.

    Only plain files of the job go in, links never. Raises as `checked_target` does, and RecordError.
    """
    checked_target(folder, target)
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
    own = [folder / name for name in (RECORD, REPORT, *PICTURES)]
    place = folder / RECORDINGS
    kept = [place / n for n in sorted(os.listdir(place)) if n[0] != "."] if plain_folder(place) else []
    return [path for path in (*own, *kept) if path.is_file() and not path.is_symlink()]
