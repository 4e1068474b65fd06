"""Files of a job folder: whole or not at all, and never through a link."""

from __future__ import annotations

import contextlib
import hashlib
import os
import stat
from pathlib import Path

from leakdown.errors import OutputError, RecordError

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
