"""Reading a record's JSON with suspicion: every value has its type checked, every refusal says where."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Sequence
from typing import Any

from leakdown.errors import RecordError

DAMAGED = "Nothing was changed. Restore this file from a copy; the recordings beside it are untouched."


def parsed(data: bytes, where: str) -> dict[str, Any]:
    """The JSON object in `data`. Raises RecordError."""
    try:
        value = _DECODER.decode(data.decode("utf-8"))
    except (ValueError, RecursionError) as error:
        what = f"line {error.lineno}: {error.msg}" if isinstance(error, json.JSONDecodeError) else str(error)
        raise RecordError(f"the record is damaged ({what or 'empty'})", where=where, remedy=DAMAGED) from None
    if not isinstance(value, dict):
        raise RecordError("the record is damaged (not a JSON object)", where=where, remedy=DAMAGED)
    return value


def _no_constant(name: str) -> float:
    raise ValueError(f"{name} is no number")


_DECODER = json.JSONDecoder(parse_constant=_no_constant)


class Fields:
    """One JSON object and where it stands; the getters raise RecordError for a value of another type."""

    __slots__ = ("_parts", "values", "where")

    def __init__(self, value: Any, where: str, parts: tuple[str | int, ...] = ()) -> None:
        self.where, self._parts = where, parts
        if not isinstance(value, dict):
            raise self.damaged("is not an object")
        self.values: dict[str, Any] = value

    @property
    def path(self) -> str:
        """Where in the record this object stands; put together only when there is something to say."""
        return "".join(f" {p}" if isinstance(p, int) else f".{p}" for p in self._parts).lstrip(".")

    def damaged(self, what: str, key: str = "") -> RecordError:
        """The error to raise about `key`."""
        path = ".".join(part for part in (self.path, key) if part) or "the record"
        return RecordError(f"the record is damaged ({path} {what})", where=self.where, remedy=DAMAGED)

    def text(self, key: str, default: str | None = "") -> str:
        """A text; `default` None makes it required."""
        value = self.values.get(key, default)
        if isinstance(value, str):
            return value
        raise self.damaged("is not a text" if key in self.values else "is missing", key)

    def choice(self, key: str, known: Sequence[str]) -> Any:
        """One of the known words."""
        value = self.text(key, None)
        if value not in known:
            raise self.damaged(f"is {value[:40]!r}, none of {', '.join(known)}", key)
        return value

    def maybe_text(self, key: str) -> str | None:
        """A text, or None where it is missing or null."""
        return None if self.values.get(key) is None else self.text(key)

    def number(self, key: str) -> float | None:
        """A finite number, or None where it is missing or null."""
        value = self.values.get(key)
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
            raise self.damaged("is not a number", key)
        return float(value)

    def count(self, key: str) -> int:
        """A whole number >= 0; required."""
        value = self.values.get(key)
        if isinstance(value, bool) or not isinstance(value, int) or value < 0:
            raise self.damaged("is not a whole number", key)
        return value

    def maybe_count(self, key: str) -> int | None:
        """The same, or None."""
        return None if self.values.get(key) is None else self.count(key)

    def flag(self, key: str) -> bool:
        """true or false; false where it is missing."""
        value = self.values.get(key, False)
        if not isinstance(value, bool):
            raise self.damaged("is neither true nor false", key)
        return value

    def maybe_flag(self, key: str) -> bool | None:
        """The same, or None."""
        return None if self.values.get(key) is None else self.flag(key)

    def texts(self, key: str) -> tuple[str, ...]:
        """A list of texts; empty where it is missing."""
        value = self.values.get(key, [])
        if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
            raise self.damaged("is not a list of texts", key)
        return tuple(value)

    def inner(self, key: str) -> Fields:
        """An object within; required."""
        return Fields(self.values.get(key), self.where, (*self._parts, key))

    def maybe_inner(self, key: str) -> Fields | None:
        """An object within, or None."""
        return None if self.values.get(key) is None else self.inner(key)

    def each(self, key: str) -> Iterator[Fields]:
        """The objects of a list; required."""
        value = self.values.get(key)
        if not isinstance(value, list):
            raise self.damaged("is not a list", key)
        for i, item in enumerate(value, start=1):
            yield Fields(item, self.where, (*self._parts, key, i))
