"""Tables of common practice that a shop may change: the files that came, with the shop's own lines on top.

A shop's files bear the names of those that came ("places.toml") and lie in the folder that LEAKDOWN_KNOWLEDGE
names, else in `knowledge` beside the settings file. They hold only what differs: tables are merged key by
key, any other value (a list too) is replaced whole. Nothing can be taken out that way; a weight of 0 takes
a place out of the ranking. A line that means nothing is refused: passed over, it would turn the odds unseen.
"""

from __future__ import annotations

import dataclasses
import difflib
import math
import os
from collections.abc import Iterable, Mapping
from functools import lru_cache
from importlib import resources
from pathlib import Path
from types import UnionType
from typing import Any, Literal, TypeVar, get_args, get_origin, get_type_hints

from leakdown.errors import InputError
from leakdown.shop_files import Keys, knowledge_folder, parsed, source, spelled

FOLDER_VARIABLE = "LEAKDOWN_KNOWLEDGE"
_WITHOUT = f"set {FOLDER_VARIABLE}={os.devnull} to go without."
_MOST_LISTED = 12
Row = TypeVar("Row")


def own_folder() -> Path:
    """Where the shop's own files lie, or would lie. Raises InputError where the variable names no folder."""
    named = os.environ.get(FOLDER_VARIABLE)
    if not named:
        return knowledge_folder()
    if named != os.devnull and not os.path.isdir(named):
        raise InputError(f"{FOLDER_VARIABLE} names no folder", where=named, remedy=f"Mend it, or {_WITHOUT}")
    return Path(named)


def knowledge_table(package: str, name: str, closed: tuple[str, ...] = ()) -> dict[str, Any]:
    """The file `name` of a package, or of its folder `knowledge`, the shop's lines on top: to be read only.

    closed: tables in which no key may be new, by their dotted names, "" for the file itself.
    Raises InputError, with file and line or key, for an own file that cannot be read or merged.
    """
    return _merged(package, name, closed, own_folder())


@lru_cache(maxsize=32)
def _merged(package: str, name: str, closed: tuple[str, ...], folder: Path) -> dict[str, Any]:
    import tomllib  # 3 ms, and `--help` needs none

    home = resources.files(package)
    inner = home.joinpath("knowledge", name)
    file = inner if inner.is_file() else home.joinpath(name)
    shipped = tomllib.loads(file.read_text("utf-8"))
    try:
        own = parsed(source(folder / name), folder / name, number=float)
    except InputError as error:
        raise InputError(error.what, where=error.where, remedy=f"Mend it, or {_WITHOUT}") from error
    return _on_top(shipped, own, name, closed)


def _on_top(
    below: dict[str, Any], own: dict[str, Any], name: str, closed: tuple[str, ...], keys: Keys = ()
) -> dict[str, Any]:
    merged = dict(below)
    for key, value in own.items():
        at, old = (*keys, key), below.get(key)
        if old is None and spelled(keys) in closed:
            raise misstated(name, spelled(at), "is not known", below)
        if old is not None and _kind(value) != _kind(old):
            raise misstated(name, spelled(at), f"must be {_kind(old)}, not {_kind(value)}")
        merged[key] = _on_top(old, value, name, closed, at) if isinstance(old, dict) else value
    return merged


def _kind(value: Any) -> str:
    if isinstance(value, float) and not math.isfinite(value):
        return "infinite or no number"
    kinds = {bool: "true or false", int: "a number", float: "a number", str: "text", list: "a list"}
    return kinds.get(type(value), "a table" if isinstance(value, dict) else "a date or time")


def misstated(name: str, key: str, problem: str, known: Iterable[str] = ()) -> InputError:
    """The error for a key or value of the file `name` that cannot be meant; `known`: what could have been."""
    own = own_folder() / name
    names = list(known)
    wrong = key.rsplit(".", 1)[-1]
    close = difflib.get_close_matches(wrong, names, n=3, cutoff=0.55)
    hint = f"Did you mean {' or '.join(close)}? " if close else ""
    if names and (not close or len(names) <= _MOST_LISTED):
        hint += f"Known: {', '.join(names[:_MOST_LISTED])}{', ...' if len(names) > _MOST_LISTED else ''}. "
    where = str(own) if own.is_file() else f"{name} as it came with leakdown"
    return InputError(f"{key} {problem}", where=where, remedy=f"{hint}Mend or remove the line, or {_WITHOUT}")


def check_keys(name: str, at: str, keys: Iterable[str], known: Iterable[str]) -> None:
    """Raises InputError for the first of `keys` (they stand at `at` in the file `name`) that is not known."""
    wrong = next((key for key in keys if key not in known), None)
    if wrong is not None:
        raise misstated(name, f"{at}.{wrong}", "is not known", known)


def read_rows(kind: type[Row], name: str, table: Mapping[str, Any], under: str = "") -> dict[str, Row]:
    """Each row of a table of the file `name` as a dataclass, whose first field takes the row's own name.

    under: the keys above, as "place." Raises InputError for a key that is no field, for a field without a
    default that is missing, for a value of another kind than the field's, and for numbers below 0.
    """
    hints = get_type_hints(kind)
    return {key: _row(kind, hints, name, f"{under}{key}", key, row) for key, row in table.items()}


def _row(kind: type[Row], hints: dict[str, Any], name: str, at: str, key: str, row: Any) -> Row:
    first, *others = dataclasses.fields(kind)  # type: ignore[arg-type]
    if not isinstance(row, dict):
        raise misstated(name, at, f"must be a table, not {_kind(row)}")
    fields = [field.name for field in others]
    check_keys(name, at, row, fields)
    needed = [f.name for f in others if f.default is dataclasses.MISSING is f.default_factory]
    missing = [word for word in needed if word not in row]
    if missing:
        raise misstated(name, at, f"is a new name, and lacks {', '.join(missing)}")
    values = {word: _value(hints[word], value, name, f"{at}.{word}") for word, value in row.items()}
    return kind(**{first.name: key}, **values)


def _value(kind: Any, value: Any, name: str, at: str) -> Any:
    """A TOML value as the kind that a field has. Raises InputError."""
    origin, inner = get_origin(kind), get_args(kind)
    if origin is UnionType:
        return _value(inner[0], value, name, at)
    if origin is Literal:
        if value not in inner:
            raise misstated(name, at, f"cannot be {value!r}", inner)
        return value
    wanted = {Mapping: "a table", tuple: "a list"}.get(origin, "") if origin else _kind(kind())
    if _kind(value) != wanted:
        raise misstated(name, at, f"must be {wanted}, not {_kind(value)}")
    if isinstance(value, int | float) and value < 0.0:
        raise misstated(name, at, "must not be below 0")
    if isinstance(value, dict):
        return {key: _value(inner[1], each, name, f"{at}.{key}") for key, each in value.items()}
    if isinstance(value, list):
        kinds = inner[:1] * len(value) if inner[1:] == (...,) else inner
        if len(kinds) != len(value):
            raise misstated(name, at, f"must be a list of {len(kinds)}")
        return tuple(_value(k, each, name, at) for k, each in zip(kinds, value, strict=True))
    return kind(value)
