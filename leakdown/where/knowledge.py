"""What the trade expects, read from the editable files in `knowledge/`: all of it common practice."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path

from leakdown.circuits import CIRCUITS
from leakdown.knowledge import check_keys, knowledge_table, misstated, own_folder, read_rows

LIPS = ("in", "out", "twin", "unknown")
INTAKES = ("piston-port", "reed", "rotary", "stratified", "unknown")
NO_LEAK = "no-leak-found"
OTHERS = "others"
_ROOM = "leakdown.where"
_SIDES = ("more", "same", "less")

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
    lips: Mapping[str, Mixture] = field(default_factory=dict)
    intake: Mapping[str, Mixture] = field(default_factory=dict)
    hole: float = 0.5
    odd: Mapping[str, float] = field(default_factory=dict)
    sections: tuple[str, ...] = ()
    pattern: str = "leak"
    healthy: bool = False

    def expected(self, lips: str, intake: str) -> Mixture:
        """The ratio's distribution for this engine."""
        return self.lips.get(lips) or self.intake.get(intake) or self.ratio


@dataclass(frozen=True)
class Observation:
    """Something that can be seen at the bench, and the factors on the odds of places."""

    id: str
    ask: str
    cluster: str
    seen: Mapping[str, float] = field(default_factory=dict)
    not_seen: Mapping[str, float] = field(default_factory=dict)

    def factor(self, seen: bool, place: KnownPlace) -> float:
        """What it alone does to the odds of a place."""
        table = self.seen if seen else self.not_seen
        return next((table[key] for key in (place.place, place.group, OTHERS) if key in table), 1.0)


@dataclass(frozen=True)
class KnownTest:
    """A test that could come next; outcome -> place, group or "others" -> chance."""

    id: str
    do: str
    why: str
    minutes: float
    outcome: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
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
    """The knowledge in force. Raises InputError for a shop's file that does not say what it must."""
    return _load(own_folder())


@lru_cache(maxsize=4)
def _load(_folder: Path) -> Knowledge:
    table = knowledge_table(_ROOM, "places.toml", closed=("", "numbers"))
    places = read_rows(KnownPlace, "places.toml", table["place"], "place.")
    known = Knowledge(
        places=tuple(places.values()),
        groups=table["group"],
        why=table["why"],
        observations=read_rows(Observation, "observations.toml", knowledge_table(_ROOM, "observations.toml")),
        tests=tuple(read_rows(KnownTest, "tests.toml", knowledge_table(_ROOM, "tests.toml")).values()),
        numbers=table["numbers"],
    )
    _check_places(known)
    _check_names(known)
    return known


def _check_places(known: Knowledge) -> None:
    for p in known.places:
        at = f"place.{p.place}"
        check_keys("places.toml", f"{at}.group", [p.group], known.groups)
        check_keys("places.toml", f"{at}.weight", p.weight, CIRCUITS)
        check_keys("places.toml", f"{at}.lips", p.lips, LIPS)
        check_keys("places.toml", f"{at}.intake", p.intake, INTAKES)
        for mixture in (p.ratio, *p.lips.values(), *p.intake.values()):
            total = sum(row[0] for row in mixture)
            if abs(total - 1.0) > 1e-6 or not all(0.0 < low < mid < high for _, low, mid, high in mixture):
                problem = "has a ratio whose shares do not sum to 1, or not 0 < low < typical < high"
                raise misstated("places.toml", at, problem)
    for group, sides in known.why.items():
        check_keys("places.toml", "why", [group], known.groups)
        check_keys("places.toml", f"why.{group}", sides, _SIDES)


def _check_names(known: Knowledge) -> None:
    """A typing error in the name of a place would go unseen, and the odds with it."""
    names = [*(p.place for p in known.places), *known.groups, OTHERS]
    for o in known.observations.values():
        check_keys("observations.toml", f"{o.id}.seen", o.seen, names)
        check_keys("observations.toml", f"{o.id}.not_seen", o.not_seen, names)
    for t in known.tests:
        check_keys("tests.toml", f"{t.id}.done_by", t.done_by, known.observations)
        check_keys("tests.toml", f"{t.id}.circuits", t.circuits, CIRCUITS)
        for outcome, table in t.outcome.items():
            check_keys("tests.toml", f"{t.id}.outcome.{outcome}", table, names)


def capped(factors: Iterable[float], cap: float) -> float:
    """The product of the factors of clusters, each within the cap; what cannot be stays so."""
    return math.prod(0.0 if f == 0.0 else min(max(f, 1.0 / cap), cap) for f in factors)
