"""The answer of `plan`. Frozen data only; SI units, pressures are gauge magnitudes."""

from __future__ import annotations

from dataclasses import dataclass

from leakdown.planning.rehearsal import Bench


@dataclass(frozen=True)
class Plan:
    """How long to hold, and what such a test can and cannot see.

    hold_s: None when no hold up to `longest_s` decides the limit with this gauge.
    detection_pa_m3_s, loss_pa_s: smallest leak seen 95 times in 100 by that hold (or the longest), as a
    throughput and as loss of pressure at the quoted pressure. allowed_pa_s: the limit, likewise.
    decided: of `tried` rehearsed tests, how many the hold decided rightly. drift_k_s: drift of the gas
    temperature that looks like half the limit.
    """

    bench: Bench
    hold_s: float | None
    longest_s: float
    detection_pa_m3_s: float
    loss_pa_s: float
    allowed_pa_s: float
    decided: int
    tried: int
    drift_k_s: float
    notes: tuple[str, ...]
