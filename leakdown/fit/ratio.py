"""How much larger one leak is than another, seen in two sets of holds, with its 95 % interval.

All holds are one least-squares problem. Sought: the logarithm of the ratio of leak geometry (second set over
the first), the loss rate of the first hold at its quoted pressure, its viscous share, and every hold's own
start, gas temperature, zero, drift and creep. What holds have in common (the flow law, and when said so the
drift of the walls, the gauge's zero, the gas) is one unknown with one prior, so that it is not counted twice.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leakdown.analysis import Array
from leakdown.fit.interval import profile, rise_of_95
from leakdown.fit.least_squares import Fit, least_squares
from leakdown.fit.model import CREEP, KNOWN, NAMES, RATE, SHARE, HoldModel
from leakdown.fit.search import HoldFit
from leakdown.tuned import tuned
from leakdown.uncertainty import Z_95, Interval

LOG_RATIO, BASE_RATE, BASE_SHARE, FIRST_OWN = range(4)
_T = tuned("fit")
_OWN = [k for k in range(len(NAMES)) if k not in (RATE, SHARE)]
_LARGEST_LOG = math.log(_T.ratio_most)
_OTHER_SHARES = (0.9, 0.5, 0.1)  # viscous shares from which the joint fit begins again
_LAW_DIFFERS = 6.635
"""Rise of chi2 beyond which the sets clearly follow different laws: 99 % of chi-squared, 1 dof (tables)."""


@dataclass(frozen=True)
class JointHold:
    """One hold in the joint problem.

    second: its leak is `ratio` times that of the first set. scale: its geometry per volume over that of the
    reference hold for another reason (volumes that differ). tied: parameters (indices of the hold model)
    shared with the first part; fading: factor of each of the creep terms that continue the first
    part's, or None for creep of its own.
    """

    found: HoldFit
    second: bool
    scale: float = 1.0
    tied: tuple[int, ...] = ()
    fading: Array | None = None


@dataclass(frozen=True)
class LeakRatio:
    """Second over first. same_law False: laws differ, the ratio is that of equal flow at the quoted pressure.

    worse: the rise of chi2 by taking one leak for all holds.
    """

    ratio: Interval
    same_law: bool
    worse: float


def compared(parts: Sequence[JointHold]) -> LeakRatio | None:
    """Ratio of the geometry of `second` parts over the others; both must have a leak that was seen.

    None when no trustworthy fit exists.
    """
    apart = sum(part.found.fit.chi2 for part in parts)
    allowed = _LAW_DIFFERS + _T.repeats_differ_chi2 * 2.0 * (len(parts) - 2)
    together = _together(parts, apart + allowed)
    worse = math.inf
    if together is not None:
        fit, interval = together
        worse = fit.chi2 - apart
        if worse <= allowed:
            return LeakRatio(interval, True, worse)
    apart_ratio = _by_equal_flow(parts)
    return None if apart_ratio is None else LeakRatio(apart_ratio, False, worse)


def fixed_flow(first: HoldModel, second: HoldModel, scale: float = 1.0) -> tuple[float, float]:
    """Loss of one fixed leak at the second's quoted pressure over the first's: weep-like, hole-like."""
    (v0, o0), (v1, o1) = _flows(first), _flows(second)
    return scale * v1 / v0, scale * o1 / o0


class Joint:
    """Residuals and Jacobian of all parts over the global parameters; a `fit.Function`."""

    def __init__(self, parts: Sequence[JointHold]) -> None:
        self.parts = tuple(parts)
        self.size = FIRST_OWN
        self._columns: list[NDArray[np.intp]] = []
        self._factors: list[Array] = []
        for part in self.parts:
            self._place(part)
        self._flows = [_flows(part.found.model) for part in self.parts]

    def _place(self, part: JointHold) -> None:
        """Give each of a part's own parameters a global place, or the first part's."""
        columns, factors = np.zeros(len(NAMES), dtype=np.intp), np.ones(len(NAMES))
        for k in _OWN:
            fading = None if part.fading is None or k < CREEP else part.fading[k - CREEP]
            if self._columns and (k in part.tied or fading is not None):
                columns[k] = self._columns[0][k]
                factors[k] = 1.0 if fading is None else fading
            else:
                columns[k] = self.size
                self.size += 1
        self._columns.append(columns)
        self._factors.append(factors)

    def _own(self) -> Iterator[tuple[int, int, int]]:
        """(part, its parameter, global place) of all that are no faded copy, the first part last."""
        for index in reversed(range(len(self.parts))):
            for k in _OWN:
                if self._factors[index][k] == 1.0:
                    yield index, k, int(self._columns[index][k])

    def local(self, z: Array, index: int) -> tuple[Array, Array]:
        """Parameter vector of one hold and its Jacobian (parameters, global)."""
        part, columns, factors = self.parts[index], self._columns[index], self._factors[index]
        x = np.zeros(len(NAMES))
        jac = np.zeros((len(NAMES), self.size))
        for k in _OWN:
            x[k] = factors[k] * z[columns[k]]
            jac[k, columns[k]] = factors[k]
        (v0, o0), (v1, o1) = self._flows[0], self._flows[index]
        gv, go = v1 / v0, o1 / o0  # flow at this hold's quoted point over that at the reference's
        size = part.scale * (math.exp(z[LOG_RATIO]) if part.second else 1.0)
        rate, share = z[BASE_RATE], z[BASE_SHARE]
        mean = share * gv + (1.0 - share) * go
        x[RATE], x[SHARE] = size * rate * mean, share * gv / mean
        jac[RATE, BASE_RATE] = size * mean
        jac[RATE, BASE_SHARE] = size * rate * (gv - go)
        jac[RATE, LOG_RATIO] = x[RATE] if part.second else 0.0
        jac[SHARE, BASE_SHARE] = gv * go / mean**2
        return x, jac

    def __call__(self, z: Array) -> tuple[Array, Array]:
        """Residuals over standard deviations, each prior once, and the Jacobian."""
        residuals, jacobians = [], []
        for index, part in enumerate(self.parts):
            x, outer = self.local(z, index)
            r, jac = part.found.model(x)
            keep = np.ones(len(r), dtype=bool)
            if index:  # the first part's priors are those of all that share the unknown
                shared = self._columns[index] == self._columns[0]  # the share's is none of either's own: 0
                keep[-KNOWN.size :] = ~shared[KNOWN]
            residuals.append(r[keep])
            jacobians.append(jac[keep] @ outer)
        return np.concatenate(residuals), np.concatenate(jacobians)

    def start(self) -> Array:
        """Global starting values from the holds' own fits."""
        z = np.zeros(self.size)
        for index, k, at in self._own():
            z[at] = self.parts[index].found.fit.parameters[k]
        first = self.parts[0].found.fit.parameters
        z[BASE_RATE], z[BASE_SHARE] = max(first[RATE], 1e-2), min(max(first[SHARE], 0.02), 0.98)
        return self.with_ratio(z)

    def with_ratio(self, z: Array) -> Array:
        """The same values with the ratio that the parts' own rates suggest."""
        logs = []
        for index, part in enumerate(self.parts):
            x, _ = self.local(np.concatenate(([0.0], z[1:])), index)
            own = max(float(part.found.fit.parameters[RATE]), 1e-3)
            if part.second:
                logs.append(math.log(own / x[RATE]))
        z = z.copy()
        z[LOG_RATIO] = float(np.clip(np.mean(logs), -0.9 * _LARGEST_LOG, 0.9 * _LARGEST_LOG))
        return z

    def bounds(self) -> tuple[Array, Array]:
        """Global bounds from the holds' own; a tied parameter keeps the tightest."""
        lower, upper = np.full(self.size, -np.inf), np.full(self.size, np.inf)
        for index, k, at in self._own():
            lower[at] = max(lower[at], self.parts[index].found.lower[k])
            upper[at] = min(upper[at], self.parts[index].found.upper[k])
        lower[:FIRST_OWN] = -_LARGEST_LOG, 0.0, 0.0
        upper[:FIRST_OWN] = _LARGEST_LOG, self.parts[0].found.upper[RATE], 1.0
        return lower, upper


