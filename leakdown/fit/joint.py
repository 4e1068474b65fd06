"""Several holds as one least-squares problem: one leak, seen twice or more, and how much it changed.

Sought: the logarithm of the ratio of leak geometry (second set of holds over the first), the loss rate of
the first hold at its quoted pressure, its viscous share, and every hold's own start, gas temperature,
zero, drift and creep. What holds have in common (the flow law, and when said so the drift of the walls,
the gauge's zero, the gas) is one unknown with one prior, so that it is not counted twice.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leakdown.fit.model import CREEP, NAMES, RATE, SHARE, HoldModel
from leakdown.fit.search import HoldFit

Array = NDArray[np.float64]

LOG_RATIO, BASE_RATE, BASE_SHARE, FIRST_OWN = range(4)
_OWN = [k for k in range(len(NAMES)) if k not in (RATE, SHARE)]
_LARGEST_LOG = math.log(1e4)


@dataclass(frozen=True)
class Part:
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


class Joint:
    """Residuals and Jacobian of all parts over the global parameters; a `fit.Function`."""

    def __init__(self, parts: Sequence[Part]) -> None:
        self.parts = tuple(parts)
        self._columns: list[NDArray[np.intp]] = []
        self._factors: list[Array] = []
        self._prior_rows: list[NDArray[np.bool_] | None] = []
        self.size = FIRST_OWN
        for part in self.parts:
            self._place(part)
        self._flows = [_flows(part.found.model) for part in self.parts]

    def _place(self, part: Part) -> None:
        """Give each of a part's own parameters a global place, or the first part's."""
        columns = np.zeros(len(NAMES), dtype=np.intp)
        factors = np.ones(len(NAMES))
        for k in _OWN:
            continued = part.fading is not None and k >= CREEP
            if self._columns and (k in part.tied or continued):
                columns[k] = self._columns[0][k]
                factors[k] = part.fading[k - CREEP] if part.fading is not None and continued else 1.0
            else:
                columns[k] = self.size
                self.size += 1
        self._columns.append(columns)
        self._factors.append(factors)
        self._prior_rows.append(None)

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
            keep = self._rows(index, jac)
            residuals.append(r[keep])
            jacobians.append(jac[keep] @ outer)
        return np.concatenate(residuals), np.concatenate(jacobians)

    def _rows(self, index: int, jac: Array) -> NDArray[np.bool_]:
        """All readings, and the priors of what this part does not share with an earlier one."""
        known = self._prior_rows[index]
        if known is None:
            n = self.parts[index].found.model.readings.time_s.size
            about = np.argmax(jac[n:] != 0, axis=1)
            shared = self._columns[index] == self._columns[0]
            shared[SHARE] = True
            known = np.ones(len(jac), dtype=bool)
            if index:
                known[n:] = ~shared[about]
            self._prior_rows[index] = known
        return known

    def start(self) -> Array:
        """Global starting values from the holds' own fits."""
        z = np.zeros(self.size)
        for index in reversed(range(len(self.parts))):
            x = self.parts[index].found.fit.parameters
            for k in _OWN:
                if self._factors[index][k] == 1.0:
                    z[self._columns[index][k]] = x[k]
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
                logs.append(math.log(own / max(x[RATE], 1e-9)))
        z = z.copy()
        z[LOG_RATIO] = float(np.clip(np.mean(logs), -0.9 * _LARGEST_LOG, 0.9 * _LARGEST_LOG))
        return z

    def bounds(self) -> tuple[Array, Array]:
        """Global bounds from the holds' own; a tied parameter keeps the tightest."""
        lower, upper = np.full(self.size, -np.inf), np.full(self.size, np.inf)
        for index, part in enumerate(self.parts):
            for k in _OWN:
                if self._factors[index][k] == 1.0:
                    at = self._columns[index][k]
                    lower[at] = max(lower[at], part.found.lower[k])
                    upper[at] = min(upper[at], part.found.upper[k])
        lower[:FIRST_OWN] = -_LARGEST_LOG, 0.0, 0.0
        upper[:FIRST_OWN] = _LARGEST_LOG, self.parts[0].found.upper[RATE], 1.0
        return lower, upper


def fixed_flow(first: HoldModel, second: HoldModel, scale: float = 1.0) -> tuple[float, float]:
    """Loss of one fixed leak at the second's quoted pressure over the first's: weep-like, hole-like."""
    (v0, o0), (v1, o1) = _flows(first), _flows(second)
    return scale * v1 / v0, scale * o1 / o0


def _flows(model: HoldModel) -> tuple[float, float]:
    """Settled flow at the quoted pressure per unit of viscous and of orifice geometry."""
    unit = np.zeros(len(NAMES))
    unit[RATE] = 1.0
    viscous = unit.copy()
    viscous[SHARE] = 1.0
    return 1.0 / model.leak(viscous).viscous, 1.0 / model.leak(unit).orifice
