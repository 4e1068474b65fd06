"""Least squares with no negative part: leaks add, and none of them blows backwards."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def nonnegative(a: Array, b: Array) -> tuple[Array, float]:
    """x >= 0 that minimises |a x - b|^2, and that minimum; a (n, m), b (n,).

    Active-set method of Lawson & Hanson, Solving Least Squares Problems (1974), chapter 23.
    """
    m = a.shape[1]
    x, active = np.zeros(m), np.zeros(m, dtype=bool)
    tolerance = 1e-10 * max(float(np.abs(a.T @ b).max(initial=0.0)), 1e-30)
    for _ in range(3 * m + 10):
        gradient = a.T @ (b - a @ x)
        gradient[active] = -np.inf
        if active.all() or gradient.max() <= tolerance:
            break
        active[int(np.argmax(gradient))] = True
        x = _inside(a, b, x, active)
    rest = a @ x - b
    return x, float(rest @ rest)


def _inside(a: Array, b: Array, x: Array, active: NDArray[np.bool_]) -> Array:
    """Solve over the active columns, dropping those that would turn negative on the way."""
    while True:
        s = np.zeros_like(x)
        s[active] = np.linalg.lstsq(a[:, active], b, rcond=None)[0]
        bad = active & (s <= 0)
        if not bad.any():
            return s
        with np.errstate(divide="ignore", invalid="ignore"):
            step = np.where(bad, x / (x - s), np.inf)
        x = x + min(float(np.nanmin(step)), 1.0) * (s - x)
        active &= ~(bad & (x <= 1e-12 * max(float(np.abs(x).max()), 1e-30)))
        x[~active] = 0.0
