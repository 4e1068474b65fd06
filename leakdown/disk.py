"""Files written whole or not at all, and read only when they are plain files: records, settings, rigs."""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
import stat
import time
from pathlib import Path

from leakdown.errors import OutputError, RecordError
from leakdown.file_names import LONGEST, shortened

TEMPORARY = ".tmp-"
_NO_LINK = getattr(os, "O_NOFOLLOW", 0)
_BINARY = getattr(os, "O_BINARY", 0)
_TRIES, _PAUSE_S = (20 if os.name == "nt" else 1), 0.05  # a list of jobs, a scanner: each holds it for a moment
_UNCHANGED = "What stood there before is unchanged. Free some space or check the rights."
_ELSEWHERE = "Choose another folder or free some space."


def digest(data: bytes) -> str:
    """SHA-256 in hexadecimal."""
    return hashlib.sha256(data).hexdigest()


def write_whole(path: Path, data: bytes, remedy: str = _UNCHANGED) -> None:
    """Replace a file's content in one step: whoever looks, even after a crash, sees the old or the new.

    A folder that is missing is made; the rights of a file that is replaced stay. Raises OutputError with
    `remedy`; the old content is then untouched.
    """
    temporary = path.with_name(f"{TEMPORARY}{os.getpid()}-{os.urandom(4).hex()}-{shortened(path.name, LONGEST)}")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle = os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_EXCL | _NO_LINK | _BINARY, 0o666)
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        with contextlib.suppress(FileNotFoundError):
            temporary.chmod(stat.S_IMODE(path.stat().st_mode))
        _replace(temporary, path)
    except (OSError, ValueError) as error:
        with contextlib.suppress(OSError, ValueError):
            temporary.unlink()
        what = getattr(error, "strerror", None) or str(error)
        if isinstance(error, FileExistsError | NotADirectoryError):
            what = "a file stands where its folder should be"
        raise OutputError(f"cannot be written: {what}", where=str(path), remedy=remedy) from error
    sync_folder(path.parent)


def _replace(temporary: Path, path: Path) -> None:
    """`os.replace`, patient where a file that somebody reads cannot be replaced."""
    for left in reversed(range(_TRIES)):
        try:
            os.replace(temporary, path)
            return
        except PermissionError:
            if not left:
                raise
            time.sleep(_PAUSE_S)


def write_output(path: Path, data: bytes) -> None:
    """Write a file that somebody named: whole or not at all, through a link, and straight into a pipe or a device.

    Its folder has to be there. Raises OutputError.
    """
    try:
        plain = stat.S_ISREG(os.stat(path).st_mode)
    except FileNotFoundError:
        plain = path.absolute().parent.is_dir()  # else it fails below, and says why
    except (OSError, ValueError):
        plain = False
    if plain:
        write_whole(Path(os.path.realpath(path)) if path.is_symlink() else path, data, _ELSEWHERE)
        return
    try:
        path.write_bytes(data)
    except (OSError, ValueError) as error:
        what = getattr(error, "strerror", None) or str(error)
        raise OutputError(f"cannot write: {what}", where=str(path), remedy=_ELSEWHERE) from error


def sync_folder(folder: Path) -> None:
    """Make a rename in `folder` last through a power cut, where the system can."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


class NotPlainError(ValueError):
    """A device, a pipe or a socket: reading it might never end."""


class TooLargeError(ValueError):
    """The file holds more than it may."""


def plain_bytes(path: Path, most_bytes: int, flags: int = 0) -> bytes:
    """A plain file's content, `flags` added to those of opening it. Raises OSError, NotPlainError, TooLargeError."""
    about = os.stat(path)  # first: opening a serial port would reset the gauge on it
    if stat.S_ISDIR(about.st_mode):
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR))
    if not stat.S_ISREG(about.st_mode):
        raise NotPlainError
    if about.st_size > most_bytes:
        raise TooLargeError
    with os.fdopen(os.open(path, os.O_RDONLY | _BINARY | flags), "rb") as file:
        return file.read()


def read_plain(path: Path, most_bytes: int) -> bytes:
    """The content of a plain file that is no link. Raises RecordError, FileNotFoundError."""
    remedy = "Put the file itself there."
    try:
        if path.is_symlink():
            raise RecordError("is a link, not a plain file", where=str(path), remedy=remedy)
        return plain_bytes(path, most_bytes, _NO_LINK)
    except FileNotFoundError:
        raise
    except NotPlainError:
        raise RecordError("is not a plain file", where=str(path), remedy=remedy) from None
    except TooLargeError:
        raise RecordError(f"is larger than {most_bytes // 1_000_000} MB", where=str(path)) from None
    except OSError as error:
        raise RecordError(f"cannot be read: {error.strerror or error}", where=str(path), remedy=remedy) from None


def plain_folder(path: Path) -> bool:
    """Whether `path` is a folder and no link."""
    try:
        return stat.S_ISDIR(os.lstat(path).st_mode)
    except OSError:
        return False
