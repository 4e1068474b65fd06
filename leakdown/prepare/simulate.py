"""A planned test simulated before it is run: holds read off this gauge, judged as the real one will be.

Three circuits are simulated: a leak of half the limit must pass, one of twice the limit must fail, a tight
one must pass. A leak right at the limit stays undecided however long the hold is; that is no fault.
"""

from __future__ import annotations

import math
import os
import sys
import threading
import warnings
from collections.abc import Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import lru_cache
from multiprocessing import get_context
from types import TracebackType
from typing import Any

import numpy as np

from leakdown.analysis import Analysis, Array, Verdict
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

    The barometer too: where nobody knows it the margins are the same within 0.03, and an analysis costs twice as much.
    """
    known = ("circuit", "direction", "volume_m3", "volume_u_m3", "barometer_pa", "temperature_k", "resolution_pa")
    told: dict[str, Any] = {name: getattr(test, name) for name in known}
    if begin == "watch":
        steps: dict[str, Any] = {"waited_s": procedure().start_s, "topped_up": True, "pump_off": True}
        told |= {"shut_pa": test.sign * test.start_pa, **steps}
    conditions = Conditions(**told)
    by_hand = seed % 4 == 0 if test.by_hand else time_s.size < _T.sheet_below_readings
    return Recording(time_s, pressure_pa, conditions=conditions, by_hand=by_hand, source="rehearsal")


def outcome(test: PlannedTest, size: float, hold_s: float, seed: int, begin: Begin = "watch") -> tuple[bool, float]:
    """Whether one test was decided rightly, and its margin (see `margin`)."""
    try:
        verdict = verdict_of_hold(rehearsed(test, size, hold_s, seed, begin), _settings(test))
    except (LeakdownError, NotSolved):  # a single reading, or a pressure that is gone at once, decides nothing
        return False, _T.worst_margin
    return verdict is not None and verdict.word == WANTED[size], margin(verdict, size)


def margin(verdict: Verdict | None, size: float) -> float:
    """How far a test's interval stays clear of the limit, over the distance of the true loss from it.

    1 when the loss is known exactly, 0 when the interval just meets the limit, less when it stays undecided; no
    less than `worst_margin`, which is also that of a test that is undecided for another reason.
    """
    if verdict is None or verdict.measured is None:
        return float(_T.worst_margin)
    limit, seen = verdict.limit, verdict.measured
    allowed = limit.drop_pa if limit.kind == "drop" else limit.rate_pa_m3_s
    clear = (allowed - seen.high if size < 1.0 else seen.low - allowed) / (allowed * abs(1.0 - size))
    other = verdict.word != WANTED[size] and clear > 0.0
    return float(_T.worst_margin if other else max(clear, _T.worst_margin))


@dataclass(frozen=True)
class Batch:
    """Tests of one hold: `rounds` of half and twice the limit each, with `tight` a tight circuit every other round.

    most_missed: ends as soon as more tests than this were missed.
    """

    hold_s: float
    rounds: int
    seed: int
    most_missed: int = 10**9
    begin: Begin = "watch"
    tight: bool = True

    def tests(self) -> list[tuple[float, int]]:
        """Leak over the limit, and seed, of each test in its order."""
        rounds = [divmod(k, 2) for k in range(self.rounds)]
        return [
            (size, _SEED_STEP * (self.seed + 1000 * second) + 1000 * at + 2 * k)
            for k, second in rounds
            for at, size in enumerate(WANTED)
            if size != TIGHT or (self.tight and k % 2 == 0)
        ]


@dataclass(frozen=True)
class Count:
    """Tests decided rightly and tests tried, by leak over limit (half, twice, tight), and the margins of each."""

    decided: tuple[int, ...] = (0, 0, 0)
    tried: tuple[int, ...] = (0, 0, 0)
    margins: tuple[tuple[float, ...], ...] = ((), (), ())

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

    @property
    def reach(self) -> float:
        """How near to the limit an unlucky test's interval comes, over the distance there is: above 1 it crosses.

        Of the leak that is less sure. A few margins tell that where a few right and wrong words tell nothing
        (sampling by variables: mean and standard deviation against a limit, as in ISO 3951).
        """
        if min(map(len, self.margins[:2])) < 2:
            return math.inf
        unlucky, least = float(_T.unlucky_sigmas), float(_T.least_reach)
        reaches = (1.0 - float(np.mean(of)) + unlucky * float(np.std(of, ddof=1)) for of in self.margins[:2])
        return max(*reaches, least)  # an estimate that errs away from the limit may be clear of it by more than all

    def plus(self, other: Count) -> Count:
        """Both together."""
        decided = tuple(a + b for a, b in zip(self.decided, other.decided, strict=True))
        tried = tuple(a + b for a, b in zip(self.tried, other.tried, strict=True))
        return Count(decided, tried, tuple(a + b for a, b in zip(self.margins, other.margins, strict=True)))


class _Tally:
    """What became of the tests of a batch, whoever ran them and in whichever order they came back."""

    def __init__(self, batch: Batch) -> None:
        self.batch = batch
        self.tests = batch.tests()
        self.outcomes: list[tuple[bool, float] | None] = [None] * len(self.tests)

    def run(self, test: PlannedTest, k: int) -> None:
        """The k-th test, in this process."""
        self.outcomes[k] = outcome(*self.of(test, k))

    def of(self, test: PlannedTest, k: int) -> tuple[PlannedTest, float, float, int, Begin]:
        """What `outcome` asks for the k-th test."""
        size, seed = self.tests[k]
        return test, size, self.batch.hold_s, seed, self.batch.begin

    @property
    def ended(self) -> bool:
        """More were missed than may be: what follows does not count."""
        return self.count().missed > self.batch.most_missed

    def count(self) -> Count:
        """Of the tests in their order, up to the one that ended the batch or is not back yet."""
        margins: list[list[float]] = [[], [], []]
        decided, missed = [0, 0, 0], 0
        for (size, _), came in zip(self.tests, self.outcomes, strict=True):
            if came is None or missed > self.batch.most_missed:
                break
            at = tuple(WANTED).index(size)
            decided[at] += came[0]
            missed += not came[0]
            margins[at].append(came[1])
        return Count(tuple(decided), tuple(map(len, margins)), tuple(map(tuple, margins)))


def _started_how() -> str:
    """A copy of this process where nothing else runs in it: a fresh one takes half a second to load what this has."""
    alone = sys.platform == "linux" and threading.active_count() == 1
    return "fork" if alone else "spawn"


class Simulator:
    """This process and another that simulate one planned test, with the same counts as one alone.

    The other may take a while to start: until it has, this one goes on alone. From then on it is handed the next
    test as soon as it is through with one.
    """

    def __init__(self, test: PlannedTest, workers: int | None = None) -> None:
        self.test = test
        self._others = min(workers or os.cpu_count() or 1, 2) - 1
        self._pool: ProcessPoolExecutor | None = None
        self._started: Future[float] | None = None
        self._known: dict[Batch, Count] = {}
        self._one_at_a_time = threading.Lock()

    def __enter__(self) -> Simulator:
        if self._others > 0:
            self._pool = ProcessPoolExecutor(self._others, mp_context=get_context(_started_how()))
            with warnings.catch_warnings():  # of threads, of which only those of the linear algebra are there
                warnings.simplefilter("ignore", DeprecationWarning)
                self._started = self._pool.submit(rate_pa_s, self.test, limit_leak(self.test))
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._pool is not None:
            self._pool.shutdown(cancel_futures=True)

    def counts(self, batches: Sequence[Batch]) -> list[Count]:
        """One count a batch, in order. What was counted before is not counted again."""
        new = [_Tally(batch) for batch in dict.fromkeys(batches) if batch not in self._known]
        # begun only when it is asked for: a batch that has ended by then is left
        todo = ((tally, k) for tally in new for k in range(len(tally.tests)) if not tally.ended)
        given = self._hand_over(todo)
        while (unit := self._next(todo)) is not None:
            unit[0].run(self.test, unit[1])
        for tally, k, future in given:  # grows no more: nothing is left to hand over
            if future.exception() is None:
                tally.outcomes[k] = future.result()
            else:  # the other process is gone
                tally.run(self.test, k)
        self._known.update((tally.batch, tally.count()) for tally in new)
        return [self._known[batch] for batch in batches]

    def _next(self, todo: Iterator[tuple[_Tally, int]]) -> tuple[_Tally, int] | None:
        with self._one_at_a_time:
            return next(todo, None)

    def _hand_over(self, todo: Iterator[tuple[_Tally, int]]) -> list[tuple[_Tally, int, Future[tuple[bool, float]]]]:
        """Keep the other process at work: what it was given, filled as it comes to be."""
        given: list[tuple[_Tally, int, Future[tuple[bool, float]]]] = []

        def hand_over(done: Future[Any]) -> None:
            if self._pool is None or done.exception() is not None:
                return
            with self._one_at_a_time:
                unit = next(todo, None)
                if unit is None:
                    return
                tally, k = unit
                try:
                    future = self._pool.submit(outcome, *tally.of(self.test, k))
                except RuntimeError as gone:
                    future = Future()
                    future.set_exception(gone)
                given.append((tally, k, future))

            def came_back(one: Future[tuple[bool, float]]) -> None:
                if one.exception() is None:
                    tally.outcomes[k] = one.result()
                hand_over(one)

            future.add_done_callback(came_back)

        if self._started is not None:
            self._started.add_done_callback(hand_over)
        return given
