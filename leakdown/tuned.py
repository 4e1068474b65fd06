"""Tuned numbers: thresholds, priors and weights that nobody could read off a formula.

Each room keeps its own in `tuned.toml` beside its code: a table a number, with its `value`, its `unit`, what
it `means`, what it `rests_on` (a source, common practice, or the simulation that it was tuned on) and the
test that `guards` it. Formulas, physical constants and the limits of a format are no tuned numbers.

The texts of a room's flags stand beside them, in `flags.toml`; what else it says, in `texts.toml`.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from functools import lru_cache
from importlib import resources
from typing import Any


class Tuned:
    """The numbers of one room as attributes: `tuned("fit").creep_sd_pa`; AttributeError for unknown ones."""

    def __init__(self, room: str, rows: dict[str, dict[str, Any]]) -> None:
        self._room, self._rows = room, rows

    def __getattr__(self, name: str) -> Any:
        try:
            return self._rows[name]["value"]
        except KeyError:
            raise AttributeError(f"no tuned number {name!r} in {self._room}/tuned.toml") from None

    def __iter__(self) -> Iterator[tuple[str, dict[str, Any]]]:
        """Each name with its whole row."""
        return iter(self._rows.items())


@lru_cache
def tuned(room: str) -> Tuned:
    """The tuned numbers of a room of the package, such as "fit" or "live.lines"."""
    file = resources.files(f"leakdown.{room}").joinpath("tuned.toml")
    return Tuned(room, tomllib.loads(file.read_text("utf-8")))


@lru_cache
def texts(room: str, file: str = "flags") -> dict[str, Any]:
    """The texts of a room by name, with {places} for figures: of its `flags.toml`, or of another such file."""
    return tomllib.loads(resources.files(f"leakdown.{room}").joinpath(f"{file}.toml").read_text("utf-8"))


def text(room: str, name: str, /, **figures: object) -> str:
    """One text of a room's `texts.toml`. KeyError for an unknown name or a place without a figure."""
    return str(texts(room, "texts")["text"][name].format(**figures))


def told(room: str, name: str, /, **figures: object) -> dict[str, str]:
    """What is wrong and the remedy, as an error takes them: `UsageError(**told("live", "no unit"))`; see `text`."""
    return {part: line.format(**figures) for part, line in texts(room, "texts")["error"][name].items()}
