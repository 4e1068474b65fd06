"""The solver and the profile, written a second time: steps in one dimension by hand, the rest by numpy and scipy."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy.optimize import curve_fit

from leakdown.fit.interval import CHI2_95, _first_step, _Search, profile, rise_of_95, straight_profile
from leakdown.fit.least_squares import (
    Fit,
    _free,
    _quadratic,
    _sum_of_squares,
    _try_steps,
    conditional,
    least_squares,
    scaled_variance,
    time_constant_s,
)

FREE = np.full(1, -np.inf), np.full(1, np.inf)


def floored(floor: float, asked: list[float]) -> Any:
    """Residuals x and `floor`: the least is floor^2, and a straight step promises x^2."""

    def function(x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        asked.append(float(x[0]))
        return np.array([x[0], floor]), np.array([[1.0], [0.0]])

    return function


def test_every_step_of_a_straight_problem() -> None:
    """x falls to d/(1 + d) of itself, the damping d to a third of itself, until what is left is negligible."""
    for seed in range(40):
        rng = np.random.default_rng([1, seed])
        x, floor = 10.0 ** rng.uniform(-2.0, 6.0), rng.choice([0.0, 1.0, 30.0])
        tolerance, negligible = 10.0 ** rng.uniform(-12.0, -3.0), rng.choice([0.0, 1e-3, 0.3])
        asked: list[float] = []
        fit = least_squares(floored(floor, asked), np.array([x]), *FREE, tolerance, 60, negligible)
        wanted, damping, quiet = [x], 1e-3, 0
        while quiet < 3:
            little = max(tolerance * (x * x + floor**2), negligible, 1e-39)
            if x * x <= little:
                break
            before, x = x, x * damping / (1.0 + damping)
            damping = max(damping / 3.0, 1e-12)
            wanted.append(x)
            quiet = quiet + 1 if before**2 - x * x <= little else 0
        assert asked == pytest.approx(wanted, rel=1e-6) and fit.iterations == len(wanted) and fit.converged
        assert fit.chi2 == pytest.approx(x * x + floor**2) and fit.reason == "converged"


def test_a_meeting_in_thin_air_ends_at_last() -> None:
    """Without a floor nothing is negligible but 1e-39; else, when nobody says more, 1e-9 of chi2, in 200 steps."""
    asked: list[float] = []
    fit = least_squares(floored(0.0, asked), np.array([1.0]), *FREE)
    assert fit.converged and asked[-1] ** 2 <= 1e-39 < asked[-2] ** 2
    for floor, square, steps in ((0.0, 0.9e-39, 1), (0.0, 1.1e-39, 2), (1.0, 0.9e-9, 1), (1.0, 1.1e-9, 2)):
        assert least_squares(floored(floor, []), np.array([math.sqrt(square)]), *FREE).iterations == steps
    slow = least_squares(crawling([0.3] * 300, []), np.zeros(1), *FREE, negligible=0.2)
    assert slow.iterations == 200 and not slow.converged


def crawling(gains: list[float], asked: list[int]) -> Any:
    """chi2 of 100 that falls by the next of `gains` at every call, however much the Jacobian promises (all of it)."""

    def function(x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        left = 100.0 - sum(gains[: len(asked)])
        asked.append(1)
        return np.array([math.sqrt(left)]), np.ones((1, 1))

    return function


def test_three_steps_in_a_row_that_bring_little_are_the_end() -> None:
    for gains, taken in (([0.1] * 9, 3), ([0.1, 0.1, 5.0] + [0.1] * 9, 6), ([5.0] + [0.1] * 9, 4)):
        asked: list[int] = []
        fit = least_squares(crawling(gains, asked), np.zeros(1), *FREE, negligible=0.2)
        assert fit.converged and fit.iterations == taken == len(asked) - 1
    asked = []
    least = least_squares(crawling([0.3] * 30, asked), np.zeros(1), *FREE, most_iterations=7, negligible=0.2)
    assert not least.converged and least.iterations == 7 and least.reason == "still moving after 7 iterations"
    at_once = least_squares(crawling([0.1] * 3, []), np.zeros(1), *FREE, most_iterations=3, negligible=0.2)
    assert at_once.converged


def stuck(r: np.ndarray, jac: np.ndarray) -> Any:
    """Residuals that are larger everywhere but at the start."""
    return lambda x: (r if not x.any() else 10.0 * r, jac)


@pytest.mark.parametrize(("promised", "converged"), [(1.1, True), (950.0, True), (1050.0, False), (1e5, False)])
def test_a_fit_that_no_step_improves(promised: float, converged: bool) -> None:
    """It has arrived where no more than a thousand times the negligible is promised."""
    fit = least_squares(stuck(np.array([math.sqrt(promised)]), np.eye(1)), np.zeros(1), *FREE, 0.0, 9, 1.0)
    assert fit.converged is converged and fit.iterations == 1
    assert fit.reason == ("converged" if converged else "no step improves the fit")


@pytest.mark.parametrize(("share", "converged"), [(0.97, True), (1.03, False)])
def test_a_far_valley_counts_as_far_as_a_damped_step_sees_it(share: float, converged: bool) -> None:
    """Two columns nearly alike: what they promise together a step damped by 0.1 hardly keeps (numpy's ridge)."""
    jac = np.array([[1.0, math.cos(0.02)], [0.0, math.sin(0.02)]])
    ridge = -np.linalg.solve(jac.T @ jac + 0.1 * np.eye(2), jac.T @ np.array([0.0, 1.0]))
    kept = 1.0 - float(np.sum((jac @ ridge + np.array([0.0, 1.0])) ** 2))
    r = np.array([0.0, math.sqrt(share * 1e3 / kept)])
    fit = least_squares(stuck(r, jac), np.zeros(2), np.full(2, -np.inf), np.full(2, np.inf), 0.0, 9, 1.0)
    assert fit.converged is converged and fit.chi2 > 1e4


def test_damped_steps_within_bounds() -> None:
    """Numpy's ridge (columns of length one); what would leave goes on its bound, and the rest is solved again."""
    for seed in range(60):
        rng = np.random.default_rng([2, seed])
        jac, r = rng.normal(size=(7, 4)) * 10.0 ** rng.uniform(-2.0, 2.0, 4), rng.normal(0.0, 3.0, 7)
        x, room = rng.normal(size=4), 10.0 ** rng.uniform(-2.0, 2.0, 4)
        free = np.array([True, True, seed % 3 != 0, True])
        lower, upper = x - room * rng.uniform(size=4), x + room * rng.uniform(size=4)
        damping = 10.0 ** rng.uniform(-6.0, 1.0)
        problem = _quadratic(jac, r, free, x, lower, upper)
        length = np.linalg.norm(jac[:, free], axis=0)
        scaled, low, high = jac[:, free] / length, (lower - x)[free] * length, (upper - x)[free] * length
        assert problem.scale == pytest.approx(length)
        step, still = np.zeros(len(length)), np.ones(len(length), dtype=bool)
        while still.any():
            rows = np.vstack((scaled[:, still], math.sqrt(damping) * np.eye(still.sum())))
            rest = -(r + scaled[:, ~still] @ step[~still])
            step[still] = np.linalg.lstsq(rows, np.append(rest, np.zeros(still.sum())), rcond=None)[0]
            out = still & ((step < low) | (step > high))
            step[out] = np.clip(step, low, high)[out]
            still &= ~out
            if not out.any():
                break
        assert problem.step(damping) == pytest.approx(step, rel=1e-6, abs=1e-9)
        fall = float(r @ r - np.sum((r + scaled @ step) ** 2))
        assert problem.fall(problem.step(damping)) == pytest.approx(max(fall, 0.0), rel=1e-6, abs=1e-9)
        assert problem.promise(damping) == problem.fall(problem.step(damping))
        whole = -np.linalg.lstsq(scaled, r, rcond=None)[0]
        inside = np.all((whole >= low) & (whole <= high))
        best = whole if inside else problem.step(1e-12)
        wanted = float(r @ r - np.sum((r + scaled @ best) ** 2))
        assert problem.promise() == pytest.approx(max(wanted, 0.0), rel=1e-6, abs=1e-9)
        assert problem.fall(-2.5 * whole) == 0.0


def test_what_one_number_promises_up_to_its_bound() -> None:
    """x^2 of all that is left, less (x - room)^2; a held one that nothing pushes may not move either."""
    for to in (1.0, -1.0):
        for room, promised in ((2.0, 1.0), (0.5, 0.75), (0.1, 1.0 - 0.81)):
            for low, high in ((-room, 0.01), (-0.01, room)):
                right = (low if to < 0.0 else high) in (-room, room)
                problem = _quadratic(
                    *(np.eye(1), np.array([-to]), np.ones(1, bool), np.zeros(1)), np.array([low]), np.array([high])
                )
                assert problem.promise() == pytest.approx(promised if right else 1.0 - 0.99**2)
    assert not _free(np.zeros(1), np.zeros(1), np.zeros(1), np.zeros(1)).any()


def test_what_columns_alike_promise() -> None:
    """Twins, and a column of zeros: the part of the residuals that the others span."""
    r = np.array([3.0, 1.0, -2.0])
    for jac in (np.ones((3, 2)), np.column_stack((np.ones(3), np.zeros(3)))):
        problem = _quadratic(jac, r, np.ones(2, bool), np.zeros(2), np.full(2, -np.inf), np.full(2, np.inf))
        assert problem.promise() == pytest.approx(4.0 / 3.0, rel=1e-6)  # sum^2/3
        assert scaled_variance(jac, 0)[0] == pytest.approx(1.0 if jac[0, 1] == 0.0 else 0.25)
    rng = np.random.default_rng(7)
    for _ in range(20):
        jac = rng.normal(size=(6, 3)) * (1.0, 1e3, 1e-3)
        variance, scale = scaled_variance(jac, 1)
        assert variance / scale**2 == pytest.approx(np.linalg.inv(jac.T @ jac)[1, 1], rel=1e-6)


def test_the_next_damping() -> None:
    """By how much of the promised fall came true: 1 - (2 kept - 1)^3, no less than a third, never below 1e-12."""
    free = np.ones(1, bool)
    for kept, damping in ((1.0, 0.3), (0.9, 0.3), (0.8, 0.1), (0.5, 0.3), (0.1, 0.3), (1.6, 0.3), (1.0, 2e-12)):
        problem = _quadratic(np.eye(1), np.ones(1), free, np.zeros(1), *FREE)
        promised = 1.0 - (damping / (1.0 + damping)) ** 2
        after = 1.0 - min(kept, 1.0 / promised) * promised

        def function(x: np.ndarray, after: float = after) -> tuple[np.ndarray, np.ndarray]:
            return np.array([math.sqrt(max(after, 0.0))]), np.eye(1)

        found = _try_steps(function, np.zeros(1), FREE, problem, free, damping, 1.0)
        assert found is not None
        factor = max(1.0 / 3.0, 1.0 - (2.0 * min(kept, 1.0) - 1.0) ** 3)
        assert found[3] == pytest.approx(max(damping * factor, 1e-12)) and found[4] == pytest.approx(after)
    # a failure makes it five times as large, and 1e-9 at least
    tries: list[float] = []

    def second(x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        tries.append(float(x[0]))
        return (np.ones(1) * np.inf if len(tries) == 1 else np.zeros(1)), np.eye(1)

    problem = _quadratic(np.eye(1), np.ones(1), free, np.zeros(1), *FREE)
    found = _try_steps(second, np.zeros(1), FREE, problem, free, 1e-12, 1.0)
    assert found is not None and found[3] == pytest.approx(1e-9 / 3.0)
    assert _sum_of_squares(np.full(3, 1e200)) == np.inf and _sum_of_squares(np.array([3.0, 4.0])) == 25.0


def test_the_others_follow_within_their_bounds() -> None:
    """The least of the rest by numpy where that is inside; a held one and the moved one stay."""
    for seed in range(60):
        rng = np.random.default_rng([3, seed])
        jac, r, x = rng.normal(size=(6, 4)), rng.normal(size=6), rng.normal(size=4)
        index, value = int(rng.integers(4)), float(rng.normal())
        held = (index + 1) % 4
        room = 50.0 if seed < 40 else 0.3
        lower, upper = x - room, x + room
        lower[held] = upper[held] = x[held]
        fit = Fit(x, float(r @ r), True, "", np.zeros((4, 4)), r, jac, 1)
        found = conditional(fit, index, value, lower, upper)
        if seed >= 40:  # what would leave goes on its bound, and the rest is solved again
            moves = np.array([k not in (index, held) for k in range(4)])
            moved = r + jac[:, index] * (value - x[index])
            problem = _quadratic(jac, moved, moves, x, lower, upper)
            known = np.clip(x[moves] + problem.step(1e-9) / problem.scale, lower[moves], upper[moves])
            assert found[moves] == pytest.approx(known, rel=1e-9) and found[held] == x[held]
            continue
        rest = [k for k in range(4) if k not in (index, held)]
        known = x[rest] - np.linalg.lstsq(jac[:, rest], r + jac[:, index] * (value - x[index]), rcond=None)[0]
        assert found[rest] == pytest.approx(known, abs=1e-6) and (found[index], found[held]) == (value, x[held])
        assert fit.parameters is x and found is not x
    upper[index] = x[index] + 1.0
    assert conditional(fit, index, x[index] + 3.0, lower, upper)[index] == x[index] + 1.0


def test_the_familiar_exponential_is_scipy_s() -> None:
    """Weighted, of readings that scatter; it starts at the first reading wherever the clock stands."""
    for seed in range(12):
        rng = np.random.default_rng([4, seed])
        t, tau = np.sort(rng.uniform(0.0, 40.0, 15)) + 100.0, rng.uniform(5.0, 60.0)
        sigma = rng.uniform(20.0, 800.0, 15)
        p = 40e3 * np.exp(-(t - 100.0) / tau) + rng.normal(0.0, 1.0, 15) * sigma
        (_, known), _ = curve_fit(
            lambda at, top, tau_s: top * np.exp(-at / tau_s), t - t[0], p, [p[0], tau], sigma, xtol=1e-12
        )
        assert time_constant_s(t, p, sigma) == pytest.approx(known, rel=1e-4)
    # the logarithms fall, the readings that count rise
    t = np.array([0.0, 1.0, 2.0, 3.0])
    assert time_constant_s(t, np.array([10.0, 8.0, 9.0, 9.5]), np.array([1e3, 1e3, 1.0, 1.0])) is None
    # of what is left of the first reading a twentieth counts: 6 % and 4 %
    t = np.array([0.0, 1.0, 2.0])
    assert time_constant_s(t, np.array([100.0, 6.0, 4.0]), np.ones(3)) == pytest.approx(0.357, abs=0.01)
    assert time_constant_s(t, np.array([100.0, 4.9, 4.0]), np.ones(3)) is None
    assert time_constant_s(t, np.array([0.0, -1.0, -2.0]), np.ones(3)) is None


# ---------------------------------------------------------------- the profile

GOAL = 1.7


def risen(root: Any, asked: list[float]) -> _Search:
    """A search of one parameter about 3 whose root of the rise is `root` of the distance from there."""

    def function(x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        asked.append(float(x[0]))
        return np.array([root(float(x[0]) - 3.0)]), np.ones((1, 1))

    best = Fit(np.array([3.0]), 0.0, True, "", np.ones((1, 1)), np.zeros(1), np.ones((1, 1)), 1)
    return _Search(function, best, 0, np.array([-1e9]), np.array([1e9]), GOAL)


@pytest.mark.parametrize(("off", "trials"), [(-0.12, 2), (-0.09, 1), (0.0, 1), (0.09, 1), (0.12, 2)])
def test_a_trial_within_a_tenth_is_the_end(off: float, trials: int) -> None:
    """The rest of the way in proportion; first the trial itself, then where both ends say."""
    for side in (1.0, -1.0):
        asked: list[float] = []
        search = risen(lambda away: abs(away), asked)
        end = search.end(side * GOAL * (1.0 + off))
        assert len(asked) == trials and end.found and not end.better
        assert end.value == pytest.approx(3.0 + side * GOAL) and asked[0] == 3.0 + side * GOAL * (1.0 + off)
        assert end.at[0] == pytest.approx(end.value) and (trials == 1 or asked[1] == pytest.approx(3.0 + side * GOAL))


@pytest.mark.parametrize(("second", "trials"), [(0.82, 2), (0.78, 3), (1.18, 2), (1.22, 3)])
def test_after_two_trials_a_fifth_is_near_enough(second: float, trials: int) -> None:
    """The rest of the way along the line through both: here the rise begins late, and the second trial is off."""

    def root(away: float) -> float:
        """0.6 of the goal at 1, and from there a line that has `second` of it where the ray of the first meets it."""
        return GOAL * (0.6 * away if away <= 1.0 else 0.6 + (second - 0.6) * (away - 1.0) / (1.0 / 0.6 - 1.0))

    for side in (1.0, -1.0):
        asked: list[float] = []
        end = risen(lambda away: root(abs(away)), asked).end(side)
        assert len(asked) == trials and end.found
        crossing = 1.0 + 0.4 * (1.0 / 0.6 - 1.0) / (second - 0.6)
        assert end.value == pytest.approx(3.0 + side * crossing) and end.at[0] == pytest.approx(end.value)


def test_a_line_that_is_nearly_level_goes_not_far() -> None:
    """Two trials that say nearly the same: three tenths of the ray's slope is the least; never past the bounds."""
    search = risen(lambda away: 0.0, [])
    value, root = 3.0 + 2.0, 0.9 * GOAL
    there = search._crossing((4.0, 0.899 * GOAL), (value, root), 3.0)
    assert there == pytest.approx(value + 0.1 * GOAL / (0.3 * root / 2.0))
    near = replace(search, lower=np.array([2.9]), upper=np.array([5.1]))
    assert near._crossing((4.0, 0.899 * GOAL), (value, root), 3.0) == 5.1
    assert near._crossing((2.97, 0.5 * GOAL), (2.95, 0.85 * GOAL), 3.0) == pytest.approx(2.95 - 0.02 * 0.15 / 0.35)


def test_an_end_that_is_never_reached() -> None:
    """A rise that stays at half of the goal: twice as far at every trial, 24 times, and no end."""
    asked: list[float] = []
    end = risen(lambda away: 0.5 * GOAL, asked).end(1e-3)
    assert not end.found and [away - 3.0 for away in asked] == pytest.approx([1e-3 * 2.0**k for k in range(24)])
    assert end.value == pytest.approx(3.0 + 1e-3 * 2.0**24) and end.at[0] == asked[-1]
    for sides, complete in (((0.0, 0.0), False), ((1.0, 0.0), False), ((0.0, 1.0), False), ((1.0, 1.0), True)):
        search = risen(lambda away, sides=sides: abs(away) if sides[int(away > 0.0)] else 0.5 * GOAL, [])
        found = profile(search.function, search.best, 0, search.lower, search.upper, GOAL**2)
        assert found.complete is complete
    walled = replace(risen(lambda away: 0.5 * GOAL, []), upper=np.array([7.0]), lower=np.array([1.0]))
    assert (walled.end(1.0).value, walled.end(-1.0).value) == (7.0, 1.0) and walled.end(1.0).found


def test_a_wall_that_was_a_false_valley_is_forgotten() -> None:
    """At the first trial all is high; once within a fiftieth of the step there is no such wall, the end lies at 5.1."""
    for step in (2.0, 1.9, 1.7, 1.4, 1.1, -2.0, -1.3, -1.0):
        asked: list[float] = []
        search = risen(lambda away, asked=asked: 50.0 if len(asked) <= 2 else abs(away) / 3.0, asked)
        end = search.end(step)
        assert end.found and end.value == pytest.approx(3.0 + math.copysign(3.0 * GOAL, step), rel=0.02)
        wanted, inner = [step, step], 0.0
        while abs(step - inner) >= 0.02 * abs(step):  # what both ends say, a wall no higher than twice the goal
            root = abs(inner) / 3.0
            inner += (GOAL - root) / (2.0 * GOAL - root) * (step - inner)
            wanted.append(inner)
        wanted.append(inner * GOAL / max(abs(inner) / 3.0, 0.25 * GOAL))
        assert [at - 3.0 for at in asked[: len(wanted)]] == pytest.approx(wanted)


@pytest.mark.parametrize(("rise", "root"), [(-0.09, 0.0), (-0.11, -1.0), (0.0, 0.0), (4.0, 2.0)])
def test_a_place_is_better_by_more_than_a_tenth(rise: float, root: float) -> None:
    search = risen(lambda away: math.sqrt(5.0 + rise), [])
    search = replace(search, best=replace(search.best, chi2=5.0))
    found, fit = search._root_of_rise(4.0, search.best)
    assert found == pytest.approx(root, abs=1e-6) and fit.parameters[0] == 4.0
    assert search.end(1.0).better is (root < 0.0) and (root >= 0.0 or search.end(1.0).found)


@pytest.mark.parametrize(("rise", "starts"), [(5.9, 1), (6.1, 2)])
def test_a_leap_that_went_far_up_is_tried_from_nearby_too(rise: float, starts: int) -> None:
    """Six times the goal's own rise."""
    asked: list[float] = []
    search = risen(lambda away: math.sqrt(rise * GOAL**2 + 70.0), asked)
    search = replace(search, best=replace(search.best, chi2=70.0))
    assert search._root_of_rise(4.0, search.best)[0] == pytest.approx(math.sqrt(rise) * GOAL)
    assert asked == [4.0] * starts


def test_of_two_starts_the_lower_counts() -> None:
    """Where the straight line leads the other number is caught; from where it was it finds its least."""

    def function(x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        caught = x[1] > 0.5
        return np.array([x[0], 100.0 if caught else x[1]]), np.array([[1.0, 0.0], [-1.0, 0.0 if caught else 1.0]])

    best = Fit(np.zeros(2), 0.0, True, "", np.eye(2), np.zeros(2), function(np.zeros(2))[1], 1)
    search = _Search(function, best, 0, np.full(2, -1e3), np.full(2, 1e3), 0.2)
    root, fit = search._root_of_rise(1.0, best)
    assert root == pytest.approx(1.0) and fit.parameters == pytest.approx([1.0, 0.0], abs=1e-6)


@pytest.mark.parametrize(
    ("rest", "left", "moved"), [(0.0, 0.09, False), (0.0, 0.11, True), (1.0, 0.24, False), (1.0, 0.26, True)]
)
def test_what_is_left_to_gain_is_taken_off(rest: float, left: float, moved: bool) -> None:
    """A tenth of chi2, or a fifth of the rise, is not worth a step of the other number: a straight line tells it."""
    at = math.sqrt(left)
    search = risen(lambda away: 0.0, [])
    search = replace(
        search,
        function=lambda x: (np.array([math.sqrt(7.0 + rest), x[1] - at]), np.eye(2)),
        best=replace(
            search.best, parameters=np.array([3.0, 0.0]), residuals=np.zeros(2), jacobian=np.zeros((2, 2)), chi2=7.0
        ),
        lower=np.full(2, -9.0),
        upper=np.full(2, 9.0),
    )
    root, fit = search._root_of_rise(3.5, search.best)
    assert fit.parameters[1] == (pytest.approx(at, rel=1e-2) if moved else 0.0)
    assert root == pytest.approx(math.sqrt(rest), abs=1e-3)


def test_the_first_step_is_the_covariance_s() -> None:
    """Of those that may move, the profiled one among them even on its bound; nothing felt: a twentieth of it."""
    for seed in range(20):
        rng = np.random.default_rng([5, seed])
        jac, x = rng.normal(size=(7, 4)), rng.normal(size=4)
        index, pressed = seed % 4, (seed + 1 + seed // 4) % 4
        lower, upper = x - 1.0, x + 1.0
        upper[pressed] = x[pressed]
        if seed % 2:
            lower[index] = x[index]
        fit = Fit(x, 1.0, True, "", np.zeros((4, 4)), np.zeros(7), jac, 1)
        kept = [k for k in range(4) if k == index or k != pressed]
        normal = np.linalg.inv(jac[:, kept].T @ jac[:, kept])
        wanted = math.sqrt(3.0 * normal[kept.index(index), kept.index(index)])
        assert _first_step(fit, index, lower, upper, 3.0) == pytest.approx(wanted)
        low, high = max(x[index] - wanted, lower[index]), min(x[index] + wanted, upper[index])
        straight = straight_profile(fit, index, lower, upper, 3.0)
        assert (straight.low, straight.high) == (pytest.approx(low), pytest.approx(high))
        assert straight.at_low[index] == straight.low and straight.at_high[index] == straight.high
    deaf = replace(fit, jacobian=np.zeros((7, 4)), parameters=np.array([-4.0, 0.0, 1.0, 1.0]))
    wide = np.full(4, -9.0), np.full(4, 9.0)
    assert _first_step(deaf, 0, *wide, 3.0) == pytest.approx(0.2) and _first_step(deaf, 1, *wide, 3.0) == 1e-9


def test_a_bent_profile_of_two() -> None:
    """chi2 = (e^x - 2)^2/0.09 + (y - x)^2/0.01: the second follows the first, the ends are logarithms."""

    def function(x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        e = math.exp(x[0])
        return np.array([(e - 2.0) / 0.3, (x[1] - x[0]) / 0.1]), np.array([[e / 0.3, 0.0], [-10.0, 10.0]])

    wide = np.full(2, -20.0), np.full(2, 20.0)
    best = least_squares(function, np.zeros(2), *wide)
    for threshold in (CHI2_95, 1.0):
        found = profile(function, best, 0, *wide, threshold)
        away = 0.3 * math.sqrt(threshold)
        assert (found.low, found.high) == pytest.approx((math.log(2.0 - away), math.log(2.0 + away)), abs=0.01)
        assert found.at_low[1] == pytest.approx(found.at_low[0], abs=1e-3) and found.complete
        assert found.at_high[1] == pytest.approx(found.at_high[0], abs=1e-3) and found.better is None


def test_whose_scatter_is_believed() -> None:
    """Exactly at both bounds the readings' own deviations still count."""
    assert rise_of_95(8.0, 1.3) == rise_of_95(60.0, 9.0) == CHI2_95 < rise_of_95(59.9, 1.31)