def _flows(model: HoldModel) -> tuple[float, float]:
    """Settled flow at the quoted pressure per unit of viscous and of orifice geometry."""
    unit = np.zeros(len(NAMES))
    unit[RATE] = 1.0
    viscous = unit.copy()
    viscous[SHARE] = 1.0
    return 1.0 / model.leak(viscous).viscous, 1.0 / model.leak(unit).orifice


def _together(parts: Sequence[JointHold], enough: float) -> tuple[Fit, Interval] | None:
    joint = Joint(parts)
    lower, upper = joint.bounds()
    fit = _best(joint, enough)
    if not fit.converged:
        return None
    founds = [part.found for part in parts]
    rise = rise_of_95(sum(f.dof for f in founds), max(f.misfit for f in founds))
    for _ in range(3):
        found = profile(joint, fit, LOG_RATIO, lower, upper, rise)
        if found.better is None:
            break
        fit = least_squares(joint, found.better, lower, upper, 1e-5)
    if not (found.complete and fit.converged):
        return None
    centre = float(fit.parameters[LOG_RATIO])
    low, high = min(found.low, centre), max(found.high, centre)
    return fit, Interval(math.exp(centre), math.exp(low), math.exp(high))


def _best(joint: Joint, enough: float) -> Fit:
    """The best joint fit; started from other flow laws too when the first is worse than it should be."""
    lower, upper = joint.bounds()
    start = joint.start()
    fits = [least_squares(joint, start, lower, upper, 1e-5)]
    for share in _OTHER_SHARES:
        if fits[-1].converged and min(f.chi2 for f in fits) <= enough:
            break
        other = start.copy()
        other[BASE_SHARE] = share
        fits.append(least_squares(joint, joint.with_ratio(other), lower, upper, 1e-5))
    return min(fits, key=lambda f: (not f.converged, f.chi2))


def _by_equal_flow(parts: Sequence[JointHold]) -> Interval | None:
    """Loss at the quoted pressure, second over first, over what one fixed hole would give there.

    The fixed hole's own flow law is in doubt between those seen; that uncertainty and the scatter of repeats
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


def _log_rate(part: JointHold) -> tuple[float, float] | None:
    """Logarithm of a hold's loss rate at the quoted pressure and its standard deviation (profile)."""
    found = part.found
    rate = float(found.fit.parameters[RATE])
    ends = found.profile(RATE)
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
