"""Odd shapes of a hold beside the plain leak, and score tests that say where a look is worth its time.

Each direction in which the readings could move has a score: the fall of chi2 that it promises on top of the
plain fit (Rao's score test), so nothing is refitted unless something is left over.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from leakdown.analysis import Array
from leakdown.fit.least_squares import lengths
from leakdown.fit.model import GROWTH, OPENING
from leakdown.fit.search import HoldFit, correlation_widening
from leakdown.tuned import tuned

_T = tuned("fit")


@dataclass(frozen=True)
class OddShape:
    """A shape that is no plain leak: "opening" (closes at a pressure), "growth" (grows or shrinks in time),
    "pressed" (the pressure opens or shuts it), "creep" (soft hose, vapour) or "step"; its signed size and,
    for a step, when.
    """

    name: str
    size: float
    time_s: float = 0.0


@dataclass(frozen=True)
class Jump:
    """The jump of the reading that would mend a plain fit most: fall of chi2 (readings as they were), size
    and its standard deviation in Pa, when, and what the residuals would be then."""

    score: float
    size_pa: float
    sd_pa: float
    time_s: float
    leftover: Array


def worth_a_look(found: HoldFit) -> bool:
    """Whether something is left in the residuals, or was pressed into the priors, that a shape could explain."""
    n = found.model.readings.time_s.size
    if n < _T.shape_from_readings:
        return False
    if found.on_priors > _T.look_on_priors:
        return True
    basis = _orthonormal(found.fit.jacobian[:, found.free])[:n]
    columns = (found.fit.jacobian[:n, k] for k in (OPENING, GROWTH))
    scores = [_scored(column, found.fit.residuals[:n], basis)[0] for column in columns]
    measured = found.model.readings.noise_pa > 0.0  # a sheet does not say how far its readings scatter
    unlike = measured and found.misfit > _T.look_misfit
    return bool(unlike or max(scores) * found.inflation > _T.look_score)


def biggest_jump(found: HoldFit) -> Jump | None:
    """The jump that would mend the residuals most, at any reading but the ends; None when there is none."""
    model, residuals = found.model, found.fit.residuals
    n = model.readings.time_s.size
    if n < _T.shape_from_readings:
        return None
    as_read = np.ones(residuals.size)
    as_read[:n] = math.sqrt(found.inflation)  # the test must see the misfit, not what was made of it
    basis = _orthonormal(found.fit.jacobian[:, found.free] * as_read[:, None])
    left = residuals * as_read
    left = left - basis @ (basis.T @ left)
    steps = np.zeros((residuals.size, n))
    steps[:n] = np.tril(np.ones((n, n))) / (model.readings.sigma_pa / as_read[:n])[:, None]
    projected = steps - basis @ (basis.T @ steps)
    norm = np.einsum("ij,ij->j", projected, projected)
    along = -(projected.T @ left)
    score = np.where(norm > 1e-6, along**2 / np.maximum(norm, 1e-6), 0.0)
    score[-1], score[model.readings.time_s < _T.jump_after_s] = 0.0, 0.0  # the valve itself jumps when shut
    k = int(np.argmax(score))
    if score[k] == 0.0:
        return None
    size = float(along[k] / norm[k])
    leftover = (left + size * projected[:, k])[:n]
    return Jump(float(score[k]), size, 1.0 / math.sqrt(norm[k]), float(model.readings.time_s[k]), leftover)


def scatter_after(jump: Jump, found: HoldFit) -> float:
    """Reduced chi2, correlation included, of the readings once the jump is taken out."""
    left = float(jump.leftover @ jump.leftover) / max(found.dof - 2.0, 1.0)
    return max(left * correlation_widening(jump.leftover), 1.0)


def _scored(column: Array, residuals: Array, basis: Array) -> tuple[float, float]:
    """Score and size of one direction."""
    projected = column - basis @ (basis.T @ column)
    norm = float(projected @ projected)
    if norm < 1e-6 * max(float(column @ column), 1e-12):
        return 0.0, 0.0
    along = -float(projected @ residuals)
    return along**2 / norm, along / norm


def _orthonormal(jacobian: Array) -> Array:
    return np.linalg.qr(jacobian / lengths(jacobian))[0]
