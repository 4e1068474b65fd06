"""Everything about one hold that can make a result less sure than it looks."""

from __future__ import annotations

from dataclasses import dataclass

from leakdown.analysis import Hold, LeakEstimate, Used, Verdict
from leakdown.estimate.hold import Window
from leakdown.estimate.shape import Odd
from leakdown.recording import Recording


@dataclass(frozen=True)
class Seen:
    """Everything the flags look at."""

    recording: Recording
    window: Window
    hold: Hold
    used: Used
    leak: LeakEstimate | None
    odd: Odd | None
    rising_sigmas: float
    settled: bool
    quote_pa: float
    fast: bool
    converged: bool
    spikes: int
    circuit_given: bool
    temperature_range_k: float | None
    verdict: Verdict | None
