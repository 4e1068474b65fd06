"""The odd shapes beside the plain leak: each fitted as far as it can be likely, and the probability of each.

A shape begun at a plain fit that is none lies in that one's false valley. So each begins where the readings scatter
far more than they do: there what is known of the gas and the rig rules, and a shape shows what it alone can explain.
Then the readings are believed ever more, as far as the best shape allows. What cannot be likely falls out on the way.
"""

from __future__ import annotations

import math

import numpy as np

from leakdown.fit.evidence import log_volume
from leakdown.fit.model import GROWTH, OPENING, RATE, HoldModel
from leakdown.fit.search import HoldFit, at_scatter, correlation_widening, likeliest_start, search
from leakdown.fit.shape import Jump, scatter_after
from leakdown.tuned import tuned

_T = tuned("fit")
_BENT = ("opening", "growth", "pressed", "creep")
# Variance of the readings, over what they state, at which the shapes begin; how much less at each round; rounds at most
_WIDE, _WIDEST, _NARROWER, _ROUNDS = 100.0, 1e4, 10.0, 8
_NEAR_ENOUGH = 1.4  # more than the best leaves by no more than this is as good as that
_PLAIN_IS_NEAR = 30.0  # scatter about the plain fit up to which it is a start as well
_CLOSES_AT, _QUICKER = 0.6, 2.0  # opening over the last reading; speed over the plain leak's
_FEW_STEPS = 5  # tell which of two starts is the better
_GROWN = 6.0  # in the hold, in its own sizes: from there both growing and shrinking leaks are found


def begun(model: HoldModel, plain: HoldFit, whole: bool = True) -> dict[str, HoldFit]:
    """The plain leak and the odd shapes that may be likely, each fitted at the scatter that the best of them leaves.

    whole False: the plain leak was only looked at, and goes the same way as the shapes.
    """
    scatter = min(max(scatter_of(plain), _WIDE), _WIDEST)
    shapes = {"plain": plain if whole else at_scatter(model, "plain", plain.fit.parameters, scatter)}
    shapes |= {shape: _best_begin(model, shape, plain, scatter) for shape in _BENT}
    for _ in range(_ROUNDS):
        weights = weights_of(shapes, None, scatter)
        shapes = {s: fit for s, fit in shapes.items() if weights[s] > _least_weight(s, fit, False)}
        left = min(scatter_of(fit) for fit in shapes.values())
        arrived = scatter <= _NEAR_ENOUGH * left
        shapes = {s: fit for s, fit in shapes.items() if weights[s] > _least_weight(s, fit, arrived)}
        still = {"plain"} if whole or weights["plain"] < _T.out_of_the_question else set()
        # one that no step improves at the same scatter has arrived as well
        still |= {s for s, fit in shapes.items() if arrived and (fit.fit.converged or fit.fit.iterations == 1)}
        if still >= set(shapes):
            break
        scatter = scatter if arrived else max(left, scatter / _NARROWER)
        for shape in [s for s in shapes if s not in still]:  # in their order, for each begins where the last one ended
            shapes[shape] = at_scatter(_as_read(shapes[shape]), shape, shapes[shape].fit.parameters, scatter)
    return shapes


def _least_weight(shape: str, fit: HoldFit, arrived: bool) -> float:
    """The plain leak stays; a shape that still moves has some way to go until the readings are believed."""
    if shape == "plain":
        return -1.0
    if arrived:
        return float(_T.left_out_weight)
    return float(_T.dropped_weight if fit.fit.converged else _T.dropped_weight**2)


def _best_begin(model: HoldModel, shape: str, plain: HoldFit, scatter: float) -> HoldFit:
    """Where a shape comes to from the gas and the rig as they are likeliest, or from the plain fit where it is near."""
    wider = model.in_shape(shape)
    start, near = likeliest_start(wider), plain.fit.parameters.copy()
    if shape == "opening":
        closes = _CLOSES_AT * abs(float(model.readings.pressure_pa[-1]))
        near[OPENING], near[RATE] = closes, _QUICKER * near[RATE]
        # its size and where it closes have a valley each for a hole and a weep: they part late
        start = at_scatter(wider, shape, wider.start_closing(closes), 10.0 * scatter).fit.parameters
    elif shape == "growth":
        start[GROWTH] = _GROWN / float(model.readings.time_s[-1])
        start[RATE] /= 1.0 + 0.5 * _GROWN
    starts = [start, near] if scatter_of(plain) < _PLAIN_IS_NEAR else [start]
    fits = [at_scatter(wider, shape, start, scatter, _FEW_STEPS)]
    if not fits[0].misfit < _NEAR_ENOUGH:  # else it is there
        fits += [at_scatter(wider, shape, x, scatter, _FEW_STEPS) for x in starts[1:]]
    return min(fits, key=lambda fit: fit.fit.chi2)


