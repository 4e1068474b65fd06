"""The solver's bounds: against scipy's bounded linear least squares (`lsq_linear`), closed forms and the covariance."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import lsq_linear

from leakdown.fit.least_squares import (
    _free,
    _quadratic,
    _try_steps,
    conditional,
    inside,
    least_squares,
    lengths,
    scaled_variance,
    time_constant_s,
)

BOUNDS = np.array([-1.0, -0.3, 0.0, -np.inf, 0.2]), np.array([0.4, 0.3, np.inf, 0.1, 0.2])  # the last one is held


def linear(seed, rows=12, scales=(1.0, 1e3, 1e-2, 5.0, 1.0)):
    """A random linear problem J x = y, columns of very different lengths, optimum mostly outside the bounds."""
    rng = np.random.default_rng(seed)
    return rng.normal(size=(rows, 5)) * scales, rng.normal(0.0, 3.0, rows)


def solved(jac, y, lower, upper, start=None):
    at = np.clip(np.zeros(5), lower, upper) if start is None else start
    return least_squares(lambda x: (jac @ x - y, jac), at, lower, upper)


@pytest.mark.parametrize("seed", range(30))
def test_a_bounded_linear_problem_ends_where_scipy_ends(seed):
    jac, y = linear(seed)
    lower, upper = BOUNDS
    fit = solved(jac, y, lower, upper, np.array([0.4, -0.3, 2.0, -5.0, 0.2]) if seed % 2 else None)
    moving = [0, 1, 2, 3]
    known = lsq_linear(jac[:, moving], y - 0.2 * jac[:, 4], (lower[moving], upper[moving]), tol=1e-14)
    assert fit.converged and fit.chi2 == pytest.approx(2.0 * known.cost, rel=1e-7)
    assert fit.parameters[moving] * lengths(jac)[moving] == pytest.approx(known.x * lengths(jac)[moving], abs=1e-3)
    assert fit.parameters[4] == 0.2 and np.all((fit.parameters >= lower) & (fit.parameters <= upper))
    # covariance: inverse normal matrix of those neither held nor at a bound, zero elsewhere
    free = (fit.parameters > lower) & (fit.parameters < upper) & (lower < upper)
    expected = np.zeros((5, 5))
    expected[np.ix_(free, free)] = np.linalg.inv(jac[:, free].T @ jac[:, free])
    assert np.allclose(fit.covariance, expected, rtol=1e-8, atol=0.0)


@pytest.mark.parametrize("seed", range(30))
@pytest.mark.parametrize("index", [0, 3])
def test_moving_one_parameter_takes_the_others_to_their_least(seed, index):
    """The least squares of the rest, as numpy solves them."""
    jac, y = linear(seed)
    wide = np.full(5, -np.inf), np.full(5, np.inf)
    fit = solved(jac, y, *wide)
    moved = conditional(fit, index, fit.parameters[index] + 0.7, *wide)
    rest = [k for k in range(5) if k != index]
    known = np.linalg.lstsq(jac[:, rest], y - jac[:, index] * moved[index], rcond=None)[0]
    assert moved[index] == fit.parameters[index] + 0.7
    assert moved[rest] == pytest.approx(known, rel=1e-5, abs=1e-9)


def test_within_bounds_the_others_move_to_where_it_is_no_worse():
    """A start for a fit, so nearly always: a parameter that was put on its bound is not let go again."""
    lower, upper, no_worse = *BOUNDS, 0
    for seed in range(60):
        jac, y = linear(seed)
        index, to = ((0, 0.2), (3, -1.0))[seed % 2]
        fit = solved(jac, y, lower, upper)
        stayed = fit.parameters.copy()
        stayed[index] = to
        moved = conditional(fit, index, to, lower, upper)
        assert np.all((moved >= lower) & (moved <= upper)) and moved[4] == 0.2
        no_worse += np.sum((jac @ moved - y) ** 2) <= np.sum((jac @ stayed - y) ** 2) * (1 + 1e-9)
    assert no_worse >= 57


def test_which_parameters_may_move():
    """At a bound only those that the gradient drives back inside; a held one never (Karush, Kuhn, Tucker)."""
    lower, upper = np.zeros(8), np.array([1.0, 1.0, 1.0, 1.0, 1.0, 0.0, 1.0, 1.0])
    x = np.array([0.0, 0.0, 1.0, 1.0, 0.5, 0.0, 0.0, 1.0])
    gradient = np.array([1.0, -1.0, 1.0, -1.0, 5.0, -1.0, 0.0, 0.0])
    assert _free(x, gradient, lower, upper).tolist() == [False, True, True, False, True, False, True, True]
    assert inside(x, lower, upper).tolist() == [False] * 4 + [True] + [False] * 3


def test_a_step_stops_at_its_bound_and_the_rest_makes_the_best_of_it():
    """Two coupled parameters: the first would go to 2 and may go to 1; the second then goes to its own least."""
    jac, y = np.array([[1.0, 1.0], [0.0, 1.0], [1.0, 0.0]]), np.array([3.0, 1.0, 2.0])
    lower, upper = np.full(2, -np.inf), np.array([1.0, np.inf])
    problem = _quadratic(jac, -y, np.ones(2, dtype=bool), np.zeros(2), lower, upper)
    step = problem.step(1e-12) / problem.scale
    # by hand: x = 1, then y minimises (y - 2)^2 + (y - 1)^2
    assert step == pytest.approx([1.0, 1.5])
    # chi2 falls from 14 to 0.25 + 0.25 + 1
    assert problem.fall(problem.step(1e-12)) == pytest.approx(12.5)
    assert problem.promise() == pytest.approx(12.5)
    free = _quadratic(jac, -y, np.ones(2, dtype=bool), np.zeros(2), lower, np.full(2, np.inf))
    assert free.promise() == pytest.approx(14.0)  # all of it: (2, 1) meets every row
    assert free.promise(1.0) < 14.0
    assert _quadratic(jac, -y, np.zeros(2, dtype=bool), np.zeros(2), lower, upper).promise() == 0.0


def test_a_step_that_cannot_lower_chi2_is_none():
    """At the least itself; with more damping at every failure until a shorter one helps."""
    jac = np.eye(2)
    everywhere, free = (np.full(2, -np.inf), np.full(2, np.inf)), np.ones(2, dtype=bool)
    x = np.array([1.0, 1.0])
    problem = _quadratic(jac, np.array([1.0, 1.0]), free, x, *everywhere)
    asked = []

    def cliff(at):
        asked.append(float(at[0]))
        if at[0] < 0.9:
            raise ArithmeticError
        return at.copy(), jac

    found = _try_steps(cliff, x, everywhere, problem, free, 1e-3, 2.0)
    assert found is not None and 0.9 <= found[0][0] < 1.0 and asked == sorted(asked)
    # damping five times larger at each failure, and a step of 1/(1 + damping)
    assert asked == pytest.approx([1.0 - 1.0 / (1.0 + 1e-3 * 5.0**k) for k in range(len(asked))])
    tries = []

    def worse(at):
        tries.append(1)
        return at + 10.0, jac

    assert _try_steps(worse, x, everywhere, problem, free, 1e-3, 2.0) is None and len(tries) == 30


def test_what_cannot_be_solved_says_why():
    unbounded = np.full(2, -np.inf), np.full(2, np.inf)

    def impossible(x):
        raise ArithmeticError

    failed = least_squares(impossible, np.zeros(2), *unbounded)
    assert not failed.converged and "starting values" in failed.reason and failed.chi2 == np.inf
    assert failed.residuals.size == 0 and failed.jacobian.shape == (0, 2) and failed.iterations == 0
    twin = np.ones((4, 2))  # two columns alike: no data can part them
    alike = least_squares(lambda x: (twin @ x - np.array([1.0, 2.0, 3.0, 4.0]), twin), np.zeros(2), *unbounded)
    assert not alike.converged and "tell some parameters apart" in alike.reason
    assert alike.chi2 == pytest.approx(5.0) and np.all(alike.covariance == 0.0)  # 1.5^2 + 0.5^2, twice

    def valley(x):  # Rosenbrock's, from its usual start
        return (np.array([10.0 * (x[1] - x[0] ** 2), 1.0 - x[0]]), np.array([[-20.0 * x[0], 10.0], [-1.0, 0.0]]))

    start = np.array([-1.2, 1.0])
    short = least_squares(valley, start, *unbounded, most_iterations=3)
    assert not short.converged and short.iterations == 3 and "after 3 iterations" in short.reason
    far = least_squares(valley, start, *unbounded)
    assert far.converged and far.parameters == pytest.approx([1.0, 1.0], abs=1e-6) and far.iterations < 40


def test_variance_of_one_parameter_and_its_scale():
    """Diagonal of (J'J)^-1; a column of zeros has scale one and, by minimum norm, no variance."""
    jac, _ = linear(5)
    variance, scale = scaled_variance(jac, 1)
    assert scale == pytest.approx(np.linalg.norm(jac[:, 1]))
    assert variance / scale**2 == pytest.approx(np.linalg.inv(jac.T @ jac)[1, 1], rel=1e-9)
    jac[:, 2] = 0.0
    assert scaled_variance(jac, 2) == (pytest.approx(0.0, abs=1e-12), 1.0)
    assert lengths(jac)[2] == 1.0


def test_time_constant_of_what_does_not_fall():
    t, sigma = np.arange(5.0) + 7.0, np.ones(5)
    assert time_constant_s(t, 100.0 * np.exp(-t / 4.0), sigma) == pytest.approx(4.0, rel=1e-6)
    assert time_constant_s(t, np.full(5, 3.0), sigma) is None
    assert time_constant_s(t, np.exp(t), sigma) is None
    assert time_constant_s(t, -np.exp(-t), sigma) is None
    assert time_constant_s(t[:1], np.ones(1), sigma[:1]) is None
    assert time_constant_s(t, np.array([100.0, 1.0, 1.0, 0.0, 0.0]), sigma) is None  # all below a twentieth at once
    falls = time_constant_s(t[:2], np.array([8.0, 4.0]), sigma[:2])
    assert falls == pytest.approx(1.0 / np.log(2.0), rel=1e-6)
