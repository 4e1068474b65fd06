"""What was found out about one engine, before it is weighed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from leakdown.diagnose.complaint import Complaint
from leakdown.diagnose.result import Ratio, SectionShare
from leakdown.judge.held import Held
from leakdown.judge.marks import Moved
from leakdown.uncertainty import Z_95

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
