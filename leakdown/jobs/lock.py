"""One writer at a time in a job folder, and what a killed one left behind."""

from __future__ import annotations

import contextlib
import errno
import os
import sys
import time
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

from leakdown.disk import TEMPORARY
from leakdown.errors import RecordError
from leakdown.tuned import tuned


def sweep(folder: Path) -> None:
    """Remove what a killed writer left half written. Only while the folder is locked."""
    for left in folder.glob(f"{TEMPORARY}*"):
        with contextlib.suppress(OSError):
            left.unlink()


WAIT_S: float = tuned("jobs").lock_wait_s
_BUSY = (errno.EACCES, errno.EAGAIN, errno.EDEADLK)

if sys.platform == "win32":
    import msvcrt

    def _take(handle: int) -> None:
        os.lseek(handle, 1 << 20, os.SEEK_SET)  # beyond the text, which others may then still read
        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
else:
    import fcntl

    def _take(handle: int) -> None:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)


@contextlib.contextmanager
def locked(folder: Path, wait_s: float = WAIT_S) -> Iterator[None]:
    """Hold the folder's lock. Raises RecordError when another process keeps it longer than `wait_s`."""
    path = folder / ".lock"
    try:
        handle = os.open(path, os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0), 0o666)
    except OSError as error:
        remedy = "Check the rights and the free space."
        raise RecordError(
            f"cannot be locked for writing: {error.strerror}", where=str(folder), remedy=remedy
        ) from error
    try:
        _wait(handle, path, wait_s)
        with contextlib.suppress(OSError):  # on a full disk it holds without its words
            now = datetime.now().astimezone().isoformat(timespec="seconds")
            os.ftruncate(handle, 0)
            os.lseek(handle, 0, os.SEEK_SET)
            os.write(handle, f"process {os.getpid()} since {now}\n".encode())
        yield
    finally:
        os.close(handle)  # frees the lock; the file stays, for removing it would let two writers in


def _wait(handle: int, path: Path, wait_s: float) -> None:
    end = time.monotonic() + wait_s
    while True:
        try:
            _take(handle)
            return
        except OSError as error:
            if error.errno not in _BUSY:
                raise RecordError(f"this file system cannot lock: {error.strerror}", where=str(path.parent)) from error
        if time.monotonic() > end:
            raise RecordError(
                f"another leakdown is writing to this job ({_holder(path)})",
                where=str(path.parent),
                remedy="Wait until it is done, then run the command again.",
            )
        time.sleep(0.05)


def _holder(path: Path) -> str:
    try:
        return path.read_text("utf-8", "replace").strip()[:80] or "unknown process"
    except OSError:
        return "unknown process"
