"""How many of a number of rehearsed tests a hold decides rightly, counted in all cores.

Three circuits are rehearsed: a leak of half the limit must pass, one of twice the limit must fail, a tight
one must pass. A leak right at the limit stays undecided however long the hold is; that is no fault.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from multiprocessing import get_context
from types import TracebackType

from leakdown.errors import LeakdownError
from leakdown.prepare.rehearsal import Bench, rehearsed

HALF, TWICE, TIGHT = 0.5, 2.0, 0.0
_APART = 7919  # a prime, so that kinds of leak and of file meet in every combination
WANTED = {HALF: "pass", TWICE: "fail", TIGHT: "pass"}


@dataclass(frozen=True)
class Job:
    """Rehearse one hold: `rounds` of half and twice the limit each, a tight circuit every other round.

    most_missed: ends as soon as more tests than this were missed.
    """

    hold_s: float
    rounds: int
    seed: int
    most_missed: int


@dataclass(frozen=True)
class Count:
    """Tests decided rightly and tests tried, by leak over limit (half, twice, tight)."""

    decided: tuple[int, int, int] = (0, 0, 0)
    tried: tuple[int, int, int] = (0, 0, 0)

    @property
    def missed(self) -> int:
        """Misses of all three."""
        return sum(self.tried) - sum(self.decided)

    @property
    def leaks_decided(self) -> int:
        """Of the tests with a leak, those decided rightly."""
        return self.decided[0] + self.decided[1]

    @property
    def leaks_tried(self) -> int:
        """Tests with a leak."""
        return self.tried[0] + self.tried[1]

    @property
    def share(self) -> float:
        """Of the tests with a leak, the share decided rightly; 0 when none was tried."""
        return self.leaks_decided / self.leaks_tried if self.leaks_tried else 0.0

    @property
    def share_of_all(self) -> float:
        """Of all tests, tight circuits among them, the share decided rightly; 0 when none was tried."""
        return sum(self.decided) / sum(self.tried) if sum(self.tried) else 0.0

    def plus(self, other: Count) -> Count:
        """Both together."""
        decided = tuple(a + b for a, b in zip(self.decided, other.decided, strict=True))
        tried = tuple(a + b for a, b in zip(self.tried, other.tried, strict=True))
        return Count(decided, tried)  # type: ignore[arg-type]


def word(bench: Bench, size: float, hold_s: float, seed: int) -> str:
    """The verdict of one rehearsal. A single reading, or a pressure that is gone at once, decides nothing."""
    try:
        result = rehearsed(bench, size, hold_s, seed)
    except LeakdownError:
        return "undecided"
    return result.verdict.word if result.verdict else "undecided"


def counted(bench: Bench, job: Job) -> Count:
    """The job, in this process."""
    decided, tried = [0, 0, 0], [0, 0, 0]
    for k in range(job.rounds):
        for at, (size, wanted) in enumerate(WANTED.items()):
            if size == TIGHT and k % 2:
                continue
            tried[at] += 1
            decided[at] += word(bench, size, job.hold_s, _APART * job.seed + 1000 * at + k) == wanted
            if sum(tried) - sum(decided) > job.most_missed:
                return Count(tuple(decided), tuple(tried))  # type: ignore[arg-type]
    return Count(tuple(decided), tuple(tried))  # type: ignore[arg-type]


class Crew:
    """Processes that rehearse one bench, with the same counts however many they are."""

    def __init__(self, bench: Bench, workers: int | None = None) -> None:
        self.bench = bench
        self._workers = workers or os.cpu_count() or 1
        self._pool: ProcessPoolExecutor | None = None
        self._known: dict[Job, Count] = {}

    def __enter__(self) -> Crew:
        if self._workers > 1:
            self._pool = ProcessPoolExecutor(self._workers, mp_context=get_context("spawn"))
            for _ in range(self._workers):  # they start while this process looks for where to begin
                self._pool.submit(counted, self.bench, Job(0.0, 0, 0, 0))
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._pool is not None:
            self._pool.shutdown(cancel_futures=True)

    def counts(self, jobs: Sequence[Job]) -> list[Count]:
        """One count a job, in order. What was counted before is not counted again."""
        new = [job for job in dict.fromkeys(jobs) if job not in self._known]
        one = partial(counted, self.bench)
        self._known.update(
            zip(new, map(one, new) if self._pool is None else self._pool.map(one, new), strict=True)
        )
        return [self._known[job] for job in jobs]
