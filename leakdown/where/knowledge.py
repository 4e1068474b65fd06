"""What the trade expects, read from the editable files in `knowledge/`: all of it common practice."""

from __future__ import annotations

import os
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from importlib import resources
from pathlib import Path
from typing import Any

from leakdown.errors import InputError


def knowledge_table(package: str, name: str, folder: str) -> dict[str, Any]:
    """The TOML file `name` of `folder`, or of `package`'s knowledge folder. Raises InputError."""
    own = Path(folder) / name
    try:
        if folder and own.is_file():
            return tomllib.loads(own.read_text("utf-8"))
        packaged = resources.files(package).joinpath("knowledge", name)
        return tomllib.loads(packaged.read_text("utf-8"))
    except (OSError, tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise InputError(
            f"cannot read it: {error}", where=str(own), remedy="Mend the file or unset LEAKDOWN_KNOWLEDGE."
        ) from error


def misstated(folder: str, error: Exception) -> InputError:
    """The error to raise when the tables lack a name or hold a wrong value."""
    return InputError(
        f"the knowledge files lack or misstate {error}",
        where=folder,
        remedy="Compare with the files that came with leakdown, or unset LEAKDOWN_KNOWLEDGE.",
    )


LIPS = ("in", "out", "twin", "unknown")
INTAKES = ("piston-port", "reed", "rotary", "stratified", "unknown")
NO_LEAK = "no-leak-found"

Mixture = tuple[tuple[float, float, float, float], ...]
"""(share, 5 %, 50 %, 95 %) rows of an expected ratio, vacuum over pressure."""


@dataclass(frozen=True)
class KnownPlace:
    """A place and what it would show; fields as in places.toml."""

    place: str
    name: str
    group: str
    weight: Mapping[str, float]
    ratio: Mixture = ((1.0, 0.5, 1.0, 2.0),)
    by_lips: Mapping[str, Mixture] = field(default_factory=dict)
    by_intake: Mapping[str, Mixture] = field(default_factory=dict)
    hole: float = 0.5
    odd: Mapping[str, float] = field(default_factory=dict)
    sections: tuple[str, ...] = ()
    pattern: str = "leak"
    healthy: bool = False

    def expected(self, lips: str, intake: str) -> Mixture:
        """The ratio's distribution for this engine."""
        return self.by_lips.get(lips) or self.by_intake.get(intake) or self.ratio


@dataclass(frozen=True)
class Observation:
    """Something that can be seen at the bench, and the factors on the odds of places."""

    id: str
    ask: str
    cluster: str
    seen: Mapping[str, float]
    not_seen: Mapping[str, float]


@dataclass(frozen=True)
class KnownTest:
    """A test that could come next; outcome -> place, group or "others" -> chance."""

    id: str
    do: str
    why: str
    minutes: float
    outcome: Mapping[str, Mapping[str, float]]
    needs: str = ""
    after: str = ""
    done_by: tuple[str, ...] = ()
    sections: tuple[str, ...] = ()
    circuits: tuple[str, ...] = ()


@dataclass(frozen=True)
class Knowledge:
    """All three files."""

    places: tuple[KnownPlace, ...]
    groups: Mapping[str, str]
    why: Mapping[str, Mapping[str, str]]
    observations: Mapping[str, Observation]
    tests: tuple[KnownTest, ...]
    numbers: Mapping[str, float]

    def of_circuit(self, circuit: str) -> tuple[KnownPlace, ...]:
        """The places that a test of this circuit can find."""
        return tuple(p for p in self.places if p.weight.get(circuit, 0.0) > 0.0)


def knowledge() -> Knowledge:
    """The knowledge in force. Raises InputError for a file that does not say what it must."""
    return _load(os.environ.get("LEAKDOWN_KNOWLEDGE", ""))


@lru_cache(maxsize=4)
def _load(folder: str) -> Knowledge:
    places = knowledge_table("leakdown.where", "places.toml", folder)
    observed = knowledge_table("leakdown.where", "observations.toml", folder)
    tests = knowledge_table("leakdown.where", "tests.toml", folder)
    try:
        return Knowledge(
            tuple(_place(key, row) for key, row in places["place"].items()),
            places["group"],
            places["why"],
            {key: _observation(key, row) for key, row in observed.items()},
            tuple(_test(key, row) for key, row in tests.items()),
            places["numbers"],
        )
    except (KeyError, TypeError, ValueError) as error:
        raise misstated(folder, error) from error


def _place(key: str, row: dict[str, Any]) -> KnownPlace:
    return KnownPlace(
        place=key,
        name=row["name"],
        group=row["group"],
        weight={circuit: float(value) for circuit, value in row["weight"].items()},
        ratio=_mixture(row.get("ratio", [[1.0, 0.5, 1.0, 2.0]]), key),
        by_lips={k: _mixture(v, key) for k, v in row.get("lips", {}).items()},
        by_intake={k: _mixture(v, key) for k, v in row.get("intake", {}).items()},
        hole=float(row.get("hole", 0.5)),
        odd=row.get("odd", {}),
        sections=tuple(row.get("sections", ())),
        pattern=row.get("pattern", "leak"),
        healthy=bool(row.get("healthy", False)),
    )


def _mixture(rows: list[list[float]], key: str) -> Mixture:
    mixture = tuple((float(s), float(a), float(b), float(c)) for s, a, b, c in rows)
    total = sum(row[0] for row in mixture)
    if abs(total - 1.0) > 1e-6 or not all(0.0 < a < b < c for _, a, b, c in mixture):
        raise ValueError(f"the ratio of {key!r}: shares must sum to 1, and 0 < low < typical < high")
    return mixture


def _observation(key: str, row: dict[str, Any]) -> Observation:
    return Observation(key, row["ask"], row["cluster"], row.get("seen", {}), row.get("not_seen", {}))


def _test(key: str, row: dict[str, Any]) -> KnownTest:
    return KnownTest(
        id=key,
        do=row["do"],
        why=row["why"],
        minutes=float(row["minutes"]),
        outcome=row.get("outcome", {}),
        needs=row.get("needs", ""),
        after=row.get("after", ""),
        done_by=tuple(row.get("done_by", ())),
        sections=tuple(row.get("sections", ())),
        circuits=tuple(row.get("circuits", ())),
    )
