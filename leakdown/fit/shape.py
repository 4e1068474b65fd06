"""Does the hold look like a leak at all? Score tests for the shapes that a plain leak cannot have.

Each odd shape is one more direction in which the readings could move. Its score is the fall of chi2 that
the direction promises on top of the plain fit (Rao's score test), so nothing is refitted unless a shape
stands out.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from leakdown.analysis import Array
from leakdown.fit.least_squares import lengths
from leakdown.fit.model import GROWTH, OPENING, RATE
from leakdown.fit.search import HoldFit, correlation_widening
from leakdown.tuned import tuned

_T = tuned("fit")


@dataclass(frozen=True)
class OddShape:
    """The shape that the readings ask for most: its score, its signed size and, for a step, when."""

    name: str
    score: float
    size: float
    time_s: float = 0.0


def oddest(found: HoldFit) -> OddShape | None:
    """The odd shape that stands out of a plain fit, or None. Steps are looked for at every reading."""
    fit = found.fit
    n = found.model.readings.time_s.size
    if n < _T.shape_from_readings:
        return None
    basis = _orthonormal(fit.jacobian[:, found.free])
    columns = (("opening", OPENING), ("growth", GROWTH), ("creep", fit.parameters.size - 1))
    candidates = [_scored(name, fit.jacobian[:n, k], fit.residuals[:n], basis[:n]) for name, k in columns]
    candidates.append(_best_step(found, basis))
    best, leftover = max(candidates, key=lambda candidate: candidate[0].score)
    score = best.score * found.inflation  # the test must see the misfit, not what was made of it
    return replace(best, score=score) if _stands_out(score, leftover[:n], found) else None


def _best_step(found: HoldFit, basis: Array) -> tuple[OddShape, Array]:
    """The jump of the zero that would mend the residuals most, at any reading but the ends."""
    model, residuals = found.model, found.fit.residuals
    n = model.readings.time_s.size
    steps = np.zeros((residuals.size, n))
    steps[:n] = np.tril(np.ones((n, n))) / model.readings.sigma_pa[:, None]
    projected = steps - basis @ (basis.T @ steps)
    norm = np.einsum("ij,ij->j", projected, projected)
    along = -(projected.T @ residuals)
    score = np.where(norm > 1e-6, along**2 / np.maximum(norm, 1e-6), 0.0)
    score[[0, -1]] = 0.0
    k = int(np.argmax(score))
    if score[k] == 0.0:
        return OddShape("step", 0.0, 0.0), residuals
    size = float(along[k] / norm[k])
    step = OddShape("step", float(score[k]), size, float(model.readings.time_s[k]))
    return step, residuals + size * projected[:, k]


def _stands_out(score: float, leftover: Array, found: HoldFit) -> bool:
    """F test: the fall of chi2 against what would still be left.

    A sheet's few readings must show more, and so must readings that would still wander: slow noise
    makes steps and bends of its own.
    """
    left = (found.misfit * found.dof - score) / max(found.dof - 1.0, 0.5)
    few = 1.0 + _T.stands_out_more_for_few / max(found.dof, 1.0)
    needed = _T.stands_out_chi2 * few * max(left, 1.0) * correlation_widening(leftover)
    return bool(found.dof > 2.0 and score > needed)


def rising(found: HoldFit) -> float:
    """How strongly (in standard deviations) the readings climb against a leak of zero; 0 when they do not."""
    fit = found.fit
    if fit.parameters[RATE] > found.lower[RATE]:
        return 0.0
    others = found.free
    others[RATE] = False
    climb, _ = _scored("rise", fit.jacobian[:, RATE], fit.residuals, _orthonormal(fit.jacobian[:, others]))
    return float(np.sqrt(climb.score)) if climb.size < 0 else 0.0


def _scored(name: str, column: Array, residuals: Array, basis: Array) -> tuple[OddShape, Array]:
    """Score and size of one direction, and the residuals it would leave."""
    projected = column - basis @ (basis.T @ column)
    norm = float(projected @ projected)
    if norm < 1e-6 * max(float(column @ column), 1e-12):
        return OddShape(name, 0.0, 0.0), residuals
    along = -float(projected @ residuals)
    return OddShape(name, along**2 / norm, along / norm), residuals + along / norm * projected


def _orthonormal(jacobian: Array) -> Array:
    return np.linalg.qr(jacobian / lengths(jacobian))[0]
