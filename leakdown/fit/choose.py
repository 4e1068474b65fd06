"""What the readings ask for: the plain leak or an odd shape, each weighed by its evidence, and the size from all.

Every shape is a hypothesis with a stated prior probability (`tuned.toml`). What it makes of the readings is its
marginal likelihood; the posterior weights make the interval, a mixture. The plain leak keeps its name until the
readings leave it little of its probability, so the size never rests on a choice that they did not make.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from leakdown.fit.evidence import log_volume
from leakdown.fit.leak import SizedLeak, Vessel, mixed_leak, size
from leakdown.fit.model import GROWTH, OPENING, PRESSED, RATE, START, HoldModel
from leakdown.fit.search import HoldFit, ahead, correlation_widening, search
from leakdown.fit.shape import Jump, OddShape, biggest_jump, scatter_after, worth_a_look
from leakdown.physics.balance import NotSolved
from leakdown.tuned import tuned

_T = tuned("fit")
_BENT = ("opening", "growth", "pressed", "creep")
_SIZE_OF = {"opening": OPENING, "growth": GROWTH, "pressed": PRESSED}


@dataclass(frozen=True)
class Weighed:
    """One shape that the readings allow: its probability and what it makes of the leak."""

    weight: float
    shape: str
    sized: SizedLeak


@dataclass(frozen=True)
class ChosenFit:
    """The fit that is shown, the odd shape it has (None: plain), and the size from all that is likely.

    sized: None when no number can be trusted. alike: every shape that counts, the likeliest first.
    """

    found: HoldFit
    odd: OddShape | None
    rising_sigmas: float
    sized: SizedLeak | None
    alike: tuple[Weighed, ...] = ()


def choose(model: HoldModel, quote_pa: float, vessel: Vessel, near: ChosenFit | None = None) -> ChosenFit:
    """Fit the plain leak, and the odd shapes when something is left over; weigh them.

    near: what was chosen for the same readings in other air; a plain leak is then looked for from there.
    """
    plain = _plain(model, near)
    if not plain.fit.converged:
        return ChosenFit(plain, None, 0.0, None)
    climbing = max(_climb_of_ends(model), _climb_at_last(plain))
    if climbing > _T.climbs_sigmas:  # no leak does that: what hides behind it has no shape
        return replace(_sized(plain, {"plain": plain}, {"plain": 1.0}, quote_pa, vessel), rising_sigmas=climbing)
    fits, jump = {"plain": plain}, biggest_jump(plain)
    if worth_a_look(plain):
        fits |= {shape: fit for shape in _BENT if (fit := _fitted(model, shape, plain)).fit.converged}
    weights = _weights(fits, jump)
    if weights.get("step", 0.0) > 0.5 and jump is not None:
        slipped = _sized(plain, {"plain": plain}, {"plain": 1.0}, quote_pa, vessel)
        return replace(slipped, odd=OddShape("step", jump.size_pa, jump.time_s))
    return _sized(plain, fits, weights, quote_pa, vessel)


def _weights(fits: dict[str, HoldFit], jump: Jump | None) -> dict[str, float]:
    """Posterior probability of each shape. The readings' scatter is what the best of them leaves."""
    scatter = min(_scatter(fit) for fit in fits.values())
    if jump is not None:
        scatter = min(scatter, scatter_after(jump, fits["plain"]))
    logs = {shape: _log_evidence(fit, scatter) + math.log(_prior(shape)) for shape, fit in fits.items()}
    if jump is not None:
        # the jump may be of any size up to `jump_sd_pa` and at any reading
        occam = math.log(jump.sd_pa * math.sqrt(scatter) / _T.jump_sd_pa) - math.log(len(jump.leftover))
        over_plain = math.log(_prior("step") / _prior("plain"))
        logs["step"] = logs["plain"] + 0.5 * jump.score / scatter + occam + over_plain
    top = max(logs.values())
    likely = {shape: math.exp(value - top) for shape, value in logs.items()}
    return {shape: value / sum(likely.values()) for shape, value in likely.items()}


def _prior(shape: str) -> float:
    odd = _T.odd_shapes
    return float(odd.get(shape, 1.0 - sum(odd.values())))


def _scatter(found: HoldFit) -> float:
    """Reduced chi2 of the readings about a fit, correlation included, and no less than they state."""
    n = found.model.readings.time_s.size
    return max(found.misfit * correlation_widening(found.fit.residuals[:n]), 1.0)


def _log_evidence(found: HoldFit, scatter: float) -> float:
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


def _sized(
    plain: HoldFit, fits: dict[str, HoldFit], weights: dict[str, float], quote_pa: float, vessel: Vessel
) -> ChosenFit:
    """The likely shapes sized, the one to show, and the size from all of them."""
    likely = sorted((s for s in fits if weights[s] >= _T.least_weight), key=lambda s: -weights[s])
    best = "plain" if weights["plain"] >= _T.plain_until else likely[0]
    order = [best, *(shape for shape in likely if shape != best)]
    alike = []
    try:
        for shape in order:
            closely = shape == best or weights[shape] > _T.profiled_weight
            alike.append(Weighed(weights[shape], shape, size(fits[shape], quote_pa, vessel, closely)))
    except NotSolved:  # the interval led where no decay is: no number is better than half of one
        return ChosenFit(fits[best], _named(best, fits[best]), 0.0, None)
    first = alike[0].sized
    trusted = first.complete and not _leaves_the_readings(first.found)
    sized = mixed_leak([(one.weight, one.sized) for one in alike], vessel, quote_pa) if trusted else None
    return ChosenFit(first.found, _named(best, first.found), 0.0, sized, tuple(alike))


