"""A planned test simulated before it is run: holds read off this gauge, judged as the real one will be.

Three circuits are simulated: a leak of half the limit must pass, one of twice the limit must fail, a tight
one must pass. A leak right at the limit stays undecided however long the hold is; that is no fault.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import lru_cache
from multiprocessing import get_context
from types import TracebackType
from typing import Any

import numpy as np

from leakdown.analysis import Analysis, Array
from leakdown.circuits import procedure
from leakdown.errors import LeakdownError
from leakdown.judge.settings import Settings
from leakdown.judge.tightness import analysed_hold, verdict_of_hold
from leakdown.physics.balance import NotSolved
from leakdown.physics.leak import Leak, flow_per_geometry, settled_pressure, throughput_per_volume
from leakdown.prepare.gas import Begin, path_pa
from leakdown.prepare.planned_test import PlannedTest
from leakdown.quantities import REFERENCE_TEMPERATURE_K
from leakdown.recording import Conditions, Recording
from leakdown.tuned import tuned

_T = tuned("prepare")
HALF, TWICE, TIGHT = 0.5, 2.0, 0.0
WANTED = {HALF: "pass", TWICE: "fail", TIGHT: "pass"}
_SEED_STEP = 7919  # a prime, so that kinds of leak and of file meet in every combination


@lru_cache(maxsize=64)
def limit_leak(test: PlannedTest, viscous_share: float = 0.5) -> Leak:
    """The leak that loses exactly what the limit allows, with that share of weep at the quoted pressure."""
    limit, back = test.limit, test.barometer_pa
    weep, hole = flow_per_geometry(back + test.sign * test.quote_pa, back, test.inward)
    unit = Leak(viscous_share / weep, (1.0 - viscous_share) / hole, back, back=back)  # 1 Pa/s there
    if limit.kind == "rate":
        at_gas = limit.rate_pa_m3_s * test.temperature_k / REFERENCE_TEMPERATURE_K
        return _times(unit, at_gas / test.volume_m3)
    start = limit.start_pa or test.start_pa
    low, high = 1e-3, 1e6  # Pa/s at the quoted pressure
    for _ in range(60):
        middle = (low * high) ** 0.5
        if lost_pa(test, _times(unit, middle), start, limit.time_s) < limit.drop_pa:
            low = middle
        else:
            high = middle
    return _times(unit, (low * high) ** 0.5)


def lost_pa(test: PlannedTest, leak: Leak, start_pa: float, time_s: float) -> float:
    """Loss of gauge pressure (magnitude) in `time_s` from `start_pa`, gas at rest."""
    opened = test.barometer_pa + test.sign * start_pa
    end = settled_pressure(np.array([time_s]), leak, test.inward, opened)[0]
    return float(start_pa - abs(end - test.barometer_pa))


def rate_pa_s(test: PlannedTest, leak: Leak) -> float:
    """Loss rate of the leak at the quoted pressure."""
    at = np.array([test.barometer_pa + test.sign * test.quote_pa])
    return float(throughput_per_volume(at, leak, test.inward)[0])


def _times(leak: Leak, factor: float) -> Leak:
    return Leak(leak.viscous * factor, leak.orifice * factor, leak.start, back=leak.back)


def simulated(test: PlannedTest, size: float, hold_s: float, seed: int, begin: Begin = "watch") -> Analysis:
    """One simulated test, as of `rehearsed`, analysed.

    Raises InputError for a hold that cannot be analysed, such as a single reading.
    """
    return analysed_hold(rehearsed(test, size, hold_s, seed, begin), _settings(test)).analysis


def _settings(test: PlannedTest) -> Settings:
    return Settings(quote_pa=test.quote_pa, limit=test.limit)


def rehearsed(test: PlannedTest, size: float, hold_s: float, seed: int, begin: Begin = "watch") -> Recording:
    """The file of one simulated test of `size` times the limit's leak. `size` 0 is a tight circuit.

    begin: with the watch, after the steps of the procedure, or with the valve, its gas still settling.
    """
    rng = np.random.default_rng(seed)
    time_s = np.arange(0.0, hold_s + 1e-6, test.every_s)
    start = test.start_pa + rng.uniform(-0.5, 0.5) * test.resolution_pa
    scatter = max(rng.uniform(-_T.scatter_most, _T.scatter_most), 0.0) * test.resolution_pa
    shares = _T.viscous_shares
    leak = _times(limit_leak(test, shares[seed // 2 % len(shares)]), size)
    opened = replace(leak, start=test.barometer_pa + test.sign * start)
    true = path_pa(test, opened, time_s, begin, np.random.default_rng([seed, 1])) - test.barometer_pa
    read = true + rng.normal(0.0, scatter, time_s.size)
    read = np.round(read / test.resolution_pa) * test.resolution_pa
    return _recorded(test, time_s, read, seed, begin)


def _recorded(test: PlannedTest, time_s: Array, pressure_pa: Array, seed: int, begin: Begin) -> Recording:
    """What the analysis is told; one file of slow readings in four says that a person read them.

    The barometer is told when it is known; on a log always, which is hardly less sure without and costs
    as much again.
    """
    known = ("circuit", "direction", "volume_m3", "volume_u_m3", "barometer_pa", "temperature_k", "resolution_pa")
    told: dict[str, Any] = {name: getattr(test, name) for name in known}
    if test.by_hand and not test.barometer_known:
        told["barometer_pa"] = None
    if begin == "watch":
        steps: dict[str, Any] = {"waited_s": procedure().start_s, "topped_up": True, "pump_off": True}
        told |= {"shut_pa": test.sign * test.start_pa, **steps}
    conditions = Conditions(**told)
    by_hand = seed % 4 == 0 if test.by_hand else time_s.size < _T.sheet_below_readings
    return Recording(time_s, pressure_pa, conditions=conditions, by_hand=by_hand, source="rehearsal")


def verdict_word(test: PlannedTest, size: float, hold_s: float, seed: int, begin: Begin = "watch") -> str:
    """The verdict of one test. A single reading, or a pressure that is gone at once, decides nothing."""
    try:
        verdict = verdict_of_hold(rehearsed(test, size, hold_s, seed, begin), _settings(test))
    except (LeakdownError, NotSolved):
        return "undecided"
    return verdict.word if verdict else "undecided"


@dataclass(frozen=True)
class Batch:
    """Tests of one hold: `rounds` of half and twice the limit each, a tight circuit every other round.

    most_missed: ends as soon as more tests than this were missed.
    """

    hold_s: float
    rounds: int
    seed: int
    most_missed: int
    begin: Begin = "watch"


@dataclass(frozen=True)
class Count:
    """Tests decided rightly and tests tried, by leak over limit (half, twice, tight)."""

    decided: tuple[int, ...] = (0, 0, 0)
    tried: tuple[int, ...] = (0, 0, 0)

    @property
    def missed(self) -> int:
        """Misses of all three."""
        return sum(self.tried) - sum(self.decided)

    @property
    def leaks_decided(self) -> int:
        """Of the tests with a leak, those decided rightly."""
        return sum(self.decided[:2])

    @property
    def leaks_tried(self) -> int:
        """Tests with a leak."""
        return sum(self.tried[:2])

    @property
    def share(self) -> float:
        """Of the tests with a leak, the share decided rightly; 0 when none was tried."""
        return self.leaks_decided / self.leaks_tried if self.leaks_tried else 0.0

    def plus(self, other: Count) -> Count:
        """Both together."""
        decided = tuple(a + b for a, b in zip(self.decided, other.decided, strict=True))
        return Count(decided, tuple(a + b for a, b in zip(self.tried, other.tried, strict=True)))


def counted(test: PlannedTest, batch: Batch) -> Count:
    """The batch, in this process."""
    decided, tried = [0, 0, 0], [0, 0, 0]
    for k in range(batch.rounds):
        for at, (size, wanted) in enumerate(WANTED.items()):
            if size == TIGHT and k % 2:
                continue
            tried[at] += 1
            seed = _SEED_STEP * batch.seed + 1000 * at + k
            decided[at] += verdict_word(test, size, batch.hold_s, seed, batch.begin) == wanted
            if sum(tried) - sum(decided) > batch.most_missed:
                return Count(tuple(decided), tuple(tried))
    return Count(tuple(decided), tuple(tried))


class Simulator:
    """This process and others that simulate one planned test, with the same counts however many they are.

    The others take a while to start: until one has, this one goes on alone.
    """

    def __init__(self, test: PlannedTest, workers: int | None = None) -> None:
        self.test = test
        self._others = (workers or os.cpu_count() or 1) - 1
        self._pool: ProcessPoolExecutor | None = None
        self._started: Future[Count] | None = None
        self._known: dict[Batch, Count] = {}

    def __enter__(self) -> Simulator:
        if self._others > 0:
            self._pool = ProcessPoolExecutor(self._others, mp_context=get_context("spawn"))
            self._started = self._pool.submit(counted, self.test, Batch(0.0, 0, 0, 0))
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._pool is not None:
            self._pool.shutdown(cancel_futures=True)

    def counts(self, batches: Sequence[Batch]) -> list[Count]:
        """One count a batch, in order. What was counted before is not counted again."""
        new = [batch for batch in dict.fromkeys(batches) if batch not in self._known]
        others = self._others if self._started is not None and self._started.done() else 0
        given = [batch for k, batch in enumerate(new) if k % (others + 1)] if others else []
        futures = {batch: self._pool.submit(counted, self.test, batch) for batch in given} if self._pool else {}
        self._known.update((batch, counted(self.test, batch)) for batch in new if batch not in futures)
        self._known.update((batch, future.result()) for batch, future in futures.items())
        return [self._known[batch] for batch in batches]
