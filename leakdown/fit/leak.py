"""From the best fit to the numbers people use: rate, loss, hole, share, detection limit, with intervals."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from leakdown.analysis import LeakEstimate
from leakdown.fit.interval import CHI2_95, Profile, profile
from leakdown.fit.model import GROWTH, OPENING, RATE, SHARE
from leakdown.fit.search import HoldFit, refit
from leakdown.physics.balance import throughput_per_volume
from leakdown.physics.flow import equivalent_hole_m
from leakdown.uncertainty import DETECTION_SIGMAS, Interval, student_95

Array = NDArray[np.float64]

_CLOSING_LAW = 0.25  # a valve's or a lip's own law beyond its opening is not known (95 %, simulated)


@dataclass(frozen=True)
class Vessel:
    """What turns a loss of pressure into a leak: volume (95 % half-width), temperature, C_d of the hole."""

    volume_m3: float | None
    volume_u_m3: float | None
    temperature_k: float
    discharge_coefficient: float


@dataclass(frozen=True)
class Sized:
    """The estimate, the (perhaps improved) fit, and the parameters of the best fit and interval ends."""

    estimate: LeakEstimate
    found: HoldFit
    plausible: tuple[Array, ...]
    complete: bool


def size(found: HoldFit, quote_pa: float, vessel: Vessel) -> Sized:
    """Leak estimate at the quoted gauge pressure (magnitude). `found` must have converged."""
    found, rate, share = _profiled(found)
    x = found.fit.parameters
    plausible = _plausible(x, rate, share)
    detection = DETECTION_SIGMAS * _sd_when_tight(found)
    interval = Interval(float(x[RATE]) if rate.low > 0.0 else None, max(rate.low, 0.0), rate.high)
    if x[OPENING] > 0.0:
        plausible = _plausible(x, rate, share, _profile(found, OPENING))
        interval = _when_closing(found, plausible, quote_pa, rate.low > 0.0, detection)
    detected = interval.value is not None
    throughput = _times_volume(interval, vessel)
    limit = detection * vessel.volume_m3 if vessel.volume_m3 else None
    estimate = LeakEstimate(
        at_pa=found.model.sign * quote_pa,
        detected=detected,
        rate_pa_s=interval,
        detection_rate_pa_s=detection,
        throughput_pa_m3_s=throughput,
        detection_pa_m3_s=limit,
        hole_m=_hole(throughput, found, quote_pa, vessel) if throughput else None,
        viscous_share=Interval(float(x[SHARE]), share.low, share.high)
        if detected
        else Interval(None, 0.0, 1.0),
        opening_pa=found.model.sign * float(x[OPENING]) if x[OPENING] > 0 else None,
        growth_per_min=60.0 * float(x[GROWTH]) if x[GROWTH] != 0 else None,
    )
    return Sized(estimate, found, plausible, rate.complete and found.fit.converged)


def _profiled(found: HoldFit) -> tuple[HoldFit, Profile, Profile]:
    """Intervals of rate and share; started again when the profile meets a better valley than the fit's."""
    for _ in range(2):
        rate = _profile(found, RATE)
        share = _profile(found, SHARE) if rate.better is None else rate
        if share.better is None:
            return found, rate, share
        found = replace(found, fit=refit(found.model, share.better, found.lower, found.upper))
    return found, _profile(found, RATE), _profile(found, SHARE)


def _profile(found: HoldFit, index: int) -> Profile:
    return profile(found.model, found.fit, index, found.lower, found.upper, _threshold(found))


def _threshold(found: HoldFit) -> float:
    """Rise of chi2 that bounds 95 %: wider when few readings had to tell their own scatter."""
    if found.misfit > 1.3 and found.dof < 60:
        return student_95(found.dof) ** 2
    return CHI2_95


def _when_closing(
    found: HoldFit, plausible: tuple[Array, ...], quote_pa: float, seen: bool, detection_pa_s: float
) -> Interval:
    """The rate at the quoted pressure of a leak that closes: each plausible opening has its own.

    One that is shut at that pressure leaks nothing there, as far as the readings would have shown.
    """
    rates = [_at_quote(found, x, quote_pa) for x in plausible]
    if not seen or rates[0] <= 0.0:
        return Interval(None, 0.0, max(*rates, detection_pa_s))
    apart = 1.0 + _CLOSING_LAW
    return Interval(rates[0], min(*rates[1:], rates[0] / apart), max(*rates[1:], rates[0] * apart))


def _at_quote(found: HoldFit, x: Array, quote_pa: float) -> float:
    """Loss at the quoted pressure, Pa/s: the model's own rate is that of the plain law."""
    leak = found.model.leak(x)
    at = np.array([found.model.ambient_pa + found.model.sign * quote_pa])
    flow = float(throughput_per_volume(at, leak, found.model.inward)[0])
    return max(flow, 0.0)


def _sd_when_tight(found: HoldFit) -> float:
    """Standard deviation of the rate that the same readings would give on a tight circuit (Pa/s)."""
    x = found.fit.parameters.copy()
    x[RATE] = x[OPENING] = x[GROWTH] = 0.0
    _, jacobian = found.model(x)
    free = found.upper > found.lower
    free[[OPENING, GROWTH]] = False
    j = jacobian[:, free]
    scale = np.linalg.norm(j, axis=0)
    scale[scale == 0] = 1.0
    covariance = np.linalg.pinv((j / scale).T @ (j / scale), rcond=1e-12)
    return float(math.sqrt(max(covariance[0, 0], 0.0)) / scale[0])


def _times_volume(rate: Interval, vessel: Vessel) -> Interval | None:
    """Throughput with the volume's doubt: relative half-widths add in quadrature on a log scale."""
    if vessel.volume_m3 is None:
        return None
    plain = rate.scaled(vessel.volume_m3)
    share = (vessel.volume_u_m3 or 0.0) / vessel.volume_m3
    if share == 0.0:
        return plain
    if plain.value is None:
        return Interval(None, 0.0, plain.high * (1.0 + share))
    low = math.hypot(math.log(plain.value / plain.low), math.log1p(share / (1.0 - share)))
    high = math.hypot(math.log(plain.high / plain.value), math.log1p(share))
    return Interval(plain.value, plain.value * math.exp(-low), plain.value * math.exp(high))


def _hole(throughput: Interval, found: HoldFit, quote_pa: float, vessel: Vessel) -> Interval:
    ambient = found.model.ambient_pa
    high, low = (ambient, ambient - quote_pa) if found.model.inward else (ambient + quote_pa, ambient)

    def diameter(q: float) -> float:
        return equivalent_hole_m(q, high, low, vessel.temperature_k, vessel.discharge_coefficient)

    value = None if throughput.value is None else diameter(throughput.value)
    return Interval(value, diameter(throughput.low), diameter(throughput.high))


def _plausible(best: Array, *profiles: Profile) -> tuple[Array, ...]:
    return (best, *(end for p in profiles for end in (p.at_low, p.at_high)))
