"""Job folders on disk: made, read, and changed under a lock, one whole file at a time."""

from __future__ import annotations

import contextlib
import os
import re
import secrets
import shutil
import unicodedata
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TypeVar, cast

from leakdown.disk import digest, plain_folder, read_plain, sync_folder, write_whole
from leakdown.errors import InputError, OutputError, RecordError, UsageError
from leakdown.file_names import file_name, folded, is_device
from leakdown.jobs.engine_run import EngineRun
from leakdown.jobs.form import dumped, loaded
from leakdown.jobs.lock import WAIT_S, locked, sweep
from leakdown.jobs.record import Engine, Job, Note, Photo, StoredRecording, SuspectList, Test

_E = TypeVar("_E", Test, Note, SuspectList, Photo, EngineRun)
LONGEST_REFERENCE = 64
_REFERENCE = re.compile(r"[^\W_][\w .()+-]*")


def checked_reference(text: str) -> str:
    """A job reference that is safe as a folder's name on any system. Raises UsageError."""
    plain = unicodedata.normalize("NFC", text)
    if not _REFERENCE.fullmatch(plain) or ".." in plain or plain[-1] in ". ":
        why = "use letters, digits, - _ . ( ) + and blanks, beginning with a letter or digit"
    elif len(plain.encode("utf-8")) > LONGEST_REFERENCE:
        why = f"use at most {LONGEST_REFERENCE} bytes"
    elif is_device(plain):
        why = "this name is reserved on Windows"
    else:
        return plain
    raise UsageError(f"{text!r} cannot be a job reference", remedy=f'{why[0].upper()}{why[1:]}: "2026-017".')


RECORD = "job.json"
_PUT_FOLDER = "Put the folder itself there."
RECORDINGS = "recordings"
PHOTOS = "photos"
LARGEST_RECORD = 50_000_000
LARGEST_RECORDING = 400_000_000


def now() -> str:
    """This moment, to the second, with the bench's own offset from UTC."""
    return datetime.now().astimezone().isoformat(timespec="seconds")


def create(root: Path, reference: str, engine: Engine) -> Job:
    """Make a job folder with its record. Raises UsageError, RecordError when it exists, OutputError."""
    name = checked_reference(reference)
    data = dumped(Job(name, now(), engine))
    try:
        root.mkdir(parents=True, exist_ok=True)
        clash = _like(root, name)
        if clash is not None:
            remedy = "Choose another reference, or add to that job."
            raise RecordError(f"there is a job {clash!r} already", where=str(root / clash), remedy=remedy)
        fresh = root / f".new-{secrets.token_hex(8)}"
        try:
            (fresh / RECORDINGS).mkdir(parents=True)
            write_whole(fresh / RECORD, data)
            os.rename(fresh, root / name)
        except BaseException:
            shutil.rmtree(fresh, ignore_errors=True)
            raise
        sync_folder(root)
    except OSError as error:
        raise OutputError(
            f"cannot make the job folder: {error.strerror or error}",
            where=str(root / name),
            remedy="Check --folder (or LEAKDOWN_JOBS) and its rights.",
        ) from error
    return loaded(data, str(root / name))


def _like(root: Path, name: str) -> str | None:
    """What is in `root` already under this name, or under one that some systems take for the same."""
    with os.scandir(root) as found:
        return next((e.name for e in found if folded(e.name) == folded(name)), None)


def folder_of(root: Path, reference: str) -> Path:
    """The folder of an existing job. Raises UsageError, RecordError."""
    name = checked_reference(reference)
    path = root / name
    if plain_folder(path):
        return path
    if path.is_symlink():
        raise RecordError("is a link, not a job folder", where=str(path), remedy=_PUT_FOLDER)
    near = _like(root, name) if root.is_dir() else None
    remedy = f"Did you mean {near!r}?" if near else 'leakdown job list shows the jobs; "job new" makes one.'
    raise RecordError(f"there is no job {name!r}", where=str(root), remedy=remedy)


