"""What the runs of an engine were, in one sentence of its story."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from leakdown.runs.durations import duration_words
from leakdown.runs.run import Run
from leakdown.tuned import texts


def runs_sentence(runs: Sequence[Run], changes: Sequence[str]) -> str:
    """ "It died after 28 to 41 s five times; since the change (new line) it ran ..."; "" without runs.

    changes: what each was, the first before the runs of period 1.
    """
    parts = []
    for period, group in groupby(runs, key=lambda r: r.period):
        told = _told(list(group))
        done = " ".join(changes[period - 1].split()).rstrip(".") if period else ""
        parts.append(f"since the change ({done}) it {told}" if period else f"it {told}")
    sentence = "; ".join(parts)
    return f"{sentence[0].upper()}{sentence[1:]}." if sentence else ""


def _told(runs: Sequence[Run]) -> str:
    """How runs of one state of the engine ended, most usual first."""
    kinds: dict[str, list[float]] = {}
    for run in runs:
        kinds.setdefault(run.ended, []).append(run.ran_s)
    told = []
    words = texts("runs", "texts")["told"]
    for ended, times in sorted(kinds.items(), key=lambda kind: -len(kind[1])):
        low, high = duration_words(min(times)), duration_words(max(times))
        span = low if low == high else f"{_bare(low, high)} to {high}"
        told.append(f"{words[ended].format(span=span)} {_times(len(times), len(runs))}")
    return ", and ".join(told)


def _bare(low: str, high: str) -> str:
    """The lower end without its unit where the upper one has the same: "28 to 41 s"."""
    first, second = low.split(), high.split()
    return first[0] if len(first) == len(second) == 2 and first[1] == second[1] else low


_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


def _times(count: int, of: int) -> str:
    def named(n: int) -> str:
        return _NUMBERS[n] if n < len(_NUMBERS) else str(n)

    if count < of:
        return f"{'once' if count == 1 else named(count)} of {named(of)} times"
    return {1: "once", 2: "twice"}.get(count, f"{named(count)} times")
