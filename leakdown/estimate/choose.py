"""Which model of the hold the readings ask for: the plain leak, or one of the odd shapes."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from leakdown.estimate.leak import Sized, Vessel, size
from leakdown.estimate.model import GROWTH, OPENING, RATE, START, HoldModel
from leakdown.estimate.result import Interval
from leakdown.estimate.search import Found, search
from leakdown.estimate.shape import Odd, oddest, rising
from leakdown.physics.balance import NotSolved

_SMOOTH_SHAPES = ("opening", "growth", "creep")
_STRAINED = 7.0  # of chi2 on the priors; in plain leaks 99 of 100 spend less than 6
_BETTER = 5.0  # of chi2 that another shape must save
_AS_GOOD = 10.0  # of chi2
_CLIMBS = 4.0  # standard deviations


@dataclass(frozen=True)
class Chosen:
    """The fit that was chosen, the odd shape it has (None: plain), and its size when it can be trusted."""

    found: Found
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
    odd = None if climbing > _CLIMBS else oddest(found) or _strained(found)
    others: list[Found] = []
    if odd is not None and odd.name != "step":
        found, odd, others = _bent(found, model, odd)
    try:
        sized = size(found, quote_pa, vessel)
        for other in others:
            sized = _widened(sized, size(other, quote_pa, vessel))
    except NotSolved:  # the interval led where no decay is: no number is better than half of one
        return Chosen(found, odd, climbing, None)
    return Chosen(sized.found, odd, climbing, sized if sized.complete else None)


def _plain(model: HoldModel, near: Chosen | None) -> Found:
    if near is None or near.odd is not None or near.sized is None:
        return search(model)
    start = near.found.fit.parameters.copy()
    start[START] += model.ambient_pa - near.found.model.ambient_pa
    found = search(model, "plain", start)
    return found if found.fit.converged else search(model)


def _strained(plain: Found) -> Odd | None:
    """A plain fit that had to bend its priors far to follow the readings is odd too."""
    n = plain.model.readings.time_s.size
    strain = float(np.sum(np.square(plain.fit.residuals[n:])))
    return Odd("creep", strain, 0.0) if strain > _STRAINED and n > 5 else None


def _climb_of_ends(model: HoldModel) -> float:
    """How far the last reading lies beyond the first, in standard deviations; 0 below 2 % of it."""
    first, last = (model.sign * float(model.readings.pressure_pa[k]) for k in (0, -1))
    doubt = math.hypot(float(model.readings.sigma_pa[0]), float(model.readings.sigma_pa[-1]))
    return max(last - first, 0.0) / doubt if last > 1.02 * first else 0.0


def widened_by(chosen: Chosen, other: Chosen) -> Chosen:
    """The choice with its intervals stretched over those of another view of the same hold."""
    if chosen.sized is None or other.sized is None:
        return chosen
    return replace(chosen, sized=_widened(chosen.sized, other.sized))


def _bent(plain: Found, model: HoldModel, odd: Odd) -> tuple[Found, Odd | None, list[Found]]:
    """The best of the shapes that bend the decay, and those that fit as well.

    The score test only said that the plain leak does not; a leak that closes, one that shrinks and hose
    that creeps look much alike.
    """
    fits: list[tuple[str, Found]] = []
    for shape in _SMOOTH_SHAPES:
        other = _fitted(model, shape, plain)
        if other.fit.converged and _cost(other) < _cost(plain) - _BETTER:
            fits.append((shape, other))
    if not fits:
        return plain, odd if odd.name != "creep" else None, []
    cheapest = min((f for _, f in fits), key=_cost)
    alike = [
        (name, f) for name, f in fits if _cost(f) < _cost(cheapest) + _AS_GOOD * max(cheapest.misfit, 1.0)
    ]
    name, best = min(alike, key=lambda f: _likelier(plain).index(f[0]))
    others = [f for _, f in alike if f is not best]
    sizes = {"growth": best.fit.parameters[GROWTH], "opening": best.fit.parameters[OPENING]}
    return best, Odd(name, odd.score, float(sizes.get(name, odd.size))), others


def _fitted(model: HoldModel, shape: str, plain: Found) -> Found:
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
    found = [search(model, shape, start) for start in starts]
    return min(found, key=lambda f: (not f.fit.converged, _cost(f)))


def _likelier(plain: Found) -> tuple[str, ...]:
    """Which shape to name when several fit: a few per cent lost is creep, more is a leak that closes."""
    p = plain.model.readings.pressure_pa
    few = abs(float(p[-1] - p[0])) < 0.06 * abs(float(p[0]))
    return ("creep", "opening", "growth") if few else ("opening", "creep", "growth")


def _cost(found: Found) -> float:
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


def _union(a: Interval, b: Interval) -> Interval:
    return Interval(None if b.value is None else a.value, min(a.low, b.low), max(a.high, b.high))