def load(folder: Path) -> Job:
    """The record of a job folder. Raises RecordError."""
    path = folder / RECORD
    try:
        data = read_plain(path, LARGEST_RECORD)
    except FileNotFoundError:
        raise RecordError("the record is missing", where=str(path), remedy="Restore job.json from a copy.") from None
    return loaded(data, str(path))


class Writing:
    """A job under the lock: `job` as it stands, and the two ways of adding to its folder."""

    def __init__(self, folder: Path, job: Job) -> None:
        self.folder, self.job = folder, job

    def keep(self, data: bytes, name: str, into: str = RECORDINGS, called: str = "") -> StoredRecording:
        """Put a file's bytes into a folder of the job under a name of its own, like `called` or as it came."""
        place = self.folder / into
        there = plain_folder(place)
        if not there and os.path.lexists(place):
            raise RecordError("is not a plain folder", where=str(place), remedy=_PUT_FOLDER)
        known = self.job.tests if into == RECORDINGS else self.job.photos
        taken = [*(os.listdir(place) if there else ()), *(entry.recording.file for entry in known)]
        own = file_name(called or name, taken)
        write_whole(place / own, data)
        return StoredRecording(own, name, digest(data), len(data))

    def add(self, entry: _E) -> _E:
        """Write the record with one more entry, numbered and dated, in one step; the entry as it is kept.

        Raises OutputError, and RecordError before anything is written that could not be read again.
        """
        path = self.folder / RECORD
        data = dumped(self.job.with_entry(replace(entry, number=self.job.next_number, at=now())))
        job = loaded(data, str(path))
        write_whole(path, data)
        self.job = job
        return cast(_E, job.entries[-1])


@contextlib.contextmanager
def writing(root: Path, reference: str, wait_s: float = WAIT_S) -> Iterator[Writing]:
    """Open a job to add to it, alone. Raises UsageError, RecordError."""
    folder = folder_of(root, reference)
    with locked(folder, wait_s):
        sweep(folder)
        for inner in (RECORDINGS, PHOTOS):
            if plain_folder(folder / inner):
                sweep(folder / inner)
        yield Writing(folder, load(folder))


def received_bytes(path: Path) -> bytes:
    """A file that is to be added, wherever it lies. Raises InputError."""
    try:
        if path.stat().st_size > LARGEST_RECORDING:
            what = f"larger than {LARGEST_RECORDING // 1_000_000} MB"
            raise InputError(what, where=str(path), remedy="Give the part with the test.")
        return path.read_bytes()
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError(f"cannot be opened: {reason}", where=str(path), remedy="Check the name.") from None


def recording_bytes(folder: Path, recording: StoredRecording) -> bytes:
    """A recording as it was received. Raises RecordError when it is missing or not the same any more."""
    path = folder / RECORDINGS / recording.file
    if not plain_folder(path.parent):
        raise RecordError("is not a plain folder", where=str(path.parent), remedy=_PUT_FOLDER)
    try:
        data = read_plain(path, LARGEST_RECORDING)
    except FileNotFoundError:
        raise RecordError("the recording is missing", where=str(path), remedy="Restore it from a copy.") from None
    if digest(data) != recording.sha256:
        what = "the recording is not the one that was added (its checksum differs)"
        remedy = "Restore it from a copy, or add the new one as a test of its own."
        raise RecordError(what, where=str(path), remedy=remedy)
    return data


def job_names(root: Path) -> list[str]:
    """Names of the folders that hold a record, sorted. Raises RecordError."""
    try:
        with os.scandir(root) as found:
            candidates = [e.name for e in found if e.is_dir(follow_symlinks=False) and e.name[0] != "."]
    except FileNotFoundError:
        return []
    except OSError as error:
        raise RecordError(f"cannot be read: {error.strerror}", where=str(root)) from error
    return sorted(candidates)
