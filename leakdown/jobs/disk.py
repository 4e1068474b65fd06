"""Files of a job folder: whole or not at all, never through a link, one writer at a time."""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
import stat
import sys
import time
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

from leakdown.errors import OutputError, RecordError
from leakdown.tuned import tuned

_TEMPORARY = ".tmp-"
_NO_LINK = getattr(os, "O_NOFOLLOW", 0)
_BINARY = getattr(os, "O_BINARY", 0)


def digest(data: bytes) -> str:
    """SHA-256 in hexadecimal."""
    return hashlib.sha256(data).hexdigest()


def write_whole(path: Path, data: bytes) -> None:
    """Replace a file's content in one step: whoever looks, even after a crash, sees the old or the new.

    Raises OutputError; the old content is then untouched.
    """
    temporary = path.with_name(f"{_TEMPORARY}{os.getpid()}-{path.name}")
    try:
        handle = os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_EXCL | _NO_LINK | _BINARY, 0o666)
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.replace(temporary, path)
        sync_folder(path.parent)
    except OSError as error:
        with contextlib.suppress(OSError):
            temporary.unlink()
        raise OutputError(
            f"cannot be written: {error.strerror or error}",
            where=str(path),
            remedy="What stood there before is unchanged. Free some space or check the rights.",
        ) from error


def sync_folder(folder: Path) -> None:
    """Make a rename in `folder` last through a power cut, where the system can."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def sweep(folder: Path) -> None:
    """Remove what a killed writer left half written. Only while the folder is locked."""
    for left in folder.glob(f"{_TEMPORARY}*"):
        with contextlib.suppress(OSError):
            left.unlink()


def read_plain(path: Path, most_bytes: int) -> bytes:
    """The content of a plain file that is no link. Raises RecordError, FileNotFoundError."""
    try:
        handle = os.open(path, os.O_RDONLY | _NO_LINK | _BINARY | getattr(os, "O_NONBLOCK", 0))
        with os.fdopen(handle, "rb", buffering=0) as file:
            about = os.fstat(file.fileno())
            if not stat.S_ISREG(about.st_mode) or (not _NO_LINK and path.is_symlink()):
                raise RecordError("is not a plain file", where=str(path), remedy="Put the file itself there.")
            if about.st_size > most_bytes:
                raise RecordError(f"is larger than {most_bytes // 1_000_000} MB", where=str(path))
            return file.read()
    except FileNotFoundError:
        raise
    except OSError as error:
        what = f"cannot be read: {error.strerror or error}"
        raise RecordError(
            "is a link, not a plain file" if path.is_symlink() else what,
            where=str(path),
            remedy="Put the file itself there.",
        ) from None


def plain_folder(path: Path) -> bool:
    """Whether `path` is a folder and no link."""
    try:
        return stat.S_ISDIR(os.lstat(path).st_mode)
    except OSError:
        return False


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
        raise RecordError(
            f"cannot be locked for writing: {error.strerror}", where=str(folder), remedy="Check the rights."
        ) from error
    try:
        _wait(handle, path, wait_s)
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
                raise RecordError(
                    f"this file system cannot lock: {error.strerror}", where=str(path.parent)
                ) from error
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
