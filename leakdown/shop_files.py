"""The shop's own files: where they lie, read whole with the line in every complaint."""

from __future__ import annotations

import os
import re
import stat
from collections.abc import Callable, Iterator
from functools import lru_cache
from pathlib import Path
from typing import Any, Literal

from leakdown.disk import NotPlainError, TooLargeError, plain_bytes
from leakdown.errors import InputError, OutputError

PATH_VARIABLE = "LEAKDOWN_SETTINGS"
NAME = "settings.toml"
_MOST_BYTES = 200_000
_DEEPEST = 20
WRITABLE = f"Mend the folder or its rights, or let {PATH_VARIABLE} name a file that can be written."
_WITHOUT = f"Mend it, or set {PATH_VARIABLE}={os.devnull} to go without."
Keys = tuple[str, ...]


def settings_path() -> Path:
    """The file that LEAKDOWN_SETTINGS names, else settings.toml in the user's configuration folder."""
    named = os.environ.get(PATH_VARIABLE)
    if named:
        return Path(named)
    return user_folder("config") / NAME


def user_folder(kind: Literal["config", "data"]) -> Path:
    """The user's own folder of leakdown for settings or for what it keeps."""
    base = os.environ.get(f"XDG_{kind.upper()}_HOME", "")
    if os.path.isabs(base):  # on every system: who sets it means it; a relative one is to be ignored
        return Path(base) / "leakdown"
    home = (os.path.expanduser("~"), os.environ.get("APPDATA"), os.environ.get("LOCALAPPDATA"))
    return _of_system(kind, home)


@lru_cache(maxsize=8)
def _of_system(kind: Literal["config", "data"], home: tuple[str | None, ...]) -> Path:
    """What the system says; the same while `home` is the same."""
    import platformdirs

    of_system = platformdirs.user_config_path if kind == "config" else platformdirs.user_data_path
    return Path(of_system("leakdown", appauthor=False))


def knowledge_folder() -> Path:
    """Where a shop's own additions to the knowledge files lie: beside the settings."""
    return settings_path().parent / "knowledge"


def source(path: Path) -> str:
    """The file's text; "" when there is none. Raises InputError."""
    try:
        data = _bytes(path)
    except (FileNotFoundError, NotADirectoryError):
        return ""
    except (OSError, ValueError) as error:
        what = getattr(error, "strerror", None) or error
        raise InputError(f"cannot be read: {what}", where=str(path), remedy=_WITHOUT) from error
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise InputError("is not UTF-8 text", where=f"{path}:{line}", remedy=f"Save it as UTF-8. {_WITHOUT}") from error


def _bytes(path: Path) -> bytes:
    if os.path.normcase(path) == os.devnull:
        return b""
    try:
        return plain_bytes(path, _MOST_BYTES)
    except IsADirectoryError:
        raise ValueError("it is a folder, not a file") from None
    except NotPlainError:
        raise ValueError("it is no plain file") from None
    except TooLargeError:
        raise ValueError(f"it is larger than {_MOST_BYTES // 1000} kB") from None


def parsed(text: str, path: Path, number: Callable[[str], Any] = str) -> dict[str, Any]:
    """The tables of a TOML text; `number` reads its fractions. Raises InputError with the line."""
    if not text.strip(" \t\n"):
        return {}
    import tomllib  # 3 ms, and most benches have no file

    try:
        tables = tomllib.loads(text, parse_float=number)  # no setting is one; NaN would differ from itself
    except tomllib.TOMLDecodeError as error:
        where = f"{path}:{_line(str(error), text)}"
        raise InputError(f"is no TOML: {error}", where=where, remedy=_WITHOUT) from error
    except (RecursionError, ValueError) as error:  # ValueError: an integer of thousands of digits
        raise InputError("is nothing that a setting can be", where=str(path), remedy=_WITHOUT) from error
    if _too_deep(tables):
        raise InputError("tables or lists lie too deep in one another", where=str(path), remedy=_WITHOUT)
    return tables


def _too_deep(tables: dict[str, Any]) -> bool:
    """Whether going through it level by level could run out of stack."""
    waiting: list[tuple[int, Any]] = [(0, tables)]
    while waiting:
        depth, value = waiting.pop()
        if depth > _DEEPEST:
            return True
        inner = value.values() if isinstance(value, dict) else value if isinstance(value, list) else ()
        waiting += [(depth + 1, each) for each in inner]
    return False


def _line(message: str, text: str) -> int:
    found = re.search(r"at line (\d+)", message)
    return int(found.group(1)) if found else max(1, len(text.splitlines()))


def leaves(tables: dict[str, Any]) -> Iterator[tuple[Keys, Any]]:
    """Every value that is no table, with the keys that lead to it, in the file's order."""
    waiting: list[tuple[Keys, Any]] = [((), tables)]
    while waiting:
        keys, value = waiting.pop()
        if isinstance(value, dict):
            waiting += [((*keys, key), inner) for key, inner in reversed(value.items())]
        else:
            yield keys, value


def spelled(keys: Keys) -> str:
    """Keys as TOML dots them, strange ones quoted and printable."""
    return ".".join(key if re.fullmatch(r"[A-Za-z0-9_-]{1,60}", key) else _quoted(key) for key in keys)


def _quoted(key: str) -> str:
    return repr(key if len(key) <= 60 else f"{key[:57]}...")


def refuse_strange(path: Path) -> None:
    """Only a plain file, or nothing yet, may be replaced: a link would be lost. Raises OutputError."""
    try:
        mode = os.lstat(path).st_mode
    except (OSError, ValueError):
        return  # writing will say why
    if stat.S_ISLNK(mode):
        to = os.path.realpath(path)
        remedy = f"Set {PATH_VARIABLE}={to}, or put the file itself there."
        raise OutputError("is a link, which would be lost", where=str(path), remedy=remedy)
    if not stat.S_ISREG(mode):
        what = "a folder" if stat.S_ISDIR(mode) else "no plain file"
        remedy = f"Let {PATH_VARIABLE} name a plain file, or move it away."
        raise OutputError(f"is {what}: settings cannot be kept there", where=str(path), remedy=remedy)
