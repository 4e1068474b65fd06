"""The familiar description of a decay: p = p0 exp(-t/tau). Not used for sizes; see `model` for those."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from leakdown.estimate.fit import least_squares

Array = NDArray[np.float64]


def time_constant_s(time_s: Array, size_pa: Array, sigma_pa: Array) -> float | None:
    """tau of the exponential through gauge magnitudes `size_pa` (n,); None when they do not fall."""
    t = time_s - time_s[0]
    if t.size < 2 or size_pa[0] <= 0:
        return None
    positive = size_pa > 0.05 * size_pa[0]
    if positive.sum() < 2:
        return None
    slope = float(np.polyfit(t[positive], np.log(size_pa[positive]), 1)[0])
    if slope >= 0:
        return None

    def residuals(x: Array) -> tuple[Array, Array]:
        falling = np.exp(-t * x[1])
        jacobian = np.stack([falling, -x[0] * t * falling], axis=1) / sigma_pa[:, None]
        return (x[0] * falling - size_pa) / sigma_pa, jacobian

    start = np.array([size_pa[0], -slope])
    fit = least_squares(residuals, start, np.array([0.0, 1e-9]), np.array([np.inf, 1e4]), 1e-9)
    return float(1.0 / fit.parameters[1]) if fit.converged and fit.parameters[1] > 1e-8 else None
