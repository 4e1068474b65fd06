"""A day at the bench, simulated apart from the project: holds made by scipy, read off a gauge, judged.

Each is topped up and waited for before its watch starts, as the blank sheet asks.

The truth is V dp/dt = -q with a weep, a hole or half of each (tests.fit.truth, integrated by solve_ivp),
found for "so many times the limit" by its own search. Invented engines; nothing here is measured.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from leakdown.errors import InputError
from leakdown.judge.analyse import analyse
from leakdown.judge.settings import Settings
from leakdown.prepare.planned_test import PlannedTest
from leakdown.recording import Conditions, Recording
from tests.fit.truth import geometry, isothermal

SEA_LEVEL_PA = 101_325.0
SHARES = (0.0, 0.5, 1.0)  # of the flow that is a weep, at 35 kPa
HALF_AND_TWICE = (0.5, 2.0)


@dataclass(frozen=True)
class Tested:
    """Tests with a leak: decided (pass or fail), decided wrongly, tried."""

    decided: int
    wrong: int
    tried: int

    @property
    def share(self) -> float:
        return self.decided / self.tried


def days(bench: PlannedTest, hold_s: float, times: int, seed: int, settling: bool = False) -> Tested:
    """`times` holds each of an engine with half of the limit's leak and of one with twice."""
    rng = np.random.default_rng(seed)
    words = []
    for k in range(times):
        for over in HALF_AND_TWICE:
            share = SHARES[k % 3]
            words.append((over, verdict(bench, over * limit_rate_pa_s(bench, share), share, hold_s, rng, settling)))
    wrong = sum(word == ("fail" if over < 1 else "pass") for over, word in words)
    return Tested(sum(word != "undecided" for _, word in words), wrong, len(words))


@cache
def limit_rate_pa_s(bench: PlannedTest, share: float) -> float:
    """Loss rate at 35 kPa of the leak that just meets the limit."""
    limit = bench.limit
    if limit.kind == "rate":
        return limit.rate_pa_m3_s / bench.volume_m3
    start = limit.start_pa or bench.start_pa
    low, high = 1e-2, 1e6
    for _ in range(34):
        middle = (low * high) ** 0.5
        k, a = geometry(middle, share, SEA_LEVEL_PA, bench.sign)
        times = np.array([0.0, limit.time_s])
        end = isothermal(times, SEA_LEVEL_PA + bench.sign * start, SEA_LEVEL_PA, k, a)[-1] - SEA_LEVEL_PA
        low, high = (middle, high) if start - abs(end) < limit.drop_pa else (low, middle)
    return middle


def verdict(
    bench: PlannedTest, rate_pa_s: float, share: float, hold_s: float, rng: np.random.Generator, settling: bool
) -> str:
    """One hold read off the gauge and analysed as its file would be; a single reading decides nothing."""
    time_s = np.round(np.arange(0.0, hold_s + 1e-9, bench.every_s), 6)
    if time_s.size < 2:
        return "undecided"
    start = bench.start_pa + rng.uniform(-0.5, 0.5) * bench.resolution_pa
    extra, tau = (rng.uniform(0.0, 0.01) * start, rng.uniform(0.5, 4.0)) if settling else (0.0, 1.0)
    k, a = geometry(rate_pa_s, share, SEA_LEVEL_PA, bench.sign)
    # topped up, then waited for: 10 to 20 s (common practice, no source) in which the leak does not wait
    late_s = np.concatenate(([0.0], time_s + rng.uniform(10.0, 20.0)))
    true = isothermal(late_s, SEA_LEVEL_PA + bench.sign * (start - extra), SEA_LEVEL_PA, k, a)[1:] - SEA_LEVEL_PA
    true = true + bench.sign * extra * np.exp(-late_s[1:] / tau)
    shaken = true + rng.normal(0.0, rng.uniform(0.0, 0.2) * bench.resolution_pa, time_s.size)
    read = np.round(shaken / bench.resolution_pa) * bench.resolution_pa
    known, by_hand = rng.random(2) < 0.5  # some files say less than others
    told = Conditions(
        circuit=bench.circuit,
        direction=bench.direction,
        volume_m3=bench.volume_m3,
        barometer_pa=SEA_LEVEL_PA if known else None,
        resolution_pa=bench.resolution_pa,
        shut_pa=bench.sign * bench.start_pa,
        waited_s=30.0,
        topped_up=True,
    )
    try:
        result = analyse(Recording(time_s, read, conditions=told, by_hand=bool(by_hand)), Settings(limit=bench.limit))
    except InputError:
        return "undecided"
    return result.verdict.word if result.verdict else "undecided"
