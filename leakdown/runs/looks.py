"""Looking after every run, paid for: how small p must be at each look so that all looks together err in 5 %.

With no change, no ties and none stopped by hand, the rank of each new run among all so far is uniform and
independent of the earlier ones, whatever the distribution of run times. So the pattern of sides in the order of
lengths is a Markov chain, and the chance to have crossed a bound at any look so far is counted exactly. Each
look takes at most half of what is left of the 5 %; where its clearest outcome alone costs more than that, it
takes that outcome if it fits at all, so that 3 against 3 can decide. Looks that could not decide cost nothing.
After sequential testing with a spent error: Lan & DeMets, Biometrika 70 (1983) 659; the halves are our own.
"""

from __future__ import annotations

import math
from collections import defaultdict
from functools import lru_cache
from itertools import combinations

import numpy as np

from leakdown.tuned import tuned

ALPHA = 0.05
"""The error that all looks together may have, each way (the usual level)."""
FEWEST_AFTER = 3
FEWEST_BEFORE = 2
_EXACT_RUNS = int(tuned("runs").exact_look_runs)
_Counts = dict[int, int]  # pattern -> orders of arrival that lead there without a decision


def bound(before: int, after: int, longer: bool = True) -> float:
    """The largest p that decides at the look after `after` runs; 0.0 where no outcome could."""
    bounds = _bounds(before, min(after, max(FEWEST_AFTER, _EXACT_RUNS - before)), longer)
    beyond = after - (_EXACT_RUNS - before)
    if before < FEWEST_BEFORE or after < FEWEST_AFTER:
        return 0.0
    if beyond <= 0 or before + FEWEST_AFTER > _EXACT_RUNS:
        return bounds[0][after - FEWEST_AFTER] if beyond <= 0 else ALPHA * 0.5 ** (after - FEWEST_AFTER + 1)
    return bounds[1] * 0.5**beyond  # no longer counted: the sum of the looks bounds their union


@lru_cache(maxsize=256)
def _bounds(before: int, after: int, longer: bool) -> tuple[tuple[float, ...], float]:
    """The bound at each look from FEWEST_AFTER to `after`, and what is left of ALPHA."""
    if before < FEWEST_BEFORE or before + after > _EXACT_RUNS:
        return (), ALPHA
    alive: _Counts = {0: 1}
    left, ways, bounds = ALPHA, 1, []
    for n in range(1, after + 1):
        size = before + n
        alive = _with_one_more(alive, size)
        ways *= size
        if n >= FEWEST_AFTER:
            cut, spent = _cut(alive, _chances(size, n, longer), left, ways)
            alive = {p: c for p, c in alive.items() if _chances(size, n, longer)[p] > cut}
            left -= spent
            bounds.append(cut)
    return tuple(bounds), left


def _with_one_more(alive: _Counts, size: int) -> _Counts:
    """Patterns with the new run at each of `size` ranks; bit k: the k-th shortest is after the change."""
    grown: defaultdict[int, int] = defaultdict(int)
    for pattern, count in alive.items():
        for rank in range(size):
            low = pattern & ((1 << rank) - 1)
            grown[((pattern >> rank) << (rank + 1)) | (1 << rank) | low] += count
    return dict(grown)


@lru_cache(maxsize=64)
def _chances(size: int, after: int, longer: bool) -> dict[int, float]:
    """p of each pattern: the share of patterns at least as extreme by the log-rank score."""
    unit = math.lcm(*range(1, size + 1))
    scores, total = [], 0
    for k in range(size):
        total += unit // (size - k)
        scores.append(unit - total)
    picks = list(combinations(range(size), after))
    sums = np.array([sum(scores[k] for k in pick) for pick in picks], dtype=np.int64)
    sums = sums if longer else -sums
    shares = np.searchsorted(np.sort(sums), sums, side="right") / len(picks)
    return {sum(1 << k for k in pick): float(share) for pick, share in zip(picks, shares, strict=True)}


def _cut(alive: _Counts, chances: dict[int, float], left: float, ways: int) -> tuple[float, float]:
    """(the largest p that decides, what it costs) at this look."""
    cost: defaultdict[float, int] = defaultdict(int)
    for pattern, count in alive.items():
        cost[chances[pattern]] += count
    levels = sorted({share for share in chances.values() if share <= ALPHA + 1e-12})
    cut, spent = 0.0, 0.0
    for level in levels:
        more = spent + cost[level] / ways
        allowed = left if level == levels[0] else 0.5 * left
        if more > allowed + 1e-12:
            break
        cut, spent = level, more
    return cut, spent
