"""What was found out about one engine besides the tests' own figures, and the factors it puts on the odds of a place.

An observation speaks of a place only where it could have shown: in a direction that leaks, on a part that is fitted,
on the side that the gauge is on.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from leakdown.circuits import Direction
from leakdown.tuned import tuned
from leakdown.where.belonging import Belonging
from leakdown.where.knowledge import Knowledge, KnownPlace, Observation, capped
from leakdown.where.located import Complaint, MarkOutcome, Ratio, SectionShare, TestVerdict
from leakdown.where.measured import Measured

_T = tuned("where")
BEHIND_REEDS = "intake-boot"
SHAPES = ("levels-off", "leak-grows", "step")
"""Flags of odd shapes of the decay that point at places."""


@dataclass(frozen=True)
class DirectionResult:
    """One direction of the test: tight or leaking, what it lost (kPa/min, lower end of the interval), and whether it
    moved away from zero.
    """

    tight: bool
    loss_kpa_per_min: float
    rises: bool


@dataclass(frozen=True)
class Evidence:
    """All of it. pressure, vacuum: None when that direction was not tested (or not usable).

    sections: every section that the tests name. shapes: odd shapes of the decays. other_laws: see `stories.Bench`.
    """

    circuit: str
    tests: tuple[Measured, ...]
    verdicts: tuple[TestVerdict, ...]
    belonging: Belonging
    ratio: Ratio | None
    pressure: DirectionResult | None
    vacuum: DirectionResult | None
    sections: tuple[str, ...] = ()
    shapes: frozenset[str] = frozenset()
    shares: tuple[SectionShare, ...] = ()
    marks: tuple[MarkOutcome, ...] = ()
    seen: tuple[str, ...] = ()
    not_seen: tuple[str, ...] = ()
    intake: str = "unknown"
    lips: str = "unknown"
    complaint: Complaint | None = None
    other_laws: float = 0.0

    @property
    def directions(self) -> list[tuple[Direction, DirectionResult]]:
        """The directions that were tested."""
        both: tuple[tuple[Direction, DirectionResult | None], ...]
        both = (("pressure", self.pressure), ("vacuum", self.vacuum))
        return [(name, tested) for name, tested in both if tested is not None]

    @property
    def observed(self) -> list[tuple[str, bool]]:
        """(id, seen) of every observation."""
        return [*((i, True) for i in self.seen), *((i, False) for i in self.not_seen)]

    @property
    def answered(self) -> frozenset[str]:
        """Ids of every observation that was looked for, seen or not."""
        return frozenset((*self.seen, *self.not_seen))

    def tight(self, direction: str) -> bool:
        """Whether this direction was tested and lost nothing."""
        return any(name == direction and tested.tight for name, tested in self.directions)

    @property
    def shut_reeds(self) -> bool:
        """Whether reeds stand between the gauge and the intake."""
        return self.circuit == "crankcase" and self.intake == "reed"

    @property
    def passes(self) -> bool:
        """Every test of the engine passes, none by a lax limit, and none says nothing."""
        own = [v for v in self.verdicts if v.circuit == self.circuit]
        return bool(own) and all(v.word == "pass" and not v.lax for v in own)


def could_show(observation: Observation, place: KnownPlace, evidence: Evidence) -> bool:
    """Whether looking for it in vain says anything of this place, as the tests went and the engine is built."""
    if evidence.tight(observation.under):
        return False
    hidden = observation.under == "pressure" and evidence.shut_reeds
    return not (hidden and BEHIND_REEDS in (place.place, place.group))


def factor_of_finding(place: KnownPlace, evidence: Evidence, known: Knowledge) -> float:
    """Product over clusters of the factors for one place, each cluster within the cap."""

    def factor(observation: Observation, seen: bool) -> float:
        if seen == observation.absence and not could_show(observation, place, evidence):
            return 1.0
        return observation.factor(seen, place)

    clusters = _clusters(evidence, known, factor)
    for mark in evidence.marks:
        if mark.place in (place.place, place.group):
            clusters[f"mark {mark.place}"] = _of_mark(mark, place, evidence)
    return capped(clusters.values(), known.numbers["cluster_cap"])


def factor_of_cause(cause: str, evidence: Evidence, known: Knowledge) -> float:
    """The same for a disturbance (cooling, warming, vapour) as the reason of what a sound engine shows."""
    clusters = _clusters(evidence, known, lambda o, seen: (o.seen if seen else o.not_seen).get(cause, 1.0))
    return capped(clusters.values(), known.numbers["cluster_cap"])


def _clusters(evidence: Evidence, known: Knowledge, factor: Callable[[Observation, bool], float]) -> dict[str, float]:
    clusters: dict[str, float] = {}
    for observation, seen in _observations(evidence, known):
        clusters[observation.cluster] = clusters.get(observation.cluster, 1.0) * factor(observation, seen)
    return clusters


def _observations(evidence: Evidence, known: Knowledge) -> Iterator[tuple[Observation, bool]]:
    for identity, seen in evidence.observed:
        yield known.observations[identity], seen


def _of_mark(mark: MarkOutcome, place: KnownPlace, evidence: Evidence) -> float:
    if mark.changed:  # to less than half: most of the leak goes through there
        return float(_T.mark_stopped if mark.effect.after_over_before.high < 0.5 else _T.mark_changed)
    hidden = evidence.shut_reeds and mark.direction == "pressure" and BEHIND_REEDS in (place.place, place.group)
    return float(_T.mark_steady) if mark.steady and not hidden else 1.0
