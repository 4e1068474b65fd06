"""Bounded nonlinear least squares that says when it failed, and the familiar exponential fit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Function = Callable[[Array], tuple[Array, Array]]
"""parameters (p,) -> residuals (n,) and their Jacobian (n, p). May raise ArithmeticError: "not there".

One whose valley is known to bend says how to follow it: `along(x, step, lower, upper)`, x moved by a step that is
`x + step` for small ones. Without that attribute it is so for all.
"""
Along = Callable[[Array, Array, Array, Array], Array]


@dataclass(frozen=True)
class Fit:
    """Where the fit ended. `converged` False means: use no number from it; `reason` says why.

    parameters: (p,). chi2: sum of squared residuals. covariance: (p, p), inverse of J'J over the free
    parameters (zero rows for those at a bound or held). jacobian, residuals: at the end.
    """

    parameters: Array
    chi2: float
    converged: bool
    reason: str
    covariance: Array
    residuals: Array
    jacobian: Array
    iterations: int


def least_squares(
    function: Function,
    start: Array,
    lower: Array,
    upper: Array,
    tolerance: float = 1e-9,
    most_iterations: int = 200,
    negligible: float = 0.0,
    floor: float = 0.0,
) -> Fit:
    """Minimise the sum of squares of `function` within lower <= parameters <= upper.

    Converged means: the fall of chi2 still to be had is below `tolerance` of what it exceeds `floor` by (or below
    `negligible`, for residuals in standard deviations that a model can meet exactly) by the linear prediction at
    an undamped step, or three steps in a row brought less. Never raises for a bad problem; returns
    `converged` False.
    """
    x = np.clip(np.asarray(start, dtype=float), lower, upper)
    try:
        r, jac = function(x)
    except ArithmeticError:
        return _failed(x, "the model cannot be evaluated at the starting values")
    damping, chi2, quiet = 1e-3, _sum_of_squares(r), 0
    for iteration in range(1, most_iterations + 1):
        free = _free(x, jac.T @ r, lower, upper)
        problem = _quadratic(jac, r, free, x, lower, upper)
        promised = problem.promise()
        little = max(tolerance * (chi2 - floor), negligible, 1e-39)
        if promised <= little:
            return _ended(x, r, jac, lower, upper, iteration)
        moved = _try_steps(function, x, (lower, upper), problem, free, damping, chi2)
        if moved is None:
            # a far valley that the straight line promises but no step reaches is no better fit
            still = min(promised, problem.promise(0.1)) <= 1e3 * little
            return _ended(x, r, jac, lower, upper, iteration, None if still else "no step improves the fit")
        x, r, jac, damping, new_chi2 = moved
        quiet = quiet + 1 if chi2 - new_chi2 <= little else 0
        if quiet == 3:
            return _ended(x, r, jac, lower, upper, iteration)
        chi2 = new_chi2
    return _ended(x, r, jac, lower, upper, most_iterations, f"still moving after {most_iterations} iterations")


def along_of(function: Function) -> Along:
    """How the function's parameters follow a step."""
    return getattr(function, "along", _straight)


def _straight(x: Array, step: Array, lower: Array, upper: Array) -> Array:
    return x + step


def conditional(fit: Fit, index: int, value: float, lower: Array, upper: Array, along: Along = _straight) -> Array:
    """Where the other parameters should go when parameter `index` is moved to `value`.

    The least of the quadratic about `fit`, within the bounds: the start of a constrained fit.
    """
    x, step = fit.parameters, np.zeros(fit.parameters.size)
    step[index] = value - x[index]
    moved = fit.residuals + fit.jacobian[:, index] * step[index]
    free = (upper > lower) & (np.arange(x.size) != index)
    if free.any():
        problem = _quadratic(fit.jacobian, moved, free, x, lower, upper)
        step[free] = problem.step(1e-9) / problem.scale
    there = along(x, step, lower, upper)
    there[index] = value
    return np.clip(there, lower, upper)


def promised_fall(fit: Fit, lower: Array, upper: Array) -> float:
    """By how much chi2 would still fall by the linear prediction, at an undamped step within the bounds."""
    x = fit.parameters
    free = _free(x, fit.jacobian.T @ fit.residuals, lower, upper)
    return _quadratic(fit.jacobian, fit.residuals, free, x, lower, upper).promise()


def inside(x: Array, lower: Array, upper: Array) -> NDArray[np.bool_]:
    """Parameters that are neither held nor at a bound."""
    return np.asarray((x > lower) & (x < upper))


def lengths(jacobian: Array) -> Array:
    """The scale of each parameter: length of its column, 1 for a column of zeros."""
    scale = np.asarray(np.linalg.norm(jacobian, axis=0), dtype=np.float64)
    scale[scale == 0] = 1.0
    return scale


def scaled_variance(jacobian: Array, index: int) -> tuple[float, float]:
    """Variance of one parameter times its scale squared, and that scale; minimum norm where J is singular."""
    scale = lengths(jacobian)
    inverse = np.linalg.pinv((jacobian / scale).T @ (jacobian / scale), rcond=1e-12)
    return float(inverse[index, index]), float(scale[index])


def _sum_of_squares(r: Array) -> float:
    """Infinite, without a warning, when a wild step leaves residuals too large to square."""
    with np.errstate(over="ignore"):
        return float(r @ r)


