"""Before against after a change: better, worse, or cannot say, and what bars a word."""

from __future__ import annotations

import math
import statistics
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from leakdown.runs.logrank import Chance, chance, chance_in_blocks
from leakdown.runs.looks import ALPHA, FEWEST_AFTER, bound
from leakdown.runs.median import MedianTime, median_time
from leakdown.runs.run import Run
from leakdown.tuned import tuned

Verdict = Literal["better", "worse", "cannot-say"]
Bar = Literal["few", "luck", "looks", "trend", "day", "fuel", "warmth"]
_T = tuned("runs")
_MOST_MORE = 12


@dataclass(frozen=True)
class RunComparison:
    """p_value: one-sided, "after lasts longer", exact (or sampled) permutation of the log-rank statistic; None when
    a side has no run. p_shorter: the opposite. least_p: the smallest that these numbers of runs can give at all.
    bars: what keeps a small p from being a word. more_runs: the fewest further runs after the change that could
    decide; None where none could, 0 when it is decided.
    """

    verdict: Verdict
    p_value: float | None
    p_shorter: float | None
    least_p: float | None
    sampled: bool
    bars: tuple[Bar, ...]
    more_runs: int | None
    before: MedianTime | None
    after: MedianTime | None


def compared(runs: Sequence[Run], changes: int = 0) -> RunComparison:
    """Runs in the order of time; those of the last `period` against those of the last one before it with runs.

    changes: how many were made so far: nothing is compared while no run followed the last.

    A word needs: p <= 0.05 now; a look so far (after each run) whose p was within its share of the 5 %; and the
    same when the after-runs are shortened by what else may have changed (a trend, another day), and among runs
    alike in fuel and warmth where the two sides differ in them.
    """
    before, after = sides(runs, changes)
    medians = _median(before), _median(after)
    if not before or not after:
        return RunComparison("cannot-say", None, None, None, False, ("few",), _more(before, after), *medians)
    now = _chance(before, after)
    least = 1.0 / math.comb(len(before) + len(after), len(after))
    word, nearer = word_of(before, after)
    more = 0 if word != "cannot-say" else _more(before, after)
    return RunComparison(word, now.longer, now.shorter, least, now.sampled, nearer, more, *medians)


def word_of(before: tuple[Run, ...], after: tuple[Run, ...]) -> tuple[Verdict, tuple[Bar, ...]]:
    """The word alone, and what bars the nearer one; both sides have runs."""
    bars = {longer: _bars(before, after, longer) for longer in (True, False)}
    if not all(bars.values()):
        return ("worse" if bars[True] else "better"), ()
    now = _chance(before, after)
    return "cannot-say", bars[now.longer <= now.shorter]


def sides(runs: Sequence[Run], changes: int = 0) -> tuple[tuple[Run, ...], tuple[Run, ...]]:
    """(before, after) the latest change; nothing after it as long as no run was made since."""
    last = max((r.period for r in runs), default=0)
    if changes > last:  # nothing was run since the latest
        return tuple(r for r in runs if r.period == last), ()
    earlier = max((r.period for r in runs if r.period < last), default=None)
    if earlier is None:
        return (tuple(runs), ()) if last == 0 else ((), tuple(runs))
    return tuple(r for r in runs if r.period == earlier), tuple(r for r in runs if r.period == last)


def _median(runs: Sequence[Run]) -> MedianTime | None:
    return median_time([r.ran_s for r in runs], [r.event for r in runs])


def _chance(before: Sequence[Run], after: Sequence[Run]) -> Chance:
    return chance(*_columns(before, after))


def _columns(before: Sequence[Run], after: Sequence[Run]) -> tuple[list[float], list[bool], list[bool]]:
    both = [*before, *after]
    return [r.ran_s for r in both], [r.event for r in both], [False] * len(before) + [True] * len(after)


def _bars(before: tuple[Run, ...], after: tuple[Run, ...], longer: bool) -> tuple[Bar, ...]:
    """What bars the word in this direction; empty when nothing does."""
    if _side(_chance(before, after), longer) > ALPHA:
        possible = any(bound(len(before), n, longer) > 0.0 for n in range(FEWEST_AFTER, len(after) + 1))
        return ("luck",) if possible else ("few",)
    if not _crossed(before, after, longer, _chance):
        return ("looks",)
    tests: dict[Bar, Callable[[Sequence[Run], Sequence[Run]], Chance]] = {
        "trend": lambda b, a: _chance(*_shortened(b, a, longer, trend=True)),
        "day": lambda b, a: _chance(*_shortened(b, a, longer, day=True)),
        "fuel": lambda b, a: _in_blocks(b, a, lambda r: r.level),
        "warmth": lambda b, a: _in_blocks(b, a, lambda r: r.warm),
    }
    barred = [bar for bar, test in tests.items() if not _crossed(before, after, longer, test)]
    if barred:
        return tuple(barred)
    return () if _crossed(before, after, longer, lambda b, a: _jointly(b, a, longer)) else _differing(before, after)


