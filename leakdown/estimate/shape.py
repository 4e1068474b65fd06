"""Does the hold look like a leak at all? Score tests for the shapes that a plain leak cannot have.

Each odd shape is one more direction in which the readings could move. Its score is the fall of chi2 that
the direction promises on top of the plain fit (Rao's score test), so nothing is refitted unless a shape
stands out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leakdown.estimate.model import GROWTH, OPENING
from leakdown.estimate.search import Found

Array = NDArray[np.float64]

_STANDS_OUT = 20.0  # chi2 with one degree of freedom; chance gives 20 once in 130 000 looks


@dataclass(frozen=True)
class Odd:
    """The shape that the readings ask for most: its score, its signed size and, for a step, when."""

    name: str
    score: float
    size: float
    time_s: float = 0.0


def oddest(found: Found) -> Odd | None:
    """The odd shape that stands out of a plain fit, or None. Steps are looked for at every reading."""
    fit, model = found.fit, found.model
    n = model.readings.time_s.size
    if n < 6:
        return None
    free = (found.upper > found.lower) & (fit.parameters > found.lower) & (fit.parameters < found.upper)
    basis = _orthonormal(fit.jacobian[:, free])
    widen = np.sqrt(found.inflation)  # the test must see the misfit, not what was made of it
    sigma = model.readings.sigma_pa
    columns = (("opening", OPENING), ("growth", GROWTH), ("creep", fit.parameters.size - 1))
    candidates = [
        _scored(name, fit.jacobian[:n, k], fit.residuals[:n], basis[:n], widen) for name, k in columns
    ]
    steps = np.concatenate((np.tril(np.ones((n, n))) / sigma[:, None], np.zeros((fit.residuals.size - n, n))))
    projected = steps - basis @ (basis.T @ steps)
    norm = np.einsum("ij,ij->j", projected, projected)
    along = -(projected.T @ fit.residuals)
    with np.errstate(divide="ignore", invalid="ignore"):
        score = np.where(norm > 1e-6, along**2 / norm, 0.0)
    score[[0, -1]] = 0.0
    k = int(np.argmax(score))
    if norm[k] > 1e-6:
        candidates.append(
            Odd(
                "step", float(score[k] * widen**2), float(along[k] / norm[k]), float(model.readings.time_s[k])
            )
        )
    best = max(candidates, key=lambda odd: odd.score)
    return best if _stands_out(best.score, found) else None


def _stands_out(score: float, found: Found) -> bool:
    """F test: the fall of chi2 against what would still be left; a sheet's few readings must show more."""
    left = (found.misfit * found.dof - score) / max(found.dof - 1.0, 0.5)
    return found.dof > 2.0 and score > _STANDS_OUT * (1.0 + 10.0 / found.dof) * max(left, 1.0)


def rising(found: Found) -> float:
    """How strongly (in standard deviations) the readings climb against a leak of zero; 0 when they do not."""
    fit = found.fit
    if fit.parameters[0] > found.lower[0]:
        return 0.0
    others = (found.upper > found.lower) & (fit.parameters > found.lower) & (fit.parameters < found.upper)
    others[0] = False
    basis = _orthonormal(fit.jacobian[:, others])
    odd = _scored("rise", fit.jacobian[:, 0], fit.residuals, basis, 1.0)
    return float(np.sqrt(odd.score)) if odd.size < 0 else 0.0


def _scored(name: str, column: Array, residuals: Array, basis: Array, widen: float) -> Odd:
    projected = column - basis @ (basis.T @ column)
    norm = float(projected @ projected)
    if norm < 1e-6 * max(float(column @ column), 1e-12):
        return Odd(name, 0.0, 0.0)
    along = -float(projected @ residuals)
    return Odd(name, along**2 / norm * widen**2, along / norm)


def _orthonormal(jacobian: Array) -> Array:
    scale = np.linalg.norm(jacobian, axis=0)
    return np.linalg.qr(jacobian / np.where(scale > 0, scale, 1.0))[0]
