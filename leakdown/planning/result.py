"""The answer of `plan`. Frozen data only; SI units, pressures are gauge magnitudes."""

from __future__ import annotations

from dataclasses import dataclass

from leakdown.planning.rehearsal import Bench
from leakdown.planning.trials import Count


@dataclass(frozen=True)
class Plan:
    """How long to hold, and what such a test can and cannot see.

    hold_s: None when no hold up to `longest_s` decides the limit with this gauge.
    detection_pa_m3_s, loss_pa_s: smallest leak seen 95 times in 100 by that hold (or the longest), as a
    throughput and as loss of pressure at the quoted pressure. allowed_pa_s: the limit, likewise.
    count: the rehearsed tests of that hold. half_s, half_count: those of half of it, as far as there are
    readings (0 s: only the first). open_s: a longer hold that left more open than this one, if one was met.
    drift_k_s: drift of the gas temperature that looks like half the limit.
    """

    bench: Bench
    hold_s: float | None
    longest_s: float
    detection_pa_m3_s: float
    loss_pa_s: float
    allowed_pa_s: float
    count: Count
    half_s: float
    half_count: Count
    open_s: float | None
    drift_k_s: float
    notes: tuple[str, ...]
