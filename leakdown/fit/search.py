"""From readings to the best fit of the hold model, with the readings' own scatter as the judge.

A start near the wrong law can end in a false valley (a slow gas temperature that imitates another flow
law). Every search therefore begins with the gas held as warm as its filling left
it, and a result that leans hard on its priors is searched again from other corners and as a tight circuit.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leakdown.analysis import Array
from leakdown.fit.interval import Profile, profile, rise_of_95, straight_profile
from leakdown.fit.least_squares import Fit, inside, least_squares, lengths
from leakdown.fit.model import DRIFT, LOG_TAU, RATE, WARMTH, HoldModel
from leakdown.tuned import tuned

_T = tuned("fit")
_ROUNDS, _FEW_STEPS, _A_LOOK = 6, 5, 10
_LOOK_TOLERANCE = 1e-3
_APART = 0.03  # of chi2: what a valley that was only looked at may still gain
# Tolerances, of residuals in standard deviations: what is left to gain on arrival, and what a step gains in a
# valley whose floor no reading can tell from level.
_NEGLIGIBLE_CHI2, _LEVEL_CHI2 = 1e-5, 0.02


@dataclass(frozen=True)
class HoldFit:
    """The best fit of `model` (readings' standard deviations already widened by `inflation`).

    misfit: reduced chi2 of the readings before widening. dof: readings less what they determined.
    """

    model: HoldModel
    fit: Fit
    lower: Array
    upper: Array
    inflation: float
    misfit: float
    dof: float

    @property
    def free(self) -> NDArray[np.bool_]:
        """(15,) the parameters that are neither held nor at a bound."""
        return inside(self.fit.parameters, self.lower, self.upper)

    @property
    def on_priors(self) -> float:
        """chi2 spent on the priors."""
        return _on_priors(self.model, self.fit)

    @property
    def cost(self) -> float:
        """chi2 of readings and priors, the readings' part before it was widened."""
        return self.misfit * self.dof + self.on_priors

    def profile(self, index: int, closely: bool = True) -> Profile:
        """95 % interval of one parameter; not closely: by the straight line of the best fit."""
        rise = rise_of_95(self.dof, self.misfit)
        if not closely:
            return straight_profile(self.fit, index, self.lower, self.upper, rise)
        return profile(self.model, self.fit, index, self.lower, self.upper, rise)


def search(
    model: HoldModel,
    shape: str = "plain",
    start: Array | None = None,
    looked: HoldFit | None = None,
    scatter: float = 1.0,
) -> HoldFit:
    """Best fit of one shape; widens the readings' standard deviations when the residuals ask for it.

    scatter: variance of the readings, over what they state, that a fit near `start` left.
    """
    lower, upper = model.bounds(shape)
    inflation, begun = scatter, model.with_sigma(math.sqrt(scatter))
    fit = refit(begun, start, lower, upper) if start is not None else _best(begun, lower, upper, looked)
    misfit, correlation, dof = _scatter(begun, fit, lower, upper)
    misfit *= inflation
    for _ in range(_ROUNDS):  # readings far noisier than assumed lean on the priors only once that is known
        wanted = max(inflation, misfit * correlation)
        if not (abs(wanted / inflation - 1.0) > _T.inflation_settled and math.isfinite(wanted)):
            break
        inflation, before = wanted, misfit
        wider = model.with_sigma(math.sqrt(inflation))
        fit = refit(wider, fit.parameters, lower, upper)
        again, correlation, dof = _scatter(wider, fit, lower, upper)
        misfit = again * inflation
        if misfit < _T.mended_misfit * before:  # the readings were not to blame: a better valley was
            inflation, fit = 1.0, refit(model, fit.parameters, lower, upper)
            misfit, correlation, dof = _scatter(model, fit, lower, upper)
        else:
            correlation = 1.0
    return HoldFit(model.with_sigma(math.sqrt(inflation)), fit, lower, upper, inflation, misfit, dof)


def at_scatter(model: HoldModel, shape: str, start: Array, scatter: float, most: int = _A_LOOK) -> HoldFit:
    """A quick fit of one shape from a start, the readings' variance that many times what they state."""
    return _glance(model.with_sigma(math.sqrt(scatter)), shape, start, scatter, most)


def _glance(model: HoldModel, shape: str, start: Array, inflation: float, most: int) -> HoldFit:
    lower, upper = model.bounds(shape)
    fit = least_squares(model, start, lower, upper, _LOOK_TOLERANCE, most, _LEVEL_CHI2)
    misfit, _, dof = _scatter(model, fit, lower, upper) if math.isfinite(fit.chi2) else (math.inf, 1.0, 1.0)
    return HoldFit(model, fit, lower, upper, inflation, misfit * inflation, dof)


def _on_priors(model: HoldModel, fit: Fit) -> float:
    return float(np.sum(np.square(fit.residuals[model.readings.time_s.size :])))


def first_look(model: HoldModel) -> HoldFit:
    """Some way from the walls towards the plain fit: enough to tell whether it is one."""
    return _glance(model, "plain", _near_the_walls(model, *model.bounds()).parameters, 1.0, _A_LOOK)


def _best(model: HoldModel, lower: Array, upper: Array, looked: HoldFit | None) -> Fit:
    fit = (looked or first_look(model)).fit
    empties_s = abs(float(model.readings.pressure_pa[0])) / max(float(fit.parameters[RATE]), 1e-9)
    quick = empties_s <= _T.quick_leak_s
    valleys = [fit]
    if not fit.converged or quick or _on_priors(model, fit) >= _T.leaning_on_priors:
        # all that is lost may be what the gas gives back
        corners = _T.quick_starts if quick else _T.leaning_starts
        starts = [model.start_tight(), *(_corner(model, tau, share) for tau, share in corners)]
        ahead = _ahead(model, starts, lower, upper)
        valleys.append(least_squares(model, ahead, lower, upper, _LOOK_TOLERANCE, 80, _LEVEL_CHI2))
    least = min(valley.chi2 for valley in valleys)
    worth_it = [valley for valley in valleys if valley.chi2 <= (1.0 + _APART) * least + _LEVEL_CHI2]
    fits = [refit(model, valley.parameters, lower, upper) for valley in worth_it]
    return min(fits, key=lambda f: (not f.converged, f.chi2))


def _ahead(model: HoldModel, starts: Sequence[Array], lower: Array, upper: Array) -> Array:
    """Of several starts, where the one has come that is ahead after a few steps: the others are not worth their end.

    All take the first steps, the better ones the next, and so on (successive halving).
    """
    far = list(starts)
    while len(far) > 1:
        fits = [least_squares(model, start, lower, upper, _LOOK_TOLERANCE, _FEW_STEPS, _LEVEL_CHI2) for start in far]
        fits.sort(key=lambda f: f.chi2)
        far = [fit.parameters for fit in fits[: len(fits) // 2]]
    return far[0]


def refit(model: HoldModel, start: Array, lower: Array, upper: Array) -> Fit:
    """The fit of residuals in standard deviations from a start nearby.

    A fit that crawls along a valley whose floor no reading can tell from level has arrived.
    """
    fit = least_squares(model, start, lower, upper, 1e-5, 400, _NEGLIGIBLE_CHI2)
    if fit.converged:
        return fit
    return least_squares(model, fit.parameters, lower, upper, 1e-5, 80, _LEVEL_CHI2)


def _corner(model: HoldModel, tau: float, share: float) -> Array:
    """A start with one thermal time constant (over its centre) and flow law, the gas as warm as that left it."""
    x = model.start(share)
    x[LOG_TAU] += math.log(tau)
    x[WARMTH] = model.priors.warmth.likeliest(float(x[LOG_TAU]))
    return x


def likeliest_start(model: HoldModel) -> Array:
    """A start with the gas and the rig as they are likeliest."""
    return _corner(model, 1.0, 0.5)


def _near_the_walls(model: HoldModel, lower: Array, upper: Array) -> Fit:
    """The fit with the gas held as it is likeliest to be."""
    x, low, high = likeliest_start(model), lower.copy(), upper.copy()
    for held in (WARMTH, LOG_TAU, DRIFT):
        low[held] = high[held] = x[held]
    return least_squares(model, x, low, high, _LOOK_TOLERANCE, 30, _NEGLIGIBLE_CHI2)


def _scatter(model: HoldModel, fit: Fit, lower: Array, upper: Array) -> tuple[float, float, float]:
    """Reduced chi2 of the readings, widening for correlated residuals, and degrees of freedom."""
    n = model.readings.time_s.size
    r = fit.residuals[:n]
    jac = fit.jacobian[:, inside(fit.parameters, lower, upper)]
    if not jac.size:
        return 1.0, 1.0, float(n)
    q = np.linalg.qr(jac / lengths(jac))[0]
    dof = n - float(np.sum(np.square(q[:n])))  # trace of the hat matrix over the readings
    if dof < 0.5:
        return 1.0, 1.0, dof
    return float(r @ r) / dof, correlation_widening(r), dof


def correlation_widening(residuals: Array) -> float:
    """Variance inflation of a mean of AR(1) readings (textbook time-series result), 1 for a few readings.

    (1 + r)/(1 - r) of the lag-1 autocorrelation r once it stands out of chance (95 %: 2/sqrt(n)).
    """
    n = len(residuals)
    if n < _T.correlation_from_readings:
        return 1.0
    lag = float(residuals[1:] @ residuals[:-1]) / max(float(residuals @ residuals), 1e-12)
    return (1.0 + lag) / (1.0 - lag) if lag > 2.0 / math.sqrt(n) else 1.0
