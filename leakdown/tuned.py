"""Tuned numbers: thresholds, priors and weights that nobody could read off a formula.

Each room keeps its own in `tuned.toml` beside its code: a table a number, with its `value`, its `unit`, what
it `means`, what it `rests_on` (a source, common practice, or the simulation that it was tuned on) and the
test that `guards` it. Formulas, physical constants and the limits of a format are no tuned numbers.

The texts of a room's flags stand beside them, in `flags.toml`.
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
def texts(room: str) -> dict[str, str]:
    """The texts of a room's flags by code, with places for figures in braces: its `flags.toml`."""
    file = resources.files(f"leakdown.{room}").joinpath("flags.toml")
    found: dict[str, str] = tomllib.loads(file.read_text("utf-8"))
    return found
