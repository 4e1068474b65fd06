"""Set and unset: one value changes, every comment, the order and whatever else the file holds stay."""

from __future__ import annotations

import copy
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from leakdown.disk import write_whole
from leakdown.errors import InputError, OutputError, UsageError
from leakdown.settings.keys import Checks, Key, key_named, key_of
from leakdown.shop_files import WRITABLE, Keys, leaves, parsed, refuse_strange, settings_path, source, spelled

_HEAD = "# What this shop has set for leakdown; `leakdown settings show` says what each line means.\n"
_Edit = tuple[Keys, str | None]


@dataclass(frozen=True)
class Change:
    """What became of one setting: its `text` now and before, and what had to go with it.

    `key` is None for a line of the file that was unset though this version does not know it.
    """

    path: Path
    name: str
    key: Key | None
    text: str | None
    before: str | None
    also_unset: tuple[tuple[str, str], ...] = ()


def set_value(name: str, text: str, path: Path | None = None, checks: Checks | None = None) -> Change:
    """Keep `text` for a setting. Raises UsageError, InputError for a damaged file, OutputError.

    `checks` go further than this module can: {"limit": parse_limit} refuses a limit that cannot be read.
    """
    key, plain = key_named(name)
    kept = key.kept(text, plain, checks)
    at = settings_path() if path is None else path
    old = _texts(at)
    keys = tuple(plain.split("."))
    gone = [(key.instead_of,)] if key.instead_of and (key.instead_of,) in old else []
    _edit(at, [(keys, kept), *((other, None) for other in gone)])
    also = tuple((spelled(other), old[other]) for other in gone)
    return Change(at, plain, key, kept, old.get(keys), also)


def unset(name: str, path: Path | None = None) -> Change:
    """Take a setting out of the file, if it is there. Raises UsageError, InputError, OutputError.

    A line that this version does not know can be unset too, by the name that the warning gave it.
    """
    at = settings_path() if path is None else path
    old = _texts(at)
    there = {spelled(keys): keys for keys in old}
    key, plain = None, name.strip()
    if plain not in there or key_of(plain):
        key, plain = key_named(name)
    keys = there.get(plain, tuple(plain.split(".")))
    _edit(at, [(keys, None)] if keys in old else [])
    return Change(at, plain, key, None, old.get(keys))


def _texts(path: Path) -> dict[Keys, str]:
    return {keys: str(value) for keys, value in leaves(parsed(source(path), path)) if value != {}}


def _edit(path: Path, edits: Sequence[_Edit]) -> None:
    refuse_strange(path)
    text = source(path)
    old = parsed(text, path)
    wanted = _with(old, edits)
    if wanted == old:
        return
    new = _rewritten(text, edits)
    if new is None or not _says(new, path, wanted):
        raise _by_hand(path, edits)
    write_whole(path, new.encode("utf-8"), WRITABLE)


def _says(text: str, path: Path, wanted: dict[str, Any]) -> bool:
    try:
        return _bare(parsed(text, path)) == _bare(wanted)
    except InputError:
        return False


def _by_hand(path: Path, edits: Sequence[_Edit]) -> OutputError:
    lines = (
        f"take out {spelled(keys)}" if value is None else f"write {spelled(keys)} = {_quoted(value)}"
        for keys, value in edits
    )
    return OutputError(
        "this file is written in a way that cannot be changed safely, and stays as it is",
        where=str(path),
        remedy=f"Change it by hand: {'; '.join(lines)}.",
    )


def _quoted(text: str) -> str:
    plain = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{plain}"'


def _with(tables: dict[str, Any], edits: Sequence[_Edit]) -> dict[str, Any]:
    """What the file shall say after the edits."""
    wanted = copy.deepcopy(tables)
    for keys, value in edits:
        inner: Any = wanted
        for depth, key in enumerate(keys[:-1], 1):
            inner = inner.setdefault(key, {})
            if not isinstance(inner, dict):
                raise UsageError(
                    f"{spelled(keys)} has no room: the file has {spelled(keys[:depth])} as a single value",
                    remedy=f"First: leakdown settings unset {spelled(keys[:depth])}",
                )
        if value is None:
            inner.pop(keys[-1], None)
        elif isinstance(inner.get(keys[-1]), dict):
            raise UsageError(
                f"{spelled(keys)} has no room: the file has a table of that name",
                remedy=f"Take the table [{spelled(keys)}] out by hand.",
            )
        else:
            inner[keys[-1]] = value
    return wanted


def _bare(tables: dict[str, Any]) -> dict[str, Any]:
    """Without tables that hold nothing."""
    inner = {key: _bare(value) if isinstance(value, dict) else value for key, value in tables.items()}
    return {key: value for key, value in inner.items() if value != {}}


def _rewritten(text: str, edits: Sequence[_Edit]) -> str | None:
    """The text with the edits made, or None when the TOML editor cannot follow the file."""
    import tomlkit

    crlf = "\r\n" in text
    try:
        plain = text.replace("\r\n", "\n") or _HEAD
        document = tomlkit.parse(plain if plain.endswith("\n") else f"{plain}\n")
        for keys, value in edits:
            _put(document, keys, value)
        new = tomlkit.dumps(document)
    except (tomlkit.exceptions.TOMLKitError, ValueError, LookupError, TypeError, RecursionError):
        return None
    return new.replace("\n", "\r\n") if crlf else new


def _put(document: Any, keys: Keys, value: str | None) -> None:
    import tomlkit
    from tomlkit.items import InlineTable

    trail = [document]
    for key in keys[:-1]:
        inner = trail[-1]
        if key not in inner:
            if value is None:
                return
            inner[key] = tomlkit.inline_table() if isinstance(inner, InlineTable) else tomlkit.table()
        trail.append(inner[key])
    if value is not None:
        trail[-1][keys[-1]] = value
    elif keys[-1] in trail[-1]:
        del trail[-1][keys[-1]]
        _sweep(trail, keys)


def _sweep(trail: list[Any], keys: Keys) -> None:
    """Take out the tables that an unset left empty; a comment in one keeps it."""
    for depth in range(len(trail) - 1, 0, -1):
        if len(trail[depth]) or trail[depth].as_string().strip():
            return
        del trail[depth - 1][keys[depth - 1]]
