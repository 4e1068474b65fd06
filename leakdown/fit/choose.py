"""What the readings ask for: the plain leak or an odd shape, each weighed by its evidence, and the size from all.

Every shape is a hypothesis with a stated prior probability (`tuned.toml`). What it makes of the readings is its
marginal likelihood; the posterior weights make the interval, a mixture. The plain leak keeps its name until the
readings leave it little of its probability, so the size never rests on a choice that they did not make.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from leakdown.fit.leak import SizedLeak, Vessel, mixed_leak, size
from leakdown.fit.model import GROWTH, OPENING, PRESSED, START, HoldModel
from leakdown.fit.rivals import begun, finished, plain_beside, scatter_of, weights_of
from leakdown.fit.search import HoldFit, correlation_widening, first_look, search
from leakdown.fit.shape import OddShape, biggest_jump, worth_a_look
from leakdown.physics.balance import NotSolved
from leakdown.tuned import tuned

_T = tuned("fit")
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
    plain, shapes, surely_odd = _looked(model, near)
    if not (plain.fit.converged or surely_odd):
        return ChosenFit(plain, None, 0.0, None)
    climbing = _climb(plain)
    if climbing > _T.climbs_sigmas:  # no leak does that: what hides behind it has no shape
        return replace(_sized(plain, {"plain": plain}, {"plain": 1.0}, quote_pa, vessel), rising_sigmas=climbing)
    fits, jump = {"plain": plain}, biggest_jump(plain)
    if surely_odd or worth_a_look(plain):
        fits = finished(shapes or begun(model, plain), plain, jump)
    weights = weights_of(fits, jump)
    if weights.get("step", 0.0) > 0.5 and jump is not None:
        slipped = _sized(plain, {"plain": plain}, {"plain": 1.0}, quote_pa, vessel)
        return replace(slipped, odd=OddShape("step", jump.size_pa, jump.time_s))
    return _sized(plain, fits, weights, quote_pa, vessel)


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


def _looked(model: HoldModel, near: ChosenFit | None) -> tuple[HoldFit, dict[str, HoldFit], bool]:
    """The plain fit, and the odd shapes where it looked so poor at first that they were begun before it was done.

    True where one of these leaves next to nothing of it: then it is not worth its end.
    """
    if near is not None and near.odd is None and near.sized is not None:
        start = near.found.fit.parameters.copy()
        start[START] += model.ambient_pa - near.found.model.ambient_pa
        found = search(model, "plain", start)
        if found.fit.converged:
            return found, {}, False
    looked = first_look(model)
    if looked.misfit < _T.poor_misfit or model.readings.time_s.size < _T.shape_from_readings:
        return search(model, looked=looked), {}, False
    shapes = begun(model, looked, whole=False)
    beside = plain_beside(shapes)
    weights = weights_of(shapes | {"plain": beside}, biggest_jump(beside))
    odd = weights["plain"] + weights.get("step", 0.0) < _T.out_of_the_question
    if odd and _climb(beside) <= _T.climbs_sigmas:
        return beside, shapes, True
    return search(model, looked=looked), shapes, False


def _climb(found: HoldFit) -> float:
    """How surely the pressure moves away from zero, in standard deviations."""
    return max(_climb_of_ends(found.model), _climb_at_last(found))


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
    scatter = min(scatter_of(chosen.found), scatter_of(other.found))
    behind = 0.5 * max(other.found.cost - chosen.found.cost, 0.0) / scatter
    share = math.exp(-behind) / (1.0 + math.exp(-behind))
    mine = [replace(one, weight=one.weight * (1.0 - share)) for one in chosen.alike]
    theirs = [replace(one, weight=one.weight * share) for one in other.alike]
    alike = tuple(one for one in (*mine, *theirs) if one.weight >= _T.least_weight)
    sized = mixed_leak([(one.weight, one.sized) for one in alike], vessel, quote_pa)
    return replace(chosen, sized=sized, alike=alike)
