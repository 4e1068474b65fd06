"""From the best fit to what people use: rate, loss, hole, share, detection limit, all with intervals; and to
what they look at: the curve with its band, the residuals, and when the gas had settled.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from leakdown.analysis import Array, Curve, LeakEstimate
from leakdown.fit.interval import Profile
from leakdown.fit.least_squares import scaled_variance
from leakdown.fit.model import CREEP, DRIFT, GROWTH, LOG_TAU, OPENING, RATE, RUBBER, SHARE, START, WARMTH
from leakdown.fit.search import HoldFit, refit
from leakdown.physics.balance import NotSolved
from leakdown.physics.flow import equivalent_hole_m
from leakdown.physics.leak import throughput_per_volume
from leakdown.tuned import tuned
from leakdown.uncertainty import DETECTION_SIGMAS, Z_95, Interval, mixed, widened

_T = tuned("fit")


@dataclass(frozen=True)
class Vessel:
    """What turns a loss of pressure into a leak: volume (95 % half-width), temperature, C_d of the hole."""

    volume_m3: float | None
    volume_u_m3: float | None
    temperature_k: float
    discharge_coefficient: float


@dataclass(frozen=True)
class SizedLeak:
    """The estimate, the (perhaps improved) fit, and the parameters of the best fit and interval ends.

    complete: every end of an interval was found.
    """

    estimate: LeakEstimate
    found: HoldFit
    plausible: tuple[Array, ...]
    complete: bool


def size(found: HoldFit, quote_pa: float, vessel: Vessel, closely: bool = True) -> SizedLeak:
    """Leak estimate at the quoted gauge pressure (magnitude). `found` must have converged.

    closely False: intervals by the straight line of the fit, for a shape that weighs little among others.
    """
    found, rate, share = _profiled(found, closely)
    x = found.fit.parameters
    plausible = _plausible(x, rate, share)
    detection = DETECTION_SIGMAS * _sd_when_tight(found)
    interval = Interval(float(x[RATE]) if rate.low > 0.0 else None, max(rate.low, 0.0), rate.high)
    if x[OPENING] > 0.0:
        plausible = _plausible(x, rate, share, found.profile(OPENING, closely))
        interval = _when_closing(found, plausible, quote_pa, rate.low > 0.0, detection)
    detected = interval.value is not None
    throughput = _times_volume(interval, vessel)
    known_share = Interval(float(x[SHARE]), share.low, share.high)
    estimate = LeakEstimate(
        at_pa=found.model.sign * quote_pa,
        detected=detected,
        rate_pa_s=interval,
        detection_rate_pa_s=detection,
        throughput_pa_m3_s=throughput,
        detection_pa_m3_s=detection * vessel.volume_m3 if vessel.volume_m3 else None,
        hole_m=_hole(throughput, found, quote_pa, vessel) if throughput else None,
        viscous_share=known_share if detected else Interval(None, 0.0, 1.0),
        opening_pa=found.model.sign * float(x[OPENING]) if x[OPENING] > 0 else None,
        growth_per_min=60.0 * float(x[GROWTH]) if x[GROWTH] != 0 else None,
    )
    return SizedLeak(estimate, found, plausible, rate.complete and found.fit.converged)


def mixed_leak(parts: Sequence[tuple[float, SizedLeak]], vessel: Vessel, quote_pa: float) -> SizedLeak:
    """The size from several fits, (probability, size) each: the first one's, with the interval of all."""
    first = parts[0][1]
    if len(parts) == 1:
        return first
    rate = mixed([(weight, sized.estimate.rate_pa_s) for weight, sized in parts])
    seen = rate.value is not None
    share = mixed([(weight, sized.estimate.viscous_share) for weight, sized in parts])
    throughput = _times_volume(rate, vessel)
    detection = max(sized.estimate.detection_rate_pa_s for weight, sized in parts if weight > _T.plain_until)
    estimate = replace(
        first.estimate,
        detected=seen,
        rate_pa_s=rate,
        detection_rate_pa_s=detection,
        throughput_pa_m3_s=throughput,
        detection_pa_m3_s=detection * vessel.volume_m3 if vessel.volume_m3 else None,
        hole_m=_hole(throughput, first.found, quote_pa, vessel) if throughput else None,
        viscous_share=Interval(first.estimate.viscous_share.value, share.low, share.high)
        if seen
        else Interval(None, 0.0, 1.0),
        opening_pa=first.estimate.opening_pa if seen else None,
    )
    plausible = tuple(x for _, sized in parts for x in sized.plausible)
    return replace(first, estimate=estimate, plausible=plausible)


def _profiled(found: HoldFit, closely: bool) -> tuple[HoldFit, Profile, Profile]:
    """Intervals of rate and share; started again when the profile meets a better valley than the fit's."""
    if not closely:
        return found, found.profile(RATE, closely), found.profile(SHARE, closely)
    for _ in range(2):
        rate = found.profile(RATE)
        share = found.profile(SHARE) if rate.better is None else rate
        if share.better is None:
            return found, rate, share
        found = replace(found, fit=refit(found.model, share.better, found.lower, found.upper))
    return found, found.profile(RATE), found.profile(SHARE)


