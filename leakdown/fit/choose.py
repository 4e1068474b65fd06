"""Which model of the hold the readings ask for: the plain leak, or one of the odd shapes."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from leakdown.fit.leak import Sized, Vessel, size
from leakdown.fit.model import CREEP, GROWTH, OPENING, RATE, START, WARMTH, HoldModel
from leakdown.fit.search import HoldFit, search
from leakdown.fit.shape import Odd, oddest, rising
from leakdown.physics.balance import NotSolved
from leakdown.uncertainty import Interval

_SMOOTH_SHAPES = ("opening", "growth", "creep")
_STRAINED = 7.0  # of chi2 on the priors; in plain leaks 99 of 100 spend less than 6
_BETTER = 5.0  # of chi2 that another shape must save
_AS_GOOD = 10.0  # of chi2
_LITTLE = 0.15  # of the start: soft hose and rubber may give so much and then stand still (common practice)
_VAPOUR_PA, _VAPOUR = 13e3, 0.35  # what fuel vapour gives back under vacuum, at most (common practice)
_UNLIKE = 1.5  # chi2 of the readings per degree of freedom
_MUCH_BETTER = 0.6  # of the plain fit's chi2: slow noise bends a little too
_SEVERAL = 12  # readings from which a shape can be told
_NO_FIT, _AWAY = 25.0, 0.01  # chi2 per degree of freedom, and rms distance in shares of the start pressure
_CLIMBS = 4.0  # standard deviations


@dataclass(frozen=True)
class Chosen:
    """The fit that was chosen, the odd shape it has (None: plain), and its size when it can be trusted."""

    found: HoldFit
    odd: Odd | None
    rising_sigmas: float
    sized: Sized | None


def choose(model: HoldModel, quote_pa: float, vessel: Vessel, near: Chosen | None = None) -> Chosen:
    """Fit the plain leak; when the readings do not look like one, the shape that fits them best.

    near: what was chosen for the same readings in other air; a plain leak is then looked for from there.
    """
    found = _plain(model, near)
    if not found.fit.converged:
        return Chosen(found, None, 0.0, None)
    climbing = max(rising(found), _climb_of_ends(model))
    odd = None if climbing > _CLIMBS else oddest(found) or _strained(found) or _far_off(found)
    others: list[HoldFit] = []
    if odd is not None:
        found, odd, others = (
            _bent(found, model, odd) if odd.name != "step" else _step_or_bend(found, model, odd)
        )
    try:
        sized = size(found, quote_pa, vessel)
        for other in others:
            sized = _widened(sized, size(other, quote_pa, vessel))
        if odd is not None and odd.name == "opening" and _little_lost(model):
            sized = _perhaps_none(sized)
    except NotSolved:  # the interval led where no decay is: no number is better than half of one
        return Chosen(found, odd, climbing, None)
    much_creep = (
        odd is not None and odd.name == "creep" and not sized.estimate.detected and not _little_lost(model)
    )
    trusted = sized.complete and not much_creep and not _leaves_the_readings(sized.found)
    return Chosen(sized.found, odd, climbing, sized if trusted else None)


def _leaves_the_readings(found: HoldFit) -> bool:
    """Whether even the chosen curve is far from the readings: no interval about it can be trusted."""
    readings = found.model.readings
    n = readings.time_s.size
    away = float(np.sqrt(np.mean(np.square(found.fit.residuals[:n] * readings.sigma_pa))))
    known = readings.noise_pa > 0.0
    return known and found.misfit > _NO_FIT and away > _AWAY * abs(float(readings.pressure_pa[0]))


def _plain(model: HoldModel, near: Chosen | None) -> HoldFit:
    if near is None or near.odd is not None or near.sized is None:
        return search(model)
    start = near.found.fit.parameters.copy()
    start[START] += model.ambient_pa - near.found.model.ambient_pa
    found = search(model, "plain", start)
    return found if found.fit.converged else search(model)


def _strained(plain: HoldFit) -> Odd | None:
    """A plain fit that had to bend its priors far to follow the readings is odd too."""
    n = plain.model.readings.time_s.size
    strain = float(np.sum(np.square(plain.fit.residuals[n:])))
    return Odd("creep", strain, 0.0) if strain > _STRAINED and n > 5 else None


def _far_off(plain: HoldFit) -> Odd | None:
    """A plain fit that lets much die out by itself, or that the readings leave by more than their scatter.

    The score test is a linear look from the plain fit, which a leak that closes may be far from.
    """
    x, model = plain.fit.parameters, plain.model
    start = abs(float(model.readings.pressure_pa[0]))
    ends = model.creep(model.readings.time_s[[0, -1]]) @ x[CREEP:]
    died_out = abs(float(ends[0] - ends[1])) + abs(float(x[START] * x[WARMTH]))
    if model.readings.time_s.size < _SEVERAL:
        return None
    if died_out > _LITTLE * start:
        return Odd("creep", 0.0, 0.0)
    measured = model.readings.noise_pa > 0.0  # a sheet does not say how far its readings scatter
    return Odd("unlike", 0.0, 0.0) if measured and plain.misfit > _UNLIKE else None


def _climb_of_ends(model: HoldModel) -> float:
    """How far the last reading lies beyond the first, in standard deviations; 0 below 2 % of it."""
    first, last = (model.sign * float(model.readings.pressure_pa[k]) for k in (0, -1))
    doubt = math.hypot(float(model.readings.sigma_pa[0]), float(model.readings.sigma_pa[-1]))
    return max(last - first, 0.0) / doubt if last > 1.02 * first else 0.0


def widened_by(chosen: Chosen, other: Chosen) -> Chosen:
    """The choice with its intervals stretched over those of another view that fits as well."""
    if chosen.sized is None or other.sized is None:
        return chosen
    if _cost(other.found) > _cost(chosen.found) + _AS_GOOD * max(chosen.found.misfit, 1.0):
        return chosen
    return replace(chosen, sized=_widened(chosen.sized, other.sized))


def _step_or_bend(plain: HoldFit, model: HoldModel, step: Odd) -> tuple[HoldFit, Odd | None, list[HoldFit]]:
    """A step, or a bend when that mends more: seen from a plain fit that is far off, everything is a step."""
    far = _far_off(plain)
    other = far or _strained(plain)
    if other is not None:
        best, odd, others = _bent(plain, model, other)
        mends = _cost(best) < _cost(plain) - step.score
        if odd is not None and (mends or (far is not None and best.misfit < _UNLIKE)):
            return best, odd, others
    return plain, step, []


def _bent(plain: HoldFit, model: HoldModel, odd: Odd) -> tuple[HoldFit, Odd | None, list[HoldFit]]:
    """The best of the shapes that bend the decay, and those that fit as well.

    The score test only said that the plain leak does not; a leak that closes, one that shrinks and hose
    that creeps look much alike.
    """
    fits: list[tuple[str, HoldFit]] = []
    for shape in _SMOOTH_SHAPES:
        other = _fitted(model, shape, plain)
        least = _MUCH_BETTER * _cost(plain) if odd.name == "unlike" else _cost(plain) - _BETTER
        if other.fit.converged and _cost(other) < least:
            fits.append((shape, other))
    if not fits:
        return plain, odd if odd.name not in ("creep", "unlike") else None, []
    cheapest = min((f for _, f in fits), key=_cost)
    alike = [
        (name, f) for name, f in fits if _cost(f) < _cost(cheapest) + _AS_GOOD * max(cheapest.misfit, 1.0)
    ]
    name, best = min(alike, key=lambda f: _likelier(plain).index(f[0]))
    others = [f for _, f in alike if f is not best]
    sizes = {"growth": best.fit.parameters[GROWTH], "opening": best.fit.parameters[OPENING]}
    return best, Odd(name, odd.score, float(sizes.get(name, odd.size))), others


def _fitted(model: HoldModel, shape: str, plain: HoldFit) -> HoldFit:
    """The best fit of one shape: from the plain fit and, for a leak that closes, from near its end."""
    starts = [plain.fit.parameters.copy()]
    if shape == "creep":
        model = model.with_soft_creep()
    if shape == "opening":
        end = abs(float(model.readings.pressure_pa[-1]))
        for part, speed in ((0.95, 6.0), (0.6, 2.0)):
            near = starts[0].copy()
            near[OPENING], near[RATE] = part * end, speed * near[RATE]
            starts.append(near)
        starts += [model.start_closing(0.95 * end, share) for share in (0.2, 0.8)]
    found = [search(model, shape, start) for start in starts]
    return min(found, key=lambda f: (not f.fit.converged, _cost(f)))


def _likelier(plain: HoldFit) -> tuple[str, ...]:
    """Which shape to name when several fit: a few per cent lost is creep, more is a leak that closes."""
    p = plain.model.readings.pressure_pa
    few = abs(float(p[-1] - p[0])) < 0.06 * abs(float(p[0]))
    return ("creep", "opening", "growth") if few else ("opening", "creep", "growth")


def _cost(found: HoldFit) -> float:
    """chi2 of readings and priors, the readings' part before it was widened."""
    n = found.model.readings.time_s.size
    priors = found.fit.residuals[n:]
    return found.misfit * found.dof + float(priors @ priors)


