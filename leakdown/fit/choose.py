"""Which model of the hold the readings ask for: the plain leak, or one of the odd shapes."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from leakdown.fit.leak import SizedLeak, Vessel, size
from leakdown.fit.model import CREEP, GROWTH, OPENING, RATE, START, WARMTH, HoldModel
from leakdown.fit.search import HoldFit, search
from leakdown.fit.shape import OddShape, oddest, rising
from leakdown.physics.balance import NotSolved
from leakdown.tuned import tuned
from leakdown.uncertainty import Interval

_SMOOTH_SHAPES = ("opening", "growth", "creep")
_T = tuned("fit")


@dataclass(frozen=True)
class ChosenFit:
    """The fit that was chosen, the odd shape it has (None: plain), and its size when it can be trusted."""

    found: HoldFit
    odd: OddShape | None
    rising_sigmas: float
    sized: SizedLeak | None


def choose(model: HoldModel, quote_pa: float, vessel: Vessel, near: ChosenFit | None = None) -> ChosenFit:
    """Fit the plain leak; when the readings do not look like one, the shape that fits them best.

    near: what was chosen for the same readings in other air; a plain leak is then looked for from there.
    """
    found = _plain(model, near)
    if not found.fit.converged:
        return ChosenFit(found, None, 0.0, None)
    climbing = max(rising(found), _climb_of_ends(model))
    odd = None if climbing > _T.climbs_sigmas else oddest(found) or _strained(found) or _far_off(found)
    others: list[HoldFit] = []
    if odd is not None:
        explained = _step_or_bend if odd.name == "step" else _bent
        found, odd, others = explained(found, model, odd)
    try:
        sized = size(found, quote_pa, vessel)
        for other in others:
            sized = _stretched(sized, size(other, quote_pa, vessel))
        if odd is not None and odd.name == "opening" and _little_lost(model):
            sized = _perhaps_none(sized)
    except NotSolved:  # the interval led where no decay is: no number is better than half of one
        return ChosenFit(found, odd, climbing, None)
    much_creep = odd is not None and odd.name == "creep" and not sized.estimate.detected and not _little_lost(model)
    trusted = sized.complete and not much_creep and not _leaves_the_readings(sized.found)
    return ChosenFit(sized.found, odd, climbing, sized if trusted else None)


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


def _strained(plain: HoldFit) -> OddShape | None:
    """A plain fit that had to bend its priors far to follow the readings is odd too."""
    told = plain.model.readings.time_s.size >= _T.shape_from_readings
    strained = told and plain.on_priors > _T.strained_chi2
    return OddShape("creep", plain.on_priors, 0.0) if strained else None


def _far_off(plain: HoldFit) -> OddShape | None:
    """A plain fit that lets much die out by itself, or that the readings leave by more than their scatter.

    The score test is a linear look from the plain fit, which a leak that closes may be far from.
    """
    x, model = plain.fit.parameters, plain.model
    start = abs(float(model.readings.pressure_pa[0]))
    ends = model.creep(model.readings.time_s[[0, -1]]) @ x[CREEP:]
    died_out = abs(float(ends[0] - ends[1])) + abs(float(x[START] * x[WARMTH]))
    if model.readings.time_s.size < _T.far_off_from_readings:
        return None
    if died_out > _T.creep_share_most * start:
        return OddShape("creep", 0.0, 0.0)
    measured = model.readings.noise_pa > 0.0  # a sheet does not say how far its readings scatter
    return OddShape("unlike", 0.0, 0.0) if measured and plain.misfit > _T.unlike_misfit else None


def _climb_of_ends(model: HoldModel) -> float:
    """How far the last reading lies beyond the first, in standard deviations; 0 for next to nothing."""
    first, last = (model.sign * float(model.readings.pressure_pa[k]) for k in (0, -1))
    deviation = math.hypot(float(model.readings.sigma_pa[0]), float(model.readings.sigma_pa[-1]))
    return max(last - first, 0.0) / deviation if last > (1.0 + _T.climb_least) * first else 0.0


def widened_by(chosen: ChosenFit, other: ChosenFit) -> ChosenFit:
    """The choice with its intervals stretched over those of another view that fits as well."""
    if chosen.sized is None or other.sized is None:
        return chosen
    if not _as_good(other.found, chosen.found):
        return chosen
    return replace(chosen, sized=_stretched(chosen.sized, other.sized))


def _as_good(other: HoldFit, best: HoldFit) -> bool:
    return bool(other.cost <= best.cost + _T.as_good_chi2 * max(best.misfit, 1.0))


def _step_or_bend(plain: HoldFit, model: HoldModel, step: OddShape) -> tuple[HoldFit, OddShape | None, list[HoldFit]]:
    """A step, or a bend when that mends more: seen from a plain fit that is far off, everything is a step."""
    far = _far_off(plain)
    other = far or _strained(plain)
    if other is not None:
        best, odd, others = _bent(plain, model, other)
        mends = best.cost < plain.cost - step.score
        if odd is not None and (mends or (far is not None and best.misfit < _T.unlike_misfit)):
            return best, odd, others
    return plain, step, []


def _bent(plain: HoldFit, model: HoldModel, odd: OddShape) -> tuple[HoldFit, OddShape | None, list[HoldFit]]:
    """The best of the shapes that bend the decay, and those that fit as well.

    The score test only said that the plain leak does not; a leak that closes, one that shrinks and hose
    that creeps look much alike.
    """
    fits: list[tuple[str, HoldFit]] = []
    for shape in _SMOOTH_SHAPES:
        other = _fitted(model, shape, plain)
        slow_noise = odd.name == "unlike"  # which bends a little too
        least = _T.much_better * plain.cost if slow_noise else plain.cost - _T.better_chi2
        if other.fit.converged and other.cost < least:
            fits.append((shape, other))
    if not fits:
        return plain, odd if odd.name not in ("creep", "unlike") else None, []
    cheapest = min((f for _, f in fits), key=lambda f: f.cost)
    alike = [(name, f) for name, f in fits if _as_good(f, cheapest)]
    name, best = min(alike, key=lambda f: _likelier(plain).index(f[0]))
    others = [f for _, f in alike if f is not best]
    sizes = {"growth": best.fit.parameters[GROWTH], "opening": best.fit.parameters[OPENING]}
    return best, OddShape(name, odd.score, float(sizes.get(name, odd.size))), others


def _fitted(model: HoldModel, shape: str, plain: HoldFit) -> HoldFit:
    """The best fit of one shape: from the plain fit and, for a leak that closes, from near its end."""
    starts = [plain.fit.parameters.copy()]
    if shape == "creep":
        model = model.with_soft_creep()
    if shape == "opening":
        end = abs(float(model.readings.pressure_pa[-1]))
        for part, speed in _T.closing_starts:
            near = starts[0].copy()
            near[OPENING], near[RATE] = part * end, speed * near[RATE]
            starts.append(near)
        near_end = _T.closing_starts[0][0] * end
        starts += [model.start_closing(near_end, share) for share in _T.closing_shares]
    found = [search(model, shape, start) for start in starts]
    return min(found, key=lambda f: (not f.fit.converged, f.cost))


def _likelier(plain: HoldFit) -> tuple[str, ...]:
    """Which shape to name when several fit: a few per cent lost is creep, more is a leak that closes."""
    p = plain.model.readings.pressure_pa
    few = abs(float(p[-1] - p[0])) < _T.creep_likelier_below * abs(float(p[0]))
    return ("creep", "opening", "growth") if few else ("opening", "creep", "growth")


def _stretched(sized: SizedLeak, other: SizedLeak) -> SizedLeak:
    """The estimate with its intervals stretched over those of another that is as likely."""
    mine, theirs = sized.estimate, other.estimate
    wider: dict[str, Any] = {"detected": mine.detected and theirs.detected}
    for name in ("rate_pa_s", "viscous_share", "throughput_pa_m3_s", "hole_m"):
        if getattr(mine, name) and getattr(theirs, name):
            wider[name] = getattr(mine, name).stretched(getattr(theirs, name))
    for name in ("detection_rate_pa_s", "detection_pa_m3_s"):
        if getattr(mine, name) and getattr(theirs, name):
            wider[name] = max(getattr(mine, name), getattr(theirs, name))
    estimate = replace(mine, **wider)
    plausible = (*sized.plausible, *other.plausible)
    complete = sized.complete and other.complete
    return replace(sized, estimate=estimate, plausible=plausible, complete=complete)


def _little_lost(model: HoldModel) -> bool:
    """No more than hose, rubber or, under vacuum, fuel vapour may give and then stand still."""
    p = model.readings.pressure_pa
    lost, start = abs(float(p[0] - p[-1])), abs(float(p[0]))
    vapour = min(_T.vapour_most_pa, _T.vapour_share_most * start) if model.inward else 0.0
    return bool(lost < max(_T.creep_share_most * start, vapour))


def _perhaps_none(sized: SizedLeak) -> SizedLeak:
    """A little that is lost and then stands may be no leak at all: only the upper bounds are left."""

    def at_most(interval: Interval | None) -> Interval | None:
        return None if interval is None else Interval(None, 0.0, interval.high)

    bounds: dict[str, Any] = {
        name: at_most(getattr(sized.estimate, name)) for name in ("rate_pa_s", "throughput_pa_m3_s", "hole_m")
    }
    return replace(sized, estimate=replace(sized.estimate, detected=False, **bounds))
