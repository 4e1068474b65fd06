"""How much larger one leak is than another, seen in two sets of holds, with its 95 % interval."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from leakdown.fit.interval import CHI2_95, profile
from leakdown.fit.joint import BASE_RATE, BASE_SHARE, LOG_RATIO, Joint, Part
from leakdown.fit.least_squares import Fit, least_squares
from leakdown.fit.model import RATE
from leakdown.uncertainty import Z_95, Interval, student_95

_LAW_DIFFERS = 6.635
"""Rise of chi2 beyond which the sets clearly follow different laws: 99 % of chi-squared, 1 dof (tables)."""
_REPEATS_DIFFER = 9.0  # the same per further constraint, for repeats of one direction


@dataclass(frozen=True)
class Compared:
    """Second over first. same_law False: laws differ, the ratio is that of equal flow at the quoted pressure.

    worse: the rise of chi2 by taking one leak for all holds.
    """

    ratio: Interval
    same_law: bool
    worse: float


def compared(parts: Sequence[Part]) -> Compared | None:
    """Ratio of the geometry of `second` parts over the others; both must have a leak that was seen.

    None when no trustworthy fit exists.
    """
    apart = sum(part.found.fit.chi2 for part in parts)
    allowed = _LAW_DIFFERS + _REPEATS_DIFFER * 2.0 * (len(parts) - 2)
    together = _together(parts, apart + allowed)
    worse = math.inf if together is None else together[0].chi2 - apart
    if together is not None and worse <= allowed:
        fit, interval = together
        return Compared(interval, True, worse)
    apart_ratio = _by_equal_flow(parts)
    return None if apart_ratio is None else Compared(apart_ratio, False, worse)


def _together(parts: Sequence[Part], enough: float) -> tuple[Fit, Interval] | None:
    joint = Joint(parts)
    lower, upper = joint.bounds()
    fit = _best(joint, enough)
    if not fit.converged:
        return None
    for _ in range(3):
        found = profile(joint, fit, LOG_RATIO, lower, upper, _threshold(parts))
        if found.better is None:
            break
        fit = least_squares(joint, found.better, lower, upper, 1e-5)
    if not (found.complete and fit.converged):
        return None
    centre = float(fit.parameters[LOG_RATIO])
    return fit, Interval(
        math.exp(centre), math.exp(min(found.low, centre)), math.exp(max(found.high, centre))
    )


def _best(joint: Joint, enough: float) -> Fit:
    """The best joint fit; started from other flow laws too when the first is worse than it should be."""
    lower, upper = joint.bounds()
    start = joint.start()
    fits = [least_squares(joint, start, lower, upper, 1e-5)]
    for share in (0.9, 0.5, 0.1):
        if fits[-1].converged and min(f.chi2 for f in fits) <= enough:
            break
        other = start.copy()
        other[BASE_SHARE] = share
        fits.append(least_squares(joint, joint.with_ratio(other), lower, upper, 1e-5))
    return min(fits, key=lambda f: (not f.converged, f.chi2))


def _threshold(parts: Sequence[Part]) -> float:
    """Rise of chi2 that bounds 95 %: wider when few readings had to tell their own scatter."""
    founds = [part.found for part in parts]
    dof = sum(f.dof for f in founds)
    if max(f.misfit for f in founds) > 1.3 and dof < 60:
        return student_95(dof) ** 2
    return CHI2_95


def _by_equal_flow(parts: Sequence[Part]) -> Interval | None:
    """Loss at the quoted pressure, second over first, over what one fixed hole would give there.

    The fixed hole's own flow law is in doubt between those seen; that doubt and the scatter of repeats
    widen the interval.
    """
    joint = Joint(parts)
    logs: dict[bool, list[tuple[float, float]]] = {False: [], True: []}
    for index, part in enumerate(parts):
        z = joint.start()
        z[LOG_RATIO], z[BASE_RATE] = 0.0, 1.0
        fixed = []
        for share in (0.0, 0.5, 1.0):
            z[BASE_SHARE] = share
            fixed.append(math.log(joint.local(z, index)[0][RATE]))
        one = _log_rate(part)
        if one is None:
            return None
        law = 0.5 * abs(fixed[2] - fixed[0])
        logs[part.second].append((one[0] - fixed[1], math.hypot(one[1], law / Z_95)))
    (first, u_first), (second, u_second) = (_mean(logs[key]) for key in (False, True))
    centre, half = second - first, Z_95 * math.hypot(u_first, u_second)
    return Interval(math.exp(centre), math.exp(centre - half), math.exp(centre + half))


def _log_rate(part: Part) -> tuple[float, float] | None:
    """Logarithm of a hold's loss rate at the quoted pressure and its standard deviation (profile)."""
    found = part.found
    rate = float(found.fit.parameters[RATE])
    ends = profile(found.model, found.fit, RATE, found.lower, found.upper, _threshold([part]))
    if rate <= 0 or ends.low <= 0 or not ends.complete:
        return None
    return math.log(rate), math.log(ends.high / ends.low) / (2.0 * Z_95)


def _mean(values: list[tuple[float, float]]) -> tuple[float, float]:
    """Weighted mean and its standard deviation, no smaller than the scatter allows."""
    x, u = np.array(values).T
    weight = 1.0 / np.square(np.maximum(u, 1e-4))
    centre = float(np.sum(weight * x) / np.sum(weight))
    inner = 1.0 / math.sqrt(float(np.sum(weight)))
    scatter = float(np.std(x, ddof=1)) / math.sqrt(x.size) if x.size > 1 else 0.0
    return centre, max(inner, scatter)


def widened(interval: Interval, log_half_width: float) -> Interval:
    """The interval with one more doubt (95 % half-width of the logarithm) added in quadrature."""
    if interval.value is None or log_half_width == 0.0:
        return interval
    low = math.hypot(math.log(interval.value / interval.low), log_half_width)
    high = math.hypot(math.log(interval.high / interval.value), log_half_width)
    return replace(interval, low=interval.value * math.exp(-low), high=interval.value * math.exp(high))