def _free(x: Array, gradient: Array, lower: Array, upper: Array) -> NDArray[np.bool_]:
    """Parameters that may move: not held, and not pressed against a bound."""
    at_low = (x <= lower) & (gradient > 0)
    at_high = (x >= upper) & (gradient < 0)
    return (upper > lower) & ~at_low & ~at_high


@dataclass(frozen=True)
class _Quadratic:
    """chi2 about x over the free parameters, columns scaled to length one, with the room to each bound.

    triangle, along: R and Q'r of the scaled Jacobian, so that R'R is the Hessian and R'along the gradient.
    """

    triangle: Array
    along: Array
    hessian: Array
    gradient: Array
    scale: Array
    low: Array
    high: Array

    def step(self, damping: float) -> Array:
        """The damped step (scaled) that stays within the bounds: what would leave is put on its bound."""
        gradient, damped = self.gradient, self.hessian.copy()
        damped.flat[:: len(gradient) + 1] += damping
        step = np.asarray(np.linalg.solve(damped, -gradient), dtype=np.float64)
        fixed = np.zeros(len(step), dtype=bool)
        for _ in range(len(step)):
            out = ~fixed & ((step < self.low) | (step > self.high))
            if not out.any():
                break
            step[out] = np.clip(step[out], self.low[out], self.high[out])
            fixed |= out
            rest = ~fixed
            if rest.any():
                push = gradient[rest] + damped[np.ix_(rest, fixed)] @ step[fixed]
                step[rest] = np.linalg.solve(damped[np.ix_(rest, rest)], -push)
        return step

    def promise(self, damping: float = 0.0) -> float:
        """The fall of chi2 that the step within the bounds promises."""
        if not len(self.scale):
            return 0.0
        if damping > 0.0:
            return self.fall(self.step(damping))
        diagonal = np.abs(np.diag(self.triangle))
        if diagonal.min() > 1e-12 * diagonal.max():
            step = np.linalg.solve(self.triangle, -self.along)
            if np.all((step >= self.low) & (step <= self.high)):
                return float(self.along @ self.along)
        return self.fall(self.step(1e-12))

    def fall(self, step: Array) -> float:
        """The fall of chi2 that a step (scaled) promises."""
        moved = self.triangle @ step
        return max(-float(2.0 * self.along @ moved + moved @ moved), 0.0)


def _quadratic(jac: Array, r: Array, free: NDArray[np.bool_], x: Array, lower: Array, upper: Array) -> _Quadratic:
    j = jac[:, free]
    scale = lengths(j)
    # Q is never formed: the triangle of [J r] holds R and Q'r
    columns = len(scale)
    both = np.asarray(np.linalg.qr(np.column_stack((j / scale, r)), mode="r"))
    low, high = (lower[free] - x[free]) * scale, (upper[free] - x[free]) * scale
    triangle, along = both[:columns, :columns], both[:columns, columns]
    return _Quadratic(triangle, along, triangle.T @ triangle, triangle.T @ along, scale, low, high)


def _try_steps(
    function: Function,
    x: Array,
    bounds: tuple[Array, Array],
    problem: _Quadratic,
    free: NDArray[np.bool_],
    damping: float,
    chi2: float,
) -> tuple[Array, Array, Array, float, float] | None:
    """The first damped step that lowers chi2, with more damping at every failure; None after 30.

    The next damping follows from how much of the promised fall came true (Nielsen, IMM-REP-1999-05): in
    a bent valley that spares the next step its failures.
    """
    along = along_of(function)
    for _ in range(30):
        moves = np.zeros(x.size)
        try:
            step = problem.step(damping)
            moves[free] = step / problem.scale
            candidate = along(x, moves, *bounds)
            new_r, new_jac = function(candidate)
            new_chi2 = _sum_of_squares(new_r)
        except (ArithmeticError, np.linalg.LinAlgError):
            new_chi2 = np.inf
        if np.isfinite(new_chi2) and new_chi2 < chi2:
            kept = min((chi2 - new_chi2) / max(problem.fall(step), 1e-300), 1.0)
            damping *= max(1.0 / 3.0, 1.0 - (2.0 * kept - 1.0) ** 3)
            return candidate, new_r, new_jac, max(damping, 1e-12), new_chi2
        damping = max(damping * 5.0, 1e-9)
    return None


def _ended(
    x: Array, r: Array, jac: Array, lower: Array, upper: Array, iterations: int, trouble: str | None = None
) -> Fit:
    free = inside(x, lower, upper)
    covariance = np.zeros((x.size, x.size))
    if free.any():
        j = jac[:, free]
        scale = lengths(j)
        singular = np.linalg.svd(j / scale, compute_uv=False)
        if singular[-1] <= 1e-12 * singular[0]:
            trouble = trouble or "the data cannot tell some parameters apart"
        else:
            inverse = np.linalg.inv((j / scale).T @ (j / scale)) / np.outer(scale, scale)
            covariance[np.ix_(free, free)] = inverse
    chi2 = float(r @ r)
    return Fit(x, chi2, trouble is None, trouble or "converged", covariance, r, jac, iterations)


def _failed(x: Array, reason: str) -> Fit:
    empty = np.zeros((0, x.size))
    return Fit(x, float("inf"), False, reason, np.zeros((x.size, x.size)), np.zeros(0), empty, 0)


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
    bounds = np.array([0.0, 1e-9]), np.array([np.inf, 1e4])
    fit = least_squares(residuals, start, *bounds, negligible=1e-9)  # readings without scatter are met exactly
    return float(1.0 / fit.parameters[1]) if fit.converged and fit.parameters[1] > 1e-8 else None