def _side(found: Chance, longer: bool) -> float:
    return found.longer if longer else found.shorter


def _crossed(before: tuple[Run, ...], after: tuple[Run, ...], longer: bool, test: Callable[..., Chance]) -> bool:
    """Whether a look so far has decided: after each run, its p against its share of the error."""
    for n in range(FEWEST_AFTER, len(after) + 1):
        limit = bound(len(before), n, longer)
        if limit > 0.0 and _side(test(before, after[:n]), longer) <= limit + 1e-12:
            return True
    return False


def _jointly(before: Sequence[Run], after: Sequence[Run], longer: bool) -> Chance:
    return _in_blocks(*_shortened(before, after, longer, trend=True, day=True), lambda r: (r.level, r.warm))


def _differing(before: Sequence[Run], after: Sequence[Run]) -> tuple[Bar, ...]:
    kinds: dict[Bar, Callable[[Run], object]] = {"day": lambda r: r.day, "fuel": lambda r: r.level}
    kinds["warmth"] = lambda r: r.warm
    return ("trend", *(bar for bar, key in kinds.items() if not _alike(before, after, key)))


def _alike(before: Sequence[Run], after: Sequence[Run], key: Callable[[Run], object]) -> bool:
    """The same shares of each kind on both sides."""
    one, other = Counter(map(key, before)), Counter(map(key, after))
    return all(one[k] * len(after) == other[k] * len(before) for k in one | other)


def _in_blocks(before: Sequence[Run], after: Sequence[Run], key: Callable[[Run], object]) -> Chance:
    """Like with like, where the sides differ in `key`: labels change within each kind alone."""
    if _alike(before, after, key):
        return _chance(before, after)
    kinds = dict.fromkeys(map(key, (*before, *after)))
    return chance_in_blocks(
        [_columns([r for r in before if key(r) == k], [r for r in after if key(r) == k]) for k in kinds]
    )


def _shortened(
    before: Sequence[Run], after: Sequence[Run], longer: bool, trend: bool = False, day: bool = False
) -> tuple[list[Run], list[Run]]:
    """Both sides without what a trend and another day may have added (taken off, for the opposite word).

    A stopped run is scaled with its time: had it gone on, its whole life would be.
    """
    sign = 1.0 if longer else -1.0
    slope = max(_T.trend_a_run, sign * _slope(before, after)) if trend else 0.0
    factor = math.log(_T.day_factor) if day and not _alike(before, after, lambda r: r.day) else 0.0
    first = [replace(r, ran_s=r.ran_s * math.exp(-sign * slope * k)) for k, r in enumerate(before)]
    late = enumerate(after, start=len(before))
    return first, [replace(r, ran_s=r.ran_s * math.exp(-sign * (slope * k + factor))) for k, r in late]


def _slope(before: Sequence[Run], after: Sequence[Run]) -> float:
    """Median slope of ln t a run within each side (Theil and Sen), of runs that ended by themselves; 0 for few."""
    slopes = []
    for side in (before, after):
        known = [(k, math.log(r.ran_s)) for k, r in enumerate(side) if r.event and r.ran_s > 0.0]
        slopes += [(y - x) / (j - i) for n, (i, x) in enumerate(known) for j, y in known[n + 1 :]]
    return statistics.median(slopes) if len(slopes) >= 3 else 0.0


def _more(before: tuple[Run, ...], after: tuple[Run, ...]) -> int | None:
    """The fewest further runs after the change that could decide, each the clearest that it can be."""
    for more in range(1, _MOST_MORE + 1):
        if not before or bound(len(before), len(after) + more) == 0.0:
            continue
        model = (after or before)[-1]
        longest = replace(model, ran_s=1e6, ended="stopped")
        shortest = replace(model, ran_s=0.0, ended="died")
        for longer, run in ((True, longest), (False, shortest)):
            if not _bars(before, (*after, *(run,) * more), longer):
                return more
    return None
