"""Hundreds of files on all cores, with the same results, in the same order, as one by one.

What is done to each file is the caller's: any function that can be sent to another process. A bad file is
an outcome like any other and stops nothing.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from multiprocessing import get_context
from pathlib import Path
from typing import Generic, TypeVar

from leakdown.errors import LeakdownError

Result = TypeVar("Result")
_FEW = 4  # below this another process takes longer to start than it saves
_CHUNK = 4  # files sent at a time: small enough to keep both cores busy to the end


@dataclass(frozen=True)
class Outcome(Generic[Result]):
    """What became of one file: a result, or the error that says why not."""

    path: Path
    result: Result | None
    error: LeakdownError | None


def in_order(
    work: Callable[[Path], Result], paths: Sequence[Path], workers: int | None = None
) -> Iterator[Outcome[Result]]:
    """Outcomes in the order of `paths`, each as soon as it and all before it are done.

    work: picklable (a module's function, or a partial of one). workers: processes, all cores by default;
    1 stays in this process.
    """
    count = min(workers or os.cpu_count() or 1, max(len(paths), 1))
    one = partial(_one, work)
    if count == 1 or len(paths) < _FEW:
        yield from map(one, paths)
        return
    with ProcessPoolExecutor(count, mp_context=get_context("spawn")) as pool:
        yield from pool.map(one, paths, chunksize=max(1, min(_CHUNK, len(paths) // (2 * count))))


def _one(work: Callable[[Path], Result], path: Path) -> Outcome[Result]:
    try:
        return Outcome(path, work(path), None)
    except LeakdownError as error:
        return Outcome(path, None, error)
