"""What was found out about one engine, and the factors it puts on the odds of a place."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from leakdown.errors import UsageError
from leakdown.judge.held import Held
from leakdown.judge.marks import Moved
from leakdown.uncertainty import Z_95
from leakdown.where.knowledge import INTAKES, LIPS, Knowledge, KnownPlace
from leakdown.where.located import Complaint, Ratio, SectionShare

_SHAPES = ("levels-off", "leak-grows", "step")


@dataclass(frozen=True)
class Seen:
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
    pressure: Seen | None
    vacuum: Seen | None
    shapes: frozenset[str]
    shares: tuple[SectionShare, ...]
    marks: tuple[Moved, ...]
    seen: tuple[str, ...]
    not_seen: tuple[str, ...]
    intake: str
    lips: str
    complaint: Complaint | None = None


def seen_in(tests: Sequence[Held]) -> Seen | None:
    """What the tests of one direction show together: the one that says most about a leak."""
    usable = [h for h in tests if h.analysis.leak is not None]
    if not usable:
        return None
    leaking = [h for h in usable if h.detected]
    chosen = max(leaking or usable, key=lambda h: h.rate_pa_s.low)
    rises = any(h.has("pressure-rises") for h in usable)
    return Seen(not leaking, 0.06 * chosen.rate_pa_s.low, _sure_hole(chosen), rises)


def _sure_hole(one: Held) -> float:
    """Chance that less than half of the flow is viscous, from the share's interval."""
    share = one.analysis.leak.viscous_share if one.analysis.leak is not None else None
    if share is None or share.value is None or share.high - share.low > 0.6:
        return 0.5
    sd = max((share.high - share.low) / (2.0 * Z_95), 0.05)
    z = (0.5 - share.value) / sd
    return min(max(0.5 + 0.25 * z, 0.0), 1.0)


def shapes_in(tests: Sequence[Held]) -> frozenset[str]:
    """Odd shapes of the decay that point at places."""
    return frozenset(code for code in _SHAPES if any(h.has(code) for h in tests))


_MARK_CHANGED = 10.0  # (practice) as an observation that the leak changed when the place was touched
_MARK_STOPPED = 25.0  # (practice) the leak fell to less than half: most of it goes through there
_MARK_STEADY = 0.35  # (practice)


def factor_of_finding(place: KnownPlace, evidence: Evidence, known: Knowledge) -> float:
    """Product over clusters of the factors for one place, each cluster within the cap."""
    clusters: dict[str, float] = {}
    for identity, wanted in [*((i, True) for i in evidence.seen), *((i, False) for i in evidence.not_seen)]:
        observation = known.observations[identity]
        factor = observation.factor(wanted, place)
        clusters[observation.cluster] = clusters.get(observation.cluster, 1.0) * factor
    for mark in evidence.marks:
        if mark.place in (place.place, place.group):
            stopped = mark.changed and mark.effect.after_over_before.high < 0.5
            changed = _MARK_STOPPED if stopped else _MARK_CHANGED
            factor = changed if mark.changed else _MARK_STEADY if mark.steady else 1.0
            clusters[f"mark {mark.place}"] = factor
    cap = known.numbers["cluster_cap"]
    product = 1.0
    for value in clusters.values():
        product *= min(value, cap) if value == 0.0 else min(max(value, 1.0 / cap), cap)
    return product


def check_said(
    seen: tuple[str, ...], not_seen: tuple[str, ...], intake: str, lips: str, known: Knowledge
) -> None:
    """Raises UsageError for ids and words that do not exist or contradict each other."""
    for identity in (*seen, *not_seen):
        if identity not in known.observations:
            near = [o for o in known.observations if identity.split("-")[0] in o]
            hint = f"Perhaps {', '.join(near[:4])}. " if near else ""
            raise UsageError(
                f"unknown observation {identity!r}",
                remedy=f"{hint}leakdown locate --observations lists them.",
            )
    both = set(seen) & set(not_seen)
    if both:
        raise UsageError(f"{sorted(both)[0]!r} is both seen and not seen", remedy="Give it once.")
    for what, word, words in (("--intake", intake, INTAKES), ("--seal-lips", lips, LIPS)):
        if word not in words:
            raise UsageError(f"{what} {word!r} is not known", remedy=f"Say one of {', '.join(words)}.")