def _when_closing(
    found: HoldFit, plausible: tuple[Array, ...], quote_pa: float, seen: bool, detection_pa_s: float
) -> Interval:
    """The rate at the quoted pressure of a leak that closes: each plausible opening has its own.

    One that is shut at that pressure leaks nothing there, as far as the readings would have shown.
    """
    rates = [_at_quote(found, x, quote_pa) for x in plausible]
    if not seen or rates[0] <= 0.0:
        return Interval(None, 0.0, max(*rates, detection_pa_s))
    apart = 1.0 + _T.closing_law
    low, high = min(*rates[1:], rates[0] / apart), max(*rates[1:], rates[0] * apart)
    return Interval(rates[0] if low > 0.0 else None, low, high)


def _at_quote(found: HoldFit, x: Array, quote_pa: float) -> float:
    """Loss at the quoted pressure, Pa/s: the model's own rate is that of the plain law."""
    leak = found.model.leak(x)
    at = np.array([found.model.ambient_pa + found.model.sign * quote_pa])
    return max(throughput_per_volume(at, leak, found.model.inward, found.model.ambient_pa).item(), 0.0)


def _sd_when_tight(found: HoldFit) -> float:
    """Standard deviation of the rate that the same readings would give on a tight circuit (Pa/s)."""
    x = found.fit.parameters.copy()
    x[[RATE, OPENING, GROWTH]] = 0.0
    # as much of them as is usual: there the tail of their priors has the slope of its standard deviation
    known = found.model.priors
    x[RUBBER], x[DRIFT] = 0.5 * found.model.sign * _T.rubber_sd_pa, 0.5 * known.drift_sd
    _, jacobian = found.model(x)
    free = found.upper > found.lower
    free[[OPENING, GROWTH]] = False
    variance, scale = scaled_variance(jacobian[:, free], RATE)
    return math.sqrt(max(variance, 0.0)) / scale


def _times_volume(rate: Interval, vessel: Vessel) -> Interval | None:
    """Throughput with the volume's uncertainty, added on a log scale."""
    if vessel.volume_m3 is None:
        return None
    plain = rate.scaled(vessel.volume_m3)
    share = (vessel.volume_u_m3 or 0.0) / vessel.volume_m3
    if plain.value is None:
        return Interval(None, 0.0, plain.high * (1.0 + share))
    return widened(plain, math.log1p(share / (1.0 - share)), math.log1p(share))


def _hole(throughput: Interval, found: HoldFit, quote_pa: float, vessel: Vessel) -> Interval:
    ambient = found.model.ambient_pa
    high, low = (ambient, ambient - quote_pa) if found.model.inward else (ambient + quote_pa, ambient)

    def diameter(q: float) -> float:
        return equivalent_hole_m(q, high, low, vessel.temperature_k, vessel.discharge_coefficient)

    value = None if throughput.value is None else diameter(throughput.value)
    return Interval(value, diameter(throughput.low), diameter(throughput.high))


def _plausible(best: Array, *profiles: Profile) -> tuple[Array, ...]:
    return (best, *(end for p in profiles for end in (p.at_low, p.at_high)))


def curve(found: HoldFit, closed_s: float) -> Curve | None:
    """The fit on a fine grid with its 95 % band (linear propagation of the fit's covariance)."""
    fine = np.linspace(0.0, float(found.model.readings.time_s[-1]), 240)
    try:
        value, jacobian = found.model.at_times(fine).predict(found.fit.parameters)
    except NotSolved:
        return None
    half = Z_95 * _sd_along(jacobian, found.fit.covariance)
    return Curve(fine + closed_s, value, value - half, value + half)


def residuals(found: HoldFit) -> tuple[Array, Array]:
    """Times from the start of the hold and reading minus fit (Pa); empty when there is no fit."""
    readings = found.model.readings
    if not found.fit.converged:
        return np.zeros(0), np.zeros(0)
    return readings.time_s, -found.fit.residuals[: readings.time_s.size] * found.model.readings.sigma_pa


def settled_after_s(found: HoldFit, surely: bool = False) -> float:
    """When warm gas and creep have left next to nothing of the start pressure, or no more than the noise.

    surely: of the creep only as much counts as can be told from none, 95 times in 100.
    """
    if not found.fit.converged:
        return 0.0
    x, model = found.fit.parameters, found.model
    span_s = float(model.readings.time_s[-1])
    t = np.unique(np.concatenate((np.linspace(0.0, min(span_s, 60.0), 400), np.linspace(0.0, span_s, 400))))
    left = np.abs(x[START] * x[WARMTH]) * np.exp(-t * math.exp(-x[LOG_TAU]))
    creep = model.creep(t)
    left = left + np.maximum(
        np.abs(creep @ x[CREEP:]) - (Z_95 * _sd_along(creep, found.fit.covariance[CREEP:, CREEP:]) if surely else 0.0),
        0.0,
    )
    start = abs(x[START] - model.ambient_pa)
    enough = max(_T.settled_share * start, 2.0 * float(np.median(model.readings.sigma_pa)), _T.settled_pa)
    late = np.flatnonzero(left > enough)
    return 0.0 if late.size == 0 else float(t[late[-1]])


def _sd_along(slopes: Array, covariance: Array) -> Array:
    """(n,) standard deviations of what moves by the slopes (n, k) with parameters of that covariance (k, k)."""
    variance = np.einsum("ij,jk,ik->i", slopes, covariance, slopes)
    return np.asarray(np.sqrt(np.maximum(variance, 0.0)))
