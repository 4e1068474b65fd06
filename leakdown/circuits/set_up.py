"""What to seal, pump to, expect and mind, circuit by circuit, from the editable file beside this one."""

from __future__ import annotations

import os
import tomllib
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from pathlib import Path
from typing import Any, Literal

from leakdown.errors import InputError, UsageError
from leakdown.judge.limits import practice
from leakdown.recording import CIRCUITS

Strokes = Literal["two-stroke", "four-stroke"]


@dataclass(frozen=True)
class Target:
    """One direction: what to fill to, the usual limit ("" when none), and what not to pass; gauge kPa."""

    direction: str
    fill_kpa: float
    limit: str
    caution_kpa: float


@dataclass(frozen=True)
class SetUp:
    """How one circuit is tested. Every line is common practice; the maker's manual comes first."""

    circuit: str
    name: str
    four_stroke: bool
    volume_cm3: tuple[float, float]
    targets: tuple[Target, ...]
    steps: tuple[str, ...]
    healthy: str
    mind: tuple[str, ...]


def set_up(circuit: str, engine: Strokes = "two-stroke") -> SetUp:
    """The set-up of a circuit. Raises UsageError for an engine on which the test makes no sense."""
    rows = _rows(os.environ.get("LEAKDOWN_KNOWLEDGE", ""))
    if circuit not in rows:
        raise UsageError(f"unknown circuit {circuit!r}", remedy=f"Known circuits: {', '.join(CIRCUITS)}.")
    found = _set_up(circuit, rows[circuit])
    if engine == "four-stroke" and not found.four_stroke:
        raise UsageError(
            f"a {found.name} test tells nothing on a four-stroke: its crankcase breathes, by design and past "
            "the rings",
            remedy=f"These stay valid on it: {', '.join(_valid_on_four_strokes(rows))}. An engine lubricated "
            "by its fuel mix has a procedure of its own: ask its maker's manual.",
        )
    return found


def all_set_ups() -> tuple[SetUp, ...]:
    """Every circuit, in the usual order."""
    return tuple(set_up(circuit) for circuit in CIRCUITS)


@lru_cache(maxsize=4)
def _rows(folder: str) -> dict[str, Any]:
    own = Path(folder) / "circuits.toml"
    try:
        if folder and own.is_file():
            return tomllib.loads(own.read_text("utf-8"))
        return tomllib.loads(
            resources.files("leakdown.circuits").joinpath("circuits.toml").read_text("utf-8")
        )
    except (OSError, tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise InputError(
            f"cannot read it: {error}", where=str(own), remedy="Mend the file or unset LEAKDOWN_KNOWLEDGE."
        ) from error


def _valid_on_four_strokes(rows: dict[str, Any]) -> list[str]:
    return [circuit for circuit, row in rows.items() if row["four_stroke"] and circuit != "rig"]


def _set_up(circuit: str, row: dict[str, Any]) -> SetUp:
    try:
        low, high = row["volume_cm3"]
        return SetUp(
            circuit=circuit,
            name=row["name"],
            four_stroke=bool(row["four_stroke"]),
            volume_cm3=(float(low), float(high)),
            targets=tuple(_target(circuit, direction) for direction in row["directions"]),
            steps=tuple(row["set_up"]),
            healthy=row["healthy"],
            mind=tuple(row["mind"]),
        )
    except (KeyError, TypeError, ValueError) as error:
        raise InputError(f"circuits.toml lacks or misstates {error} of {circuit!r}") from error


def _target(circuit: str, direction: str) -> Target:
    table = practice().get(circuit, {})
    row = table.get(direction, {})
    caution = float(table.get("caution_kpa", 55.0))
    if direction == "vacuum":
        caution = float(table.get("caution_vacuum_kpa", caution))
    # the tank under vacuum has no usual limit: air must come in, so the target is what its vent must not hold
    fill = float(row.get("target_kpa", 0.8 * caution))
    return Target(direction, fill, str(row.get("limit", "")), caution)