def plain_beside(shapes: dict[str, HoldFit]) -> HoldFit:
    """The plain fit, or a better one with the gas and the rig as the best of the shapes sees them."""
    plain, best = shapes["plain"], min(shapes.values(), key=scatter_of)
    start = best.fit.parameters.copy()
    start[[OPENING, GROWTH]] = 0.0
    again = at_scatter(_as_read(plain), "plain", start, scatter_of(best), _FEW_STEPS)
    return min(plain, again, key=lambda fit: fit.cost)


def finished(shapes: dict[str, HoldFit], plain: HoldFit, jump: Jump | None) -> dict[str, HoldFit]:
    """The shapes beside the plain fit, those that are likely fitted to the end."""
    fits, done = {"plain": plain}, {"plain"}
    fits |= {shape: fit for shape, fit in shapes.items() if shape != "plain" and fit.fit.converged}
    while True:
        weights = weights_of(fits, jump)
        more = [shape for shape in fits if shape not in done and weights[shape] > _T.profiled_weight]
        if not more:
            return fits
        for shape in more:
            one = fits[shape]
            whole = search(_as_read(one), shape, one.fit.parameters, scatter=scatter_of(one))
            fits[shape] = whole if whole.fit.converged else fits[shape]
            done.add(shape)


def _as_read(found: HoldFit) -> HoldModel:
    """Its model with the readings' own standard deviations."""
    return found.model.with_sigma(1.0 / math.sqrt(found.inflation))


def weights_of(fits: dict[str, HoldFit], jump: Jump | None, least: float = 1.0) -> dict[str, float]:
    """Posterior probability of each shape. The readings' scatter is what the best of them leaves, or `least`."""
    scatter = min(scatter_of(fit) for fit in fits.values())
    if jump is not None:
        scatter = min(scatter, scatter_after(jump, fits["plain"]))
    scatter = max(scatter, least)
    logs = {shape: log_evidence(fit, scatter) + math.log(prior_of(shape)) for shape, fit in fits.items()}
    if jump is not None:
        # the jump may be of any size up to `jump_sd_pa` and at any reading
        occam = math.log(jump.sd_pa * math.sqrt(scatter) / _T.jump_sd_pa) - math.log(len(jump.leftover))
        over_plain = math.log(prior_of("step") / prior_of("plain"))
        logs["step"] = logs["plain"] + 0.5 * jump.score / scatter + occam + over_plain
    top = max(logs.values())
    likely = {shape: math.exp(value - top) for shape, value in logs.items()}
    return {shape: value / sum(likely.values()) for shape, value in likely.items()}


def prior_of(shape: str) -> float:
    odd = _T.odd_shapes
    return float(odd.get(shape, 1.0 - sum(odd.values())))


def scatter_of(found: HoldFit) -> float:
    """Reduced chi2 of the readings about a fit, correlation included, and no less than they state."""
    n = found.model.readings.time_s.size
    return max(found.misfit * correlation_widening(found.fit.residuals[:n]), 1.0)


def log_evidence(found: HoldFit, scatter: float) -> float:
    """Logarithm of the marginal likelihood, but for what all shapes share; `scatter`: variance of the readings."""
    n, x = found.model.readings.time_s.size, found.fit.parameters
    weight = math.sqrt(found.inflation / scatter)
    residuals, jacobian = found.fit.residuals.copy(), found.fit.jacobian.copy()
    residuals[:n] *= weight
    jacobian[:n] *= weight
    height = -0.5 * (found.misfit * found.dof / scatter + found.on_priors)
    span_s = float(found.model.readings.time_s[-1])
    flat = -math.log(x[RATE] + _T.rate_scale_pa_s)  # about the same odds for each size of leak
    flat -= math.log(found.upper[OPENING]) if found.upper[OPENING] > 0.0 else 0.0
    flat -= math.log(_T.growth_sd_per_hold / span_s * math.sqrt(2.0 * math.pi)) if found.upper[GROWTH] > 0.0 else 0.0
    flat -= 0.5 * (x[GROWTH] * span_s / _T.growth_sd_per_hold) ** 2
    known = float(np.sum(np.log(found.model.prior_sd(x))))
    volume = log_volume(residuals, jacobian, x, found.lower, found.upper)
    return float(height + flat - known + volume)
