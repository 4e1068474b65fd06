"""The fitted decay for the eye: curve with band, residuals, and when the gas had settled."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from leakdown.analysis import Curve
from leakdown.fit.model import CREEP, LOG_TAU, START, WARMTH
from leakdown.fit.search import HoldFit
from leakdown.physics.balance import NotSolved
from leakdown.uncertainty import Z_95

Array = NDArray[np.float64]


def curve(found: HoldFit, closed_s: float) -> Curve | None:
    """The fit on a fine grid with its 95 % band (linear propagation of the fit's covariance)."""
    fine = np.linspace(0.0, float(found.model.readings.time_s[-1]), 240)
    try:
        value, jacobian = found.model.at_times(fine).predict(found.fit.parameters)
    except NotSolved:
        return None
    variance = np.einsum("ij,jk,ik->i", jacobian, found.fit.covariance, jacobian)
    half = Z_95 * np.sqrt(np.maximum(variance, 0.0))
    return Curve(fine + closed_s, value, value - half, value + half)


def residuals(found: HoldFit) -> tuple[Array, Array]:
    """Times from the start of the hold and reading minus fit (Pa); empty when there is no fit."""
    readings = found.model.readings
    if not found.fit.converged:
        return np.zeros(0), np.zeros(0)
    return readings.time_s, -found.fit.residuals[: readings.time_s.size] * found.model.readings.sigma_pa


def settled_after_s(found: HoldFit) -> float:
    """When warm gas and creep have left less than 0.5 % of the start pressure (or twice the noise)."""
    if not found.fit.converged:
        return 0.0
    x, model = found.fit.parameters, found.model
    span_s = float(model.readings.time_s[-1])
    t = np.unique(np.concatenate((np.linspace(0.0, min(span_s, 60.0), 400), np.linspace(0.0, span_s, 400))))
    left = np.abs(x[START] * x[WARMTH]) * np.exp(-t * math.exp(-x[LOG_TAU]))
    left = left + np.abs(model.creep(t) @ x[CREEP:])
    start = abs(x[START] - model.ambient_pa)
    enough = max(0.005 * start, 2.0 * float(np.median(model.readings.sigma_pa)), 50.0)
    late = np.flatnonzero(left > enough)
    return 0.0 if late.size == 0 else float(t[late[-1]])
