"""What was found out about one engine, and the factors it puts on the odds of a place."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from leakdown.judge.judged import FittedTest
from leakdown.tuned import tuned
from leakdown.uncertainty import Z_95
from leakdown.where.knowledge import Knowledge, KnownPlace, capped
from leakdown.where.located import Complaint, MarkOutcome, Ratio, SectionShare

_T = tuned("where")
_SHAPES = ("levels-off", "leak-grows", "step")


@dataclass(frozen=True)
class DirectionResult:
    """One direction of the test: tight, leaking or not tried.

    loss_kpa_per_min: what it lost, lower end of the interval; sure_hole: chance that the decay is
    hole-like rather than weep-like (0.5 when the hold cannot tell); rises: it moved away from zero.
    """

    tight: bool
    loss_kpa_per_min: float
    sure_hole: float
    rises: bool


@dataclass(frozen=True)
class Evidence:
    """All of it. pressure, vacuum: None when that direction was not tested (or not usable)."""

    circuit: str
    ratio: Ratio | None
    pressure: DirectionResult | None
    vacuum: DirectionResult | None
    shapes: frozenset[str]
    shares: tuple[SectionShare, ...]
    marks: tuple[MarkOutcome, ...]
    seen: tuple[str, ...]
    not_seen: tuple[str, ...]
    intake: str
    lips: str
    complaint: Complaint | None = None

    @property
    def directions(self) -> list[tuple[str, DirectionResult]]:
        """The directions that were tested."""
        both = (("pressure", self.pressure), ("vacuum", self.vacuum))
        return [(name, tested) for name, tested in both if tested is not None]

    @property
    def observed(self) -> list[tuple[str, bool]]:
        """(id, seen) of every observation."""
        return [*((i, True) for i in self.seen), *((i, False) for i in self.not_seen)]


def direction_result(tests: Sequence[FittedTest]) -> DirectionResult | None:
    """What the tests of one direction show together: the one that says most about a leak."""
    usable = [h for h in tests if h.analysis.leak is not None]
    if not usable:
        return None
    leaking = [h for h in usable if h.detected]
    chosen = max(leaking or usable, key=lambda h: h.rate_pa_s.low)
    rises = any(h.has("pressure-rises") for h in usable)
    return DirectionResult(not leaking, 0.06 * chosen.rate_pa_s.low, _sure_hole(chosen), rises)


def _sure_hole(one: FittedTest) -> float:
    """Chance that less than half of the flow is viscous, from the share's interval."""
    share = one.analysis.leak.viscous_share if one.analysis.leak is not None else None
    if share is None or share.value is None or share.high - share.low > _T.share_too_wide:
        return 0.5
    sd = max((share.high - share.low) / (2.0 * Z_95), _T.share_least_sd)
    z = (0.5 - share.value) / sd
    return float(min(max(0.5 + _T.hole_per_sigma * z, 0.0), 1.0))


def decay_shapes(tests: Sequence[FittedTest]) -> frozenset[str]:
    """Odd shapes of the decay that point at places."""
    return frozenset(code for code in _SHAPES if any(h.has(code) for h in tests))


def factor_of_finding(place: KnownPlace, evidence: Evidence, known: Knowledge) -> float:
    """Product over clusters of the factors for one place, each cluster within the cap."""
    clusters: dict[str, float] = {}
    for identity, seen in evidence.observed:
        observation = known.observations[identity]
        factor = observation.factor(seen, place)
        clusters[observation.cluster] = clusters.get(observation.cluster, 1.0) * factor
    for mark in evidence.marks:
        if mark.place in (place.place, place.group):
            clusters[f"mark {mark.place}"] = _of_mark(mark)
    return capped(clusters.values(), known.numbers["cluster_cap"])


def _of_mark(mark: MarkOutcome) -> float:
    if mark.changed:  # to less than half: most of the leak goes through there
        return float(_T.mark_stopped if mark.effect.after_over_before.high < 0.5 else _T.mark_changed)
    return float(_T.mark_steady) if mark.steady else 1.0
