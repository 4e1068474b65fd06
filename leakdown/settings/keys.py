"""Every setting there is, a row each in `keys.toml`; one that is read in SI has an accessor in `shop.py`."""

from __future__ import annotations

import itertools
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from importlib import resources
from typing import Any

from leakdown.circuits import CIRCUITS, DIRECTIONS, circuit_named
from leakdown.errors import UsageError
from leakdown.settings import kinds

Checks = Mapping[str, Callable[[str], object]]
"""First word of a setting ("limit") -> a further check of its text, for those who can import it."""


@dataclass(frozen=True)
class Key:
    """One setting. `name` is dotted as in the file; `used` says when it counts; `instead_of` names the
    setting that cannot stand beside it; `canonical`: keep the usual spelling, not the text as written.
    """

    name: str
    means: str
    used: str
    example: str
    read: kinds.Read
    instead_of: str | None = None
    canonical: bool = False

    @property
    def first(self) -> str:
        """The first word of its name: "limit" of "limit.CIRCUIT.DIRECTION"."""
        return self.name.split(".")[0]

    @property
    def is_pattern(self) -> bool:
        """Whether CIRCUIT or DIRECTION stand in its name."""
        return self.name != self.name.lower()

    def names(self) -> tuple[str, ...]:
        """Every setting that this row stands for."""
        choices = [_CHOICES.get(part, (part,)) for part in self.name.split(".")]
        return tuple(".".join(parts) for parts in itertools.product(*choices))

    def value(self, text: str, name: str, checks: Checks | None = None) -> kinds.Value:
        """The value that `text` says. Raises UsageError with the accepted form."""
        try:
            found = self.read(kinds.checked_text(text, name), name)
            if checks and self.first in checks:
                checks[self.first](str(found))
        except UsageError as error:
            form = f'Example: leakdown settings set {name} "{self.example}"'
            raise UsageError(error.what, remedy=f"{error.remedy} {form}".strip()) from error
        return found

    def kept(self, text: str, name: str, checks: Checks | None = None) -> str:
        """The text to keep for `text`. Raises UsageError as `value` does."""
        found = self.value(text, name, checks)
        return str(found) if self.canonical else text.strip()


def _direction_named(text: str) -> str:
    plain = text.strip().lower()
    if plain not in DIRECTIONS:
        raise UsageError(f"{text!r} is neither pressure nor vacuum", remedy="Say pressure or vacuum.")
    return plain


_CHOICES = {"CIRCUIT": CIRCUITS, "DIRECTION": DIRECTIONS}
_NAMED = {"CIRCUIT": circuit_named, "DIRECTION": _direction_named}


def _row(name: str, row: dict[str, Any]) -> Key:
    return Key(name, read=getattr(kinds, row.pop("kind")), **row)


KEYS = tuple(
    _row(name, row)
    for name, row in tomllib.loads(
        resources.files("leakdown.settings").joinpath("keys.toml").read_text("utf-8")
    ).items()
)
_BY_NAME = {name: key for key in KEYS for name in key.names()}
NAMES = tuple(_BY_NAME)
"""Every setting's dotted name, in the order of the rows."""


def key_of(name: str) -> Key | None:
    """The row of a setting whose name is spelled as in the file, or None."""
    return _BY_NAME.get(name)


def key_named(text: str) -> tuple[Key, str]:
    """The row that `text` names and the setting's name, synonyms of circuits included. Raises UsageError."""
    parts = text.strip().split(".")
    for key in KEYS:
        pattern = key.name.split(".")
        if len(parts) == len(pattern) and _plain(parts[0]) == pattern[0]:
            rest = (_NAMED[word](part) for word, part in zip(pattern[1:], parts[1:], strict=True))
            return key, ".".join((pattern[0], *rest))
    raise UsageError(f"no setting {kinds.shortened(text)}", remedy=_nearest(text))


def _plain(word: str) -> str:
    return word.strip().lower().replace("-", "_")


def near(text: str) -> list[str]:
    """Known names that look like `text`, the closest first."""
    import difflib

    return difflib.get_close_matches(text.strip().lower()[: kinds.LONGEST], NAMES, n=3, cutoff=0.55)


def _nearest(text: str) -> str:
    close = near(text)
    known = ", ".join(key.name for key in KEYS)
    return f"Did you mean {' or '.join(close)}?" if close else f"Known settings: {known}."
