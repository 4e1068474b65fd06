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
CAUSES = ("cooling", "warming", "vapour")
"""What makes a sound engine lose pressure, or gain it: causes of "no leak found"."""
_MOST_SURE = 0.97  # no sight is surer (practice)
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
    repair: str = ""
    repair_min: float = 30.0
    whole_group: bool = False

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
    under: str = ""
    absence: bool = False
    usual: float = 0.0

    @property
    def chance_elsewhere(self) -> float:
        """How often it is seen where it speaks of no place: what makes the factors of yes and no agree.

        factor(yes) c + factor(no) (1 - c) = 1 for the place that it tells most of; `usual` where only one is stated.
        """
        if self.usual > 0.0:
            return self.usual
        both = [(self.seen[k], self.not_seen[k]) for k in self.seen if k in self.not_seen and k != OTHERS]
        yes, no = max(both, key=lambda f: abs(math.log(max(f[0], 1e-9))), default=(1.0, 1.0))
        return min(max((1.0 - no) / (yes - no), 0.0), 1.0) if yes != no else 0.5

    def chance(self, place: KnownPlace) -> float:
        """How often it is seen when the largest leak is at this place."""
        return min(self.factor(True, place) * self.chance_elsewhere, _MOST_SURE)

    def factor(self, seen: bool, place: KnownPlace) -> float:
        """What it alone does to the odds of a place."""
        table = self.seen if seen else self.not_seen
        return next((table[key] for key in (place.place, place.group, OTHERS) if key in table), 1.0)


@dataclass(frozen=True)
class KnownTest:
    """A test that could come next; fields as in tests.toml."""

    id: str
    do: str
    why: str
    minutes: float
    answers: tuple[str, ...] = ()
    direction: str = ""
    file: str = ""
    when: str = ""
    wets: bool = False
    part: str = ""
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
    set_up: frozenset[str] = frozenset()

    def place(self, name: str) -> KnownPlace:
        """The place of this name."""
        return next(p for p in self.places if p.place == name)

    def test(self, identity: str) -> KnownTest:
        """The test of this id."""
        return next(t for t in self.tests if t.id == identity)

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
        set_up=frozenset(table["set_up"]["blanked"]),
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
    names = [*(p.place for p in known.places), *known.groups, *CAUSES, OTHERS]
    for o in known.observations.values():
        check_keys("observations.toml", f"{o.id}.seen", o.seen, names)
        check_keys("observations.toml", f"{o.id}.not_seen", o.not_seen, names)
    for t in known.tests:
        check_keys("tests.toml", f"{t.id}.answers", t.answers, known.observations)
        check_keys("tests.toml", f"{t.id}.circuits", t.circuits, CIRCUITS)


def capped(factors: Iterable[float], cap: float) -> float:
    """The product of the factors of clusters, each within the cap; what cannot be stays so."""
    return math.prod(0.0 if f == 0.0 else min(max(f, 1.0 / cap), cap) for f in factors)
