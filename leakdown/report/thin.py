"""Long logs made short for drawing and for tables, without losing what sticks out."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def thinned(x: Array, y: Array, most: int) -> NDArray[np.intp]:
    """Indices of at most `most` points: lowest and highest of each equal-count bucket, first and last kept.

    x, y: (n,) with n >= 1; only y decides. `most` >= 4.
    """
    n = x.size
    if n <= most:
        return np.arange(n)
    edges = np.linspace(0, n, (most - 2) // 2 + 1).astype(int)
    keep = {0, n - 1}
    for start, end in zip(edges[:-1], edges[1:], strict=True):
        part = y[start:end]
        keep.update((start + int(part.argmin()), start + int(part.argmax())))
    return np.array(sorted(keep))


def spread(n: int, most: int) -> NDArray[np.intp]:
    """Indices of at most `most` of `n` rows, evenly spread, first and last kept."""
    if n <= most:
        return np.arange(n)
    return np.unique(np.linspace(0, n - 1, most).round().astype(int))