def _named(shape: str, found: HoldFit) -> OddShape | None:
    if shape == "plain":
        return None
    return OddShape(shape, float(found.fit.parameters[_SIZE_OF[shape]]) if shape in _SIZE_OF else 0.0)


def _leaves_the_readings(found: HoldFit) -> bool:
    """Whether even the chosen curve is far from the readings: no interval about it can be trusted."""
    readings = found.model.readings
    n = readings.time_s.size
    away = float(np.sqrt(np.mean(np.square(found.fit.residuals[:n] * readings.sigma_pa))))
    known = readings.noise_pa > 0.0
    far = _T.no_fit_away * abs(float(readings.pressure_pa[0]))
    return bool(known and found.misfit > _T.no_fit_misfit and away > far)


def _plain(model: HoldModel, near: ChosenFit | None) -> HoldFit:
    if near is None or near.odd is not None or near.sized is None:
        return search(model)
    start = near.found.fit.parameters.copy()
    start[START] += model.ambient_pa - near.found.model.ambient_pa
    found = search(model, "plain", start)
    return found if found.fit.converged else search(model)


def _climb_of_ends(model: HoldModel) -> float:
    """How far the last reading lies beyond the first, in standard deviations; 0 for next to nothing."""
    first, last = (model.sign * float(model.readings.pressure_pa[k]) for k in (0, -1))
    deviation = math.hypot(float(model.readings.sigma_pa[0]), float(model.readings.sigma_pa[-1]))
    return max(last - first, 0.0) / deviation if last > (1.0 + _T.climb_least) * first else 0.0


def _climb_at_last(found: HoldFit) -> float:
    """How surely the last half of the hold moves away from zero, in standard deviations; 0 for next to nothing."""
    readings, sign = found.model.readings, found.model.sign
    last = readings.time_s >= 0.5 * float(readings.time_s[-1])
    if last.sum() < 3:
        return 0.0
    t, p = readings.time_s[last] - readings.time_s[last].mean(), sign * readings.pressure_pa[last]
    weight = 1.0 / np.square(readings.sigma_pa[last])
    t = t - np.average(t, weights=weight)
    curvature = float(np.sum(weight * t * t))
    slope = float(np.sum(weight * t * p)) / curvature
    if slope * 60.0 < _T.climb_least_pa_per_min:
        return 0.0
    left = p - np.average(p, weights=weight) - slope * t
    scatter = float(np.sum(weight * left * left)) / max(last.sum() - 2.0, 1.0)
    return slope * math.sqrt(curvature / (max(scatter, 1.0) * correlation_widening(left * np.sqrt(weight))))


def widened_by(chosen: ChosenFit, other: ChosenFit, vessel: Vessel, quote_pa: float) -> ChosenFit:
    """The choice with its size from two views of the same readings, each as likely as it fits."""
    if chosen.sized is None or other.sized is None:
        return chosen
    scatter = min(_scatter(chosen.found), _scatter(other.found))
    behind = 0.5 * max(other.found.cost - chosen.found.cost, 0.0) / scatter
    share = math.exp(-behind) / (1.0 + math.exp(-behind))
    mine = [replace(one, weight=one.weight * (1.0 - share)) for one in chosen.alike]
    theirs = [replace(one, weight=one.weight * share) for one in other.alike]
    alike = tuple(one for one in (*mine, *theirs) if one.weight >= _T.least_weight)
    sized = mixed_leak([(one.weight, one.sized) for one in alike], vessel, quote_pa)
    return replace(chosen, sized=sized, alike=alike)


def _fitted(model: HoldModel, shape: str, plain: HoldFit) -> HoldFit:
    """The best fit of one shape, from each kind of start: one may lie in a false valley that the other sees."""
    wider = model.in_shape(shape)
    bounds = wider.bounds(shape)
    fits = [search(wider, shape, ahead(wider, starts, *bounds)) for starts in _starts(model, shape, plain)]
    return min(fits, key=lambda fit: (not fit.fit.converged, fit.cost))


def _starts(model: HoldModel, shape: str, plain: HoldFit) -> Sequence[Sequence[np.ndarray]]:
    """Kinds of starts: from the plain fit and, for a leak that closes, from near its end as if all but closed."""
    starts = [plain.fit.parameters.copy()]
    if shape == "creep":  # all that is lost may be what hose or vapour gave back
        starts.append(model.start_tight())
    if shape != "opening":
        return [starts]
    end = abs(float(model.readings.pressure_pa[-1]))
    for part, speed in _T.closing_starts:
        near = starts[0].copy()
        near[OPENING], near[RATE] = part * end, speed * near[RATE]
        starts.append(near)
    near_end = _T.closing_starts[0][0] * end
    return [starts, [model.start_closing(near_end, share) for share in _T.closing_shares]]
