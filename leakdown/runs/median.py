"""The median of run times some of which were stopped by hand, with an interval that holds without any model."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class MedianTime:
    """value_s: Kaplan-Meier's median, None where half of the runs had not ended by themselves.

    low_s, high_s: the true median lies between in at least `coverage` of cases; high_s None: no upper end.
    """

    value_s: float | None
    low_s: float
    high_s: float | None
    coverage: float
    runs: int


def median_time(times_s: Sequence[float], events: Sequence[bool], confidence: float = 0.95) -> MedianTime | None:
    """None without a run. Sign-test interval: between the k-th shortest and the k-th longest of n runs the median
    lies with probability 1 - 2 P(Bin(n, 1/2) < k) (any text on order statistics); k is the largest that keeps
    `confidence`, else 1 and what that gives. A stopped run counts as it stands for the lower end and as endless
    for the upper, so stopping only widens it.
    """
    n = len(times_s)
    if n == 0:
        return None
    tails = [sum(math.comb(n, j) for j in range(k)) / 2**n for k in range(1, n // 2 + 1)]
    kept = [k for k, tail in enumerate(tails, start=1) if 1.0 - 2.0 * tail >= confidence]
    k = kept[-1] if kept else 1
    coverage = 1.0 - 2.0 * tails[k - 1] if n > 1 else 0.0
    low = sorted(times_s)[k - 1]
    high = sorted(t if event else math.inf for t, event in zip(times_s, events, strict=True))[n - k]
    return MedianTime(_kaplan_meier(times_s, events), low, None if math.isinf(high) else high, coverage, n)


def _kaplan_meier(times_s: Sequence[float], events: Sequence[bool]) -> float | None:
    """The middle of where the share still running is 1/2; its first time below, where it jumps over."""
    share, at_half = 1.0, None
    for at in sorted({t for t, event in zip(times_s, events, strict=True) if event}):
        risk = sum(t >= at for t in times_s)
        dead = sum(event and t == at for t, event in zip(times_s, events, strict=True))
        share *= 1.0 - dead / risk
        if at_half is not None:
            return 0.5 * (at_half + at)
        if share < 0.5 - 1e-12:
            return at
        if share < 0.5 + 1e-12:
            at_half = at
    return at_half