def _widened(sized: Sized, other: Sized) -> Sized:
    """The estimate with its intervals stretched over those of another that is as likely."""
    mine, theirs = sized.estimate, other.estimate
    rate = _union(mine.rate_pa_s, theirs.rate_pa_s)
    changes = {
        "detected": mine.detected and theirs.detected,
        "rate_pa_s": rate,
        "detection_rate_pa_s": max(mine.detection_rate_pa_s, theirs.detection_rate_pa_s),
        "viscous_share": _union(mine.viscous_share, theirs.viscous_share),
    }
    if mine.throughput_pa_m3_s and theirs.throughput_pa_m3_s and mine.hole_m and theirs.hole_m:
        changes["throughput_pa_m3_s"] = _union(mine.throughput_pa_m3_s, theirs.throughput_pa_m3_s)
        changes["hole_m"] = _union(mine.hole_m, theirs.hole_m)
        changes["detection_pa_m3_s"] = max(mine.detection_pa_m3_s or 0.0, theirs.detection_pa_m3_s or 0.0)
    estimate = replace(mine, **changes)  # type: ignore[arg-type]
    return replace(
        sized,
        estimate=estimate,
        plausible=(*sized.plausible, *other.plausible),
        complete=sized.complete and other.complete,
    )


def _little_lost(model: HoldModel) -> bool:
    p = model.readings.pressure_pa
    lost, start = abs(float(p[0] - p[-1])), abs(float(p[0]))
    return lost < _LITTLE * start or (model.inward and lost < min(_VAPOUR_PA, _VAPOUR * start))


def _perhaps_none(sized: Sized) -> Sized:
    """A little that is lost and then stands may be no leak at all: only the upper bounds are left."""
    mine = sized.estimate
    bounds = {
        name: None if value is None else Interval(None, 0.0, value.high)
        for name, value in (
            ("rate_pa_s", mine.rate_pa_s),
            ("throughput_pa_m3_s", mine.throughput_pa_m3_s),
            ("hole_m", mine.hole_m),
        )
    }
    return replace(sized, estimate=replace(mine, detected=False, **bounds))  # type: ignore[arg-type]


def _union(a: Interval, b: Interval) -> Interval:
    return Interval(None if b.value is None else a.value, min(a.low, b.low), max(a.high, b.high))
