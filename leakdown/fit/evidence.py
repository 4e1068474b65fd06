"""How well one shape of a hold explains the readings, all in all: the logarithm of its marginal likelihood.

Laplace's approximation (MacKay, Information Theory, Inference, and Learning Algorithms, 2003, ch. 27-28): the
height of the posterior times its volume. A number that sits at its bound, or near it, is integrated up to the
bound only, along the direction in which the others follow it.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from leakdown.analysis import Array
from leakdown.fit.least_squares import inside
from leakdown.uncertainty import normal_cdf

_LOG_2PI = math.log(2.0 * math.pi)
_AT_BOUND = 1e-9
_BOX = 2.0 * math.pi  # curvature of the normal density that has the volume of a box of width 1


def log_volume(residuals: Array, jacobian: Array, x: Array, lower: Array, upper: Array) -> float:
    """Logarithm of the integral of exp(-chi2/2) over the box, over its height at the minimum x.

    residuals (n,), jacobian (n, p): at x, in standard deviations. Parameters with lower = upper are no part
    of it. Directions that the residuals do not feel count with the whole width of their box.
    """
    moves, width = upper > lower, upper - lower
    hessian, gradient = jacobian.T @ jacobian, jacobian.T @ residuals
    free = inside(x, lower + _AT_BOUND * width, upper - _AT_BOUND * width)
    # a direction that nothing curves is as wide as its box
    scaled = hessian * np.outer(width, width) + _BOX * np.eye(x.size)
    at = np.flatnonzero(free)
    block = scaled[np.ix_(at, at)]
    volume = 0.0
    if at.size:
        sign, log_det = np.linalg.slogdet(block)
        if sign <= 0:
            return -math.inf
        spread = np.sqrt(np.maximum(np.diag(np.linalg.inv(block)), 0.0)) * width[at]
        volume = 0.5 * (at.size * _LOG_2PI - log_det) + float(np.sum(np.log(width[at])))
        near_low, near_high = (x[at] - lower[at]) / spread, (upper[at] - x[at]) / spread
        for low, high in zip(near_low, near_high, strict=True):
            volume += math.log(normal_cdf(high) - normal_cdf(-low))
    for k in np.flatnonzero(moves & ~free):
        volume += _beside_a_bound(scaled, at, int(k), abs(float(gradient[k])) * width[k]) + math.log(width[k])
    return volume


def _beside_a_bound(scaled: Array, free: NDArray[np.intp], k: int, push: float) -> float:
    """Logarithm of the integral of exp(-push u - curve u^2 / 2) over u in 0..1, the free ones following."""
    curve = float(scaled[k, k]) - _BOX
    if free.size:
        along = scaled[free, k]
        curve -= float(along @ np.linalg.solve(scaled[np.ix_(free, free)], along))
    curve = max(curve, 1e-3)
    root = math.sqrt(2.0 * curve)
    whole = _scaled_erfc(push / root) - math.exp(-push - 0.5 * curve) * _scaled_erfc((push + curve) / root)
    return 0.5 * math.log(math.pi / (2.0 * curve)) + math.log(whole)


def _scaled_erfc(z: float) -> float:
    """exp(z^2) erfc(z) for z >= 0; its asymptotic series where the product would overflow."""
    if z < 8.0:
        return math.exp(z * z) * math.erfc(z)
    return (1.0 - 0.5 / z**2 + 0.75 / z**4) / (z * math.sqrt(math.pi))
