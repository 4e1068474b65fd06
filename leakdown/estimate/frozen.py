"""A gauge that stopped moving altogether, noise included, while it was alive before or after.

A tight hold stands still too, but not its last digit: how often two readings in a row are equal while the
pressure is calm says how unlikely a long run of equal ones is.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_LEAST_RUN = 20
_LEAST_S = 3.0
_CALM_READINGS = 20
_BESIDE = 7  # steps looked at together
_TO_AND_FRO = 0.6  # of the way travelled: more in one direction is pumping or a leak
_CHANCE = 1e-6  # of so long a run in a living gauge


def frozen_from(time_s: Array, pressure_pa: Array) -> tuple[float, float] | None:
    """Start and end (s) of the longest run of equal readings of a log that cannot be chance, or None."""
    if time_s.size < 3 * _LEAST_RUN:
        return None
    same = np.diff(pressure_pa) == 0.0
    first, last = _longest_run(same)
    n = last - first
    if n < _LEAST_RUN or time_s[last] - time_s[first] < _LEAST_S or pressure_pa[first] == 0.0:
        return None
    calm = _calm(pressure_pa)
    calm[max(first - 1, 0) : last + 1] = False
    if calm.sum() < _CALM_READINGS:
        return None
    equal = (same[calm].sum() + 1.0) / (calm.sum() + 2.0)  # rule of succession
    chance = float(equal) ** n * time_s.size
    return (float(time_s[first]), float(time_s[last])) if chance < _CHANCE else None


def _longest_run(same: NDArray[np.bool_]) -> tuple[int, int]:
    """Indices of the first and last reading of the longest run of equal neighbours."""
    edges = np.diff(np.concatenate(([0], same.astype(np.int8), [0])))
    starts, ends = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
    if starts.size == 0:
        return 0, 0
    k = int(np.argmax(ends - starts))
    return int(starts[k]), int(ends[k])


def _calm(pressure_pa: Array) -> NDArray[np.bool_]:
    """Steps between neighbours in which nothing goes one way: the reading stands, or jitters to and fro."""
    step = np.diff(pressure_pa)
    over = np.ones(_BESIDE)
    travelled, moved = np.convolve(np.abs(step), over, mode="same"), np.abs(np.convolve(step, over, "same"))
    return np.asarray(moved <= _TO_AND_FRO * travelled)
