"""Profile-likelihood interval of the loss rate: every other number refitted at each trial rate.

Unlike a covariance it keeps its level when the flow law sits on a bound (pure hole, pure weep), when the
hold is too short to tell the law, and next to zero, where it turns into an upper limit.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from leakdown.analysis import Array
from leakdown.fit.least_squares import Fit, Function, along_of, conditional, inside, least_squares, scaled_variance
from leakdown.tuned import tuned
from leakdown.uncertainty import student_95

_T = tuned("fit")
_NEGLIGIBLE_CHI2 = 0.01  # of a rise of 3.84

CHI2_95 = 3.841458820694124
"""95 % quantile of chi-squared with one degree of freedom (tables; 1.959964 squared)."""


@dataclass(frozen=True)
class Profile:
    """Interval of one parameter and the constrained parameter vectors at its two ends.

    complete False: an end was not found. better: parameters with a clearly lower chi2 than the fit that
    was profiled, met on the way; start again from there.
    """

    low: float
    high: float
    at_low: Array
    at_high: Array
    complete: bool
    better: Array | None = None


def rise_of_95(dof: float, misfit: float) -> float:
    """Rise of chi2 that bounds 95 %: wider when few readings had to tell their own scatter."""
    if misfit > _T.own_scatter_misfit and dof < _T.own_scatter_dof:
        return student_95(dof) ** 2
    return CHI2_95


def profile(
    function: Function, best: Fit, index: int, lower: Array, upper: Array, threshold: float = CHI2_95
) -> Profile:
    """The range of parameter `index` over which chi2, minimised over the rest, rises by < `threshold`."""
    search = _Search(function, best, index, lower, upper, math.sqrt(threshold))
    step = _first_step(best, index, lower, upper, threshold)
    low, high = search.end(-step), search.end(step)
    better = next((end.at for end in (low, high) if end.better), None)
    return Profile(low.value, high.value, low.at, high.at, low.found and high.found, better)


def straight_profile(best: Fit, index: int, lower: Array, upper: Array, threshold: float = CHI2_95) -> Profile:
    """The same without a single new residual, as if the function were straight: for what weighs little."""
    step = _first_step(best, index, lower, upper, threshold)
    centre = float(best.parameters[index])
    low, high = max(centre - step, float(lower[index])), min(centre + step, float(upper[index]))
    at_low, at_high = (conditional(best, index, value, lower, upper) for value in (low, high))
    return Profile(low, high, at_low, at_high, True)


def _first_step(best: Fit, index: int, lower: Array, upper: Array, threshold: float) -> float:
    """How far the parameter should move by the covariance of the best fit."""
    free = inside(best.parameters, lower, upper)
    free[index] = True
    at = int(np.sum(free[:index]))
    variance, scale = scaled_variance(best.jacobian[:, free], at)
    if variance > 0:
        return math.sqrt(threshold * (variance / scale**2))
    return max(0.05 * abs(float(best.parameters[index])), 1e-9)


@dataclass(frozen=True)
class _End:
    value: float
    at: Array
    found: bool
    better: bool = False


@dataclass(frozen=True)
class _Search:
    """The search for the two ends; goal: the root of the rise of chi2 there."""

    function: Function
    best: Fit
    index: int
    lower: Array
    upper: Array
    goal: float

    def end(self, step: float) -> _End:
        """One end of the interval, on the side of `step`: where the root of the rise crosses the goal."""
        goal, centre = self.goal, float(self.best.parameters[self.index])
        bound = float((self.lower if step < 0 else self.upper)[self.index])
        inner, outer = (centre, 0.0), (bound, math.inf)  # (value, root of the rise)
        value, near = centre + step, self.best
        for _ in range(24):
            value = min(value, bound) if step > 0 else max(value, bound)
            root, fit = self._root_of_rise(value, near)
            if root < 0.0:
                return _End(value, fit.parameters, True, better=True)
            if abs(root - goal) < 0.1 * goal and value != bound:
                return _End(centre + (value - centre) * goal / root, fit.parameters, True)
            if root < goal:
                if value == bound:
                    return _End(bound, fit.parameters, True)
                inner, near = (value, root), fit
                if abs(outer[0] - value) < 0.02 * abs(step):  # that wall was a false valley
                    outer = (bound, math.inf)
            else:
                outer = (value, root)
            value = self._between(inner, outer, centre)
        return _End(value, near.parameters, False)

    def _between(self, inner: tuple[float, float], outer: tuple[float, float], centre: float) -> float:
        """Where the root of the rise, nearly straight in the parameter, should cross the goal."""
        if math.isinf(outer[1]):
            if inner[0] == centre:
                return 0.5 * (centre + outer[0])
            return centre + (inner[0] - centre) * max(self.goal / max(inner[1], 0.25 * self.goal), 1.05)
        share = (self.goal - inner[1]) / (min(outer[1], 2.0 * self.goal) - inner[1])
        return inner[0] + min(max(share, 0.08), 0.92) * (outer[0] - inner[0])

    def _root_of_rise(self, value: float, near: Fit) -> tuple[float, Fit]:
        """sqrt(chi2 - best chi2) with the parameter held at `value`; -1 when clearly below the best."""
        low, high = self.lower.copy(), self.upper.copy()
        low[self.index] = high[self.index] = value
        start = conditional(near, self.index, value, self.lower, self.upper, along_of(self.function))
        fit = least_squares(self.function, start, low, high, 3e-4, 40, _NEGLIGIBLE_CHI2)
        if not fit.chi2 - self.best.chi2 < 6.0 * self.goal**2:  # a long leap may land in another valley
            other = least_squares(self.function, near.parameters, low, high, 3e-4, 40, _NEGLIGIBLE_CHI2)
            fit = min(fit, other, key=lambda f: f.chi2)
        if not math.isfinite(fit.chi2):
            return math.inf, near
        rise = fit.chi2 - self.best.chi2
        return (-1.0 if rise < -0.1 else math.sqrt(max(rise, 0.0))), fit
