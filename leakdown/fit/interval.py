"""Profile-likelihood interval of the loss rate: every other number refitted at each trial rate.

Unlike a covariance it keeps its level when the flow law sits on a bound (pure hole, pure weep), when the
hold is too short to tell the law, and next to zero, where it turns into an upper limit.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from leakdown.analysis import Array
from leakdown.fit.least_squares import (
    Fit,
    Function,
    along_of,
    conditional,
    inside,
    least_squares,
    promised_fall,
    scaled_variance,
)
from leakdown.tuned import tuned
from leakdown.uncertainty import student_95

_T = tuned("fit")
# chi2 at a trial value is told by one step more than was taken, once that promises no more than a part of the rise
_PART_OF_RISE, _LITTLE_CHI2 = 0.2, 0.1
_NEAR, _NEARER = 0.1, 0.2  # of the goal: from there the last bit goes along a ray, along the line of two values
_FLATTEST = 0.3  # of the ray's slope: less is no line but chance

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
            if value == bound and root < goal:
                return self._end_at(bound, fit)
            if abs(root - goal) < (_NEAR if inner[0] == centre else _NEARER) * goal and value != bound:
                return self._end_at(self._crossing(inner, (value, root), centre), fit)
            if root < goal:
                inner, near = (value, root), fit
                if abs(outer[0] - value) < 0.02 * abs(step):  # that wall was a false valley
                    outer = (bound, math.inf)
            else:
                outer = (value, root)
            value = self._between(inner, outer, centre)
        return _End(value, near.parameters, False)

    def _end_at(self, value: float, fit: Fit) -> _End:
        """The end at a value not far from where `fit` was made, the others where they go on the way there."""
        at = conditional(fit, self.index, value, self.lower, self.upper, along_of(self.function))
        return _End(value, at, True)

    def _crossing(self, inner: tuple[float, float], last: tuple[float, float], centre: float) -> float:
        """Where the straight line through two values and the roots of their rises crosses the goal."""
        value, root = last
        ray = root / (value - centre)
        line = (root - inner[1]) / (value - inner[0])
        there = value + (self.goal - root) / (ray * max(line / ray, _FLATTEST))
        return min(max(there, float(self.lower[self.index])), float(self.upper[self.index]))

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
        start, floor = self._end_at(value, near).at, self.best.chi2
        fit = least_squares(self.function, start, low, high, _PART_OF_RISE, 40, _LITTLE_CHI2, floor)
        if not fit.chi2 - floor < 6.0 * self.goal**2:  # a long leap may land in another valley
            other = least_squares(self.function, near.parameters, low, high, _PART_OF_RISE, 40, _LITTLE_CHI2, floor)
            fit = min(fit, other, key=lambda f: f.chi2)
        if not math.isfinite(fit.chi2):
            return math.inf, near
        rise = fit.chi2 - floor
        if rise < -0.1:
            return -1.0, fit
        return math.sqrt(max(rise - promised_fall(fit, low, high), 0.0)), fit
